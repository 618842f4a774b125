"""A coat that was sanded once it was hard takes the next one, also after its recoat has shut."""

from __future__ import annotations

from collections.abc import Iterable

from mixclock.decide.plan.floor.films import LaidFilm
from mixclock.job.entry import Noted
from mixclock.job.progress import Standing
from mixclock.job.tradefacts import ABRADED
from mixclock.values import replace

SANDING = "sanding"
YES = "yes"
SAY_IT = f"state it: `noted '{ABRADED.fact}: {YES}'`, with `--on AREA` for one area"


def all_sanded(films: Iterable[LaidFilm]) -> tuple[LaidFilm, ...]:
    """The films as if each had been sanded."""
    return tuple(replace(film, sanded=True) for film in films)


def as_sanded(standing: Standing, films: Iterable[LaidFilm]) -> tuple[LaidFilm, ...]:
    """The films, those as sanded of which the last word that was noted after their pour says so."""
    return tuple(replace(film, sanded=True) if _is_sanded(standing, film) else film for film in films)


def _is_sanded(standing: Standing, film: LaidFilm) -> bool:
    notes = sorted(
        (entry.happened, answer)
        for entry in standing.live()
        if isinstance(entry.facts, Noted)
        and entry.facts.area in (*film.areas, None)
        and entry.facts.batch in (film.number, None)
        and entry.happened > film.ended["pour"]
        and (answer := ABRADED.answered(entry.facts.text)) is not None
    )
    return bool(notes) and notes[-1][1] == YES

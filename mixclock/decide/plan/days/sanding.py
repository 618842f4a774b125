"""A coat that was sanded once it was hard takes the next one, also after its recoat has shut."""

from __future__ import annotations

from collections.abc import Iterable

from mixclock.decide.nextcoat import YES, is_sanded
from mixclock.decide.plan.floor.films import LaidFilm
from mixclock.job.progress import Standing
from mixclock.job.tradefacts import ABRADED
from mixclock.values import replace

SANDING = "sanding"
SAND_FIRST = (
    "sand {below} first as its sheet says, dull all over (that time comes on top), and state it: "
    f"`noted '{ABRADED.fact}: {YES}'`, with `--on AREA` for one area"
)


def all_sanded(films: Iterable[LaidFilm]) -> tuple[LaidFilm, ...]:
    """The films as if each had been sanded."""
    return tuple(replace(film, sanded=True) for film in films)


def as_sanded(standing: Standing, films: Iterable[LaidFilm]) -> tuple[LaidFilm, ...]:
    """The films, those as sanded that were noted as such."""
    return tuple(
        replace(film, sanded=True) if is_sanded(standing, film.number, film.areas, film.ended["pour"]) else film
        for film in films
    )

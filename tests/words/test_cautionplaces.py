"""Every statement and alert of every family is walked through: each caution appears where its row says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.shapes import Alert, NextBatch, Smoke
from mixclock.job.entry import Began, Combined, Did, Facts, JobFinished, MixingEnded, Poured, ProfileUsed, Reading, Saw
from mixclock.job.profile import Family
from mixclock.job.profilereading import read_profile
from mixclock.job.steps import STEPS
from mixclock.words.alerting import alert_words
from mixclock.words.answers import answer_to
from mixclock.words.cautions import CAUTIONS, DEFERS, SHOWN, Caution, Moment, Place, merged
from mixclock.words.plan.mixsheet import mixing_cautions, working_moments
from mixclock.words.record.page import MOMENTS
from tests.decide.worlds import BASE, Log, instant

WASH = """
name = "Shed base"
family = "{family}"
source = "invented"
[windows.dwell]
after = "poured"
opens = "5 min"
closes = "10 min"
[windows.neutralise]
after = "poured"
closes = "15 min"
[windows.rinse]
after = "poured"
closes = "30 min"
"""

STATEMENTS: tuple[Facts, ...] = (
    Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0),
    MixingEnded(1),
    Reading(bucket_c=50.0, batch=1),
    Saw("stringy", 1),
    Saw("hot", 1),
    Saw("smoking", 1),
    Poured(1),
    *(Began(step, 1) for step in STEPS),
    *(Did(step, 1) for step in STEPS),
    JobFinished(),
)


def log_of(family: Family) -> Log:
    log = Log()
    washed = family in (Family.ACID_ETCH, Family.NEUTRALISER)
    text = WASH.format(family=family) if washed else BASE.replace('family = "epoxy"', f'family = "{family}"')
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", text))
    return log


def answered(family: Family) -> str:
    """All that the answers to every statement say, each made on a day of its own so that none hides another."""
    said = []
    for facts in STATEMENTS:
        log = log_of(family)
        if not isinstance(facts, Combined):
            log.add(0, STATEMENTS[0])
        if isinstance(facts, Began | Did):
            log.add(4, Poured(1))
        entry = log.add(5, facts)
        answer = answer_to(entry, log.standing(), log.tracks(), instant(5))
        said += [*answer.warnings, *answer.cautions]
    late = log_of(family)
    late.add(0, STATEMENTS[0])
    late.add(5, Saw("stringy", 1))
    entry = late.add(6, Poured(1))
    said += answer_to(entry, late.standing(), late.tracks(), instant(6)).cautions
    return "\n".join((*said, *over_a_shut_film(family)))


def over_a_shut_film(family: Family) -> tuple[str, ...]:
    """What is answered to who mixes the top coat ten days after the base."""
    log = log_of(family)
    log.add(0, STATEMENTS[0])
    log.add(4, Poured(1))
    days = 10 * 24 * 60
    entry = log.add(days, Combined("Shed top", ("bay 1",), volume_l=2.0, coat="top"))
    under = [track for track in log.tracks() if track.batch.id == 1]
    own = [track for track in log.tracks() if track.batch.id == 2]
    return answer_to(entry, log.standing(), own, instant(days), under).cautions


def called(family: Family) -> str:
    """All that the alerts of every step and stage say; before anything was mixed too."""
    log = log_of(family)
    fresh = log.standing()
    first = Alert("next", "next-batch", STEPS["next-batch"].rank, STEPS["next-batch"].stages[0], instant(0),
                  detail=NextBatch(1, 4.0, "base"))  # fmt: skip
    said = [alert_words(first, fresh, instant(0)).body]
    log.add(0, STATEMENTS[0])
    for row in STEPS.values():
        for stage in row.stages:
            alert = Alert("b1.x", row.name, row.rank, stage, instant(9), 1, "bay 1")
            words = alert_words(alert, log.standing(), instant(9))
            said.append(words.body)
    smokes = Alert("b1.smoking", "hot", STEPS["hot"].rank, STEPS["hot"].stages[0], instant(9), 1, detail=Smoke())
    said.append(alert_words(smokes, log.standing(), instant(9)).body)
    return "\n".join(said)


def shown(family: Family, place: Place) -> str:
    if place is Place.ANSWER:
        return answered(family)
    if place is Place.CALL:
        return called(family)
    if place is Place.RECORD:
        return "\n".join(merged((family,), MOMENTS))
    profile = read_profile(log_of(family).entries[1].facts.text)  # type: ignore[union-attr]
    return "\n".join((*mixing_cautions(profile), *merged((family,), working_moments(flaked=True, scraped=True))))


def missing(family: Family, place: Place, rows: tuple[Caution, ...] = CAUTIONS) -> list[str]:
    told = shown(family, place)
    return [row.text for row in rows if place in row.places(family) and row.text not in told]


@pytest.mark.parametrize("family", list(Family))
@pytest.mark.parametrize("place", list(Place))
def test_every_caution_appears_where_its_row_says(family: Family, place: Place) -> None:
    assert missing(family, place) == []


def test_a_caution_that_nobody_shows_would_be_found() -> None:
    unheard = Caution("Mind the step.", {Moment.MIXING: frozenset({Family.EPOXY})})
    assert missing(Family.EPOXY, Place.ANSWER, (unheard,)) == ["Mind the step."]


@pytest.mark.parametrize("family", list(Family))
def test_nothing_is_said_at_an_act_that_no_row_of_the_family_says(family: Family) -> None:
    own = {row.text for row in CAUTIONS for kin in row.said.values() if family in kin} | {DEFERS}
    others = {row.text for row in CAUTIONS} - own
    over_it = over_a_shut_film(family)
    said = "\n".join(line for line in answered(family).splitlines() if line not in over_it)
    assert [text for text in others if text in said] == []


def test_every_moment_is_shown_somewhere_and_belongs_to_a_row() -> None:
    assert set(SHOWN) == set(Moment)
    assert {moment for row in CAUTIONS for moment in row.said} == set(Moment)
    texts = [row.text for row in CAUTIONS]
    assert len(texts) == len(set(texts)), "one row a caution"

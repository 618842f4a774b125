"""Every kind of entry can be said back in one sentence."""

from __future__ import annotations

import pytest

from mixclock.job.dayentries import Answered, BackAtWork, KitAsked, PaceDropped, Settled, StoppedWork, Visited
from mixclock.job.entry import (
    KINDS,
    Began,
    Combined,
    CupUsed,
    Delivered,
    Did,
    Dumped,
    FactorDropped,
    FactorUsed,
    Facts,
    ForecastTaken,
    Found,
    Heard,
    JobFinished,
    JobMended,
    JobStarted,
    Measured,
    MixingEnded,
    Noted,
    PhotoTaken,
    Planned,
    Poured,
    ProfileUsed,
    Raised,
    Reading,
    Saw,
    Traffic,
    Unreadable,
    WatchEvent,
    Withdrawn,
)
from mixclock.units import US_CREW
from mixclock.words.saidback import said_back
from tests.decide.worlds import SITE, Log, instant

EVERY: tuple[tuple[Facts, str], ...] = (
    (JobStarted("Boat shed", SITE), "Job 'Boat shed' begun at 9:10"),
    (
        JobMended(SITE, "shed.toml", ("bay 1: size 15 m² instead of 12 m²",)),
        "Job file mended at 9:10: bay 1: size 15 m²",
    ),
    (JobFinished(), "Job 'shed' finished at 9:10"),
    (ProfileUsed("Shed base", "text"), "profile used at 9:10"),
    (FactorUsed("Shed base", "pour-out", 1.1, 0.1, 2), "factor used at 9:10"),
    (CupUsed("Shed base", "L-1", 1, 0.15, 20.0, 20.0, end_s=1500.0), "Test cup of Shed base, lot L-1: 150 g, ended"),
    (PaceDropped(), "How fast the crew was on this job is dropped"),
    (FactorDropped("Shed base", "pour-out"), "What was learned of Shed base, pour-out, is dropped"),
    (
        Combined("Shed base", ("bay 1", "bay 2"), mass_kg=4.4, lot="L-1"),
        "Batch 2: 4.4 kg of Shed base for bay 1 and bay 2",
    ),
    (
        KitAsked("no", "edge", "base", ("bay 2",), said="No: tape here."),
        "Asked at 9:10 whether to open the next",
    ),
    (Answered("ready", "moisture", "80 %", False), "Ready at 9:10: moisture: 80 % (look out)"),
    (Answered("evening", "doors", "shut", True, "bay 1"), "Evening at 9:10 on bay 1: doors: shut"),
    (StoppedWork("telephone"), "Called away at 9:10: telephone"),
    (BackAtWork(), "Back at 9:10"),
    (Visited("edge has lifted"), "Call-back begun at 9:10: edge has lifted"),
    (Settled("bay 1", "cut back, primed, coated", 4), "Put right on bay 1 at 9:10: cut back, primed, coated"),
    (MixingEnded(1), "Batch 1: mixed at 9:10"),
    (Poured(1), "Batch 1: poured on bay 1 at 9:10"),
    (Poured(1, part_l=1.0, covered_m2=3.0), "Batch 1: 1 L poured on bay 1 over 3 m² at 9:10, 3 L left"),
    (ForecastTaken("a table", ("2026-04-13T09:00:00Z",), (18.0,)), "forecast at 9:10"),
    (Dumped(1, "half"), "Batch 1: dumped at 9:10, about half of it"),
    (Did("back-roll", 1), "Batch 1: rolled at 9:10"),
    (Did("rinse", None, ("bay 1", "bay 2")), "bay 1 and bay 2: rinsed at 9:10"),
    (Did("second sanding", 1, ("bay 1",)), "Batch 1 on bay 1: done with second sanding at 9:10"),
    (Began("broadcast", 1), "Batch 1: flaking since 9:10; quiet until it must be done"),
    (Reading(air_c=18.0, rh_pct=60.0, area="bay 1"), "Read on bay 1 at 9:10: air 18 °C, humidity 60 %"),
    (Measured("wet film", 310.0, "um", "bay 1"), "Measured at 9:10: wet film 310 µm on bay 1"),
    (Measured("moisture", 4.0, "pct"), "Measured at 9:10: moisture 4 %"),
    (Measured("pH", 7.5, "", batch=1), "Measured at 9:10: pH 7.5 of batch 1"),
    (Noted("heater lit", "bay 1"), "Noted at 9:10 on bay 1: heater lit"),
    (PhotoTaken("a.jpg", "ab", batch=1), "Photo at 9:10 of batch 1: a.jpg"),
    (Traffic("bay 1", "foot"), "Walked on bay 1 at 9:10"),
    (Saw("tack free", None, "bay 1"), "Bay 1: seen tack free at 9:10"),
    (Saw("hot", 1), "Batch 1: seen hot at 9:10"),
    (Found("bay 1", "dull", "door"), "Found on bay 1 at 9:10: dull, door"),
    (Heard(("b1.pour-out",)), "Heard at 9:10: b1.pour-out"),
    (Heard(), "Heard at 9:10: everything that stood"),
    (Withdrawn(4), "Entry 4 does not count any more (A batch that was withdrawn: 4 L of Shed base"),
    (Raised("b1.pour-out", "now", "critical", "Pour", "2026-04-13T08:10:00Z"), "raised at 9:10"),
    (Delivered(5, "sound", "sent"), "delivered at 9:10"),
    (Planned("{}"), "planned at 9:10"),
    (WatchEvent("started"), "watch at 9:10"),
    (Unreadable("poured", "it is not what was written"), "Entry 5 (poured) cannot be read"),
)


@pytest.mark.parametrize(("facts", "said"), EVERY)
def test_an_entry_is_said_in_one_sentence(facts: Facts, said: str) -> None:
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base"))
    entry = log.add(10, facts)
    told = said_back(entry, log.standing(), instant(12))
    assert told.startswith(said)
    assert "\n" not in told


def test_no_kind_of_entry_is_forgotten() -> None:
    assert {type(facts) for facts, _ in EVERY} == set(KINDS.values())


def test_who_said_it_and_the_note_are_said_too() -> None:
    log = Log()
    entry = log.add(10, Noted("heater lit"), by="roller")
    assert said_back(entry, log.standing(), instant(12)) == "Noted at 9:10: heater lit, by roller"


def test_yesterday_is_said_to_be_yesterday() -> None:
    log = Log()
    entry = log.add(10, Noted("heater lit"))
    assert said_back(entry, log.standing(), instant(60 * 24)) == "Noted at yesterday 9:10: heater lit"


def test_a_crew_in_gallons_is_answered_in_gallons() -> None:
    from dataclasses import replace

    log = Log()
    entry = log.add(0, Combined("Shed base", ("bay 1",), volume_l=7.571, coat="base"))
    standing = log.standing()
    in_us = replace(standing, site=replace(standing.site, units=US_CREW))
    assert US_CREW.write_volume(7.571) == "2 gal"
    assert said_back(entry, in_us, instant(1)).startswith("Batch 1: 2 gal of Shed base")


def test_a_withdrawal_that_is_withdrawn_says_what_counts_again() -> None:
    log = Log()
    mixed = log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0))
    gone = log.add(1, Withdrawn(mixed.number))
    back = log.add(2, Withdrawn(gone.number))
    assert said_back(back, log.standing(), instant(3)) == "Batch 1 counts again"

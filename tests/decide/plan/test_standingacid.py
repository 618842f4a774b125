"""Planned again with acid on the floor: it is neutralised and rinsed first, by whatever bucket that is stated of."""

from __future__ import annotations

from mixclock.decide.plan.days.advice import next_batch_advice
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.entry import Combined, Did, Facts, JobStarted, Poured, ProfileUsed, Reading
from tests.decide.plan.floors import replan
from tests.decide.worlds import BASE, MODEL, Log, instant, minutes_of

ETCH = """
name = "Shed etch"
family = "acid etch"
source = "invented"
[mix]
density = "1.16 kg/L"
[dilution]
water_to_product = 3
acid = "31 %"
[windows.dwell]
after = "poured"
opens = "5 min"
closes = "10 min"
[windows.neutralise]
after = "poured"
opens = "5 min"
closes = "12 min"
constant = true
[windows.rinse]
after = "neutralise"
opens = "5 min"
closes = "20 min"
constant = true
[windows.dry]
after = "rinse"
opens = "24 h"
"""
SODA = """
name = "Shed soda"
family = "neutraliser"
source = "invented"
[dilution]
water_to_product = 10
[windows.rinse]
after = "poured"
opens = "5 min"
closes = "20 min"
constant = true
"""
SITE = """
name = "Boat shed"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "10 m2"
order = 1
[[areas]]
name = "bay 2"
size = "10 m2"
order = 2
[[crew]]
name = "one"
[[coats]]
name = "etch"
product = "Shed etch"
spread = "1.5 m2/L"
waste = "0 %"
[[coats]]
name = "neutralise"
product = "Shed soda"
spread = "2 m2/L"
after = "etch"
waste = "0 %"
[[coats]]
name = "base"
product = "Shed base"
wet_film = "300 um"
after = "neutralise"
wet_edge = false
[hours]
days = ["2026-04-13", "2026-04-14", "2026-04-15"]
start = "07:30"
end = "17:30"
"""
BUCKET_L = 10.0 / 1.5
"""What a bay takes of the solution."""


def shed(*told: tuple[float, Facts]) -> Log:
    """Mild and dry; what was stated at which minute after eight."""
    log = Log()
    log.entries[:] = []
    log.add(-60, JobStarted("Boat shed", SITE))
    for name, text in (("Shed etch", ETCH), ("Shed soda", SODA), ("Shed base", BASE)):
        log.add(-60, ProfileUsed(name, text))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    for minutes, facts in told:
        log.add(minutes, facts, by="one")
    return log


SODA_MIXED = (0.0, Combined("Shed soda", ("bay 1", "bay 2"), volume_l=10.0, coat="neutralise"))
ACID_MIXED = (8.0, Combined("Shed etch", ("bay 1",), volume_l=BUCKET_L, coat="etch"))


def planned(log: Log, minutes: float) -> Plan:
    """What is left at an instant."""
    standing = log.standing(minutes)
    timing, exact = SheetTiming(standing, MODEL), SheetTiming(standing, MODEL, 0)
    bench = Bench(standing.site, standing.profiles, timing, exact, timing, instant(minutes))
    plan = replan(standing, log.tracks(minutes), bench, Ways(Effort(150, 80), exact=False))
    assert plan.feasible, plan.obstacle
    return plan


def spans(plan: Plan, kind: str, batch: int) -> tuple[float, float]:
    """From when to when in minutes."""
    (step,) = (step for step in plan.steps if (step.kind, step.batch) == (kind, batch))
    return minutes_of(step.starts), minutes_of(step.ends)


def test_acid_on_the_floor_is_neutralised_and_rinsed_before_anything_else_is_poured() -> None:
    """Poured from 9 to 14, as 10 m² take 5 minutes; the neutraliser takes 5 as well. So it may follow at once: the
    first strip has had its 5, and the last will have had them."""
    plan = planned(shed(SODA_MIXED, ACID_MIXED, (14.0, Poured(2))), 14.0)
    neutralised, rinsed = spans(plan, "neutralise", 2), spans(plan, "rinse", 2)
    assert neutralised == (14.0, 19.0)
    assert rinsed[0] >= neutralised[1]
    first = min(minutes_of(batch.poured_at) for batch in plan.batches if batch.coat == "base")
    assert first >= rinsed[1] + 24 * 60.0, "the slab dries from its rinse on"


def test_neutraliser_that_stands_mixed_is_not_mixed_again() -> None:
    plan = planned(shed(SODA_MIXED, ACID_MIXED, (14.0, Poured(2))), 14.0)
    assert [batch.coat for batch in plan.batches if batch.coat != "base"] == ["etch"]
    (etched,) = (batch for batch in plan.batches if batch.coat == "etch")
    assert etched.areas == ("bay 2",)
    (step,) = (step for step in plan.steps if (step.kind, step.batch) == ("neutralise", etched.number))
    assert step.note == "with batch 1"


def test_acid_under_a_neutraliser_that_was_poured_as_a_batch_only_waits_to_be_rinsed() -> None:
    told = (SODA_MIXED, ACID_MIXED, (14.0, Poured(2)), (20.0, Poured(1, ("bay 1",), part_l=5.0)))
    plan = planned(shed(*told), 21.0)
    assert not [step for step in plan.steps if (step.kind, step.batch) == ("neutralise", 2)]
    rinsed = spans(plan, "rinse", 2)
    assert rinsed[0] >= 25.0, "five minutes after the neutraliser"
    assert rinsed[1] <= 40.0, "within its twenty"
    assert len([step for step in plan.steps if step.kind == "rinse" and step.batch in (1, 2)]) == 1


def test_a_bay_that_is_rinsed_is_open_a_day_later_whichever_bucket_the_rinse_was_stated_of() -> None:
    told = (SODA_MIXED, ACID_MIXED, (14.0, Poured(2)), (20.0, Poured(1, ("bay 1",), part_l=5.0)))
    for number in (1, 2):
        plan = planned(shed(*told, (35.0, Did("rinse", number, ("bay 1",)))), 36.0)
        assert not [step for step in plan.steps if step.kind == "rinse" and step.batch in (1, 2)]
        first = min(batch.poured_at for batch in plan.batches if batch.coat == "base" and "bay 1" in batch.areas)
        assert minutes_of(first) >= 35.0 + 24 * 60.0


def test_acid_that_stands_mixed_goes_on_before_another_bucket() -> None:
    plan = planned(shed(SODA_MIXED, ACID_MIXED), 9.5)
    neutralised = spans(plan, "neutralise", 2)
    assert 14.0 <= neutralised[0] <= 25.0  # poured for five minutes from now on
    assert [batch.areas for batch in plan.batches if batch.coat == "etch"] == [("bay 2",)]


def test_acid_whose_dwell_is_nearly_over_is_neutralised_before_anybody_measures_out_again_and_said() -> None:
    late = planned(shed(SODA_MIXED, ACID_MIXED, (14.0, Poured(2))), 27.0)
    assert any("neutralise of batch 2 is late: do it at once" in line for line in late.warnings), late.warnings
    assert spans(late, "neutralise", 2)[0] == 27.0
    assert min(late.steps, key=lambda step: step.starts).kind == "neutralise"
    assert spans(late, "rinse", 2)[0] >= 32.0


def test_the_next_bucket_of_acid_is_called_while_its_neutraliser_stands_mixed() -> None:
    """The first plan: neutraliser 0 to 5, acid measured 5 to 8 and mixed at 8. It stands in no way."""
    log = shed()
    plan = planned(log, 0.0)
    (acid, *_) = (batch for batch in plan.batches if batch.coat == "etch")
    assert (acid.number, minutes_of(acid.mixed_at)) == (2, 8.0)
    log.add(*SODA_MIXED)
    for minutes, called in ((7.0, []), (8.5, ["plan.next-batch-2"])):
        standing = log.standing(minutes)
        found = next_batch_advice(standing, log.tracks(minutes), plan, instant(minutes))
        assert [alert.id for alert in found] == called

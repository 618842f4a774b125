"""The rest of a floor is planned as its first buckets went: by what they covered, and by how long they took."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.plan.days.asitwent import as_it_went, rates_said
from mixclock.decide.plan.floor.pieces import pieces_of
from mixclock.decide.plan.floor.quantities import amounts, film_um
from mixclock.job.entry import Combined, Did, JobStarted, Poured
from mixclock.job.site import Coat, Person
from tests.decide.plan.test_replan import PLAIN_SITE, shed
from tests.decide.worlds import Log, instant


def thirsty() -> Log:
    """A first bay of 12 m² that took 6 L, and the second begun."""
    log = shed()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", PLAIN_SITE))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 6.0, 6.6, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(16, Did("back-roll", 1))
    log.add(20, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(24, Poured(2))
    return log


def needed_l(coat: Coat, log: Log) -> float:
    """What another such bay takes."""
    standing = log.standing()
    area = standing.site.areas[2]
    profile = standing.profile(coat.product)
    assert profile is not None
    return amounts(coat, profile, pieces_of((area,), {area.name: area.size_m2})).needed_l


def test_what_the_first_bucket_covered_counts_for_the_rest_and_that_is_said() -> None:
    log = thirsty()
    before = log.standing().site.coats[0]
    went = as_it_went(log.standing(), instant(30))
    after = went.standing.site.coats[0]
    assert needed_l(before, log) < 5.0
    assert needed_l(after, log) == pytest.approx(6.0, rel=0.01)
    assert any("was planned" in line for line in went.said)
    assert film_um(after, log.standing().profile(after.product)) > 0.0


def test_a_floor_that_goes_as_planned_is_left_alone() -> None:
    log = shed()
    assert as_it_went(log.standing(), instant(0)).said == ()


def test_a_crew_that_is_slower_today_is_planned_slower_and_a_quicker_one_is_not_hurried() -> None:
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(60, Did("back-roll", 1))
    went = as_it_went(log.standing(70), instant(70))
    assert any("longer than its stated rates" in line for line in went.said)
    slow = [person.roll_m2_h for person in went.standing.site.crew if person.roll_m2_h]
    stated = [person.roll_m2_h for person in log.standing(70).site.crew if person.roll_m2_h]
    assert min(slow) < min(stated)


def test_a_crew_that_stated_no_rates_is_not_told_that_it_did() -> None:
    silent, site = Person("mixer"), shed().standing().site
    assert rates_said(replace(site, crew=(silent,))) == "crews usually do"
    assert rates_said(replace(site, crew=(silent, Person("roller", roll_m2_h=60.0)))) == "its stated rates"

"""What a log says of buckets: how much of one lies where, when it was empty, and what a word about an area is about."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.job.begunbatch import begun_batch
from mixclock.job.entry import Combined, CupUsed, Did, Dumped, JobStarted, MixingEnded, Noted, Poured, Saw, Withdrawn
from mixclock.job.folding import Folding, fold
from mixclock.job.profile import Family, MixRule, Profile
from mixclock.job.site import Area, Coat, Site
from mixclock.job.wherewritten import Origin
from tests.decide.worlds import SITE, Log, instant, minutes_of

MIXED_L = 4.0
"""Of Shed base: two parts of 1.13 kg/L to one of 0.98 kg/L, so 1.08 kg/L; its sheet says three minutes of mixing."""


def bucket() -> Log:
    """A bucket mixed for bay 1 and bay 2 at eight."""
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1", "bay 2"), volume_l=MIXED_L, material_c=20.0, vessel="pail"))
    return log


@pytest.mark.parametrize(
    ("parts_l", "on_the_floor_l"),
    [
        ((None,), [4.0]),
        ((1.0, None), [1.0, 3.0]),
        ((3.5, None), [3.5, 0.5]),
        ((1.5, 1.5, None), [1.5, 1.5, 1.0]),
        ((4.1, None), [4.1, 0.0]),
    ],
)
def test_a_pour_without_an_amount_is_what_was_left_in_the_bucket(
    parts_l: tuple[float | None, ...], on_the_floor_l: list[float]
) -> None:
    log = bucket()
    for minute, part_l in enumerate(parts_l, start=5):
        log.add(minute, Poured(1, part_l=part_l))
    (batch,) = log.standing().batches
    assert [portion.volume_l for portion in batch.portions] == pytest.approx(on_the_floor_l)
    assert [portion.number for portion in batch.portions] == [*range(1, len(parts_l) + 1)]
    assert batch.emptied is not None
    assert minutes_of(batch.emptied.at) == 5 + len(parts_l) - 1
    assert batch.left_l == 0.0


def test_a_part_in_kilograms_is_so_many_litres_by_the_sheets_density() -> None:
    log = bucket()
    log.add(5, Poured(1, part_kg=2.16))
    (batch,) = log.standing().batches
    assert [portion.volume_l for portion in batch.portions] == pytest.approx([2.0])
    assert batch.left_l == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("parts_l", "is_empty"),
    [((3.91,), False), ((3.92,), True), ((2.0, 1.91), False), ((2.0, 1.93), True), ((2.0,), False)],
    ids=["2.25 % left", "2 % left", "2.25 % left of two", "1.75 % left of two", "half left"],
)
def test_what_sticks_to_the_wall_two_parts_in_a_hundred_is_no_portion(
    parts_l: tuple[float, ...], is_empty: bool
) -> None:
    log = bucket()
    for minute, part_l in enumerate(parts_l, start=5):
        log.add(minute, Poured(1, part_l=part_l))
    (batch,) = log.standing().batches
    assert (batch.emptied is not None) == is_empty
    assert (batch.left_l > 0.0) == (not is_empty)


@pytest.mark.parametrize("gone", [Poured(1), Dumped(1)], ids=["poured", "dumped"])
def test_a_bucket_that_is_gone_after_a_minute_was_mixed_for_a_minute(gone: Poured | Dumped) -> None:
    log = bucket()
    log.add(1, gone)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 1.0


@pytest.mark.parametrize("gone", [Poured(1), Dumped(1)], ids=["poured", "dumped"])
def test_a_bucket_that_is_gone_after_ten_minutes_was_mixed_as_its_sheet_says(gone: Poured | Dumped) -> None:
    log = bucket()
    log.add(10, gone)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 3.0


def test_where_somebody_stated_the_end_of_mixing_a_pour_that_is_said_to_be_earlier_moves_it_not() -> None:
    log = bucket()
    log.add(4, MixingEnded(1))
    log.add(2, Poured(1), written=5)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 4.0


@pytest.mark.parametrize(("rolled_at", "poured_at"), [(10, 3.0), (2, 2.0)], ids=["mixed to the end", "in the middle"])
def test_a_film_that_is_rolled_was_poured_when_its_mixing_ended_until_somebody_says_otherwise(
    rolled_at: float, poured_at: float
) -> None:
    log = bucket()
    log.add(rolled_at, Did("back-roll", 1))
    (portion,) = log.standing().batches[0].portions
    assert (portion.number, portion.volume_l, portion.areas) == (1, MIXED_L, ("bay 1", "bay 2"))
    assert minutes_of(portion.poured.at) == poured_at
    assert portion.assumed
    log.add(1.5, Poured(1, ("bay 1",)), written=12)
    (portion,) = log.standing().batches[0].portions
    assert (portion.number, portion.areas, portion.assumed) == (1, ("bay 1",), None)
    assert minutes_of(portion.poured.at) == 1.5


def test_what_is_seen_on_an_area_is_of_the_bucket_that_lies_there_or_that_is_meant_for_it() -> None:
    log = bucket()
    log.add(0, Saw("hot", area="bay 2"))
    assert len(log.standing().batches[0].signs) == 1, "at the instant at which it was mixed, too"
    log.add(5, Poured(1, ("bay 1",)))
    log.add(9, Saw("dull", area="bay 2"))
    log.add(9, Saw("stringy", area="bay 1"))
    assert [sign.sign for sign in log.standing().batches[0].signs] == ["hot", "stringy"]


def test_a_lots_cups_are_those_that_were_logged_last_and_each_counts_once() -> None:
    log = Log()
    first, second = (CupUsed("Shed base", "L-1", nth, 0.15, 20.0, 20.0, end_s=1500.0 + nth) for nth in (1, 2))
    for minute, cups in ((0, (first,)), (10, (first, second))):
        for cup in cups:
            log.add(minute, cup)
        log.add(minute, Combined("Shed base", ("bay 1",), volume_l=MIXED_L, material_c=20.0, lot="l-1"))
    log.add(20, Combined("Shed base", ("bay 1",), volume_l=MIXED_L, material_c=20.0, lot="L-2"))
    assert [batch.cups for batch in log.standing().batches] == [(first,), (first, second), ()]


def test_a_job_that_is_followed_stands_after_each_statement_as_the_whole_log_says_and_keeps_what_did_not_change() -> (
    None
):
    log = bucket()
    log.add(0, Combined("Shed top", ("bay 3",), volume_l=1.0, material_c=20.0))
    log.add(4, MixingEnded(1))
    followed = Folding("shed", tuple(log.entries))
    for facts in (Poured(1, part_l=1.0), Noted("door open"), Poured(1, part_l=2.0), Did("back-roll", 1)):
        other = followed.standing.batch(2)
        (entry,) = (log.add(5 + len(log.entries), facts),)
        assert followed.take([entry]).batches == fold("shed", log.entries).batches
        assert followed.standing.batch(2) is other
    assert [portion.volume_l for portion in followed.standing.batches[0].portions] == [1.0, 2.0]


BY_WEIGHT = Coat("base", "Sand base", wet_film_um=800.0, kit_kg=12.0)


@pytest.mark.parametrize(
    ("coat", "volume_l", "said"),
    [
        (BY_WEIGHT, 7.5, "density taken as 1.6 kg/L"),
        (replace(BY_WEIGHT, kit_kg=None, kit_l=9.0), 12.0 / 1.1, "density taken as 1.1 kg/L"),
    ],
)
def test_a_kit_by_weight_makes_as_much_in_the_log_as_in_the_plan_that_bought_it(
    coat: Coat, volume_l: float, said: str
) -> None:
    """Where the sheet states no densities a kit by weight is taken at 1.6 kg/L: 12 kg are 7.5 L; else at 1.1 kg/L."""
    site = Site("Shed", "UTC", (Area("bay 1", 10.0),), (coat,))
    facts = Combined("Sand base", ("bay 1",), mass_kg=12.0)
    sheet = Profile("Sand base", Family.EPOXY, "invented", MixRule((5.0, 1.0)))
    begun = begun_batch(1, Log().add(0, facts), facts, sheet, site)
    assert begun.volume_l == pytest.approx(volume_l)
    assert (begun.mass_kg, begun.assumed) == (12.0, (said,))
    kits = take_off(site, {"sand base": sheet}).coats[0].kits
    assert kits is not None
    assert kits.size_l == pytest.approx(coat.kit_l or volume_l)


def test_how_much_was_dumped_may_be_said_later_and_the_bucket_is_gone_since_the_first_word() -> None:
    log = bucket()
    log.add(20, Dumped(1))
    log.add(25, Dumped(1, share="most"))
    log.add(26, Dumped(1))
    (batch,) = log.standing().batches
    assert batch.dumped is not None
    assert batch.emptied is not None
    assert (minutes_of(batch.dumped.at), minutes_of(batch.emptied.at), batch.dumped_share) == (20, 20, "most")


def test_a_step_that_is_said_of_an_area_is_done_on_its_newest_coat_where_it_was_not_done_yet() -> None:
    log = Log()
    for minute, coat in ((0, "base"), (10, "top"), (20, "top")):
        log.add(minute, Combined(f"Shed {coat}", ("bay 1",), volume_l=1.0, coat=coat, material_c=20.0))
        log.add(minute + 5, Poured(minute // 10 + 1))
    log.add(26, Did("back-roll", 2))
    log.add(30, Did("back-roll", areas=("bay 1",)))
    done = [batch.done.get("back-roll") for batch in log.standing().batches]
    assert [minutes_of(one.at) if one else None for one in done] == [None, 26, 30]


def test_of_what_comes_in_only_a_word_of_ones_own_that_changes_nothing_before_it_is_simply_added() -> None:
    log = bucket()
    followed, poured = Folding("shed", log.entries), log.add(5, Poured(1))
    theirs = replace(poured, origin=Origin("van 2", "van 2", 1, (instant(5), 0)))
    taken_back = replace(poured, facts=Withdrawn(4))
    assert [followed.goes_on(new) for new in ([poured], [theirs], [poured, theirs], [taken_back])] == [
        True, False, False, False,
    ]  # fmt: skip


def test_a_job_file_that_was_taken_once_is_read_again_though_it_states_no_film() -> None:
    log = Log()
    text = "\n".join(line for line in SITE.splitlines() if not line.startswith("wet_film"))
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", text))
    assert [coat.wet_film_um for coat in log.standing().site.coats] == [None, None]

"""A job file that is mended after its job began: what may change, and what lies on the floor and keeps its name."""

from __future__ import annotations

import pytest

from mixclock.job.entry import Combined, JobMended, Measured, Poured, Reading, Withdrawn
from mixclock.job.mending import contradictions, mended
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.sitereading import read_site
from tests.decide.worlds import SITE, Log, instant
from tests.saying import as_said

LARGER = SITE.replace('name = "bay 1"\nsize = "12 m2"', 'name = "bay 1"\nsize = "15 m2"')
FOURTH = SITE.replace("[[crew]]", '[[areas]]\nname = "bay 4"\nsize = "9 m2"\n[[crew]]', 1)


def laid() -> Log:
    """A batch on bay 1, mixed in the pail; a reading on bay 3."""
    log = Log()
    log.add(-10, Reading(slab_c=18.0, area="bay 3"))
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=4.0, vessel="pail"))
    log.add(6, Poured(1))
    return log


def wrong(log: Log, text: str) -> list[str]:
    return [str(each) for each in contradictions(log.standing(), read_site(text))]


def size_of(log: Log, area: str = "bay 1", **asked: float) -> float:
    found = log.standing(**asked).site.area(area)
    assert found is not None
    return found.size_m2


def test_an_area_whose_size_was_mistyped_has_the_right_one_from_then_on() -> None:
    log = laid()
    assert wrong(log, LARGER) == []
    log.add(30, JobMended(LARGER, "shed.toml", ("bay 1: size 15 m² instead of 12 m²",)))
    assert size_of(log) == 15.0


def test_what_was_known_before_the_file_was_mended_can_still_be_asked() -> None:
    log = laid()
    log.add(30, JobMended(LARGER))
    assert size_of(log, at=10) == 15.0, "a mistake stays out of the past, as one that was withdrawn does"
    assert size_of(log, at=10, known=10) == 12.0


def test_the_last_mended_file_counts_and_a_withdrawn_one_does_not() -> None:
    log = laid()
    log.add(30, JobMended(SITE.replace('size = "12 m2"', 'size = "13 m2"')))
    last = log.add(40, JobMended(LARGER))
    assert size_of(log) == 15.0
    log.add(50, Withdrawn(last.number))
    assert size_of(log) == 13.0


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('"Boat shed"', '"Boat house"', "at 'name': it names the job 'Boat house', this one is 'Boat shed'"),
        ('"bay 1"', '"bay one"', "at 'areas': 'bay 1' is gone, but batch 1 is there"),
        ('"bay 3"', '"bay three"', "at 'areas': 'bay 3' is gone, but entry 4 (reading) is about it"),
        ('name = "base"', 'name = "ground"', "at 'coats': 'base' is gone, but batch 1 is of it"),
        ('product = "Shed base"', 'product = "Shed top"', "at 'coats': 'base' is Shed top now, but batch 1"),
        ('product = "Shed base"', 'areas = ["bay 2"]\nproduct = "Shed base"', "'base' is not for bay 1 any more"),
        ('name = "pail"', 'name = "bucket"', "at 'vessels': 'pail' is gone, but batch 1 was mixed in it"),
    ],
)
def test_what_was_laid_keeps_its_name_whatever_the_file_says(before: str, after: str, said: str) -> None:
    text = SITE.replace(before, after).replace('after = "base"', "" if "ground" in after else 'after = "base"')
    assert said in wrong(laid(), text)[0]


def test_what_nobody_has_spoken_of_may_be_renamed() -> None:
    assert wrong(laid(), SITE.replace('"bay 2"', '"bay two"')) == []


def test_everything_that_contradicts_is_told_at_once() -> None:
    assert len(wrong(laid(), SITE.replace('"bay 1"', '"bay one"').replace('"bay 3"', '"bay three"'))) == 2


def test_a_batch_that_was_withdrawn_holds_no_area() -> None:
    log = Log()
    gone = log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=4.0))
    log.add(1, Withdrawn(gone.number))
    assert wrong(log, SITE.replace('"bay 1"', '"bay one"')) == []


def test_a_mended_file_with_a_bay_that_is_laid_by_now_cannot_be_withdrawn() -> None:
    log = laid()
    file = log.add(30, JobMended(FOURTH))
    log.add(40, Measured("pH", 7.0, "", area="bay 4"))
    with pytest.raises(CannotTellError, match="'bay 4' is gone, but entry 8"):
        as_said("withdraw", entry=file.number).drafts(log.standing(), Attribution(instant(50)))


def test_a_mended_file_that_nothing_rests_on_can_be_withdrawn() -> None:
    log = laid()
    file = log.add(30, JobMended(FOURTH))
    (draft,) = as_said("withdraw", entry=file.number).drafts(log.standing(), Attribution(instant(50)))
    assert draft.facts == Withdrawn(file.number)


def test_a_file_that_changes_nothing_is_refused() -> None:
    said = Attribution(instant(50))
    with pytest.raises(CannotTellError, match="goes by all of this already"):
        mended(laid().standing(), said, site=read_site(SITE), text=SITE, origin="shed.toml", changed=())

"""Which coat lies on which, where the job file does not say."""

from __future__ import annotations

from mixclock.job.site import Coat, in_file_order


def after(*coats: Coat) -> list[str | None]:
    return [coat.after for coat in in_file_order(coats)]


def test_a_coat_that_names_no_other_lies_on_the_one_before_it_in_the_file() -> None:
    assert after(Coat("primer", "P"), Coat("base", "B"), Coat("top", "T")) == [None, "primer", "base"]


def test_a_coat_that_is_named_from_above_stays_the_lowest() -> None:
    assert after(Coat("top", "T", after="base"), Coat("base", "B")) == ["base", None]


def test_coats_on_areas_of_their_own_do_not_wait_for_each_other() -> None:
    kitchen, yard = Coat("kitchen", "B", areas=("kitchen",)), Coat("yard", "B", areas=("yard",))
    assert after(kitchen, yard, Coat("top", "T", areas=("kitchen",))) == [None, None, "kitchen"]


def test_what_a_file_says_is_kept_and_what_it_leaves_out_is_known_as_taken() -> None:
    found = in_file_order((Coat("primer", "P"), Coat("base", "B", after="primer"), Coat("top", "T")))
    assert [coat.after_said for coat in found] == [True, True, False]

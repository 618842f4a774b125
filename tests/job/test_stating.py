"""What a person says becomes an entry, or one line that says what, where and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    Began,
    Combined,
    CupUsed,
    Did,
    Facts,
    Heard,
    JobFinished,
    Measured,
    MixingEnded,
    Noted,
    PhotoTaken,
    Poured,
    Raised,
    Reading,
    Saw,
    Traffic,
    Withdrawn,
)
from mixclock.job.saying import Attribution, CannotTellError
from tests.decide.worlds import Log, instant
from tests.saying import as_said


def said(log: Log, verb: str, minutes: float, at: float | None = None, **what: Any) -> Draft:
    """The entry that a statement gives, so many minutes after eight."""
    (draft,) = as_said(verb, what).drafts(
        log.standing(), Attribution(instant(minutes), instant(at) if at is not None else None)
    )
    return draft


def facts(log: Log, verb: str, minutes: float, at: float | None = None, **what: Any) -> Facts:
    return said(log, verb, minutes, at, **what).facts


def refused(log: Log, verb: str, minutes: float, at: float | None = None, **what: Any) -> str:
    """The one line with which a statement is refused."""
    with pytest.raises(CannotTellError) as caught:
        said(log, verb, minutes, at, **what)
    line = str(caught.value)
    assert line
    assert "\n" not in line
    return line


def shed(*batches: Sequence[str]) -> Log:
    """A boat shed with a batch of base for each list of areas, ten minutes apart from eight o'clock on."""
    log = Log()
    for place, areas in enumerate(batches):
        log.add(10 * place, Combined("Shed base", tuple(areas), volume_l=4.0, coat="base"))
    return log


class TestMixing:
    def test_the_batch_is_of_the_products_only_coat_and_starts_now(self) -> None:
        draft = said(Log(), "mixing", 5, product="shed BASE", areas=["Bay 1"], volume_l=4.0)
        assert draft.facts == Combined("Shed base", ("bay 1",), coat="base", volume_l=4.0)
        assert draft.happened == instant(5)

    def test_a_coats_name_may_stand_for_its_product(self) -> None:
        combined = facts(Log(), "mixing", 5, product="top", areas=["bay 1"], volume_l=4.0)
        assert combined == Combined("Shed top", ("bay 1",), coat="top", volume_l=4.0)

    def test_a_misspelt_product_is_suggested_and_never_taken(self) -> None:
        assert "did you mean 'Shed base'?" in refused(Log(), "mixing", 5, product="Shed bass", areas=["bay 1"])

    def test_a_product_in_two_coats_must_say_which(self) -> None:
        log = Log()
        site = log.entries[0].facts
        two = site.text.replace('product = "Shed top"', 'product = "Shed base"')  # type: ignore[union-attr]
        log.entries[0] = _with_text(log, two)
        line = refused(log, "mixing", 5, product="Shed base", areas=["bay 1"], volume_l=4.0)
        assert line == "Shed base is in 2 coats (base, top); say --coat base or --coat top"
        combined = facts(log, "mixing", 5, product="Shed base", areas=["bay 1"], volume_l=4.0, coat="TOP")
        assert isinstance(combined, Combined)
        assert combined.coat == "top"

    def test_a_coat_that_is_laid_with_another_product_is_refused(self) -> None:
        line = refused(Log(), "mixing", 5, product="Shed base", areas=["bay 1"], volume_l=4.0, coat="top")
        assert "coat 'top' is laid with Shed top, not with Shed base" in line

    def test_an_unknown_area_is_suggested_and_a_missing_one_asked_for(self) -> None:
        assert "did you mean 'bay 3'?" in refused(Log(), "mixing", 5, product="base", areas=["bay3x"], volume_l=4.0)
        assert "say --on AREA; known are: bay 1, bay 2, bay 3" in refused(
            Log(), "mixing", 5, product="base", volume_l=4
        )

    def test_a_batch_without_an_amount_is_refused(self) -> None:
        assert "how much was mixed?" in refused(Log(), "mixing", 5, product="base", areas=["bay 1"])

    @pytest.mark.parametrize("amount", [0.0, -2.0, float("nan"), float("inf")])
    def test_an_amount_that_is_none_is_refused(self, amount: float) -> None:
        assert "above 0" in refused(Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=amount)

    def test_parts_measured_apart_stand_for_the_amount(self) -> None:
        combined = facts(Log(), "mixing", 5, product="base", areas=["bay 1"], a_l=4.0, b_l=2.0)
        assert isinstance(combined, Combined)
        assert (combined.volume_l, combined.a_l, combined.b_l) == (6.0, 4.0, 2.0)
        weighed = facts(Log(), "mixing", 5, product="base", areas=["bay 1"], a_l=4.0, b_kg=1.96)
        assert isinstance(weighed, Combined)
        assert weighed.mass_kg == pytest.approx(4.0 * 1.13 + 1.96)

    def test_one_part_alone_or_parts_that_do_not_make_the_amount_are_refused(self) -> None:
        assert "say both" in refused(Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=6.0, a_l=4.0)
        line = refused(Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=9.0, a_l=4.0, b_l=2.0)
        assert "A and B make 6 L, not 9 L" in line

    def test_more_than_the_vessel_holds_is_refused(self) -> None:
        line = refused(Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=22.0)
        assert "22 L do not fit into the pail, which holds 20 L" in line
        heavy = refused(Log(), "mixing", 5, product="base", areas=["bay 1"], mass_kg=24.0, vessel="pail")
        assert "do not fit into the pail" in heavy
        assert "did you mean 'pail'?" in refused(
            Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=4, vessel="pale"
        )

    def test_a_batch_told_as_mixed_began_its_mixing_time_ago(self) -> None:
        draft = said(Log(), "mixed", 5, product="base", areas=["bay 1"], volume_l=4.0)
        assert draft.happened == instant(2)  # the profile says three minutes
        longer = said(Log(), "mixed", 9, product="base", areas=["bay 1"], volume_l=4.0, mixing_s=300.0)
        assert longer.happened == instant(4)

    def test_a_batch_told_as_mixed_at_a_time_began_then(self) -> None:
        draft = said(Log(), "mixed", 9, at=1, product="base", areas=["bay 1"], volume_l=4.0)
        assert draft.happened == instant(1)

    def test_a_batch_that_began_a_minute_ago_and_is_mixed_took_a_minute(self) -> None:
        combined = facts(Log(), "mixed", 9, at=8, product="base", areas=["bay 1"], volume_l=4.0)
        assert isinstance(combined, Combined)
        assert combined.mixing_s == 60.0

    def test_nothing_is_mixed_on_a_finished_job(self) -> None:
        log = Log()
        log.add(0, JobFinished())
        assert "was finished at 9:00" in refused(log, "mixing", 5, product="base", areas=["bay 1"], volume_l=4.0)

    @pytest.mark.parametrize(("what", "value"), [("material_c", 90.0), ("mixing_s", 2.0), ("mixing_s", 8000.0)])
    def test_what_makes_no_sense_is_refused(self, what: str, value: float) -> None:
        assert "is outside" in refused(
            Log(), "mixing", 5, product="base", areas=["bay 1"], volume_l=4.0, **{what: value}
        )


class TestMixed:
    def test_the_only_batch_that_is_being_mixed_is_meant(self) -> None:
        assert facts(shed(["bay 1"]), "mixed", 3) == MixingEnded(1)

    def test_of_two_that_are_being_mixed_both_are_listed(self) -> None:
        line = refused(shed(["bay 1"], ["bay 2"]), "mixed", 12)
        assert line == (
            "2 batches can be meant, say which number: batch 1 (Shed base, 4 L, bay 1, mixed 9:00); "
            "batch 2 (Shed base, 4 L, bay 2, mixed 9:10)"
        )

    def test_a_batch_that_is_poured_or_was_told_as_mixed_is_not_meant(self) -> None:
        log = shed(["bay 1"], ["bay 2"])
        log.add(11, Poured(1))
        log.add(12, Combined("Shed base", ("bay 3",), volume_l=4.0, coat="base", ended=True))
        assert facts(log, "mixed", 13) == MixingEnded(2)

    def test_nobody_mixing_says_how_to_state_a_batch(self) -> None:
        assert "mixed PRODUCT AMOUNT --on AREA" in refused(Log(), "mixed", 3)

    def test_mixing_cannot_end_before_it_began_nor_twice(self) -> None:
        log = shed(["bay 1"], ["bay 2"])
        assert "begun at 9:10, so it cannot have been mixed at 9:05" in refused(log, "mixed", 12, at=5, batch=2)
        log.add(3, MixingEnded(1))
        assert "is mixed already" in refused(log, "mixed", 12, batch=1)

    def test_a_number_that_no_batch_has_lists_those_there_are(self) -> None:
        assert refused(shed(["bay 1"]), "mixed", 3, batch=7) == "there is no batch 7; there are 1"
        assert refused(Log(), "mixed", 3, batch=7) == "there is no batch 7; none was mixed yet"


class TestPoured:
    def test_the_only_bucket_is_meant_and_its_areas_stand(self) -> None:
        assert facts(shed(["bay 1"]), "poured", 8) == Poured(1)

    def test_an_area_tells_two_buckets_apart(self) -> None:
        assert facts(shed(["bay 1"], ["bay 2"]), "poured", 15, areas=["bay 2"]) == Poured(2, ("bay 2",))

    def test_two_buckets_without_a_word_are_listed(self) -> None:
        assert refused(shed(["bay 1"], ["bay 2"]), "poured", 15).startswith("2 batches can be meant")

    def test_a_bucket_of_hours_ago_is_not_meant_any_more(self) -> None:
        log = shed(["bay 1"])
        log.add(600, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base"))
        assert facts(log, "poured", 605) == Poured(2)

    def test_no_bucket_at_all_says_what_to_state_first(self) -> None:
        assert "no batch was in a bucket at 9:05; state it first" in refused(Log(), "poured", 5)

    def test_a_pour_before_its_mix_is_refused(self) -> None:
        log = shed(["bay 1"], ["bay 2"])
        assert "begun at 9:10, so it cannot have been poured at 9:04" in refused(log, "poured", 15, at=4, batch=2)

    def test_a_bucket_is_poured_out_once_and_the_line_says_how_to_undo_it(self) -> None:
        log = shed(["bay 1"])
        entry = log.add(8, Poured(1))
        assert f"poured out at 9:08; `withdraw {entry.number}` first" in refused(log, "poured", 9, batch=1)

    def test_a_pour_that_was_only_implied_may_still_be_told(self) -> None:
        log = shed(["bay 1"])
        log.add(15, Did("back-roll", 1))
        assert facts(log, "poured", 16, at=8) == Poured(1)

    def test_a_part_leaves_the_rest_and_more_than_the_rest_is_refused(self) -> None:
        log = shed(["bay 1"])
        log.add(5, Poured(1, part_l=3.0))
        assert facts(log, "poured", 8, part_l=1.0) == Poured(1, part_l=1.0)
        assert "batch 1 has 1 L left, not 2 L" in refused(log, "poured", 8, part_l=2.0)
        assert "left" in refused(log, "poured", 8, part_kg=3.0)

    def test_more_floor_than_there_is_cannot_have_been_covered(self) -> None:
        line = refused(shed(["bay 1"]), "poured", 8, covered_m2=124.0)
        assert "bay 1 has 12 m², so 124 m² cannot have been covered" in line
        assert facts(shed(["bay 1"]), "poured", 8, covered_m2=11.5) == Poured(1, covered_m2=11.5)


class TestOnTheFloor:
    def poured(self, *batches: Sequence[str]) -> Log:
        log = shed(*batches)
        for place in range(len(batches)):
            log.add(10 * place + 6, Poured(place + 1))
        return log

    def test_the_only_batch_on_the_floor_is_meant_before_one_in_a_bucket(self) -> None:
        log = self.poured(["bay 1"])
        log.add(10, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base"))
        assert facts(log, "rolled", 12) == Did("back-roll", 1)

    def test_a_batch_that_was_flaked_is_not_rolled_any_more(self) -> None:
        log = self.poured(["bay 1"], ["bay 2"])
        log.add(18, Did("broadcast", 1))
        assert facts(log, "rolled", 20) == Did("back-roll", 2)

    def test_two_that_wait_are_listed(self) -> None:
        assert refused(self.poured(["bay 1"], ["bay 2"]), "flaked", 20).startswith("2 batches can be meant")

    def test_everything_on_an_area_is_rolled_together(self) -> None:
        log = self.poured(["bay 1"], ["bay 1"])
        assert facts(log, "rolled", 20, areas=["bay 1"]) == Did("back-roll", None, ("bay 1",))

    def test_one_area_of_a_batch_may_be_done_alone(self) -> None:
        log = self.poured(["bay 1", "bay 2"])
        log.add(12, Did("back-roll", 1, ("bay 1",)))
        assert facts(log, "rolled", 14, areas=["bay 2"]) == Did("back-roll", 1, ("bay 2",))
        assert "was rolled at 9:12" in refused(log, "rolled", 14, batch=1, areas=["bay 1"])

    def test_a_step_done_twice_says_how_to_undo_the_first(self) -> None:
        log = self.poured(["bay 1"])
        entry = log.add(12, Did("back-roll", 1))
        assert f"`withdraw {entry.number}` first" in refused(log, "rolled", 14, batch=1)
        assert "no batch waits for it; say `rolled BATCH`" in refused(log, "rolled", 14)

    def test_an_area_on_which_a_batch_does_not_lie_is_refused(self) -> None:
        assert "batch 1 lies on bay 1, not on bay 3" in refused(
            self.poured(["bay 1"]), "rolled", 12, batch=1, areas=["bay 3"]
        )

    def test_nothing_is_rolled_before_it_is_poured(self) -> None:
        line = refused(self.poured(["bay 1"]), "rolled", 12, at=3, batch=1)
        assert "was poured at 9:06, so it cannot have been rolled at 9:03" in line

    def test_rolling_a_bucket_whose_pour_nobody_stated_is_taken(self) -> None:
        assert facts(shed(["bay 1"]), "rolled", 12) == Did("back-roll", 1)

    def test_a_step_of_the_profile_is_stated_by_its_name(self) -> None:
        log = self.poured(["bay 1"])
        assert facts(log, "did", 12, step="Back roll") == Did("back-roll", 1)
        assert "no step 'scrap'" in refused(log, "did", 12, step="scrap")
        assert "`poured [BATCH]`" in refused(log, "did", 12, step="pour-out")
        assert "nobody finishes" in refused(log, "did", 12, step="recoat")

    def test_somebody_is_on_a_step(self) -> None:
        log = self.poured(["bay 1"])
        assert facts(log, "began", 12, step="rolling") == Began("back-roll", 1)
        log.add(20, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base"))
        assert facts(log, "began", 24, step="pour") == Began("pour-out", 2)


class TestSeen:
    def test_any_one_value_is_a_reading_and_none_is_not(self) -> None:
        assert facts(Log(), "reading", 5, slab_c=14.0, area="BAY 2") == Reading(slab_c=14.0, area="bay 2")
        assert "say at least one of --air, --rh, --slab or --bucket" in refused(Log(), "reading", 5)

    def test_a_bucket_is_read_for_the_only_batch_in_one(self) -> None:
        assert facts(shed(["bay 1"]), "reading", 5, bucket_c=31.0) == Reading(bucket_c=31.0, batch=1)
        assert "say --batch BATCH" in refused(Log(), "reading", 5, bucket_c=31.0)
        assert "say --bucket T" in refused(shed(["bay 1"]), "reading", 5, air_c=20.0, batch=1)

    @pytest.mark.parametrize(("what", "value"), [("air_c", 80.0), ("rh_pct", 120.0), ("slab_c", float("nan"))])
    def test_a_reading_that_no_floor_has_is_refused(self, what: str, value: float) -> None:
        assert "is outside" in refused(Log(), "reading", 5, **{what: value})

    def test_a_humidity_typed_as_a_share_is_asked_about(self) -> None:
        assert "if you mean 62 %" in refused(Log(), "reading", 5, rh_pct=0.62)

    def test_measurements_are_kept_in_their_own_unit(self) -> None:
        assert facts(Log(), "measured", 5, quantity="film", value=310.0, area="bay 1") == Measured(
            "wet film", 310.0, "um", "bay 1"
        )
        assert facts(Log(), "measured", 5, quantity="PH", value=7.5) == Measured("pH", 7.5, "")
        assert "is outside 0 to 14" in refused(Log(), "measured", 5, quantity="pH", value=75.0)
        assert "no quantity 'gloss'" in refused(Log(), "measured", 5, quantity="gloss", value=75.0)

    def test_a_note_keeps_to_one_line(self) -> None:
        assert facts(Log(), "noted", 5, text=" heater\nlit \udcff") == Noted("heater lit ?")
        assert "is empty" in refused(Log(), "noted", 5, text=" \n ")
        assert "2000 is the most" in refused(Log(), "noted", 5, text="x" * 2001)

    def test_a_photo_is_of_an_area_or_of_a_batch(self) -> None:
        log = shed(["bay 1"])
        assert facts(log, "photo", 5, name="a.jpg", sha256="ab", batch=1) == PhotoTaken("a.jpg", "ab", None, 1)
        assert "not both" in refused(log, "photo", 5, name="a.jpg", sha256="ab", batch=1, area="bay 1")

    def test_traffic_is_by_foot_or_by_vehicle(self) -> None:
        assert facts(Log(), "traffic", 5, area="bay 1", by_what="Feet") == Traffic("bay 1", "foot")
        assert "known are: foot, vehicle" in refused(Log(), "traffic", 5, area="bay 1", by_what="sledge")

    def test_a_sign_is_seen_on_a_batch_or_on_a_coated_area(self) -> None:
        log = shed(["bay 1"])
        assert facts(log, "saw", 30, batch=1, sign="Tack-free") == Saw("tack free", 1)
        assert facts(log, "saw", 30, area="bay 1", sign="hard") == Saw("hard", None, "bay 1")
        assert "nothing was laid on bay 2" in refused(log, "saw", 30, area="bay 2", sign="hard")
        assert facts(log, "saw", 30, area="bay 1", sign="stringy") == Saw("stringy", 1)
        assert "no batch was mixed for bay 2" in refused(log, "saw", 30, area="bay 2", sign="stringy")
        assert "no sign 'purple'" in refused(log, "saw", 30, batch=1, sign="purple")
        assert "say a batch's number or an area" in refused(log, "saw", 30, sign="hard")
        assert "not begun by then" in refused(log, "saw", 30, at=-5, batch=1, sign="hot")

    def test_an_alert_is_heard_by_its_name_or_all_are(self) -> None:
        log = shed(["bay 1"])
        assert "none was raised yet" in refused(log, "heard", 5, alerts=["b1.pour-out"])
        log.add(7, Raised("b1.pour-out", "now", "critical", "Pour it out", "2026-04-13T08:07:00Z"))
        assert facts(log, "heard", 8, alerts=["b1.pour-out"]) == Heard(("b1.pour-out",))
        assert facts(log, "heard", 8) == Heard()
        assert "did you mean 'b1.pour-out'?" in refused(log, "heard", 8, alerts=["b1.pourout"])


class TestWithdraw:
    def test_the_last_thing_that_a_person_said_is_named_and_not_taken(self) -> None:
        log = shed(["bay 1"])
        poured = log.add(8, Poured(1))
        log.add(9, Raised("b1.back-roll", "now", "timely", "Roll", "2026-04-13T08:09:00Z"))
        assert f"`withdraw {poured.number}` takes it" in refused(log, "withdraw", 10)

    def test_again_names_the_one_before(self) -> None:
        log = shed(["bay 1"])
        poured = log.add(8, Poured(1))
        log.add(9, Withdrawn(poured.number))
        assert f"`withdraw {poured.number - 1}` takes it" in refused(log, "withdraw", 10)

    def test_a_withdrawal_may_itself_be_withdrawn(self) -> None:
        log = shed(["bay 1"])
        withdrawal = log.add(9, Withdrawn(log.add(8, Poured(1)).number))
        assert facts(log, "withdraw", 10, entry=withdrawal.number) == Withdrawn(withdrawal.number)

    def test_of_two_people_each_takes_back_their_own(self) -> None:
        log = shed(["bay 1"])
        log.add(8, Poured(1), by="mixer")
        rolled = log.add(9, Did("back-roll", 1), by="roller")
        log.add(10, Noted("door opened"), by="mixer")
        with pytest.raises(CannotTellError, match=rf"entry {rolled.number}, did batch 1 at 9:09 by roller"):
            as_said("withdraw").drafts(log.standing(), Attribution(instant(11), by="roller"))

    def test_what_does_not_count_or_was_never_said_is_refused(self) -> None:
        log = shed(["bay 1"])
        note = log.add(8, Noted("door opened"))
        log.add(9, Withdrawn(note.number))
        assert "does not count any more" in refused(log, "withdraw", 10, entry=note.number)
        assert "no entry 99 (the last is 6)" in refused(log, "withdraw", 10, entry=99)
        assert "written by mixclock itself" in refused(log, "withdraw", 10, entry=2)
        cup = log.add(9, CupUsed("Shed base", "L-1", 1, 0.15, 20.0, 20.0, end_s=1500.0))
        assert "written by mixclock itself (cup used)" in refused(log, "withdraw", 10, entry=cup.number)
        assert "the start of a job cannot be withdrawn" in refused(log, "withdraw", 10, entry=1)
        assert "nothing to withdraw" in refused(Log(), "withdraw", 10)


class TestWhenAndWho:
    def test_what_is_still_to_come_is_refused(self) -> None:
        line = refused(Log(), "noted", 5, at=6, text="door opened")
        assert line == "9:06 is still to come, it is 9:05; state what has happened"

    def test_a_wrong_year_is_noticed(self) -> None:
        assert "mend the date" in refused(Log(), "noted", 5, at=-60 * 24 * 400, text="door opened")

    def test_the_crews_names_are_known_and_a_slip_is_asked_about(self) -> None:
        for by, kept in (("Mixer", "mixer"), ("owner", "owner")):
            (draft,) = as_said("noted", text="door opened").drafts(Log().standing(), Attribution(instant(5), by=by))
            assert draft.by == kept
        with pytest.raises(CannotTellError, match="did you mean 'roller'"):
            as_said("noted", text="door opened").drafts(Log().standing(), Attribution(instant(5), by="rolller"))

    def test_a_job_is_finished_once(self) -> None:
        log = Log()
        assert facts(log, "finished", 5) == JobFinished()
        log.add(5, JobFinished())
        assert "is finished already" in refused(log, "finished", 6)


def _with_text(log: Log, text: str) -> Any:
    from dataclasses import replace

    first = log.entries[0]
    return replace(first, facts=first.facts.but(text=text))

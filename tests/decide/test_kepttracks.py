"""Windows that are kept between two statements are those that would be worked out anew, whatever came in between."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.buckets import Bucket, BucketAnswer
from mixclock.decide.kepttracks import KeptTracks, tracks_since
from mixclock.decide.tracks import Track, tracks
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Combined, Did, Facts, Noted, Poured, Reading, Withdrawn
from mixclock.job.sitereading import read_site
from tests.decide.worlds import MODEL, SITE, Log, instant

BEFORE: tuple[tuple[float, Facts], ...] = (
    (-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=18.0)),
    (0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0)),
    (7, Poured(1)),
    (8, Combined("Shed base", ("bay 3",), volume_l=4.0, coat="base", material_c=20.0)),
)
THEN: dict[str, tuple[Facts, ...]] = {
    "a warmer slab": (Reading(slab_c=24.0),),
    "warmer air": (Reading(air_c=27.0, rh_pct=50.0),),
    "a bucket that was felt": (Reading(batch=2, bucket_c=31.0),),
    "a step": (Did("back-roll", 1),),
    "the other bucket out": (Poured(2),),
    "a third batch beside the first": (Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base"),),
    "a reading and its withdrawal": (Reading(slab_c=30.0), Withdrawn(8)),
    "a pour that was none": (Withdrawn(6),),
    "a word of the doors": (Noted("doors: open"),),
    "that word taken back": (Noted("doors: open"), Withdrawn(8)),
}


def told(found: tuple[Track, ...]) -> list[tuple[object, ...]]:
    """Of each window what a crew goes by."""
    return [
        (
            one.batch.id,
            one.name,
            one.area,
            one.starts,
            (one.opening, one.closing),
            one.stated,
            one.due,
            one.neighbours,
            one.assumed,
        )
        for one in found
    ]


@pytest.mark.parametrize("what", THEN)
def test_what_is_kept_is_what_would_be_worked_out_anew(what: str) -> None:
    log, kept = Log(), KeptTracks(MODEL)
    for minutes, facts in BEFORE:
        log.add(minutes, facts)
        kept(log.standing())
    before = told(kept(log.standing()))
    for place, facts in enumerate(THEN[what]):
        log.add(12 + place, facts)
        standing = log.standing()
        assert told(kept(standing)) == told(tracks(standing, MODEL)), what
    taken_back = what in ("a reading and its withdrawal", "that word taken back")
    assert (told(kept(log.standing())) == before) is taken_back, "it moved something, as long as it stood"


@pytest.mark.parametrize("what", THEN)
def test_who_asks_for_no_reasons_is_told_the_same_times(what: str) -> None:
    log = Log()
    for minutes, facts in BEFORE:
        log.add(minutes, facts)
    for place, facts in enumerate(THEN[what]):
        log.add(12 + place, facts)
    standing = log.standing()
    whole, briefly = tracks(standing, MODEL), tracks(standing, MODEL, in_words=False)
    assert [one[:-1] for one in told(briefly)] == [one[:-1] for one in told(whole)]
    assert any(one.because for one in whole if one.bucket is None)
    assert not any(one.because for one in briefly if one.bucket is None)


def test_a_mended_job_file_moves_every_window_that_is_kept() -> None:
    log, kept = Log(), KeptTracks(MODEL)
    for minutes, facts in BEFORE:
        log.add(minutes, facts)
    kept(log.standing())
    mended = replace(log.standing(), site=read_site(SITE.replace('roll = "75 m2/h"', 'roll = "20 m2/h"')))
    found = kept(mended)
    assert told(found) == told(tracks(mended, MODEL))
    [slow] = [one.due for one in found if one.name == "back-roll" and one.area == "bay 1"]
    assert slow is not None
    assert slow.latest_start < instant(7) + timedelta(minutes=22)


def test_what_nothing_moved_stays_the_very_same_object() -> None:
    log, kept = Log(), KeptTracks(MODEL)
    for minutes, facts in BEFORE:
        log.add(minutes, facts)
    before = {(one.batch.id, one.name, one.area): one for one in kept(log.standing())}
    log.add(12, Reading(batch=2, bucket_c=31.0))
    after = {(one.batch.id, one.name, one.area): one for one in kept(log.standing())}
    same = {name[0] for name in after if after[name] is before.get(name)}
    assert same == {1}, "the first batch's windows have nothing to do with the second one's bucket"


def test_a_pour_beside_a_film_moves_its_joint_and_nothing_of_a_bay_further_off() -> None:
    """Bay 1 is next to bay 2 and bay 3 is not."""
    log, kept = Log(), KeptTracks(MODEL)
    for number, bay in enumerate((1, 2, 3), 1):
        log.add(number, Combined("Shed base", (f"bay {bay}",), volume_l=4.0, coat="base", material_c=20.0))
    log.add(5, Poured(1))
    log.add(6, Poured(3))
    before = {(one.batch.id, one.name): one for one in kept(log.standing())}
    assert before[1, "wet-edge"].neighbours == ("bay 2",)
    log.add(8, Poured(2))
    after = {(one.batch.id, one.name): one for one in kept(log.standing())}
    assert after[1, "wet-edge"].neighbours == ()
    assert after[1, "wet-edge"].stated is not None, "the joint is made"
    assert {name[0] for name in after if after[name] is before[name]} == set()


def test_of_a_log_whose_old_readings_are_forgotten_the_buckets_since_an_hour_are_told_as_far_as_they_can_be() -> None:
    log = Log()
    for minutes in (0, 8, 20):
        log.add(minutes, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0))
    standing = log.standing()
    for since, told_of in ((0.0, {1, 2, 3}), (8.0, {2, 3}), (8.001, {3})):
        found = tracks_since(standing, MODEL, instant(since))
        assert {one.batch.id for one in found} == told_of
        assert told(found) == told(tracks(standing, MODEL, told_of))

    def forgetful(bucket: Bucket) -> BucketAnswer | None:
        if bucket.combined == instant(8):
            raise ForgottenError
        return MODEL(bucket)

    assert {one.batch.id for one in tracks_since(standing, forgetful, instant(0))} == {1, 3}

"""What a `mixing` says that nobody read, the one reading that it asks for, and a bucket that is too big for the day."""

from __future__ import annotations

from mixclock.job.entry import Combined, Entry, Reading
from mixclock.words.answers import Answer, answer_to
from tests.decide.worlds import Log, instant


def answered(log: Log, entry: Entry) -> Answer:
    standing = log.standing()
    batch = standing.batches[-1]
    own = [track for track in log.tracks() if track.batch.id == batch.id]
    return answer_to(entry, standing, own, instant(1))


def test_mixing_without_any_reading_says_what_was_assumed() -> None:
    log = Log()
    answer = answered(log, log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0)))
    assert any(each.startswith("no air reading: taken as 20 °C") for each in answer.asks)
    assert any(each.startswith("no slab reading") for each in answer.asks)
    assert any(line.startswith("Read: no slab reading") for line in answer.lines())


def test_the_one_reading_that_moves_a_deadline_most_is_asked_for() -> None:
    log = Log()
    log.add(-5, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    answer = answered(log, log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0)))
    assert len(answer.asks) == 1
    assert answer.asks[0].startswith("pails: how warm? It moves pour out by up to ")


def test_nothing_is_asked_where_pails_and_slab_were_just_read() -> None:
    log = Log()
    log.add(-5, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    told = Combined("Shed base", ("bay 1",), volume_l=1.0, material_c=20.0, vessel="pail")
    assert [each for each in answered(log, log.add(0, told)).asks if "pails" in each or "no slab" in each] == []


def test_a_bucket_that_must_be_out_before_it_is_mixed_and_poured_is_to_be_split() -> None:
    log = Log()
    log.add(-5, Reading(air_c=34.0, rh_pct=40.0, slab_c=30.0))
    big = answered(log, log.add(0, Combined("Shed base", ("bay 1",), mass_kg=14.0, material_c=34.0)))
    assert any(each.startswith("too big for this warmth: split it") for each in big.warnings)
    small = Log()
    small.add(-5, Reading(air_c=34.0, rh_pct=40.0, slab_c=30.0))
    fine = answered(small, small.add(0, Combined("Shed base", ("bay 1",), mass_kg=1.0, material_c=34.0)))
    assert not any("too big" in each for each in fine.warnings)

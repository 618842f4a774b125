"""What a statement is answered with, in the words of the crew."""

from __future__ import annotations

from dataclasses import replace

from mixclock.decide.tracks import tracks
from mixclock.job.entry import Combined, Did, Facts, JobFinished, MixingEnded, Poured, ProfileUsed, Reading, Saw
from mixclock.words.answers import Answer, answer_json, answer_to, batch_of
from tests.decide.worlds import MODEL, Log, instant


def shed() -> Log:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    return log


def base(*areas: str, **more: float) -> Combined:
    return Combined("Shed base", areas or ("bay 1",), volume_l=4.0, coat="base", material_c=20.0, **more)


WHOLE = ("bay 1", "bay 2", "bay 3")


def answered(log: Log, minutes: float, facts: Facts, at: float | None = None, by: str | None = None) -> Answer:
    entry = log.add(minutes if at is None else at, facts, by=by, written=minutes)
    standing = log.standing()
    batch = batch_of(entry, standing)
    found = tracks(standing, MODEL, {batch.id}) if batch else ()
    return answer_to(entry, standing, found, instant(minutes))


def test_a_bucket_that_is_mixed_gets_its_line_and_its_times() -> None:
    answer = answered(shed(), 0, base(), by="mixer")
    assert answer.said == "Batch 1: 4 L of Shed base for bay 1, coat base, part B in at 9:00, by mixer"
    assert answer.bucket is not None
    assert answer.bucket.startswith("batch 1 · mixed 9:00 · pour by 9:")
    assert answer.next[0] == "mix until 9:03"
    assert answer.next[1].startswith("pour it all out by 9:")
    assert any("gloves" in line for line in answer.cautions)


def test_the_cautions_come_with_the_first_batch_of_a_product_only() -> None:
    log = shed()
    assert answered(log, 0, base()).cautions
    assert answered(log, 10, base("bay 2")).cautions == ()


def test_after_the_pour_come_the_steps_on_the_floor_soonest_first() -> None:
    log = shed()
    answered(log, 0, base())
    answer = answered(log, 6, Poured(1))
    assert answer.bucket is None
    assert [line.rsplit(" by ", 1)[0] for line in answer.next] == [
        "back-roll on bay 1",
        "the next batch meets the edge on bay 1",
        "throw the flake on bay 1",
    ]


def test_a_joint_that_nobody_waits_for_is_not_spoken_of() -> None:
    log = shed()
    answered(log, 0, base(*WHOLE))
    assert not any("edge" in line for line in answered(log, 6, Poured(1)).next)


def test_after_the_flake_come_the_days() -> None:
    log = shed()
    answered(log, 0, base(*WHOLE))
    answered(log, 6, Poured(1))
    answered(log, 12, Did("back-roll", 1))
    answer = answered(log, 20, Did("broadcast", 1))
    assert answer.said == "Batch 1: flaked at 9:20"
    assert answer.next[0].startswith("next coat on bay 1 from ")
    assert " until " in answer.next[0]
    assert answer.next[1].startswith("OK to walk on bay 1 from ")


def test_an_edge_that_is_over_is_said_to_be_over() -> None:
    log = shed()
    answered(log, 0, base(*WHOLE))
    answer = answered(log, 26, Poured(1), at=6)
    assert answer.next[0].startswith("back-roll on bay 1: it was due by 9:")


def test_a_bucket_past_its_pot_life_gets_no_next_step() -> None:
    log = shed()
    answered(log, 0, base())
    answer = answered(log, 180, MixingEnded(1), at=3)
    assert answer.next == ()
    assert answer.warnings[0].startswith("batch 1 is past its pot life since about 9:")
    assert "don't lay it" in answer.warnings[0]


def test_parts_off_the_ratio_are_warned_of_by_volume_and_by_weight() -> None:
    by_volume = answered(shed(), 0, base(a_l=3.0, b_l=1.0)).warnings
    assert by_volume == (
        "A to B is 3.00 to 1 by volume, the sheet says 2.00 to 1: 50 % too much A; do not lay it as it is",
    )
    # 2 to 1 by volume at 1.13 and 0.98 kg/L is 2.31 to 1 by weight
    assert answered(shed(), 0, base(a_kg=2.31, b_kg=1.0)).warnings == ()
    assert "2.31 to 1: 13 % too much B" in answered(shed(), 0, base(a_kg=2.0, b_kg=1.0)).warnings[0]


def test_a_hot_bucket_is_answered_at_once_with_what_to_do_and_not_to_do() -> None:
    log = shed()
    answered(log, 0, base())
    seen = answered(log, 5, Saw("hot", 1)).cautions
    read = answered(log, 6, Reading(bucket_c=45.0, batch=1)).cautions
    for cautions in (seen, read):
        assert any("outside" in line for line in cautions)
        assert any("never put a lid on it" in line for line in cautions)


def test_a_reading_says_how_far_the_slab_is_over_the_dew_point() -> None:
    assert answered(shed(), 5, Reading(slab_c=14.0)).said == "Read at 9:05: slab 14 °C; slab 4.7 °C over the dew point"
    assert "it is wet" in answered(shed(), 5, Reading(slab_c=9.0)).said


def test_lines_and_json_say_the_same() -> None:
    log = shed()
    answer = answered(log, 0, base())
    lines = answer.lines()
    told = answer_json(answer, log.entries[-1])
    assert lines[0] == f"{told['said']}  (entry {told['entry']})"
    assert f"On the bucket: {told['bucket']}" in lines
    assert f"Next: {told['next'][0]}" in lines
    assert told["happened"] == "2026-04-13T08:00:00Z"


def test_the_end_of_a_job_is_answered_without_a_batch() -> None:
    answer = answered(shed(), 0, JobFinished())
    assert (answer.said, answer.batch, answer.next) == ("Job 'shed' finished at 9:00", None, ())


def test_acid_on_the_slab_is_left_to_work_and_then_neutralised() -> None:
    acid = (
        'name = "Shed base"\nfamily = "acid etch"\nsource = "invented"\n[mix]\ntime = "1 min"\n'
        '[windows.dwell]\nafter = "poured"\nopens = "5 min"\ncloses = "10 min"\n'
        '[windows.neutralise]\nafter = "poured"\nopens = "5 min"\ncloses = "12 min"\n'
    )
    log = shed()
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", acid))
    log.add(0, base())
    assert answered(log, 2, Poured(1)).next[0] == "let it work and keep it wet on bay 1 until 9:07"
    assert answered(log, 10, Reading(slab_c=20.0, bucket_c=20.0, batch=1)).next[0].startswith("neutralise on bay 1")

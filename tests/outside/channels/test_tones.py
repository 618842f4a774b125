"""The patterns as files; what they are to an ear is measured in test_sound."""

import io
import wave
from itertools import pairwise

import pytest

from mixclock.job.stepkinds import CallKind, Rank
from mixclock.job.steps import STEPS
from mixclock.outside.channels.message import RANKS
from mixclock.outside.channels.tones import BEAT_S, PATTERNS, VOLUME_TEST, Pattern, pattern_of, wav_bytes


def seconds(wav: bytes) -> float:
    with wave.open(io.BytesIO(wav)) as file:
        return file.getnframes() / file.getframerate()


def test_every_rank_has_a_pattern_that_any_player_can_read() -> None:
    for rank in RANKS:
        with wave.open(io.BytesIO(wav_bytes(PATTERNS[rank]))) as file:
            assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 44_100)


def test_a_pattern_lasts_as_long_as_it_says() -> None:
    for pattern in (*PATTERNS.values(), VOLUME_TEST):
        assert seconds(wav_bytes(pattern)) == pytest.approx(pattern.span_s, abs=0.001)


def test_a_pattern_leaves_time_for_the_words_before_the_next_repeat() -> None:
    assert all(pattern.span_s < 3.0 for pattern in PATTERNS.values())


def test_what_is_overdue_sounds_longer_and_never_fainter_than_before() -> None:
    for rank in ("critical", "timely"):
        first, late = PATTERNS[rank], pattern_of(rank, late=True)
        assert late.span_s > 1.3 * first.span_s
        assert late.span_s < 6.0
        assert late.base_hz == first.base_hz
        assert min(pulse.loudness for pulse in late.pulses) >= max(pulse.loudness for pulse in first.pulses)


def grouping(pattern: Pattern) -> list[float]:
    """Each pulse and each silence of a rhythm's first round, by its shortest pulse: what is left at any speed."""
    shortest = min(pulse.on_s for pulse in pattern.pulses)
    return [round(span / shortest, 6) for pulse in pattern.pulses[:4] for span in (pulse.on_s, pulse.gap_s)]


def test_the_rhythm_tells_what_a_call_is_about_at_any_speed() -> None:
    rhythms = {kind: [grouping(pattern_of(rank, kind)) for rank in RANKS] for kind in CallKind}
    for same in rhythms.values():
        assert all(one[: len(two)] == two[: len(one)] for one in same for two in same)
    of_each = [str(same[0]) for same in rhythms.values()]
    assert len(set(of_each)) == len(CallKind)


def test_the_speed_tells_how_urgent_it_is_in_three_rates_a_fifth_apart() -> None:
    assert set(BEAT_S) == set(CallKind)
    rates = [[BEAT_S[kind][rank] for rank in RANKS] for kind in CallKind]
    assert all(slower >= 1.2 * faster for each in rates for faster, slower in pairwise(each))


def test_every_step_has_a_kind_and_what_is_lost_in_a_bucket_sounds_unlike_what_is_lost_on_the_floor() -> None:
    critical = {row.name: row.about for row in STEPS.values() if row.rank is Rank.CRITICAL}
    assert critical["pour-out"] == critical["hot"] == CallKind.BUCKET
    assert critical["broadcast"] == critical["wet-edge"] == critical["neutralise"] == CallKind.FLOOR
    assert {row.about for row in STEPS.values()} == set(CallKind)

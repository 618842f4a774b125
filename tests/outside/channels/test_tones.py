"""The patterns as files; what they are to an ear is measured in test_sound."""

import io
import wave

import pytest

from mixclock.outside.channels.message import RANKS
from mixclock.outside.channels.tones import LATE_PATTERNS, PATTERNS, VOLUME_TEST, seconds, wav_bytes


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
        first, late = PATTERNS[rank], LATE_PATTERNS[rank]
        assert late.span_s > 1.3 * first.span_s
        assert late.span_s < 6.0
        assert late.base_hz == first.base_hz
        assert min(pulse.loudness for pulse in late.pulses) >= max(pulse.loudness for pulse in first.pulses)

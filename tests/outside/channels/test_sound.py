"""What a pattern is to an ear, captured from the sound device behind a real player."""

import io
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from mixclock.outside.channels import players
from mixclock.outside.channels.message import Message, Outcome, Rank
from mixclock.outside.channels.players import Player, Players, players_here
from mixclock.outside.channels.sound import SoundChannel
from mixclock.outside.channels.soundqueue import SoundQueue
from mixclock.outside.channels.tones import PATTERNS
from tests.realparts.alsa import Clip, Loudspeaker
from tests.realparts.hearing import band_share, harmonics_hz, loudness, pulses

RANKS: tuple[Rank, ...] = ("critical", "timely", "notice")


class Terminal(io.StringIO):
    """A terminal to ring."""

    def isatty(self) -> bool:
        return True


def sound(terminal: io.StringIO | None = None, found: Callable[[], Sequence[Player]] = players_here) -> SoundChannel:
    stream = terminal or io.StringIO()
    return SoundChannel(SoundQueue(Players(found)), frozenset(RANKS), lambda: stream)


@pytest.fixture
def heard(speaker: Loudspeaker, message: Callable[..., Message]) -> dict[Rank, Clip]:
    """What each rank sounds like on the device."""
    receipts = [sound().send(message(rank=rank)) for rank in RANKS]
    assert all(receipt.outcome is Outcome.SENT and receipt.shown for receipt in receipts), receipts
    return dict(zip(RANKS, speaker.clips(), strict=True))


def test_each_rank_is_played_whole_and_is_no_silence(heard: dict[Rank, Clip]) -> None:
    for rank, clip in ((rank, heard[rank]) for rank in RANKS):
        # the file device rounds up to a whole period
        assert PATTERNS[rank].span_s - 0.01 <= clip.span_s <= PATTERNS[rank].span_s + 0.2
        assert clip.rms > 0.05
    assert heard["critical"].rms > heard["timely"].rms * 0.9 > heard["notice"].rms


def test_a_critical_alert_is_the_loudest_the_device_can_do_without_breaking_up(heard: dict[Rank, Clip]) -> None:
    peak = np.abs(heard["critical"].samples).max()
    assert 0.9 < peak < 0.99
    # a crest of 6 dB: a sine has 3, speech 12 and more
    assert peak / np.percentile(loudness(heard["critical"]), 90) < 10 ** (6.0 / 20)


def test_nearly_all_energy_lies_where_a_small_speaker_is_strong_and_a_drill_is_not(heard: dict[Rank, Clip]) -> None:
    for clip in (heard[rank] for rank in RANKS):
        assert band_share(clip, 500, 3000) > 0.95


def test_every_pulse_is_a_chord_of_four_harmonics_or_more(heard: dict[Rank, Clip]) -> None:
    for clip in (heard[rank] for rank in RANKS):
        assert len([line for line in harmonics_hz(clip, -10) if 400 <= line <= 3000]) >= 4


def test_the_ranks_differ_in_rhythm_and_not_in_pitch_alone(heard: dict[Rank, Clip]) -> None:
    rhythm = {rank: pulses(clip) for rank, clip in heard.items()}
    assert {rank: len(beats) for rank, beats in rhythm.items()} == {"critical": 12, "timely": 4, "notice": 2}
    longest = {rank: max(on for on, _ in beats) for rank, beats in rhythm.items()}
    assert longest["critical"] < 0.12 < 0.2 < longest["notice"] < 0.3 < 0.4 < longest["timely"]
    # pulses a second, while it sounds
    pace = {rank: len(beats) / heard[rank].span_s for rank, beats in rhythm.items()}
    assert pace["critical"] > 2 * pace["timely"] > 2 * pace["notice"]


def test_the_ranks_can_still_be_counted_under_the_noise_of_a_drill(heard: dict[Rank, Clip]) -> None:
    """Noise as strong as the alert (0 dB), of a wavering level as of a drill, heard through 500 to 3,000 Hz."""
    random = np.random.default_rng(20)
    for rank, expected in (("critical", 12), ("timely", 4), ("notice", 2)):
        clip = heard[rank]
        at_s = np.arange(len(clip.samples)) / 44_100
        noise = random.standard_normal(len(at_s)) * (1 + 0.3 * np.sin(2 * np.pi * 11 * at_s))
        noisy = clip.samples + noise * clip.rms / noise.std()
        spectrum = np.fft.rfft(noisy)
        at_hz = np.fft.rfftfreq(len(noisy), 1 / 44_100)
        heard_part = np.fft.irfft(np.where((at_hz > 500) & (at_hz < 3000), spectrum, 0), len(noisy))
        filtered = Clip(heard_part, 0, 0)
        level = loudness(filtered).max() * 0.6 / np.abs(heard_part).max()
        assert len([on for on, _ in pulses(filtered, level) if on > 0.03]) == expected


def test_a_player_that_fails_is_told_and_the_next_one_is_tried(
    speaker: Loudspeaker, message: Callable[..., Message], program: Callable[[str, str], Path]
) -> None:
    program("pw-play", "echo 'no remote' >&2; exit 1")
    program("paplay", "exit 1")
    receipt = sound().send(message())
    assert receipt.outcome is Outcome.SENT
    assert "pw-play ended with exit code 1: no remote; paplay ended with exit code 1; aplay ended with exit code 0" in (
        receipt.detail
    )
    assert len(speaker.clips()) == 1


def test_the_player_that_worked_goes_first_the_next_time(
    speaker: Loudspeaker, message: Callable[..., Message], program: Callable[[str, str], Path]
) -> None:
    program("pw-play", "exit 1")
    channel = sound()
    channel.send(message())
    assert "pw-play" not in channel.send(message()).detail


def test_without_a_sound_card_the_receipt_says_so_and_the_terminal_rings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, speaker: Loudspeaker, message: Callable[..., Message]
) -> None:
    no_card = tmp_path / "no-card.conf"
    no_card.write_text("pcm.!default { type hw card 9 }\n")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(no_card))
    terminal = Terminal()
    receipt = sound(terminal).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, None)
    assert "aplay ended with exit code 1" in receipt.detail
    assert "rang the terminal's bell, not known to be heard" in receipt.detail
    assert terminal.getvalue() == "\a"


def test_with_no_player_and_no_terminal_it_gives_up_and_says_what_to_install(
    empty_path: None, message: Callable[..., Message]
) -> None:
    receipt = sound().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)
    assert "install" in receipt.detail


def test_a_player_that_hangs_is_ended(message: Callable[..., Message], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(players, "EXTRA_S", 0.2)
    began = time.perf_counter()
    receipt = sound(found=lambda: [Player("stuck", ("/bin/sh", "-c", "sleep 60"))]).send(message(rank="notice"))
    assert receipt.outcome is Outcome.RETRY
    assert "stuck did not end within" in receipt.detail
    assert time.perf_counter() - began < 30.0, "it would have hung for a minute"


def test_a_muted_speaker_is_not_called_heard(message: Callable[..., Message]) -> None:
    players = Players(lambda: [Player("paplay", ("/bin/true",))], lambda _: "the speaker is muted: unmute it")
    receipt = SoundChannel(SoundQueue(players), terminal=io.StringIO).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "paplay ended with exit code 0, but the speaker is muted" in receipt.detail


def test_the_volume_test_is_five_pulses_each_twice_as_loud_up_to_an_alert(
    speaker: Loudspeaker, message: Callable[..., Message]
) -> None:
    channel = sound()
    channel.send(message())
    receipt = channel.volume_test()
    assert receipt.outcome is Outcome.SENT
    assert "Count the pulses from the far corner" in receipt.detail
    alert, test = speaker.clips()
    beats = pulses(test, 0.02)
    assert len(beats) == 5
    level = loudness(test)
    starts = np.cumsum([0, *(round((on + off) * 100) for on, off in beats[:-1])])
    steps = [level[start + 5 : start + 25].mean() for start in starts]
    assert [20 * np.log10(loud / faint) for faint, loud in pairwise(steps)] == pytest.approx([6.0] * 4, abs=0.3)
    assert np.abs(test.samples).max() == pytest.approx(np.abs(alert.samples).max(), rel=0.01)


def test_the_probe_is_heard(speaker: Loudspeaker) -> None:
    assert sound().probe().outcome is Outcome.SENT
    assert len(pulses(speaker.clips()[0])) == 4

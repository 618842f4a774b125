"""Sounds an alert: its pattern through the first player that works, else the terminal's bell."""

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

from mixclock.job.stepkinds import CallKind
from mixclock.outside.channels.message import Message, Outcome, Rank, Receipt
from mixclock.outside.channels.soundqueue import Kind, Playback, SoundPiece, SoundQueue
from mixclock.outside.channels.terminal import BELL
from mixclock.outside.channels.tones import (
    PATTERNS,
    VOLUME_TEST,
    VOLUME_TEST_STEP_DB,
    Pattern,
    pattern_of,
    wav_bytes,
)


class SoundChannel:
    """Plays a rank's pattern. `sound_queue` is shared with the voice, so that neither drowns the other."""

    name = "sound"
    limit_s = 45.0

    def __init__(
        self,
        sound_queue: SoundQueue,
        ranks: frozenset[Rank] = frozenset({"critical", "timely"}),
        terminal: Callable[[], TextIO] = lambda: sys.stderr,
    ) -> None:
        self.ranks = ranks
        self._sound_queue = sound_queue
        self._terminal = terminal
        for rank in ranks:
            for kind in CallKind:  # made at the start, so that the first alert's pattern does not come after its words
                wav_bytes(pattern_of(rank, kind))
                wav_bytes(pattern_of(rank, kind, True))

    def announce(self, message: Message) -> None:
        """Make the alert's words wait for its pattern, which is on its way."""
        self._sound_queue.expect_pattern(message.alert_id)

    def send(self, message: Message) -> Receipt:
        """Play the pattern of the message's rank once, a longer one if the step is overdue."""
        pattern = pattern_of(message.rank, message.kind, message.louder)
        return self._play(pattern, message.alert_id, message.rank, "pattern")

    def withdraw(self, alert_id: str) -> Receipt:
        """Stop the pattern where it sounds for this alert alone."""
        stopped = self._sound_queue.hush(alert_id)
        return Receipt(self.name, Outcome.SENT, f"stopped {stopped} sound(s)" if stopped else "nothing sounded", None)

    def probe(self) -> Receipt:
        """Play the pattern of a timely alert."""
        return self._play(PATTERNS["timely"], "probe", "timely", "pattern")

    def volume_test(self) -> Receipt:
        """Play five pulses from faint to as loud as an alert, to be counted from the far corner."""
        receipt = self._play(VOLUME_TEST, "volume test", "timely", "test")
        advice = (
            f"Count the pulses from the far corner: each is {VOLUME_TEST_STEP_DB:.0f} dB louder than the one before, "
            "the last is as loud as an alert. Fewer than three heard with the drill running: get a louder speaker."
        )
        return Receipt(receipt.channel, receipt.outcome, f"{receipt.detail}. {advice}", receipt.shown)

    def _play(self, pattern: Pattern, alert_id: str, rank: Rank, kind: Kind) -> Receipt:
        with tempfile.TemporaryDirectory(prefix="mixclock-sound-") as folder:
            wav = Path(folder) / "pattern.wav"
            wav.write_bytes(wav_bytes(pattern))
            said = self._sound_queue.say(SoundPiece(alert_id, rank, kind, wav, pattern.span_s))
        detail = f"{pattern}: {said.detail}"
        return self._bell_instead(said, detail) if said.mute else Receipt(self.name, said.outcome, detail, said.heard)

    def _bell_instead(self, said: Playback, detail: str) -> Receipt:
        terminal = self._terminal()
        try:
            if not terminal.isatty():
                return Receipt(self.name, said.outcome, f"{detail}; there is no terminal to ring either", False)
            terminal.write(BELL)
            terminal.flush()
        except (OSError, ValueError) as error:
            return Receipt(self.name, said.outcome, f"{detail}; the terminal's bell failed too: {error}", False)
        return Receipt(self.name, said.outcome, f"{detail}; rang the terminal's bell, not known to be heard", None)

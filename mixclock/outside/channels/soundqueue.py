"""Lets one sound play at a time: the pattern or the words of the most urgent alert."""

import threading
from concurrent.futures import Future
from itertools import count
from pathlib import Path
from typing import Literal

from mixclock.outside.channels.message import RANKS, Outcome, Rank
from mixclock.outside.channels.players import Players, PlayResult
from mixclock.outside.channels.running import ProgramRun
from mixclock.values import dataclass, field, replace

PATIENCE_S: dict[Rank, float] = {"critical": 20.0, "timely": 15.0, "notice": 15.0}
"""How long a piece may wait for its turn. A critical alert is raised anew every 20 s with fresh words, and a step of
mixing is over after some 15 s (judgement); older words would be wrong when they are heard."""
PATTERN_AHEAD_S = 1.0
"""How long words wait for the pattern that was announced to go before them: a person turns round in that time; longer,
and a channel that broke would cost the crew its words."""

Kind = Literal["pattern", "speech", "test"]
_KINDS: tuple[Kind, ...] = ("pattern", "speech", "test")


@dataclass(frozen=True)
class SoundPiece:
    """Something to be heard, as a WAV file: a rank's pattern, an alert's words, or a test of the speaker."""

    alert_id: str
    rank: Rank
    kind: Kind
    wav: Path
    span_s: float
    patience_s: float | None = None


@dataclass(frozen=True)
class Playback:
    """What became of a piece, and what the caller should do next. `mute`: no player got it out of the speaker."""

    outcome: Outcome
    detail: str
    heard: bool | None = None
    mute: bool = False


@dataclass(eq=False)
class _Turn:
    piece: SoundPiece
    order: tuple[int, int, int]
    owners: set[str]
    result: "Future[Playback]" = field(default_factory=Future)
    running: ProgramRun | None = None
    over: Playback | None = None

    def end(self, why: Playback) -> None:
        """Ask it to stop; the thread that plays it then answers with `why`."""
        if self.over is None:
            self.over = why
        if self.running is not None:
            self.running.stop()


class SoundQueue:
    """The one loudspeaker. Sound and voice share it, so that a pattern never drowns the words.

    The most urgent piece plays first; within a rank patterns before words, then in order of arrival. An alert's words
    wait for its own pattern, if one was announced. A more urgent piece cuts off a less urgent one at once. A piece is
    dropped, and says so, if it waited too long, was withdrawn, or newer words of its alert overtook it.
    """

    def __init__(self, players: Players | None = None) -> None:
        self._players = players or Players()
        self._change = threading.Condition()
        self._waiting: list[_Turn] = []
        self._now: _Turn | None = None
        self._arrivals = count()
        self._expected = set[str]()
        self._closed = False

    def expect_pattern(self, alert_id: str) -> None:
        """Expect this alert's pattern soon: its words come after it, whichever arrives first."""
        with self._change:
            self._expected.add(alert_id)

    def say(self, piece: SoundPiece) -> Playback:
        """Wait for this piece's turn, play it, and tell what became of it."""
        with self._change:
            if self._closed:
                return Playback(Outcome.GIVE_UP, "the speaker is closed", False)
            if piece.kind == "pattern":
                self._expect_no_longer(piece.alert_id)
            shared = self._same_pattern(piece)
            turn = shared or self._enter(piece)
            if shared is None and not self._await_turn(turn):
                return self._leave(turn)
        if shared is None:
            return self._play(turn)
        said = turn.result.result()
        return replace(said, detail=f"{said.detail} (one sound for several alerts of this rank)")

    def hush(self, alert_id: str) -> int:
        """Stop and drop every piece for this alert alone. Gives how many those were."""
        with self._change:
            self._expected.discard(alert_id)
            ended = [turn for turn in self._turns() if alert_id in turn.owners]
            for turn in ended:
                turn.owners.discard(alert_id)
                if not turn.owners:
                    turn.end(Playback(Outcome.GIVE_UP, "withdrawn before it was heard whole"))
            self._change.notify_all()
            return len(ended)

    def close(self) -> None:
        """Stop everything, and play nothing any more."""
        with self._change:
            self._closed = True
            for turn in self._turns():
                turn.end(Playback(Outcome.GIVE_UP, "the speaker was closed", False))
            self._change.notify_all()

    def _turns(self) -> list[_Turn]:
        return [*self._waiting, *([self._now] if self._now else [])]

    def _same_pattern(self, piece: SoundPiece) -> _Turn | None:
        """Whether two pieces are the same pattern: alerts that fall together share one sound."""
        if piece.kind != "pattern":
            return None
        for turn in self._turns():
            if turn.piece.kind == "pattern" and turn.piece.rank == piece.rank and turn.over is None:
                turn.owners.add(piece.alert_id)
                return turn
        return None

    def _enter(self, piece: SoundPiece) -> _Turn:
        order = (RANKS.index(piece.rank), _KINDS.index(piece.kind), next(self._arrivals))
        turn = _Turn(piece, order, {piece.alert_id})
        for older in self._waiting:
            if older.piece.alert_id == piece.alert_id and older.piece.kind == piece.kind:
                older.end(Playback(Outcome.GIVE_UP, "newer words of the same alert took its place", False))
        if self._now is not None and self._now.order[0] > order[0]:
            self._now.end(Playback(Outcome.RETRY, f"cut off by a {piece.rank} alert"))
        self._waiting.append(turn)
        self._change.notify_all()
        return turn

    def _expect_no_longer(self, alert_id: str) -> None:
        self._expected.discard(alert_id)
        self._change.notify_all()

    def _await_turn(self, turn: _Turn) -> bool:
        alert_id = turn.piece.alert_id
        if turn.piece.kind == "speech" and alert_id in self._expected:
            self._change.wait_for(lambda: turn.over is not None or alert_id not in self._expected, PATTERN_AHEAD_S)
            self._expect_no_longer(alert_id)
        patience_s = turn.piece.patience_s
        self._change.wait_for(
            lambda: turn.over is not None or self._is_next(turn),
            PATIENCE_S[turn.piece.rank] if patience_s is None else patience_s,
        )
        if turn.over is not None or not self._is_next(turn):
            return False
        self._waiting.remove(turn)
        self._now = turn
        return True

    def _is_next(self, turn: _Turn) -> bool:
        return self._now is None and min(self._waiting, key=lambda one: one.order) is turn

    def _leave(self, turn: _Turn) -> Playback:
        self._waiting.remove(turn)
        said = turn.over or Playback(
            Outcome.RETRY, "the speaker was busy with something more urgent for too long", False
        )
        turn.result.set_result(said)
        self._change.notify_all()
        return said

    def _play(self, turn: _Turn) -> Playback:
        said = Playback(Outcome.RETRY, "the player broke")
        try:
            played = self._players.play(turn.piece.wav, turn.piece.span_s, lambda running: self._attach(turn, running))
            said = _said(played, turn)
        finally:
            with self._change:
                self._now = None
                self._change.notify_all()
            turn.result.set_result(said)
        return said

    def _attach(self, turn: _Turn, running: ProgramRun) -> bool:
        with self._change:
            turn.running = running
            return turn.over is None


def _said(played: PlayResult, turn: _Turn) -> Playback:
    if played.outcome == "played":
        return Playback(Outcome.SENT, played.detail, True)
    if played.outcome == "stopped" and turn.over is not None:
        return turn.over
    outcome = Outcome.GIVE_UP if played.outcome == "none" else Outcome.RETRY
    return Playback(outcome, played.detail, False, mute=True)

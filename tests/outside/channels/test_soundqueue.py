"""One thing is heard at a time, the most urgent first: with players that take their time, and with a real one."""

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import pytest

from mixclock.outside.channels.message import Outcome, Rank
from mixclock.outside.channels.players import Player, Players
from mixclock.outside.channels.soundqueue import PATTERN_AHEAD_S, Kind, Playback, SoundPiece, SoundQueue
from tests.realparts.alsa import Clip, Loudspeaker

LONG_S = 0.6


class Stage:
    """Players that write down what they play and when; what is said is named by the file."""

    def __init__(self, folder: Path) -> None:
        self._log = folder / "played"
        self._log.touch()
        script = (
            f'echo "began $(basename $0)" >>{self._log}; sleep $(cat $0); echo "ended $(basename $0)" >>{self._log}'
        )
        self.sound_queue = SoundQueue(Players(lambda: [Player("player", ("/bin/sh", "-c", script))], lambda _: None))
        self._folder = folder
        self._pool = ThreadPoolExecutor(20)

    def say(
        self,
        name: str,
        rank: Rank = "critical",
        kind: Kind = "speech",
        span_s: float = LONG_S,
        alert: str = "",
        **more: float,
    ) -> Future[Playback]:
        """Ask for something to be said, and go on."""
        wav = self._folder / name
        wav.write_text(str(span_s))
        return self._pool.submit(self.sound_queue.say, SoundPiece(alert or name, rank, kind, wav, span_s, **more))

    def lines(self) -> list[str]:
        """What happened so far."""
        return self._log.read_text().splitlines()

    def until(self, line: str) -> None:
        """Wait until that has happened."""
        end = time.perf_counter() + 5
        while line not in self.lines():
            assert time.perf_counter() < end, (line, self.lines())
            threading.Event().wait(0.01)

    def close(self) -> None:
        """Let everything end."""
        self.sound_queue.close()
        self._pool.shutdown()


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """An empty stage."""
    folder = tmp_path / "stage"
    folder.mkdir()
    playing = Stage(folder)
    yield playing
    playing.close()


def test_two_voices_are_never_heard_at_once_and_the_most_urgent_is_first(stage: Stage) -> None:
    first = stage.say("first")
    stage.until("began first")
    rest = [stage.say("timely", "timely"), stage.say("critical"), stage.say("notice", "notice")]
    assert {said.result().outcome for said in (first, *rest)} == {Outcome.SENT}
    order = ["first", "critical", "timely", "notice"]
    assert stage.lines() == [f"{what} {name}" for name in order for what in ("began", "ended")]


def test_the_pattern_comes_before_the_words_of_its_rank(stage: Stage) -> None:
    stage.say("first")
    stage.until("began first")
    words = stage.say("words")
    pattern = stage.say("pattern", kind="pattern")
    assert words.result().heard
    assert pattern.result().heard
    assert [line for line in stage.lines() if line.startswith("began")] == [
        "began first",
        "began pattern",
        "began words",
    ]


def test_words_that_are_here_first_wait_for_the_pattern_that_was_announced(stage: Stage) -> None:
    stage.sound_queue.expect_pattern("pour")
    words = stage.say("words", alert="pour")
    threading.Event().wait(0.15)
    assert stage.lines() == []
    pattern = stage.say("pattern", kind="pattern", alert="pour", span_s=0.1)
    assert words.result().heard
    assert pattern.result().heard
    assert [line for line in stage.lines() if line.startswith("began")] == ["began pattern", "began words"]


def test_words_wait_a_second_at_most_for_a_pattern_that_never_comes(stage: Stage) -> None:
    stage.sound_queue.expect_pattern("pour")
    began = time.perf_counter()
    words = stage.say("words", alert="pour", span_s=0.05)
    stage.until("began words")
    assert PATTERN_AHEAD_S <= time.perf_counter() - began < 3.0
    assert words.result().heard


def test_words_that_wait_for_their_pattern_are_taken_back_at_once(stage: Stage) -> None:
    stage.sound_queue.expect_pattern("pour")
    words = stage.say("words", alert="pour")
    while not stage.sound_queue.hush("pour"):
        threading.Event().wait(0.01)
    assert words.result(timeout=PATTERN_AHEAD_S / 2).outcome is Outcome.GIVE_UP
    assert stage.lines() == []


def test_a_critical_alert_cuts_off_a_lesser_one_at_once(stage: Stage) -> None:
    lesser = stage.say("lesser", "timely", span_s=30)
    stage.until("began lesser")
    began = time.perf_counter()
    critical = stage.say("critical", span_s=0.05)
    assert critical.result().outcome is Outcome.SENT
    assert time.perf_counter() - began < 1.0
    assert lesser.result() == Playback(Outcome.RETRY, "cut off by a critical alert")
    assert "ended lesser" not in stage.lines()


def test_a_critical_alert_does_not_cut_off_another(stage: Stage) -> None:
    first = stage.say("first")
    stage.until("began first")
    assert stage.say("second").result().outcome is Outcome.SENT
    assert first.result().outcome is Outcome.SENT


def test_words_that_waited_too_long_are_dropped_and_never_said(stage: Stage) -> None:
    stage.say("first", span_s=1.0)
    stage.until("began first")
    stale = stage.say("stale", patience_s=0.1).result()
    assert (stale.outcome, stale.heard) == (Outcome.RETRY, False)
    assert "busy" in stale.detail
    stage.until("ended first")
    assert stage.say("next", span_s=0.05).result().heard
    assert "began stale" not in stage.lines()


def test_newer_words_of_the_same_alert_take_the_place_of_waiting_ones(stage: Stage) -> None:
    stage.say("first")
    stage.until("began first")
    older = stage.say("two minutes left", alert="batch 3")
    while not stage.sound_queue._waiting:
        threading.Event().wait(0.01)
    newer = stage.say("one minute left", alert="batch 3")
    assert (older.result().outcome, older.result().heard) == (Outcome.GIVE_UP, False)
    assert newer.result().outcome is Outcome.SENT
    assert "began two minutes left" not in stage.lines()


def test_stating_the_step_silences_its_alert_at_once_and_no_other(stage: Stage) -> None:
    speaking = stage.say("speaking", span_s=30)
    stage.until("began speaking")
    other = stage.say("other", span_s=0.05)
    assert stage.sound_queue.hush("speaking") == 1
    assert speaking.result().outcome is Outcome.GIVE_UP
    assert other.result().outcome is Outcome.SENT
    assert stage.sound_queue.hush("speaking") == 0


def test_a_waiting_alert_that_is_withdrawn_is_never_said(stage: Stage) -> None:
    stage.say("first")
    stage.until("began first")
    waiting = stage.say("waiting")
    while not stage.sound_queue.hush("waiting"):
        threading.Event().wait(0.01)
    assert waiting.result(timeout=0.3).outcome is Outcome.GIVE_UP


def test_alerts_that_fall_together_share_one_pattern(stage: Stage) -> None:
    first = stage.say("one", kind="pattern")
    stage.until("began one")
    second = stage.say("two", kind="pattern")
    assert first.result().outcome is second.result().outcome is Outcome.SENT
    assert "one sound for several alerts" in second.result().detail
    assert stage.lines() == ["began one", "ended one"]


def test_a_shared_pattern_goes_on_for_the_alert_that_is_left(stage: Stage) -> None:
    first = stage.say("one", kind="pattern")
    stage.until("began one")
    second = stage.say("two", kind="pattern")
    while stage.sound_queue._now is None or len(stage.sound_queue._now.owners) < 2:
        threading.Event().wait(0.01)
    stage.sound_queue.hush("one")
    assert second.result().outcome is Outcome.SENT
    assert first.result().outcome is Outcome.SENT


def test_a_failure_of_the_player_reaches_every_alert_that_shared_the_sound(stage: Stage, tmp_path: Path) -> None:
    broken = SoundQueue(Players(lambda: [Player("broken", ("/bin/sh", "-c", "sleep 0.3; exit 1"))]))
    with ThreadPoolExecutor(2) as pool:
        both = [pool.submit(broken.say, SoundPiece(name, "critical", "pattern", tmp_path, 1.0)) for name in "ab"]
    assert [said.result().outcome for said in both] == [Outcome.RETRY] * 2


def test_closing_ends_what_sounds_and_refuses_more(stage: Stage) -> None:
    speaking = stage.say("speaking", span_s=30)
    stage.until("began speaking")
    stage.sound_queue.close()
    assert speaking.result(timeout=2).outcome is Outcome.GIVE_UP
    assert stage.say("more").result().outcome is Outcome.GIVE_UP


def test_thirty_alerts_at_once_are_all_answered_and_never_overlap(stage: Stage) -> None:
    ranks: list[Rank] = ["critical", "timely", "notice"]
    asked = [stage.say(f"n{at}", ranks[at % 3], span_s=0.02) for at in range(30)]
    assert all(said.result(timeout=30).outcome in (Outcome.SENT, Outcome.RETRY) for said in asked)
    playing = 0
    for line in stage.lines():
        playing = 1 if line.startswith("began") else 0
    assert playing == 0
    begun = [line.split()[1] for line in stage.lines() if line.startswith("began")]
    ended = [line.split()[1] for line in stage.lines() if line.startswith("ended")]
    assert [name for name in begun if name in ended] == ended


def overlaps(clips: list[Clip]) -> list[tuple[float, float]]:
    """The spans in which two clips were heard at once."""
    in_order = sorted(clips, key=lambda clip: clip.began_s)
    return [
        (later.began_s, earlier.ended_s) for earlier, later in pairwise(in_order) if later.began_s < earlier.ended_s
    ]


def test_the_measure_of_overlap_sees_two_players_at_once(
    speaker_at: Callable[[float], Loudspeaker], tmp_path: Path
) -> None:
    """Without the sound_queue two players do sound together: the tests below can fail."""
    from mixclock.outside.channels.tones import PATTERNS, wav_bytes

    speaker = speaker_at(1.0)
    wav = tmp_path / "notice.wav"
    wav.write_bytes(wav_bytes(PATTERNS["notice"]))
    players = Players()
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda _: players.play(wav, 1.2, lambda _: True), range(2)))
    assert len(overlaps(speaker.clips())) == 1

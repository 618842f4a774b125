"""Plays sounds with this machine's players, tried in order, and notes what each answered."""

import shutil
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from mixclock.outside.channels.loudness import obstacle
from mixclock.outside.channels.running import ProgramRun
from mixclock.values import dataclass

EXTRA_S = 3.0
"""What a player may take beyond the sound's own length to open the device and to drain it (judgement)."""

_WINSOUND = "import sys, winsound; winsound.PlaySound(sys.argv[1], winsound.SND_FILENAME | winsound.SND_NODEFAULT)"


@dataclass(frozen=True)
class Player:
    """A program that plays a sound file to its end: what to call before the file's name."""

    name: str
    argv: tuple[str, ...]


@dataclass(frozen=True)
class PlayResult:
    """`outcome`: "played" by a player that ended well; "unheard" the same, but the speaker is muted or missing;
    "failed" by every player; "none" to be found; "stopped" by us."""

    outcome: str
    detail: str


def players_here() -> tuple[Player, ...]:
    """The players installed here, best first."""
    if sys.platform == "win32":
        # a program of its own, because a call inside this process could not be cut off for a more urgent alert
        return (Player("winsound", (sys.executable, "-c", _WINSOUND)),)
    wanted = (("pw-play",), ("paplay",), ("aplay", "-q"), ("afplay",))
    found = ((name, shutil.which(name), rest) for name, *rest in wanted)
    return tuple(Player(name, (path, *rest)) for name, path, rest in found if path)


class Players:
    """Plays through the first player that ends well. It begins with the one that did so last time."""

    def __init__(
        self,
        found: Callable[[], Sequence[Player]] = players_here,
        obstacle_after: Callable[[str], str | None] = obstacle,
    ) -> None:
        self._found = found
        self._obstacle_after = obstacle_after
        self._lock = threading.Lock()
        self._last_good = ""

    def play(self, wav: Path, span_s: float, attach: Callable[[ProgramRun], bool]) -> PlayResult:
        """Play a file. `attach` is shown each run before it begins and answers False when it should not begin."""
        failures: list[str] = []
        for player in self._in_order():
            running = ProgramRun([*player.argv, str(wav)], span_s + EXTRA_S)
            if not attach(running):
                return PlayResult("stopped", "stopped before it was heard")
            ended = running.run()
            if ended.how == "stopped":
                return PlayResult("stopped", f"{player.name} was stopped half way")
            if ended.well:
                return self._heard(player, failures)
            failures.append(str(ended).replace(ended.program, player.name, 1))
        if not failures:
            return PlayResult("none", "no sound player found: install pipewire-bin, pulseaudio-utils or alsa-utils")
        return PlayResult("failed", "; ".join(failures))

    def _in_order(self) -> list[Player]:
        with self._lock:
            last_good = self._last_good
        return sorted(self._found(), key=lambda player: player.name != last_good)

    def _heard(self, player: Player, failures: Sequence[str]) -> PlayResult:
        with self._lock:
            self._last_good = player.name
        detail = "; ".join([*failures, f"{player.name} ended with exit code 0"])
        in_the_way = self._obstacle_after(player.name)
        return PlayResult("unheard", f"{detail}, but {in_the_way}") if in_the_way else PlayResult("played", detail)

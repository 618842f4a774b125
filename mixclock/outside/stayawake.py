"""Keeps the laptop from sleeping while resin is in a bucket, and says so where the system forbids it.

The system drops each of these locks when its holder dies: a file descriptor of logind, a child process whose input is
ours, a flag of the thread. So a crash never leaves a laptop that refuses to sleep.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from functools import partial

from jeepney import DBusAddress, MessageType, new_method_call  # type: ignore[import-untyped]
from jeepney.io.blocking import open_dbus_connection  # type: ignore[import-untyped]

from mixclock.values import dataclass

LOGIND = DBusAddress(
    "/org/freedesktop/login1", bus_name="org.freedesktop.login1", interface="org.freedesktop.login1.Manager"
)
ANSWER_S = 1.0
BEGIN_S = 0.3
WHY = "a batch is live: its deadlines must be called out"

# Holding off the lid is worth asking for and often refused; holding off sleep alone still helps.
WHATS = ("sleep:idle:handle-lid-switch", "sleep:idle", "idle")
KEPT = {
    "sleep:idle:handle-lid-switch": "the machine stays awake, also with its lid shut",
    "sleep:idle": "the machine stays awake; leave the lid open",
    "idle": "the machine does not fall asleep by itself; don't send it to sleep, and leave the lid open",
}


@dataclass(frozen=True)
class SleepHold:
    """A hold on sleep: what it holds, in words, and how to let go."""

    held: bool
    words: str
    let_go: Callable[[], None]


class StayAwake:
    """Holds off sleep between `hold` and `release`."""

    def __init__(self, ways: tuple[Callable[[], SleepHold | str], ...] | None = None) -> None:
        """`ways` are tried in order. Each gives its hold, or says in words why it has none."""
        self._ways = ways if ways is not None else ways_here()
        self._held: SleepHold | None = None

    @property
    def words(self) -> str:
        """What is held now, in words; empty where nobody asked for a hold."""
        return self._held.words if self._held else ""

    def hold(self) -> SleepHold:
        """Hold off sleep. A hold that is there already stays."""
        if self._held is None:
            refused = []
            for way in self._ways:
                held = way()
                if isinstance(held, SleepHold):
                    self._held = held
                    return held
                refused.append(held)
            why = "; ".join(refused) or "no way is known on this system"
            said = f"sleep can't be held off ({why}): switch sleep off in the system's settings, leave the lid open"
            self._held = SleepHold(False, said, lambda: None)
        return self._held

    def release(self) -> None:
        """Let the machine sleep again."""
        if self._held is not None:
            self._held.let_go()
            self._held = None


def ways_here() -> tuple[Callable[[], SleepHold | str], ...]:
    """The ways to keep this system awake."""
    if sys.platform == "win32":
        return (_by_windows,)
    if sys.platform == "darwin":
        return (_by_caffeinate,)
    return (_by_logind, _by_systemd_inhibit)


def _by_logind() -> SleepHold | str:
    """A lock of logind: it lasts as long as the file descriptor that it answers with is open."""
    try:
        connection = open_dbus_connection("SYSTEM", enable_fds=True, auth_timeout=ANSWER_S)
    except (OSError, RuntimeError, ValueError, StopIteration, KeyError) as error:
        return f"the system bus can't be reached: {error}"
    refused = "logind did not answer"
    try:
        for what in WHATS:
            call = new_method_call(LOGIND, "Inhibit", "ssss", (what, "mixclock", WHY, "block"))
            reply = connection.send_and_get_reply(call, timeout=ANSWER_S)
            if reply.header.message_type is MessageType.method_return:
                number: int = reply.body[0].to_raw_fd()
                return SleepHold(True, KEPT[what], partial(os.close, number))
            refused = f"logind refuses: {reply.body[0] if reply.body else 'no reason given'}"
    except (OSError, TimeoutError, ValueError, AttributeError) as error:
        refused = f"logind did not answer: {error or type(error).__name__}"
    finally:
        connection.close()
    return refused


def _by_systemd_inhibit() -> SleepHold | str:
    program = shutil.which("systemd-inhibit")
    if program is None:
        return "systemd-inhibit is not installed"
    refused = ""
    for what in WHATS:
        held = _by_child([program, f"--what={what}", "--who=mixclock", f"--why={WHY}", "cat"], KEPT[what])
        if isinstance(held, SleepHold):
            return held
        refused = held
    return refused


def _by_caffeinate() -> SleepHold | str:
    program = shutil.which("caffeinate")
    if program is None:
        return "caffeinate is not installed"
    return _by_child(
        [program, "-i", "-s", "cat"], "the machine does not fall asleep by itself; plug it in and leave the lid open"
    )


def _by_child(argv: list[str], words: str) -> SleepHold | str:
    """A child that holds the lock until its input, which is ours, is closed: by us, or by our death."""
    child = subprocess.Popen(argv, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        code = child.wait(timeout=BEGIN_S)
    except subprocess.TimeoutExpired:
        return SleepHold(True, words, lambda: _end(child))
    _end(child)
    return f"{os.path.basename(argv[0])} ended with exit code {code}"  # noqa: PTH119  a program's name, not a file


def _end(child: subprocess.Popen[bytes]) -> None:
    if child.stdin is not None:
        child.stdin.close()
    try:
        child.wait(timeout=1.0)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def _by_windows() -> SleepHold | str:
    """A flag of this thread. It ends with the thread, so the longest-lived must set it: the main thread."""
    import ctypes

    continuous, system_required = 0x80000000, 0x00000001
    kernel = getattr(ctypes, "windll", None)
    if kernel is None or not kernel.kernel32.SetThreadExecutionState(continuous | system_required):
        return "Windows did not take the request"

    def let_go() -> None:
        kernel.kernel32.SetThreadExecutionState(continuous)

    return SleepHold(True, "the machine does not fall asleep by itself; plug it in and leave the lid open", let_go)

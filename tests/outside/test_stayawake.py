"""Sleep is held off where the system allows it, and it is said where not."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from jeepney import HeaderFields, MessageType, new_error, new_method_return
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import open_dbus_connection

from mixclock.outside.stayawake import SleepHold, StayAwake, _by_child, ways_here
from tests.realparts.bus import SessionBus, missing_bus


class Logind:
    """As much of logind as hands out locks: refuses the lid, and sees when a lock is let go."""

    def __init__(self, address: str) -> None:
        self._connection = open_dbus_connection(address, enable_fds=True)
        self._connection.send_and_get_reply(message_bus.RequestName("org.freedesktop.login1", 2), timeout=5)
        self.asked: list[tuple[str, ...]] = []
        self.ours = -1
        self._ending = False
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def let_go(self, limit_s: float = 3.0) -> bool:
        """Whether the other end of the lock is closed."""
        import select

        ready, _, _ = select.select([self.ours], [], [], limit_s)
        return bool(ready) and os.read(self.ours, 1) == b""

    def stop(self) -> None:
        self._ending = True
        self._thread.join()
        self._connection.close()
        if self.ours >= 0:
            os.close(self.ours)

    def _serve(self) -> None:
        while not self._ending:
            try:
                call = self._connection.receive(timeout=0.05)
            except TimeoutError:
                continue
            if call.header.message_type is not MessageType.method_call:
                continue
            if call.header.fields[HeaderFields.member] != "Inhibit":
                continue
            self.asked.append(call.body)
            if "lid" in call.body[0]:
                refusal = new_error(call, "org.freedesktop.DBus.Error.AccessDenied", "s", ("not allowed",))
                self._connection.send(refusal)
                continue
            self.ours, theirs = os.pipe()
            self._connection.send(new_method_return(call, "h", (theirs,)))
            os.close(theirs)


@pytest.fixture
def logind(monkeypatch: pytest.MonkeyPatch) -> Iterator[Logind]:
    if missing := missing_bus():
        pytest.skip(missing)
    with tempfile.TemporaryDirectory(prefix="bus-", dir="/tmp") as folder, SessionBus(Path(folder)) as bus:
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
        found = Logind(bus.address)
        yield found
        found.stop()


@pytest.mark.skipif(sys.platform != "linux", reason="logind is Linux")
def test_logind_holds_the_machine_awake_until_it_is_released(logind: Logind) -> None:
    awake = StayAwake()
    held = awake.hold()
    assert held.held
    assert held.words == "the machine stays awake; leave the lid open"
    assert [body[0] for body in logind.asked] == ["sleep:idle:handle-lid-switch", "sleep:idle"]
    assert awake.hold() is held, "what is held already stays"
    awake.release()
    assert logind.let_go()


def test_where_nothing_holds_sleep_off_it_says_so_and_how_to_help() -> None:
    awake = StayAwake((lambda: "no way here",))
    held = awake.hold()
    assert not held.held
    assert "no way here" in held.words
    assert "leave the lid open" in held.words
    awake.release()


@pytest.mark.skipif(shutil.which("cat") is None, reason="no cat here")
def test_a_child_that_holds_the_lock_ends_with_it() -> None:
    held = _by_child(["cat"], "awake")
    assert isinstance(held, SleepHold)
    held.let_go()


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_crash_lets_the_machine_sleep_again() -> None:
    code = (
        "import os,sys;from mixclock.outside.stayawake import _by_child;"
        "held=_by_child(['sh','-c','cat; echo gone'],'awake');print('held',flush=True);os.kill(os.getpid(),9)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=20, check=False)
    assert done.returncode == -signal.SIGKILL
    assert done.stdout.strip() == b"held"


def test_this_system_has_a_way() -> None:
    assert ways_here()

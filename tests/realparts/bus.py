"""A session bus of its own with a notification server that writes down what arrives, for tests of what truly gets out.

    with SessionBus(tmp_path / "bus") as bus, RecordingServer(bus) as server:
        subprocess.Popen([...], env={**os.environ, **bus.env})
        note = server.wait_for(lambda note: "Batch 3" in note.body, limit_s=5)
        assert note.urgency == 2 and note.unix_s <= due + 1.0

The bus knows no service files, so nothing installed on the machine is started by it. `note.unix_s` is the wall clock
and `note.monotonic_s` is `time.monotonic()` at the arrival, in the tests' process.
"""

import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from jeepney import DBusAddress, HeaderFields, MessageType, new_error, new_method_return, new_signal
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import DBusConnection, open_dbus_connection

from tests.realparts.parts import missing

SERVER = "org.freedesktop.Notifications"

_CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""


def missing_bus() -> str | None:
    """Why there can be no session bus here; None where there can."""
    return missing("dbus-daemon")


class SessionBus:
    """A dbus-daemon in a folder (of a short name: a socket's path has 107 characters at most)."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.address = f"unix:path={folder / 'bus'}"
        self.env = {"DBUS_SESSION_BUS_ADDRESS": self.address, "XDG_RUNTIME_DIR": str(folder)}
        config = folder / "bus.conf"
        config.write_text(_CONFIG.format(socket=folder / "bus"))
        self._command = ["dbus-daemon", f"--config-file={config}", "--nofork", "--print-address"]
        self._daemon: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and return when it takes connections."""
        self._daemon = subprocess.Popen(self._command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        assert self._daemon.stdout is not None
        if not self._daemon.stdout.readline():
            raise RuntimeError("dbus-daemon did not start")

    def freeze(self) -> None:
        """Let it hang: it is there and answers nothing."""
        assert self._daemon is not None
        self._daemon.send_signal(signal.SIGSTOP)

    def stop(self) -> None:
        """End it, as a logout does."""
        if self._daemon is not None:
            self._daemon.kill()
            self._daemon.wait()
            assert self._daemon.stdout is not None
            self._daemon.stdout.close()
            self._daemon = None
            (self.folder / "bus").unlink(missing_ok=True)

    def connect(self) -> DBusConnection:
        """A connection to it."""
        return open_dbus_connection(self.address)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()


@dataclass(frozen=True)
class Note:
    """A notification as it arrived."""

    note_id: int
    replaces: int
    app: str
    title: str
    body: str
    actions: list[str]
    hints: dict[str, tuple[str, Any]]
    expire_ms: int
    unix_s: float
    monotonic_s: float

    @property
    def urgency(self) -> int:
        """0 low, 1 normal, 2 critical."""
        return int(self.hints["urgency"][1])

    @property
    def alert_id(self) -> str:
        """The alert that it belongs to."""
        return str(self.hints["x-mixclock-alert"][1])


@dataclass
class RecordingServer:
    """A notification server that shows nothing and writes everything down.

    `manner`: "well" answers as the standard asks; "silent" never answers Notify; "refusing" answers with an error;
    "nonsense" answers with a text where an id belongs; "inhibited" holds back what it takes, and says so.
    """

    bus: SessionBus
    manner: str = "well"
    first_id: int = 7
    notes: list[Note] = field(default_factory=list)
    closed: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._change = threading.Condition()
        self._ending = False

    def start(self) -> None:
        """Take the name on the bus and begin to serve."""
        self._connection = self.bus.connect()
        reply = self._connection.send_and_get_reply(message_bus.RequestName(SERVER, 2), timeout=5)
        assert reply.body == (1,), f"another notification server runs on this bus: {reply.body}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Leave the bus."""
        self._ending = True
        self._thread.join()
        self._connection.close()

    def wait_for(self, wanted: Callable[[Note], bool] = lambda _: True, limit_s: float = 30.0) -> Note:
        """The first notification that is wanted, waiting for it if need be."""
        with self._change:
            self._change.wait_for(lambda: any(map(wanted, self.notes)), limit_s)
            found = [note for note in self.notes if wanted(note)]
        assert found, f"no such notification within {limit_s} s; arrived: {self.notes}"
        return found[0]

    def press(self, note_id: int, button: str) -> None:
        """What happens when a person presses a button of a notification."""
        emitter = DBusAddress("/org/freedesktop/Notifications", interface=SERVER)
        self._connection.send(new_signal(emitter, "ActionInvoked", "us", (note_id, button)))

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def _serve(self) -> None:
        while not self._ending:
            try:
                call = self._connection.receive(timeout=0.05)
            except TimeoutError:
                continue
            except OSError:
                return  # the bus is gone
            if call.header.message_type is MessageType.method_call:
                self._answer(call, call.header.fields[HeaderFields.member])

    def _answer(self, call: Any, member: str) -> None:
        if member == "Notify":
            self._take(call)
        elif member == "CloseNotification":
            self.closed.append(call.body[0])
            self._connection.send(new_method_return(call))
        elif member == "GetServerInformation":
            self._connection.send(new_method_return(call, "ssss", ("recorder", "tests", "1.0", "1.2")))
        elif member == "GetCapabilities":
            self._connection.send(new_method_return(call, "as", (["body", "body-markup", "actions"],)))
        elif member == "Get" and self.manner == "inhibited" and call.body[1] == "Inhibited":
            self._connection.send(new_method_return(call, "v", (("b", True),)))
        else:
            self._connection.send(new_error(call, "org.freedesktop.DBus.Error.UnknownMethod", "s", (member,)))

    def _take(self, call: Any) -> None:
        app, replaces, _, title, body, actions, hints, expire_ms = call.body
        note_id = replaces or self.first_id + len(self.notes)
        if self.manner == "refusing":
            self._connection.send(new_error(call, f"{SERVER}.ExcessNotificationGeneration", "s", ("too many",)))
            return
        arrived = (time.time_ns() / 1e9, time.monotonic_ns() / 1e9)
        with self._change:
            self.notes.append(Note(note_id, replaces, app, title, body, actions, hints, expire_ms, *arrived))
            self._change.notify_all()
        if self.manner == "nonsense":
            self._connection.send(new_method_return(call, "s", ("done",)))
        elif self.manner != "silent":
            self._connection.send(new_method_return(call, "u", (note_id,)))


def missing_dunst() -> str | None:
    """Why no real notification server can run here; None where one can."""
    return missing("dbus-daemon", "Xvfb", "dunst", "dunstctl")


class Dunst:
    """dunst, a notification server that people use, on a screen that nobody sees."""

    def __init__(self, bus: SessionBus) -> None:
        self._bus = bus
        self._config = bus.folder / "dunstrc"
        self._config.write_text("")

    def start(self) -> None:
        """Start a screen and dunst on it, and return when dunst has the name on the bus."""
        ours, screens = os.pipe()
        screen = ["Xvfb", "-displayfd", str(screens), "-screen", "0", "800x600x24", "-nolisten", "tcp"]
        self._screen = subprocess.Popen(screen, pass_fds=[screens], stderr=subprocess.DEVNULL)
        os.close(screens)
        with os.fdopen(ours) as told:
            display = told.readline().strip()
        self._env = {**os.environ, **self._bus.env, "DISPLAY": f":{display}"}
        self._dunst = subprocess.Popen(
            ["dunst", "-conf", str(self._config)], env=self._env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        self._await_name()

    def stop(self) -> None:
        """End both."""
        for process in (self._dunst, self._screen):
            process.kill()
            process.wait()

    def control(self, *words: str) -> str:
        """What dunstctl answers."""
        done = subprocess.run(
            ["dunstctl", *words], env=self._env, capture_output=True, text=True, check=True, timeout=10
        )
        return done.stdout

    def displayed(self) -> int:
        """How many notifications it says are on the screen."""
        return int(self.control("count", "displayed"))

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def _await_name(self) -> None:
        with self._bus.connect() as connection:
            for _ in range(200):
                if connection.send_and_get_reply(message_bus.NameHasOwner(SERVER), timeout=5).body[0]:
                    return
                threading.Event().wait(0.05)
        raise RuntimeError("dunst did not start within 10 s")

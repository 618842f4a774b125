"""Talks to the desktop's notification server over D-Bus, and checks the type of every reply.

It needs only a session bus. A daemon that runs as a service finds the bus by $XDG_RUNTIME_DIR.
"""

import os
import select
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from jeepney import DBusAddress, HeaderFields, MessageType, new_method_call  # type: ignore[import-untyped]
from jeepney.io.blocking import DBusConnection, open_dbus_connection  # type: ignore[import-untyped]

from mixclock.values import dataclass

SERVER = "org.freedesktop.Notifications"
NOTIFICATIONS = DBusAddress("/org/freedesktop/Notifications", bus_name=SERVER, interface=SERVER)
BUS = DBusAddress("/org/freedesktop/DBus", bus_name="org.freedesktop.DBus", interface="org.freedesktop.DBus")

CONNECT_S, OWNER_S, NOTIFY_S, ASIDE_S = 0.4, 0.2, 1.3, 0.3
"""Together under 2 s until the notification is out, and a little more for the questions that come after it."""

URGENCY = {"critical": 2, "timely": 1, "notice": 0}
NEVER_EXPIRES, SERVER_DECIDES = 0, -1
EXPIRE_MS = {"critical": NEVER_EXPIRES, "timely": 30_000, "notice": SERVER_DECIDES}

# Where a server says that it holds notifications back: (interface, property), first dunst's, then KDE's.
_HOLDING_BACK = (("org.dunstproject.cmd0", "paused"), (SERVER, "Inhibited"))


class NoServerError(Exception):
    """There is no bus, or no server on it: nothing was sent."""


class NoBusError(NoServerError):
    """There is not even a bus: nobody is logged in to a desktop."""


class NoAnswerError(Exception):
    """The notification went out, but no sensible answer came: it may show or not."""


@dataclass(frozen=True)
class PlacedNotification:
    """A notification that a server took: its id and the bus name of just that server."""

    note_id: int
    server: str


@dataclass(frozen=True)
class Note:
    """What is to be shown. `body` is markup; `replaces` is an earlier one that it takes the place of."""

    alert_id: str
    rank: str
    title: str
    body: str
    heard_button: bool = False
    replaces: PlacedNotification | None = None


def bus_addresses() -> list[str]:
    """Where the user's session bus may be: as told, then where it usually is.

    A service is told nothing, and an old terminal may have been told of a session that is long over.
    """
    told = os.environ.get("DBUS_SESSION_BUS_ADDRESS")
    folder = os.environ.get("XDG_RUNTIME_DIR")
    if folder is None and hasattr(os, "getuid"):
        folder = f"/run/user/{os.getuid()}"
    socket = Path(folder) / "bus" if folder else None
    usual = f"unix:path={socket}" if socket and socket.exists() else None
    return [address for address in (told, usual) if address]


@contextmanager
def connected() -> Iterator[DBusConnection]:
    """Open a connection for one send: one that was kept would be dead after the session ended."""
    connection = _connect()
    try:
        yield connection
    finally:
        connection.close()


class ReadyBus:
    """Keeps a connection that was opened ahead of a call for the calls: to connect takes longer than to call.

    Until somebody asks it to get ready it keeps none. A kept connection is dead after the session ended. So it is
    looked at before it is used, and opened anew where the other end has closed it or the bus is elsewhere now.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: tuple[DBusConnection, list[str]] | None = None
        self._keeps = False

    def get_ready(self) -> None:
        """Connect now, so that the next call need not. Without a bus nothing happens: the call tells why."""
        addresses, self._keeps = bus_addresses(), True
        try:
            connection = self._taken(addresses) or _connect()
        except NoServerError:
            return
        self._keep(connection, addresses)

    @property
    def is_ready(self) -> bool:
        """Whether a connection is kept that is still alive."""
        with self._lock:
            return self._kept is not None and _is_alive(self._kept[0])

    @contextmanager
    def connected(self) -> Iterator[DBusConnection]:
        """A connection for one send; where that goes well, it may be kept for the next."""
        addresses = bus_addresses()
        connection = self._taken(addresses) or _connect()
        try:
            yield connection
        except BaseException:
            connection.close()
            raise
        self._keep(connection, addresses)

    def close(self) -> None:
        """Let the kept connection go, and keep none any more."""
        with self._lock:
            self._keeps = False
            kept, self._kept = self._kept, None
        if kept is not None:
            kept[0].close()

    def _taken(self, addresses: list[str]) -> DBusConnection | None:
        with self._lock:
            kept, self._kept = self._kept, None
        if kept is None:
            return None
        if kept[1] == addresses and _is_alive(kept[0]):
            return kept[0]
        kept[0].close()
        return None

    def _keep(self, connection: DBusConnection, addresses: list[str]) -> None:
        with self._lock:
            over, self._kept = (self._kept, (connection, addresses)) if self._keeps else ((connection, addresses), None)
        if over is not None:
            over[0].close()


def _is_alive(connection: DBusConnection) -> bool:
    """Whether the other end still holds the connection. What waits to be read does not tell: it may be of before."""
    looking = select.poll()
    looking.register(connection.sock, 0)  # an end that is closed is told whatever is asked
    return not looking.poll(0)


def notify(connection: DBusConnection, note: Note) -> PlacedNotification:
    """Show it, and return what the server called it."""
    replaces = note.replaces
    if replaces is not None and _owner(connection) != replaces.server:
        replaces = None  # another server took over since: there the number means somebody else's notification
    arguments = (
        "mixclock",
        replaces.note_id if replaces else 0,
        "",
        note.title,
        note.body,
        ["heard", "Heard"] if note.heard_button else [],
        _hints(note),
        EXPIRE_MS[note.rank],
    )
    reply = _call(connection, new_method_call(NOTIFICATIONS, "Notify", "susssasa{sv}i", arguments), NOTIFY_S)
    if reply.header.message_type is MessageType.error:
        raise NoServerError(_error_words(reply))
    if reply.header.fields.get(HeaderFields.signature) != "u" or reply.body[0] == 0:
        raise NoAnswerError(f"the notification server answered {reply.body!r} where an id belongs")
    return PlacedNotification(reply.body[0], reply.header.fields.get(HeaderFields.sender, ""))


def close(connection: DBusConnection, shown: PlacedNotification) -> bool:
    """Take it away. False where another server took over since, so that nothing of ours shows."""
    if _owner(connection) != shown.server:
        return False
    reply = _call(connection, new_method_call(NOTIFICATIONS, "CloseNotification", "u", (shown.note_id,)), OWNER_S)
    return bool(reply.header.message_type is MessageType.method_return)


def server_name(connection: DBusConnection) -> str:
    """The server's name and version; empty where it gives none."""
    body = _aside(connection, new_method_call(NOTIFICATIONS, "GetServerInformation"), "ssss")
    return f"{body[0]} {body[2]}".strip() if body else ""


def holds_back(connection: DBusConnection) -> bool:
    """Whether the server says that it shows nothing at present ("do not disturb")."""
    properties = NOTIFICATIONS.with_interface("org.freedesktop.DBus.Properties")
    for interface, name in _HOLDING_BACK:
        body = _aside(connection, new_method_call(properties, "Get", "ss", (interface, name)), "v")
        if body and body[0] == ("b", True):
            return True
    return False


def _connect() -> DBusConnection:
    refused = "there is no session bus"
    for address in bus_addresses():
        try:
            return open_dbus_connection(address, auth_timeout=CONNECT_S)
        except (OSError, RuntimeError, ValueError, StopIteration) as error:
            refused = f"the session bus can't be reached: {error}"
    raise NoBusError(refused)


def _hints(note: Note) -> dict[str, tuple[str, Any]]:
    return {
        "urgency": ("y", URGENCY[note.rank]),
        "suppress-sound": ("b", True),  # the sound channel has the rank's own pattern
        "x-mixclock-alert": ("s", note.alert_id),
    }


def _owner(connection: DBusConnection) -> str:
    body = _aside(connection, new_method_call(BUS, "GetNameOwner", "s", (SERVER,)), "s")
    return str(body[0]) if body else ""


def _aside(connection: DBusConnection, message: Any, signature: str) -> Any:
    """The answer to a question that can do without one; None where none comes."""
    try:
        reply = _call(connection, message, ASIDE_S)
    except (NoServerError, NoAnswerError):
        return None
    fits = reply.header.message_type is MessageType.method_return
    return reply.body if fits and reply.header.fields.get(HeaderFields.signature) == signature else None


def _call(connection: DBusConnection, message: Any, limit_s: float) -> Any:
    try:
        return connection.send_and_get_reply(message, timeout=limit_s)
    except TimeoutError as error:
        raise NoAnswerError(f"the notification server did not answer within {limit_s:.1f} s") from error
    except (OSError, ValueError) as error:
        raise NoAnswerError(f"the session bus broke off: {error}") from error


def _error_words(reply: Any) -> str:
    name = reply.header.fields.get(HeaderFields.error_name, "an error")
    told = str(reply.body[0]) if reply.body else ""
    return f"the session bus answered {name}: {told}" if told else f"the session bus answered {name}"

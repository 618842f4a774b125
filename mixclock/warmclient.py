"""A command handed to the warm process that `mixclock watch` keeps beside it, where there is one.

Starting Python and loading mixclock takes longer than any statement. `cli/warmhelper` has all of it loaded and forks
for each command; here the command's words, folder, environment and its three streams are handed over, and its exit
code comes back. The same `main` runs there. Whatever is odd (no helper, another version, no answer within a moment) the
command runs here instead. Nothing is imported before it is needed.

It is handed over in two steps, so that no command ever runs twice: only who is told "ready" says "go". Who dies after
that leaves a pipe without a code, and then the book is asked what became of it.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Sequence

SOCKET = "warm.sock"
LONGEST_PATH = 100
"""Systems take some 104 letters for a socket's path."""

READY, GO = b"y", b"g"
CUT_OFF = -1000
"""No exit code came: whoever ran the command is dead."""

_ANSWERS_WITHIN_S = 0.3


def answered(words: Sequence[str]) -> int | None:
    """The exit code of the command as the warm process ran it; None where it is to be run here."""
    path = None if os.name == "nt" or not words else _socket_path()
    if path is None:
        return None
    code_read, code_write = os.pipe()
    try:
        connection = _handed_over(path, words, code_write)
    finally:
        os.close(code_write)
    try:
        return None if connection is None else _code(connection, code_read)
    finally:
        os.close(code_read)


def boot_s() -> float:
    """The boot clock, as the book's entries carry it (`outside/clock`, which loads slowly)."""
    return 0.0 if os.name == "nt" else time.clock_gettime(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC))


def facts_of_process(words: Sequence[str]) -> list[str]:
    """What the command needs to know of this process: where its code lies, its streams, its folder, its words."""
    streams = [f"{stream.encoding}:{stream.errors}" for stream in (sys.stdin, sys.stdout, sys.stderr)]
    return [*place_of_code(), *streams, os.getcwd(), str(len(words)), *words]  # noqa: PTH109 - pathlib loads slowly


def place_of_code() -> list[str]:
    """Two processes with the same of these run the same code."""
    return [sys.executable, sys.version, os.path.dirname(os.path.abspath(__file__)), sys.getfilesystemencoding()]  # noqa: PTH100, PTH120


def _socket_path() -> str | None:
    """Where the warm process of this home listens; None where nothing of ours is there."""
    named = os.environ.get("MIXCLOCK_HOME", "").strip()
    if named:
        home = os.path.abspath(os.path.expanduser(named))  # noqa: PTH100, PTH111
    else:
        from mixclock.outside.home import home as usual_home

        home = str(usual_home())
    path = os.path.join(home, SOCKET)  # noqa: PTH118
    try:
        found = os.stat(path)  # noqa: PTH116
    except OSError:
        return None
    is_socket = (found.st_mode & 0o170000) == 0o140000
    return path if is_socket and found.st_uid == os.getuid() and len(os.fsencode(path)) <= LONGEST_PATH else None


def _handed_over(path: str, words: Sequence[str], code_write: int) -> object | None:
    """The connection over which the command was taken; None where it was not."""
    import _socket as socket  # what `socket` is built on: that takes a quarter of this command's time to load

    connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    connection.settimeout(_ANSWERS_WITHIN_S)
    try:
        facts = [*facts_of_process(words), *(f"{name}={value}" for name, value in os.environ.items())]
        told = b"\0".join(os.fsencode(fact) for fact in facts)
        for stream in (0, 1, 2):
            os.fstat(stream)
        connection.connect(path)
        connection.sendall(len(told).to_bytes(4, "big") + told)
        if connection.recv(1) == READY:
            # only now: what lies in the queue of one that hangs would keep a pipe open that somebody reads to its end
            streams = b"".join(number.to_bytes(4, sys.byteorder) for number in (0, 1, 2, code_write))
            connection.sendmsg([GO], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, streams)])
            return connection
    except (OSError, ValueError, AttributeError):
        pass  # whatever is odd: the command runs here, as without a warm process
    connection.close()
    return None


def _code(connection: object, code_read: int) -> int:
    """The exit code; Ctrl-C is passed on."""
    told = b""
    while True:
        try:
            part = os.read(code_read, 4)
        except KeyboardInterrupt:
            getattr(connection, "sendall")(b"c")  # noqa: B009 - a socket, whose module is loaded late
            continue
        told += part
        if len(told) == 4:
            return int.from_bytes(told, "big", signed=True)
        if not part:
            return CUT_OFF

"""The warm process beside `mixclock watch`: everything is loaded, and each command that is handed over gets a fork.

    python -m mixclock.cli.warmhelper HOME [SECONDS]    begins after so long, so that the watch begins first

It ends when its stdin does, so with the watch, however that ends.

One thread; it opens no book, keeps no answer and runs no command itself, so every fork sees the clock, the settings and
the book of its moment. Of the sheets and job files that the watch tells it keeps what is read out of their texts.
Only the same user may hand over: the socket is 0600, and the kernel says who is at its other end. When a file of its
code was changed it ends, and commands start cold until the watch is started anew.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import select
import signal
import socket
import struct
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TextIO

from mixclock.cli import COMMANDS, STATING
from mixclock.cli.mistaken import STOPPED_BY_HAND
from mixclock.warmclient import GO, LONGEST_PATH, READY, SOCKET, place_of_code

if TYPE_CHECKING:
    from mixclock.cli.warmsheets import TextReader

WARM = frozenset(name for name, listed in COMMANDS.items() if listed.module == STATING) | {"now", "next", "jobs"}
"""The commands that answer at once and ask nothing back. All others start cold."""

LOADED = (
    *("cli.statement", "cli.standing", "cli.next", "cli.jobs", "cli.bytyper", "wiring", "words.answers"),
    *(
        "words.moveddeadlines",
        "words.nowscreen",
        "words.nowjson",
        "words.watchtroubles",
        "decide.tracks",
        "decide.bucketmodel",
    ),
    *("decide.remembered", "decide.plan.days.kitcalls", "decide.plan.days.saidplan", "cli.typed", "outside.home"),
    *("outside.calibrations", "outside.atomicfile", "outside.cupshelf", "outside.profilefiles", "cli.warmsheets"),
    "outside.longlogs",
)
_BEGUN = "warm.new"
_TELLS_WITHIN_S = 0.25
_LONGEST = 1 << 20


def main(home: Path, begins_after_s: float = 0.0) -> int:
    """Serve until stdin ends."""
    told = b""
    if begins_after_s and select.select([0], [], [], begins_after_s)[0] and not (told := os.read(0, 1 << 16)):
        return 0
    for name in LOADED:
        importlib.import_module(f"mixclock.{name}")
    from mixclock.cli.warmsheets import TextReader

    with _listening(home / SOCKET) as listener:
        gc.collect()
        gc.freeze()
        _serve(listener, _code_files(), TextReader(0, told))
    return 0


@contextlib.contextmanager
def _listening(path: Path) -> Iterator[socket.socket]:
    """A socket that only this user can open; its file goes at the end, if it still is ours.

    It gets its name when it listens: whoever finds it is answered.
    """
    begun = path.with_name(_BEGUN)
    begun.unlink(missing_ok=True)
    before = os.umask(0o177)
    listener = socket.socket(socket.AF_UNIX)
    try:
        listener.bind(str(begun))
    finally:
        os.umask(before)
    listener.listen(16)
    ours = begun.stat().st_ino
    begun.replace(path)
    try:
        yield listener
    finally:
        listener.close()
        with contextlib.suppress(OSError):
            if path.stat().st_ino == ours:
                path.unlink()


def _serve(listener: socket.socket, files: dict[str, tuple[int, int]], texts: TextReader) -> None:
    """Fork for each caller that is let in, and pass on Ctrl-C and hang-ups. End when the watch or the code is gone."""
    running: dict[socket.socket, int] = {}
    ended, wakes = socket.socketpair()
    for end in (ended, wakes):
        end.setblocking(False)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    signal.set_wakeup_fd(wakes.fileno(), warn_on_full_buffer=False)
    while True:
        watched: list[Any] = [listener, 0, ended, *running]
        ready = select.select(watched, [], [])[0]
        if 0 in ready and not texts.read():
            return
        if ended in ready:
            ended.recv(64)
            _reap(running)
        for connection in [each for each in ready if each in running]:
            _pass_on(connection, running)
        if listener in ready:
            if not files.items() <= _code_files().items():
                return
            connection, _ = listener.accept()
            pid = _begun(connection, (listener, ended, wakes, *running))
            if pid is None:
                connection.close()
            else:
                running[connection] = pid


def _reap(running: dict[socket.socket, int]) -> None:
    """Let the forks go that have ended."""
    gone = set()
    with contextlib.suppress(ChildProcessError):
        while pid := os.waitpid(-1, os.WNOHANG)[0]:
            gone.add(pid)
    for connection in [each for each, pid in running.items() if pid in gone]:
        del running[connection]
        connection.close()


def _pass_on(connection: socket.socket, running: dict[socket.socket, int]) -> None:
    """Pass Ctrl-C on to the fork. If the caller is gone, end the command too."""
    try:
        told = connection.recv(16)
    except OSError:
        told = b""
    with contextlib.suppress(ProcessLookupError):
        os.kill(running[connection], signal.SIGINT if told else signal.SIGTERM)
    if not told:
        del running[connection]
        connection.close()


def _begun(connection: socket.socket, shut: Sequence[socket.socket]) -> int | None:
    """The fork that runs what was handed over; None where nothing is to be run."""
    connection.settimeout(_TELLS_WITHIN_S)
    streams: list[int] = []
    try:
        if not _is_ours(connection):
            return None
        length = int.from_bytes(_received(connection, 4), "big")
        run = _understood(_received(connection, length).split(b"\0")) if length <= _LONGEST else None
        if run is None:
            return None
        connection.sendall(READY)
        go, streams, *_ = socket.recv_fds(connection, 1, 4)
        if go != GO or len(streams) != 4:
            return None
        pid = os.fork()
        if pid == 0:
            _become(streams, (connection, *shut), run)
        return pid
    except (OSError, ValueError, IndexError):
        return None
    finally:
        for number in streams:
            os.close(number)


def _is_ours(connection: socket.socket) -> bool:
    if not hasattr(socket, "SO_PEERCRED"):
        return True  # the mode of its file lets nobody else in
    told = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    return bool(struct.unpack("3i", told)[1] == os.getuid())


def _received(connection: socket.socket, length: int) -> bytes:
    told = b""
    while len(told) < length:
        part = connection.recv(length - len(told))
        if not part:
            raise ValueError("cut off")
        told += part
    return told


def _understood(told: Sequence[bytes]) -> Callable[[], int] | None:
    """What a fork has to do; None if this helper does not run the command."""
    facts = [os.fsdecode(each) for each in told]
    here, streams, (folder, count), rest = facts[:4], facts[4:7], facts[7:9], facts[9:]
    words, environment = rest[: int(count)], rest[int(count) :]
    if here != place_of_code() or not words or words[0] not in WARM:
        return None

    def run() -> int:
        os.environ.clear()
        for each in environment:
            name, _, value = each.partition("=")
            if name:
                os.environ[name] = value
        time.tzset()
        os.chdir(folder)
        sys.stdin, sys.stdout, sys.stderr = (_stream(number, how) for number, how in enumerate(streams))
        sys.argv[1:] = words
        from mixclock.cli import main as run_command

        return run_command()

    return run


def _stream(number: int, how: str) -> TextIO:
    """A stream that writes to the caller's own output, line by line where Python would."""
    encoding, _, errors = how.partition(":")
    buffering = 1 if number == 2 or (number == 1 and os.isatty(1)) else -1
    mode: Literal["r", "w"] = "w" if number else "r"
    return open(number, mode, buffering, encoding, errors, closefd=False)


def _become(streams: Sequence[int], shut: Sequence[socket.socket], run: Callable[[], int]) -> None:
    """In the fork: close what belongs to the helper, take the caller's streams, run, report the exit code, end."""
    code = 1
    try:
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        for each in shut:
            each.close()
        for place, number in enumerate(streams[:3]):
            os.dup2(number, place)
            os.close(number)
        code = _ended(run)
    finally:
        with contextlib.suppress(OSError):
            os.write(streams[3], code.to_bytes(4, "big", signed=True))
        os._exit(0)


def _ended(run: Callable[[], int]) -> int:
    """The exit code that the process would have ended with."""
    try:
        code: object = run()
    except SystemExit as end:
        code = 0 if end.code is None else end.code
    except KeyboardInterrupt:
        code = STOPPED_BY_HAND
    except BaseException:
        sys.excepthook(*sys.exc_info())
        code = 1
    try:
        sys.stdout.flush()
    except OSError:
        code = code or 120  # as Python itself has it
    with contextlib.suppress(OSError):
        sys.stderr.flush()
    return code if isinstance(code, int) else 1


def fits(home: Path) -> bool:
    """Whether a helper can listen in this home."""
    return hasattr(os, "fork") and len(os.fsencode(home / SOCKET)) <= LONGEST_PATH


def _code_files() -> dict[str, tuple[int, int]]:
    """When each file of our loaded code was last written, and how long it is."""
    found = {}
    for name, module in list(sys.modules.items()):
        file = getattr(module, "__file__", None)
        if name.partition(".")[0] == "mixclock" and file:
            with contextlib.suppress(OSError):
                told = os.stat(file)  # noqa: PTH116 - 250 of them before each command
                found[file] = told.st_mtime_ns, told.st_size
    return found


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), *map(float, sys.argv[2:])))

"""Strangers on the network: many addresses, silent and slow sockets, guesses, bent names, codes that were used."""

from __future__ import annotations

import contextlib
import functools
import http.client
import itertools
import json
import os
import resource
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from typing import Any

from mixclock.board.server import BoardServer
from tests.board.boardfakes import FakeHouse
from tests.faults.forking import ROOT
from tests.faults.starving import Stopwatch, Took
from tests.faults.table import CLOCK, Counted, each

ANSWER_WITHIN_S = 0.5
LOOK_WITHIN_S = 2.0
HANDLES = 700
HELD_AT_ONCE = 1500
"""Sockets that the strangers hold: twice as many as the server may have handles."""

BEGUN_WITH = HANDLES * 3 // 2
"""From so many on the server has no handle left, if it lets them: it ends some at once, as those with a guess."""

STARTS_WITHIN_S = 30.0


def hostile_network(trials: int, broken: bool) -> Counted:
    """While strangers do their worst a phone is answered, and a channel gets its handle."""
    counted = Counted()
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (HANDLES, before[1]))
    # nothing is dropped for its slowness either: a busy machine never has enough strangers at once otherwise
    no_cap: dict[str, Any] = {"sockets_at_most": 100_000, "sockets_per_address": 100_000, "arrival_s": 1e6}
    server = BoardServer(FakeHouse, CLOCK, port=0, **(no_cap if broken else {}))  # type: ignore[arg-type]
    looks = _Looks()
    try:
        server.start()
        port = int(server.address.rstrip("/").rpartition(":")[2])
        secret = server.pairing_url().partition("#pair=")[2]
        cookie = _pair(port, secret)[1]
        with _strangers(port) as tried:
            looks.start()
            for trial in each(trials):
                _with_handles(counted)
                if broken and counted.missed:
                    break  # it is seen; a server without a handle answers nothing, and each question waits for that
                _bent_names(counted, port, cookie, trial)
                keys = (f"key-{trial:08}-{again}" for again in itertools.count())
                ask = functools.partial(_answered, counted, port, cookie, keys)
                counted.in_time(ask, ANSWER_WITHIN_S, "a phone's answer")
                _replayed(counted, server, port, secret, cookie, trial)
        counted.judge(looks.worst, LOOK_WITHIN_S, "a look beside the flood")
        counted.notes.append(
            f"{tried[0]:,} sockets were opened; the longest gap between looks was {looks.worst.span_s:.2f} s"
        )
    except OSError as error:
        counted.trials += 1
        counted.fail(f"no handle was left: {error}")
    finally:
        looks.stop.set()
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
        server.stop()
    return counted


def _with_handles(counted: Counted) -> None:
    """A voice and a player find as many handles as they need."""
    counted.trials += 1
    try:
        with contextlib.ExitStack() as handles:
            for _ in range(24):
                handles.enter_context(open("/dev/null", "rb"))  # noqa: PTH123
    except OSError as error:
        counted.miss(f"a channel got no handle: {error}")


def _bent_names(counted: Counted, port: int, cookie: str, trial: int) -> None:
    """A page that was led here under another name is answered nothing."""
    note = {"key": f"evil-{trial:08}", "statement": {"verb": "noted", "text": "x"}}
    rebound = (
        ("GET", "/view", None, "evil.example", ""),
        ("GET", "/", None, f"evil.example:{port}", ""),
        ("POST", "/state", note, f"evil.example:{port}", ""),
        ("POST", "/state", note, "", "http://evil.example"),
    )
    for method, path, body, host, origin in rebound[trial % 2 :: 2]:
        if _ask(port, method, path, body, cookie, host, origin) == 200:
            counted.fail(f"{method} {path} was answered to {host or origin}: a name was bent to this machine")


def _answered(counted: Counted, port: int, cookie: str, keys: Iterator[str]) -> Took:
    """How long a phone waits for its answer."""
    watch = Stopwatch()
    try:
        status = _ask(port, "POST", "/state", {"key": next(keys), "statement": {"verb": "noted", "text": "x"}}, cookie)
        if status != 200:
            counted.fail(f"a phone was answered {status}")
    except OSError as error:
        counted.fail(f"a phone was not answered: {error}")
    return watch.took()


def _replayed(counted: Counted, server: BoardServer, port: int, used: str, cookie: str, trial: int) -> None:
    """A code that was used, and one that a phone saw before it was dropped, pair nobody."""
    if _pair(port, used)[0] == 200:
        counted.fail("a code that was used paired another phone")
    if trial % 5:
        return
    lent, seen = _pair(port, server.pairing_url().partition("#pair=")[2]), server.pairing_url().partition("#pair=")[2]
    if _ask(port, "POST", "/drop", {"phone": lent[2]}, cookie) != 200:
        counted.fail("a phone could not be dropped")
    if _ask(port, "GET", "/view", None, lent[1]) == 200:
        counted.fail("a phone that was dropped is let in")
    if _pair(port, seen)[0] == 200:
        counted.fail("a phone that was dropped paired again with a code that it saw")


def _ask(port: int, method: str, path: str, body: Any, cookie: str, host: str = "", origin: str = "") -> int:
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    own = host or f"127.0.0.1:{port}"
    headers = {"Host": own, "Origin": origin or f"http://{own}", "Cookie": cookie, "Content-Type": "application/json"}
    try:
        wire.request(method, path, None if body is None else json.dumps(body), headers)
        return wire.getresponse().status
    finally:
        wire.close()


_PAIRS_FROM = itertools.count()
"""Guesses are counted by address: each try to pair comes from another one."""


def _pair(port: int, secret: str) -> tuple[int, str, str]:
    """The status, the cookie and the phone's name."""
    source = (f"127.0.3.{2 + next(_PAIRS_FROM) % 250}", 0)
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=5, source_address=source)
    own = f"127.0.0.1:{port}"
    headers = {"Host": own, "Origin": f"http://{own}", "Content-Type": "application/json"}
    try:
        wire.request("POST", "/pair", json.dumps({"secret": secret, "device": "phone"}), headers)
        answer = wire.getresponse()
        body = json.loads(answer.read() or b"{}")
        return answer.status, (answer.headers["Set-Cookie"] or "").partition(";")[0], str(body.get("phone", ""))
    finally:
        wire.close()


class _Looks(threading.Thread):
    """Somebody who must come round twice a second whatever the network does, as the daemon must."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.stop, self.worst = threading.Event(), Took(0.0)

    def run(self) -> None:
        watch = Stopwatch()
        while not self.stop.wait(0.4):
            took, watch = watch.took(), Stopwatch()
            self.worst = max(self.worst, took, key=lambda one: one.span_s)


@contextlib.contextmanager
def _strangers(port: int) -> Iterator[list[int]]:
    """Another process that does its worst; afterwards, how many sockets it opened."""
    tried = [0]
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.network", str(port)],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    try:
        process.stdout.readline()
        yield tried
    finally:
        tried[0] = int(process.communicate("stop\n", timeout=STARTS_WITHIN_S)[0] or 0)


def _do_the_worst(port: int, stop: threading.Event) -> int:
    """Open sockets from eighty addresses in turn, some silent, some slow, some with a guess; how many.

    It is said once they would fill every handle that the server may have: a busy machine takes long over that.
    """
    held: list[socket.socket] = []
    tried = 0
    for number in itertools.count(1):
        if stop.wait(0.001):
            break
        if number == BEGUN_WITH:
            print("begun", flush=True)
        with contextlib.suppress(OSError):
            wire = socket.create_connection(("127.0.0.1", port), 1, source_address=(f"127.0.2.{2 + number % 80}", 0))
            tried += 1
            if number % 5 == 0:
                wire.sendall(b"GET /view HTTP/1.1\r\nHost: 127.0")
            elif number % 7 == 0:
                wire.sendall(b'POST /pair HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{"a": 1}}')
            held.append(wire)
        if len(held) > HELD_AT_ONCE:
            for old in held[:20]:
                old.close()
            held = held[20:]
    return tried


def main(words: list[str]) -> None:
    """The strangers, until a line comes in."""
    resource.setrlimit(resource.RLIMIT_NOFILE, (resource.getrlimit(resource.RLIMIT_NOFILE)[1],) * 2)
    stop = threading.Event()
    threading.Thread(target=lambda: (sys.stdin.readline(), stop.set()), daemon=True).start()
    print(_do_the_worst(int(words[0]), stop), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])

"""Strangers on the network: many addresses, silent and slow sockets, guesses, bent names, codes that were used."""

from __future__ import annotations

import contextlib
import http.client
import json
import math
import resource
import socket
import threading
from itertools import count
from typing import Any

from mixclock.board.server import BoardServer
from tests.board.boardfakes import FakeHouse
from tests.faults.table import CLOCK, Counted, each

ANSWER_WITHIN_S = 0.5
LOOK_WITHIN_S = 2.0
TRIES = 3
QUIET_WITHIN_S = 0.25
"""An answer that was late is asked for again. Where a server that no stranger knows of is as slow at that moment, other
work on this machine is to blame, and that answer tells nothing."""

HANDLES = 700


def hostile_network(trials: int, broken: bool) -> Counted:
    """While strangers do their worst a phone is answered, and a channel gets its handle."""
    counted = Counted()
    strangers: _Strangers | None = None
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (HANDLES, before[1]))
    limits = {"sockets_at_most": 100_000, "sockets_per_address": 100_000} if broken else {}
    server = BoardServer(FakeHouse, CLOCK, port=0, **limits)  # type: ignore[arg-type]
    quiet = BoardServer(FakeHouse, CLOCK, port=0)
    stop = threading.Event()
    try:
        server.start()
        quiet.start()
        control = int(quiet.address.rstrip("/").rpartition(":")[2])
        control_cookie = _pair(control, quiet.pairing_url().partition("#pair=")[2])[1]
        port = int(server.address.rstrip("/").rpartition(":")[2])
        secret = server.pairing_url().partition("#pair=")[2]
        cookie = _pair(port, secret)[1]
        strangers, looks = _Strangers(port, stop), _Looks(stop)
        strangers.start()
        looks.start()
        CLOCK.sleep(2.0)
        for trial in each(trials):
            _one(counted, port, cookie, trial)
            _answer_in_time(counted, (port, cookie), (control, control_cookie), trial)
            _replayed(counted, server, port, secret, cookie, trial)
        counted.late(looks.worst_s, LOOK_WITHIN_S, "a look beside the flood")
        counted.notes.append(
            f"{strangers.tried:,} sockets were opened; the longest gap between looks was {looks.worst_s:.2f} s"
        )
    except OSError as error:
        counted.trials += 1
        counted.fail(f"no handle was left: {error}")
    finally:
        stop.set()
        if strangers is not None:
            strangers.join(5)
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
        server.stop()
        quiet.stop()
    return counted


def _one(counted: Counted, port: int, cookie: str, trial: int) -> None:
    counted.trials += 1
    try:
        handles = [open("/dev/null", "rb") for _ in range(24)]  # noqa: PTH123, SIM115  as a voice and a player need them
        for handle in handles:
            handle.close()
    except OSError as error:
        counted.miss(f"a channel got no handle: {error}")
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


def _answer_in_time(counted: Counted, board: tuple[int, str], control: tuple[int, str], trial: int) -> None:
    """A phone's answer beside the flood, held against one of a server without strangers."""
    best_s, told = math.inf, 0
    for again in range(4 * TRIES):
        best_s = min(best_s, _answered_s(counted, *board, f"key-{trial:08}-{again}"))
        if best_s <= ANSWER_WITHIN_S or told == TRIES:
            break
        told += _answered_s(counted, *control, f"key-{trial:08}-{again}") <= QUIET_WITHIN_S
    if best_s <= ANSWER_WITHIN_S or told == TRIES:
        counted.late(best_s, ANSWER_WITHIN_S, "a phone's answer")
    else:
        counted.notes.append(f"trial {trial}: this machine was too busy to tell ({best_s:.2f} s)")


def _answered_s(counted: Counted, port: int, cookie: str, key: str) -> float:
    began_s = CLOCK.monotonic_s()
    try:
        status = _ask(port, "POST", "/state", {"key": key, "statement": {"verb": "noted", "text": "x"}}, cookie)
        if status != 200:
            counted.fail(f"a phone was answered {status}")
    except OSError as error:
        counted.fail(f"a phone was not answered: {error}")
    return CLOCK.monotonic_s() - began_s


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


_PAIRS_FROM = count()
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

    def __init__(self, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        self.stop, self.worst_s = stop, 0.0

    def run(self) -> None:
        last_s = CLOCK.monotonic_s()
        while not self.stop.wait(0.4):
            now_s = CLOCK.monotonic_s()
            self.worst_s, last_s = max(self.worst_s, now_s - last_s), now_s


class _Strangers(threading.Thread):
    """Opens sockets from eighty addresses in turn, and guesses codes; its own handles are few at a time."""

    def __init__(self, port: int, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        self.port, self.stop, self.tried = port, stop, 0

    def run(self) -> None:
        held: list[socket.socket] = []
        number = 0
        while not self.stop.is_set():
            number += 1
            source = (f"127.0.2.{2 + number % 80}", 0)
            with contextlib.suppress(OSError):
                wire = socket.create_connection(("127.0.0.1", self.port), 1, source_address=source)
                self.tried += 1
                if number % 5 == 0:
                    wire.sendall(b"GET /view HTTP/1.1\r\nHost: 127.0")
                elif number % 7 == 0:
                    wire.sendall(b'POST /pair HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{"a": 1}}')
                held.append(wire)
            if len(held) > 400:
                for old in held[:20]:
                    old.close()
                held = held[20:]
            self.stop.wait(0.001)
        for wire in held:
            wire.close()

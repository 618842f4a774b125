"""Strangers on the network: many addresses, silent and slow sockets, guesses, bent names, old codes."""

from __future__ import annotations

import contextlib
import http.client
import json
import resource
import socket
import threading
from typing import Any

from mixclock.board.server import BoardServer
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse
from tests.faults.table import Counted

CLOCK = SystemClock()
ANSWER_WITHIN_S = 0.5
HANDLES = 700


def hostile_network(trials: int, broken: bool) -> Counted:
    """While strangers do their worst a phone is answered, and a channel gets its handle."""
    counted = Counted()
    strangers: _Strangers | None = None
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (HANDLES, before[1]))
    limits = {"sockets_at_most": 100_000, "sockets_per_address": 100_000} if broken else {}
    server = BoardServer(FakeHouse, CLOCK, port=0, **limits)  # type: ignore[arg-type]
    stop = threading.Event()
    try:
        server.start()
        port = int(server.address.rstrip("/").rpartition(":")[2])
        cookie = _paired(server, port)
        strangers = _Strangers(port, stop)
        strangers.start()
        CLOCK.sleep(2.0)
        for trial in range(trials):
            _one(counted, port, cookie, trial)
    except OSError as error:
        counted.trials += 1
        counted.fail(f"no handle was left: {error}")
    finally:
        stop.set()
        if strangers is not None:
            strangers.join(5)
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
        server.stop()
    return counted


def _one(counted: Counted, port: int, cookie: str, trial: int) -> None:
    counted.trials += 1
    began_s = CLOCK.monotonic_s()
    try:
        status = _ask(
            port, "POST", "/state", {"key": f"key-{trial:08}", "statement": {"verb": "noted", "text": "x"}}, cookie
        )
        if status != 200:
            counted.fail(f"a phone was answered {status}")
    except OSError as error:
        counted.fail(f"a phone was not answered: {error}")
    counted.late(CLOCK.monotonic_s() - began_s, ANSWER_WITHIN_S, "a phone's answer")
    began_s = CLOCK.monotonic_s()
    try:
        handles = [open("/dev/null", "rb") for _ in range(24)]  # noqa: PTH123, SIM115  as a voice and a player need them
        for handle in handles:
            handle.close()
    except OSError as error:
        counted.missed += 1
        counted.wrong.append(f"a channel got no handle: {error}")
    if _ask(port, "GET", "/view", None, cookie, host="evil.example") == 200:
        counted.fail("a bent name was answered")


def _ask(port: int, method: str, path: str, body: Any, cookie: str, host: str = "") -> int:
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    own = host or f"127.0.0.1:{port}"
    headers = {"Host": own, "Origin": f"http://{own}", "Cookie": cookie, "Content-Type": "application/json"}
    try:
        wire.request(method, path, None if body is None else json.dumps(body), headers)
        return wire.getresponse().status
    finally:
        wire.close()


def _paired(server: BoardServer, port: int) -> str:
    secret = server.pairing_url().partition("#pair=")[2]
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    own = f"127.0.0.1:{port}"
    headers = {"Host": own, "Origin": f"http://{own}", "Content-Type": "application/json"}
    wire.request("POST", "/pair", json.dumps({"secret": secret, "device": "phone"}), headers)
    cookie = (wire.getresponse().headers["Set-Cookie"] or "").partition(";")[0]
    wire.close()
    return cookie


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

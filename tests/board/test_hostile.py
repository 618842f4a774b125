"""Pages and programs that mean no good: whatever they send, nothing is stated and the crew's own phone stays quick."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import threading
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import pytest

from mixclock.board.wire import SOCKETS_AT_MOST
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing, studio_plan

CLOCK = SystemClock()
TAPS = 60
AT_ONCE_MS = 200.0
"""What a person takes for at once is a tenth of a second (Miller 1968); twice that is the promise."""
STATEMENT = {"verb": "mixing", "product": "Slow epoxy base", "areas": ["bay 1"], "volume_l": 9}


class Wire:
    """A plain connection that can lie about everything, with the cookie of a paired phone where it has one."""

    def __init__(self, served: Any) -> None:
        self.port, self.own = served.port, f"127.0.0.1:{served.port}"
        self.cookie: str | None = None

    def ask(self, method: str, path: str, body: Any = None, **headers: str | None) -> tuple[int, bytes, Any]:
        """One request with honest headers, unless told otherwise; a header of None is left out."""
        sent: dict[str, str | None] = {"Host": self.own, "Origin": f"http://{self.own}", "Cookie": self.cookie}
        sent["Content-Type"] = "application/json" if body is not None else None
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        packed = body if isinstance(body, bytes) else json.dumps(body).encode() if body is not None else None
        wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            wire.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    wire.putheader(name, value)
            if packed is not None:
                wire.putheader("Content-Length", str(len(packed)))
            wire.endheaders(packed)
            answer = wire.getresponse()
            return answer.status, answer.read(), answer.headers
        finally:
            wire.close()

    def pair(self, served: Any) -> None:
        """Become a paired phone."""
        secret = served.server.pairing_url().partition("#pair=")[2]
        status, _, headers = self.ask("POST", "/pair", {"secret": secret, "device": "phone"})
        assert status == 200
        self.cookie = headers["Set-Cookie"].partition(";")[0]

    def tap(self, statement: Any, key: str = "0123456789ab", **headers: str | None) -> tuple[int, bytes, Any]:
        return self.ask("POST", "/state", {"key": key, "statement": statement}, **headers)


@pytest.fixture
def served(serve: Any) -> Any:
    return serve(FakeHouse(planned=studio_plan(CLOCK.now())), limits={"arrival_s": 1.0})


@pytest.fixture
def wire(served: Any) -> Wire:
    """A phone that is paired: an attack has the cookie too, as a browser would send it along."""
    made = Wire(served)
    made.pair(served)
    return made


def _raw(port: int, sent: bytes, span_s: float = 5.0) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=span_s) as wire:
        try:
            wire.sendall(sent)
            got = b""
            while piece := wire.recv(65536):
                got += piece
        except OSError:
            return b""
        return got


def test_an_honest_tap_is_stated_so_that_the_refusals_below_mean_something(served: Any, wire: Wire) -> None:
    assert wire.tap(STATEMENT)[0] == 200
    assert len(served.house.entries) == 1


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:{port}", "127.0.0.1.evil.example:{port}", "localhost.evil.example:{port}",
     "127.0.0.1", "127.0.0.1:1", "[::1]:{port}", "0.0.0.0:{port}", "127.0.0.2:{port}", "",
     "127.0.0.1:{port}@evil.example", "evil.example#127.0.0.1:{port}", "2130706433:{port}",
     "0x7f000001:{port}", "127.1:{port}"],
)  # fmt: skip
def test_a_name_that_was_bent_to_this_machine_is_not_answered(served: Any, wire: Wire, host: str) -> None:
    told = host.replace("{port}", str(served.port))
    for method, path, body in (("GET", "/view", None), ("GET", "/", None), ("POST", "/state", {})):
        status, answer, _ = wire.ask(method, path, body, Host=told, Origin=f"http://{told}")
        assert status in (400, 421)
        assert b"Pottery" not in answer
    assert served.house.entries == []


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://127.0.0.1:{port}", "http://127.0.0.1", "http://127.0.0.1:1",
     "http://localhost:{port}", "http://127.0.0.1:{port}.evil.example", "HTTP://127.0.0.1:{port}", "file://"],
)  # fmt: skip
def test_a_page_of_somebody_else_states_nothing(served: Any, wire: Wire, origin: str | None) -> None:
    told = origin and origin.replace("{port}", str(served.port))
    for path in ("/state", "/take-back", "/hold", "/drop", "/shown", "/sound-check", "/pair"):
        assert wire.ask("POST", path, {"key": "0123456789ab", "statement": STATEMENT}, Origin=told)[0] == 403
    assert served.house.entries == []


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_browser_that_says_it_comes_from_elsewhere_is_believed(served: Any, wire: Wire, site: str) -> None:
    assert wire.tap(STATEMENT, Sec_Fetch_Site=site)[0] == 403
    assert wire.ask("GET", "/view", Sec_Fetch_Site=site, Origin=None)[0] == 403
    assert wire.ask("GET", "/events", Sec_Fetch_Site=site, Origin=None)[0] == 403
    assert served.house.entries == []


@pytest.mark.parametrize(
    "kind",
    [None, "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/jsonx"],
)
def test_what_a_form_can_post_states_nothing(served: Any, wire: Wire, kind: str | None) -> None:
    assert wire.tap(STATEMENT, Content_Type=kind)[0] == 415
    assert served.house.entries == []


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND"])
def test_nothing_changes_by_anything_but_a_post(served: Any, wire: Wire, method: str) -> None:
    for path in ("/state", "/take-back", "/hold", "/drop", "/pair", "/state?verb=poured&batch=1"):
        assert wire.ask(method, path)[0] == 405
    assert served.house.entries == []
    assert len(json.loads(served.house.settings["board.phones"])) == 1


def test_no_page_may_be_read_from_elsewhere(wire: Wire) -> None:
    for path in ("/", "/static/main.js", "/view"):
        headers = wire.ask("GET", path)[2]
        assert headers["Access-Control-Allow-Origin"] is None
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert headers["X-Frame-Options"] == "DENY"
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["Cache-Control"] == "no-store"


def test_guessing_the_code_is_stopped_after_ten_tries_and_others_still_pair(served: Any) -> None:
    stranger = Wire(served)
    told = [stranger.ask("POST", "/pair", {"secret": f"guess-{n}"})[0] for n in range(14)]
    assert told == [403] * 10 + [429] * 4
    assert "board.phones" not in served.house.settings


def test_guessing_cookies_is_stopped_too_while_a_paired_phone_is_heard(served: Any, wire: Wire) -> None:
    stranger = Wire(served)
    told = []
    for number in range(14):
        stranger.cookie = f"mixclock_{served.port}=guess{number}"
        told.append(stranger.ask("GET", "/view")[0])
    assert told == [401] * 10 + [429] * 4
    assert wire.tap(STATEMENT)[0] == 200


@pytest.mark.parametrize(
    "cookie", [None, "", "x", "mixclock_{port}=", "mixclock_{port}=old", "mixclock_1=abc; ;;=", "\xff=\xfe"]
)
def test_a_wrong_or_old_cookie_gets_nothing(served: Any, cookie: str | None) -> None:
    stranger = Wire(served)
    stranger.cookie = cookie and cookie.replace("{port}", str(served.port))
    for method, path in (("GET", "/view"), ("GET", "/events"), ("GET", "/code.svg"), ("POST", "/state")):
        status, answer, _ = stranger.ask(method, path, {} if method == "POST" else None)
        assert status == 401
        assert b"Pottery" not in answer
    assert served.house.entries == []


@pytest.mark.parametrize(
    "path",
    ["/static/../server.py", "/static/%2e%2e/server.py", "/static/..%2fserver.py", "/static/....//server.py",
     "/static/%252e%252e%252fserver.py", "/static//etc/passwd", "/static/..%5cserver.py", "/static/main.js%00.html",
     "/static/", "/static", "/../../etc/passwd", "/book.sqlite3", "/static/__init__.py", "//evil.example/"],
)  # fmt: skip
def test_no_path_leads_out_of_the_page(wire: Wire, path: str) -> None:
    status, answer, _ = wire.ask("GET", path)
    assert status in (400, 404)
    assert b"root:" not in answer
    assert b"import" not in answer


NONSENSE: list[Any] = [
    b"", b"{", b"[]", b"null", b"1", b'"x"', b"\xff\xfe", b"[" * 8000, b'{"key": NaN}', {"key": 1}, {"key": "short"},
    {"key": "0123456789ab"}, {"key": "0123456789ab", "statement": "poured"}, {"key": "0123456789ab", "statement": {}},
    {"key": "0123456789ab", "statement": {"verb": "withdraw", "entry": 1}},
    {"key": "0123456789ab", "statement": {"verb": "job finish"}},
    {"key": "0123456789ab", "statement": {"verb": "poured", "batch": True}},
    {"key": "0123456789ab", "statement": {"verb": "poured", "batch": "1; DROP TABLE entries"}},
    {"key": "0123456789ab", "statement": {"verb": "poured", "batch": 1, "at": "yesterday"}},
    {"key": "0123456789ab", "statement": {"verb": "reading", "slab_c": 1e400}},
    {"key": "0123456789ab", "statement": {"verb": "noted", "text": "x" * 4000}},
    {"key": "0123456789ab", "statement": {"verb": "noted", "text": "a\x00b"}},
    {"key": "0123456789ab", "statement": STATEMENT, "ago_s": -5},
    {"key": "0123456789ab", "statement": STATEMENT, "at": "soon"},
    {"key": "0123456789ab", "statement": STATEMENT, "at": "2026-04-13T10:00:00"},
]  # fmt: skip


@pytest.mark.parametrize("body", NONSENSE, ids=range(len(NONSENSE)))
def test_nonsense_from_a_paired_phone_is_refused_with_one_line(served: Any, wire: Wire, body: Any) -> None:
    status, answer, _ = wire.ask("POST", "/state", body)
    assert status == 422
    line = json.loads(answer)["refused"]
    assert line
    assert "\n" not in line
    assert served.house.entries == []


def test_a_body_that_is_too_long_is_refused_whether_it_says_so_or_not(served: Any, wire: Wire) -> None:
    assert wire.ask("POST", "/state", b"x" * 20_000)[0] == 413
    head = f"POST /state HTTP/1.1\r\nHost: {wire.own}\r\nOrigin: http://{wire.own}\r\nCookie: {wire.cookie}\r\n"
    head += "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    chunk = b"2000\r\n" + b" " * 0x2000 + b"\r\n"
    got = _raw(served.port, head.encode() + chunk * 20 + b"0\r\n\r\n")
    assert got == b"" or b" 413 " in got.partition(b"\r\n")[0]
    assert served.house.entries == []


@pytest.mark.parametrize("count", [50, pytest.param(200, marks=pytest.mark.long)])
def test_names_with_markup_are_shown_as_text_and_run_nothing(serve: Any, phone: Any, count: int) -> None:
    """Each of the ten forms stands five times; the long form looks at twenty of each."""
    names = [_payload(number) for number in range(count)]
    house = FakeHouse(planned=[])
    served = serve(house)
    shouts = []
    for each in names[:28]:
        house.state(mixing(each), CLOCK.now(), each)
    page = phone(served)
    page.on("dialog", lambda dialog: (shouts.append(dialog.message), dialog.dismiss()))
    for start in range(0, count, 25):
        some = tuple(names[start : start + 25])
        from dataclasses import replace

        house.entries.clear()
        house.job = replace(house.job, job=some[0], areas=some, crew=some)
        house.conditions = {"verdict": some[0], "reasons": list(some[:2])}
        for each in some:
            house.state({**mixing(each), "product": each}, CLOCK.now(), each)
        page.wait_for_function("name => document.querySelector('#job').textContent === name", arg=some[0])
        page.wait_for_selector(".card")
        page.wait_for_selector(".group")
        for alike in page.locator(".group button").filter(has_text="touch for each").all():
            alike.click()
        page.wait_for_function("n => document.querySelectorAll('.card').length === n", arg=len(some))
        page.locator(".number").first.click()
        page.click("#sheet-close")
        page.keyboard.press("w")
        page.click("#sheet-close")
    assert shouts == []
    assert page.evaluate("window.bitten") is None
    assert (
        page.evaluate("document.querySelectorAll('main img, main svg, main iframe, main script, #sheet script').length")
        == 0
    )


def _payload(number: int) -> str:
    forms = (
        "<script>window.bitten={n}</script>", "<img src=x onerror=window.bitten={n}>", "\"><svg onload=alert({n})>",
        "javascript:window.bitten={n}", "{{{{constructor.constructor('window.bitten={n}')()}}}}",
        "<iframe srcdoc='<script>parent.bitten={n}</script>'>", "</title><script>alert({n})</script>",
        "&lt;script&gt;{n}", "'-alert({n})-'", "<a href=//evil.example/{n}>bay</a>",
    )  # fmt: skip
    return forms[number % len(forms)].format(n=number) + f" {number}"


def test_a_header_of_128_mb_is_cut_off_early(served: Any) -> None:
    sent = 0
    with socket.create_connection(("127.0.0.1", served.port), timeout=5) as wire:
        wire.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nX-Long: ".encode())
        try:
            while sent < 128 * 1024 * 1024:
                wire.sendall(b"x" * 1024 * 1024)
                sent += 1024 * 1024
        except OSError:
            pass
    assert sent < 16 * 1024 * 1024


@pytest.mark.parametrize(
    "sent",
    [b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00", b"GET / HTTP/0.9\r\n\r\n",
     b"POST /state HTTP/1.1\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n",
     b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"GET /" + b"a" * 40_000],
)  # fmt: skip
def test_what_is_no_proper_request_is_refused(served: Any, sent: bytes) -> None:
    got = _raw(served.port, sent)
    assert got == b"" or got.startswith((b"HTTP/1.1 4", b"HTTP/1.1 5"))
    assert served.house.entries == []


def test_an_address_gets_twenty_sockets_and_a_request_five_seconds(served: Any) -> None:
    held = [socket.create_connection(("127.0.0.1", served.port), timeout=5) for _ in range(30)]
    try:
        time.sleep(0.4)  # noqa: TID251  real sockets need real time
        assert sum(_is_open(each) for each in held) == 20
        time.sleep(1.2)  # noqa: TID251  the limit is 1 s in this test
        assert sum(_is_open(each) for each in held) == 0
    finally:
        for each in held:
            each.close()


def test_a_request_that_trickles_in_is_cut_off_and_an_idle_phone_is_not(served: Any, wire: Wire) -> None:
    idle = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    idle.request("GET", "/view", headers={"Cookie": wire.cookie or ""})
    assert idle.getresponse().read()
    with socket.create_connection(("127.0.0.1", served.port), timeout=5) as slow:
        for letter in "GET / HTT":
            if not _is_open(slow):
                break
            slow.sendall(letter.encode())
            time.sleep(0.25)  # noqa: TID251  real sockets need real time
        assert not _is_open(slow)
    idle.request("GET", "/view", headers={"Cookie": wire.cookie or ""})
    assert idle.getresponse().status == 200
    idle.close()


def _is_open(wire: socket.socket) -> bool:
    wire.setblocking(False)
    try:
        return wire.recv(1, socket.MSG_PEEK) != b""
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        wire.setblocking(True)


def test_the_crews_phone_stays_quick_while_others_misbehave(served: Any, wire: Wire, serve: Any) -> None:
    """Half of the taps come at once, or beside a board that nobody bothers: a busy machine costs both, and lets one or
    the other wait now and then.
    """
    stop = threading.Event()
    bad = [
        threading.Thread(target=_pester, args=(served.port, stop, how), daemon=True)
        for how in (_silent, _trickle, _guess)
    ]
    other = serve(FakeHouse(planned=studio_plan(CLOCK.now())))
    left_alone = Wire(other)
    left_alone.pair(other)
    for each in bad:
        each.start()
    spans_ms = [(_tap_ms(wire, number), _tap_ms(left_alone, number)) for number in range(TAPS)]
    stop.set()
    for each in bad:
        each.join(5)
    bothered, alone = ([pair[side] for pair in spans_ms] for side in (0, 1))
    assert len(served.house.entries) == len(other.house.entries) == TAPS
    assert median(bothered) < max(AT_ONCE_MS, 3 * median(alone)), (median(bothered), median(alone))


def _tap_ms(wire: Wire, number: int) -> float:
    began = time.perf_counter()
    assert wire.tap({"verb": "noted", "text": f"note {number}"}, key=f"key-{number:08d}")[0] == 200
    return 1000 * (time.perf_counter() - began)


def _pester(port: int, stop: threading.Event, how: Callable[[int], None]) -> None:
    while not stop.is_set():
        try:
            how(port)
        except OSError:
            stop.wait(0.05)


def _from_elsewhere(port: int, phone: int) -> socket.socket:
    """Other addresses of this machine stand for other phones of the network."""
    return socket.create_connection(("127.0.0.1", port), timeout=2, source_address=(f"127.0.0.{phone}", 0))


def _silent(port: int) -> None:
    held = [_from_elsewhere(port, 9) for _ in range(25)]
    time.sleep(0.3)  # noqa: TID251  real sockets need real time
    for each in held:
        each.close()


def _trickle(port: int) -> None:
    with _from_elsewhere(port, 10) as wire:
        for letter in b"GET /view HTTP/1.1\r\n":
            wire.sendall(bytes([letter]))
            time.sleep(0.02)  # noqa: TID251  real sockets need real time


def _guess(port: int) -> None:
    with _from_elsewhere(port, 11) as wire:
        body = b'{"secret": "guess"}'
        head = f"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\n"
        wire.sendall(head.encode() + b"Content-Type: application/json\r\nContent-Length: 19\r\n\r\n" + body)
        wire.recv(4096)


def test_no_secret_is_written_to_a_log(served: Any, wire: Wire, caplog: Any) -> None:
    caplog.set_level(0)
    secret = served.server.pairing_url().partition("#pair=")[2]
    Wire(served).ask("POST", "/pair", {"secret": "wrong"})
    other = Wire(served)
    other.pair(served)
    wire.ask("GET", "/view")
    token = (wire.cookie or "").partition("=")[2]
    for text in (caplog.text, json.dumps(served.house.settings)):
        assert secret not in text
        assert token not in text


def test_the_server_stops_within_two_seconds_with_a_stream_open(served: Any, wire: Wire) -> None:
    with socket.create_connection(("127.0.0.1", served.port), timeout=5) as stream:
        stream.sendall(f"GET /events HTTP/1.1\r\nHost: {wire.own}\r\nCookie: {wire.cookie}\r\n\r\n".encode())
        assert b"event: hello" in stream.recv(65536) + stream.recv(65536)
        began = time.perf_counter()
        served.down()
        assert time.perf_counter() - began < 2.0


@pytest.mark.parametrize(
    "body",
    [
        b'{"key": "0123456789ab", "statement": {"verb": "noted", "text": "\\ud800"}}',
        b'{"key": "0123456789ab", "by": "\\udfff", "statement": {"verb": "noted", "text": "x"}}',
        b'{"key": "0123456789ab", "at": "0001-01-01T00:00:00+14:00", "statement": {"verb": "noted", "text": "x"}}',
        b'{"key": "0123456789ab", "ago_s": NaN, "statement": {"verb": "noted", "text": "x"}}',
        b'{"key": "0123456789ab", "statement": {"verb": "noted"}}',
        b'{"key": "0123456789ab", "statement": {"verb": "mixing", "product": "x", "areas": [[]]}}',
    ],
)
def test_a_tap_that_cannot_be_taken_is_refused_so_that_the_next_one_gets_its_turn(
    served: Any, wire: Wire, body: bytes
) -> None:
    status, answer, _ = wire.ask("POST", "/state", body)
    assert status == 422
    assert json.loads(answer)["refused"]
    assert wire.tap(STATEMENT)[0] == 200


def test_a_defect_of_ours_is_an_answer_and_shown(served: Any, wire: Wire) -> None:
    def breaks() -> None:
        raise KeyError("a defect")

    served.house.fail = breaks
    assert wire.tap(STATEMENT)[0] == 422
    served.house.fail = None
    assert wire.tap(STATEMENT, key="another-key-1")[0] == 200


def test_a_stranger_with_eighty_addresses_takes_no_handle_that_the_channels_need(served: Any, wire: Wire) -> None:
    known = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    known.request("GET", "/view", headers={"Cookie": wire.cookie or ""})
    assert known.getresponse().read()
    held = []
    try:
        for address in range(2, 82):
            for _ in range(20):
                with contextlib.suppress(OSError):
                    source = (f"127.0.1.{address}", 0)
                    held.append(socket.create_connection(("127.0.0.1", served.port), 5, source_address=source))
        began = time.perf_counter()
        assert wire.tap(STATEMENT)[0] == 200
        assert time.perf_counter() - began < 0.5
        assert sum(_is_open(each) for each in held) <= SOCKETS_AT_MOST
        known.request("GET", "/view", headers={"Cookie": wire.cookie or ""})
        assert known.getresponse().status == 200, "a phone that is known keeps its socket"
    finally:
        known.close()
        for each in held:
            each.close()

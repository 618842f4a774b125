"""Guards the board: decides who may ask at all, and what each answer forbids the browser.

A foreign web page in somebody's browser can send requests here, and can make a name of its own point to this machine.
The browser's own headers give both away. The Host must be the address on which this very connection came in, never a
name. A request that changes something must come from a page of this board.
"""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
from collections.abc import Awaitable, Callable, Iterable, Mapping
from email.utils import formatdate
from typing import Any

from mixclock.board.doors import PHOTO_BODY_AT_MOST
from mixclock.outside.clock import SystemClock

Scope = dict[str, Any]
Receive = Callable[[], Awaitable[Mapping[str, Any]]]
Send = Callable[[Mapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

BODY_BYTES_AT_MOST = 16_384
READ_AWAY_S = 1.0
"""How long the rest of a refused request is waited for (judgement)."""

_HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy",
     b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; connect-src 'self'; "
     b"manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)  # fmt: skip


class Guard:
    """ASGI middleware that refuses what does not come from a page of this board."""

    def __init__(self, app: App) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer with one line why not."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        guarded = _with_headers(send)
        if scope["type"] != "http":
            return
        refusal = refusal_of(scope)
        if refusal is not None:
            await _read_away(_counted(receive))
            await _answer(guarded, *refusal)
            return
        await self._app(scope, _counted(receive, bytes_at_most(scope)), guarded)


def refusal_of(scope: Scope) -> tuple[int, str] | None:
    """Why to refuse a request before reading it, as a status and a line; None to let it in."""
    headers = scope["headers"]
    host = _only(headers, b"host")
    if host is None or not host_is_ours(host, scope.get("server")):
        return 421, "this board answers only to its own address, as the laptop's code shows it"
    if scope["method"] not in ("GET", "HEAD", "POST"):
        return 405, "only GET and POST are answered here"
    origin, site = _only(headers, b"origin"), _only(headers, b"sec-fetch-site")
    if sum(1 for each, _ in headers if each == b"origin") > 1 or (origin is not None and origin != f"http://{host}"):
        return 403, "another page may not talk to this board"
    if site is not None and site not in ("same-origin", "none") and not _is_plain_visit(scope):
        return 403, "another page may not talk to this board"
    return _refusal_of_post(scope, origin) if scope["method"] == "POST" else None


def host_is_ours(host: str, server: tuple[str, int | None] | None) -> bool:
    """Whether a Host header is the address and port at which the connection came in; a name never is.

    >>> host_is_ours("192.168.43.5:8377", ("192.168.43.5", 8377)), host_is_ours("localhost:8377", ("127.0.0.1", 8377))
    (True, True)
    >>> host_is_ours("evil.example:8377", ("127.0.0.1", 8377)), host_is_ours("127.0.0.1:80", ("127.0.0.1", 8377))
    (False, False)
    """
    if server is None or server[1] is None:
        return False
    name, _, port = host.rpartition(":")
    if port != str(server[1]):
        return False
    try:
        arrived = ipaddress.ip_address(server[0])
        return arrived.is_loopback if name == "localhost" else ipaddress.ip_address(name.strip("[]")) == arrived
    except ValueError:
        return False


def _is_plain_visit(scope: Scope) -> bool:
    """Whether somebody opens the page from a link or a scanned code. That gives only the empty page."""
    is_page = scope["method"] == "GET" and scope["path"] == "/"
    return is_page and _only(scope["headers"], b"sec-fetch-dest") == "document"


def _refusal_of_post(scope: Scope, origin: str | None) -> tuple[int, str] | None:
    # a sensor is no page: it brings its own key, which no browser would add by itself
    if origin is None and not (scope["path"] == "/readings" and _only(scope["headers"], b"authorization")):
        return 403, "a statement must come from a page of this board"
    kind = (_only(scope["headers"], b"content-type") or "").partition(";")[0].strip().lower()
    if kind != "application/json":
        return 415, "a statement must be JSON"
    length = _only(scope["headers"], b"content-length")
    most = bytes_at_most(scope)
    if length is not None and (not length.isdigit() or int(length) > most):
        return 413, f"a statement may have {most} bytes at most"
    return None


async def _read_away(receive: Receive) -> None:
    """Read the rest of a refused request. Closing on unread bytes would cut the reader off before our answer."""
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(READ_AWAY_S):
            while (message := await receive())["type"] == "http.request" and message.get("more_body"):
                pass


def bytes_at_most(scope: Scope) -> int:
    """How long the body of a request may be."""
    return PHOTO_BODY_AT_MOST if scope["path"] == "/photo" else BODY_BYTES_AT_MOST


def _counted(receive: Receive, most: int = BODY_BYTES_AT_MOST) -> Receive:
    taken = 0

    async def counted() -> Mapping[str, Any]:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            return {"type": "http.disconnect"}
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def guarded(message: Mapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in _HEADERS}
            kept = [pair for pair in message.get("headers", ()) if pair[0].lower() not in own]
            dated = (b"date", formatdate(SystemClock().now().timestamp(), usegmt=True).encode())
            message = {**message, "headers": [dated, *kept, *_HEADERS]}
        await send(message)

    return guarded


async def _answer(send: Send, status: int, line: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": line.encode()})


def _only(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> str | None:
    """The one value of a header; None where it is missing or stands twice."""
    values = [value for each, value in headers if each == name]
    return values[0].decode("latin-1") if len(values) == 1 else None

"""Limits the board's connections: how many sockets an address may hold, how long a request may take to arrive.

uvicorn has no limit of either kind. Without them, sixty sockets that say nothing keep everybody else out.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections import Counter
from typing import Any, ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

SOCKETS_PER_ADDRESS = 20
SOCKETS_AT_MOST = 200
"""For all addresses together, so that the channels never want for handles. Where more come, the oldest that no paired
phone has asked on makes room: a stranger with many addresses crowds out strangers alone."""

ACCEPTED_AT_ONCE = 16
ARRIVAL_S = 5.0
HEADER_BYTES_AT_MOST = 16_384
_SILENT_PEER_MS = 20_000


class LimitedProtocol(H11Protocol):
    """HTTP/1.1 that drops a request which does not arrive in time, and an address that holds too many sockets."""

    sockets_at_most: ClassVar[int] = SOCKETS_PER_ADDRESS
    arrival_s: ClassVar[float] = ARRIVAL_S
    held: ClassVar[Counter[str]] = Counter()
    altogether: ClassVar[int] = SOCKETS_AT_MOST
    open: ClassVar[dict[LimitedProtocol, None]] = {}
    known: ClassVar[set[tuple[str, int]]] = set()

    _arrival: asyncio.TimerHandle | None = None
    _counted: str | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Count the socket, and start waiting for a request."""
        super().connection_made(transport)
        self._counted = self.client[0] if self.client else ""
        self.held[self._counted] += 1
        self.open[self] = None
        if self.held[self._counted] > self.sockets_at_most or not self._makes_room():
            transport.abort()
            return
        _drop_silent_peer(transport)
        self._await_request()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the socket."""
        self._arrived()
        if self._counted is not None:
            self.held[self._counted] -= 1
            if not self.held[self._counted]:
                del self.held[self._counted]
            self._counted = None
        self.open.pop(self, None)
        if self.client is not None:
            self.known.discard(self.client)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take in a piece of a request. The first piece of the next request starts the wait anew."""
        if self._arrival is None and self._is_between_requests():
            self._await_request()
        super().data_received(data)

    def handle_events(self) -> None:
        """Stop the wait as soon as the whole request is here, with its body."""
        super().handle_events()
        if not self._is_between_requests() and not self.cycle.more_body:
            self._arrived()

    def _makes_room(self) -> bool:
        """Whether there is room for this socket, perhaps because a stranger's was closed for it."""
        if len(self.open) <= self.altogether:
            return True
        for other in self.open:
            if other is not self and other.client not in self.known:
                other.transport.abort()
                del self.open[other]
                return True
        return False

    def _is_between_requests(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _await_request(self) -> None:
        self._arrival = self.loop.call_later(self.arrival_s, self._too_slow)

    def _arrived(self) -> None:
        if self._arrival is not None:
            self._arrival.cancel()
            self._arrival = None

    def _too_slow(self) -> None:
        self._arrival = None
        if not self.transport.is_closing():
            self.transport.abort()


def limited_protocol(
    sockets_at_most: int = SOCKETS_PER_ADDRESS, arrival_s: float = ARRIVAL_S, altogether: int = SOCKETS_AT_MOST
) -> type[LimitedProtocol]:
    """A protocol class with its own limits and its own count of sockets, for one server.

    Its `known` holds the sockets on which a paired phone asked.
    """
    own = {
        "sockets_at_most": sockets_at_most,
        "arrival_s": arrival_s,
        "held": Counter(),
        "altogether": altogether,
        "open": {},
        "known": set(),
    }
    return type("LimitedProtocol", (LimitedProtocol,), own)


def _drop_silent_peer(transport: asyncio.Transport) -> None:
    """Free the socket of a phone that walked out of range after 20 s, where the system can."""
    peer: Any = transport.get_extra_info("socket")
    option = getattr(socket, "TCP_USER_TIMEOUT", None)
    if peer is not None and option is not None:
        with contextlib.suppress(OSError):
            peer.setsockopt(socket.IPPROTO_TCP, option, _SILENT_PEER_MS)

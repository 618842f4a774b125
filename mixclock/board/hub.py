"""What every phone is sent: the newest view whenever it changed, and a beat every second.

A slow phone never holds up another: each stream keeps only the newest view that it has not sent yet.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Mapping
from typing import Any

BEAT_S = 1.0
STREAMS_PER_PHONE = 4


class Stream:
    """One open event stream of one phone."""

    def __init__(self, phone: str, page: str = "") -> None:
        self.phone, self.page = phone, page
        self._waiting: dict[str, str] = {}
        self._news = asyncio.Event()
        self._ended: str | None = None

    def offer(self, event: str, data: str) -> None:
        """Put an event in line; a newer one of the same name takes the older one's place."""
        self._waiting[event] = data
        self._news.set()

    def end(self, why: str) -> None:
        """Close the stream after telling the page why: `bye`, `poll` or `dropped`."""
        self._ended = why
        self._news.set()

    async def events(self) -> AsyncIterator[bytes]:
        """The stream's bytes until it is ended."""
        while True:
            await self._news.wait()
            self._news.clear()
            waiting, self._waiting = self._waiting, {}
            for event, data in waiting.items():
                yield _framed(event, data)
            if self._ended is not None:
                yield _framed(self._ended, "{}")
                return


class Hub:
    """The open streams, and the newest view for whoever asks."""

    def __init__(self) -> None:
        self._streams: list[Stream] = []
        self.view: Mapping[str, Any] = {}
        self.seal = 0  # counts the views: a poll that names the newest one is told that nothing changed
        self.closing = False

    @property
    def watched(self) -> bool:
        """Whether anybody is looking."""
        return bool(self._streams)

    def open(self, phone: str, page: str = "") -> Stream:
        """A new stream; a phone's oldest one is asked to poll where it has too many tabs for its browser."""
        stream = Stream(phone, page)
        if self.closing:
            stream.end("bye")
            return stream
        own = [each for each in self._streams if each.phone == phone]
        if len(own) >= STREAMS_PER_PHONE:
            own[0].end("poll")
            self._streams.remove(own[0])
        self._streams.append(stream)
        if self.view:
            stream.offer("view", self._packed())
        return stream

    def leave(self, stream: Stream) -> None:
        """A stream is gone."""
        if stream in self._streams:
            self._streams.remove(stream)

    def show(self, view: Mapping[str, Any]) -> bool:
        """Send a view to everybody if it is not what they have; whether it was news."""
        if view == self.view:
            return False
        self.view, self.seal = view, self.seal + 1
        self.send("view", self._packed())
        return True

    def send(self, event: str, data: str) -> None:
        """Send an event to every stream."""
        for stream in self._streams:
            stream.offer(event, data)

    def drop(self, phone: str) -> None:
        """End the streams of a phone that was dropped."""
        for stream in [each for each in self._streams if each.phone == phone]:
            stream.end("dropped")
            self._streams.remove(stream)

    def close(self) -> None:
        """End all streams: a server with an open one never stops."""
        self.closing = True
        for stream in self._streams:
            stream.end("bye")
        self._streams = []

    def _packed(self) -> str:
        return json.dumps({**self.view, "seal": self.seal}, ensure_ascii=False, separators=(",", ":"))


def _framed(event: str, data: str) -> bytes:
    return f"event: {event}\ndata: {data}\n\n".encode()

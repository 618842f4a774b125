"""Sends every phone the newest view whenever it changed, and a beat every second.

A slow phone never holds up another: each stream keeps only the newest view that it has not sent yet.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Mapping
from typing import Any

BEAT_S = 1.0
IDLE_BEAT_S = 2.0
"""Where nothing on any page changes by the second, every second beat is left out. A page doubts after 5 s."""

STREAMS_PER_PHONE = 4


def next_turn(now_s: float, every_s: float) -> float:
    """When to do again what is done so often. Beats fall on looks, so that one waking serves both.

    >>> next_turn(7.1, 0.25), next_turn(7.25, 0.25), next_turn(7.1, 1.0)
    (7.25, 7.5, 8.0)
    """
    return (now_s // every_s + 1.0) * every_s


class Stream:
    """One open event stream of one phone."""

    def __init__(self, phone: str, page: str = "", job: str | None = None) -> None:
        self.phone, self.page, self.job = phone, page, job
        self._waiting: dict[str, str] = {}
        self._words: dict[int, str] = {}
        self._news = asyncio.Event()
        self._ended: str | None = None

    def offer(self, event: str, data: str) -> None:
        """Put an event in line. It takes the place of an older one of the same name."""
        self._waiting[event] = data
        self._news.set()

    def offer_word(self, number: int, data: str) -> None:
        """Put what was stated in line, before the view that holds it."""
        self._words[number] = data
        self._news.set()

    def offer_view(self, data: str, words: int) -> None:
        """Put a view in line. What was stated up to that word stands in it."""
        self._words = {number: word for number, word in self._words.items() if number > words}
        self.offer("view", data)

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
            words, self._words = self._words, {}
            for data in words.values():
                yield _framed("stated", data)
            for event, data in waiting.items():
                yield _framed(event, data)
            if self._ended is not None:
                yield _framed(self._ended, "{}")
                return


class Hub:
    """The open streams, and the newest view for whoever asks."""

    def __init__(self) -> None:
        self._streams: list[Stream] = []
        self._views: dict[str | None, Mapping[str, Any]] = {}
        self.seals: dict[str | None, int] = {}  # the number of the view: a poll that names the newest one gets no view
        self._holds: dict[str | None, int] = {}  # the number of the last word that stands in the view
        self._sealed = 0
        self.closing = False

    @property
    def watched(self) -> bool:
        """Whether anybody is looking."""
        return bool(self._streams)

    @property
    def jobs(self) -> tuple[str | None, ...]:
        """The jobs that somebody looks at; None stands for the one in use."""
        return tuple(dict.fromkeys(stream.job for stream in self._streams))

    def shows(self, job: str) -> bool:
        """Whether any page shows that job. The view of a page that follows the job in use names the job."""
        in_use = self.view(None).get("job", job)  # a page without its first view may show it yet
        return any(stream.job == job or (stream.job is None and in_use == job) for stream in tuple(self._streams))

    def view(self, job: str | None = None) -> Mapping[str, Any]:
        """The newest view of a job; empty before the first."""
        return self._views.get(job, {})

    def seal(self, job: str | None = None) -> int:
        """The number of that view."""
        return self.seals.get(job, 0)

    def sealed(self, job: str | None = None) -> Mapping[str, Any]:
        """The newest view of a job with its number, and that of the last word in it."""
        return {**self.view(job), "seal": self.seal(job), "words": self._holds.get(job, 0)}

    def open(self, phone: str, page: str = "", job: str | None = None) -> Stream:
        """Open a stream. Where a phone has too many tabs for its browser, its oldest one is asked to poll."""
        stream = Stream(phone, page, job)
        if self.closing:
            stream.end("bye")
            return stream
        own = [each for each in self._streams if each.phone == phone]
        if len(own) >= STREAMS_PER_PHONE:
            own[0].end("poll")
            self._streams.remove(own[0])
        self._streams.append(stream)
        if self.view(job):
            stream.offer_view(self._packed(job), self._holds.get(job, 0))
        return stream

    def leave(self, stream: Stream) -> None:
        """Forget a stream that is gone."""
        if stream in self._streams:
            self._streams.remove(stream)

    def show(self, view: Mapping[str, Any], job: str | None = None, words: int | None = None) -> bool:
        """Send a job's view to every page that shows the job, if it differs from the last. Tells whether it did.

        `words` is the number of the last first word that stands in it; where none is told, that of the view before.
        """
        held = self._holds.get(job, 0)
        words = held if words is None else words
        if view == self.view(job) and words == held:
            return False
        self._sealed += 1
        self._views[job], self.seals[job], self._holds[job] = view, self._sealed, words
        packed = self._packed(job)
        for stream in self._streams:
            if stream.job == job:
                stream.offer_view(packed, words)
        return True

    def say(self, job: str, number: int, data: str, by: str = "") -> None:
        """Send what was just stated in a job to every page that shows the job; last to the phone that stated it, which
        knows it already."""
        for stream in sorted(self._streams, key=lambda stream: stream.phone == by):
            if stream.job == job or (stream.job is None and self.view(None).get("job") == job):
                stream.offer_word(number, data)

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
        """End all streams, because a server with an open stream never stops."""
        self.closing = True
        for stream in self._streams:
            stream.end("bye")
        self._streams = []

    def _packed(self, job: str | None) -> str:
        return json.dumps(self.sealed(job), ensure_ascii=False, separators=(",", ":"))


def _framed(event: str, data: str) -> bytes:
    return f"event: {event}\ndata: {data}\n\n".encode()

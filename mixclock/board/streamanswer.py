"""The answer that is an event stream: it ends with its stream, or as soon as its phone is gone.

Starlette's own answer of this kind starts two tasks of anyio for each stream. That is a megabyte of modules which an
idle laptop holds all day, and some more turns of the loop for each beat.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from mixclock.board.hub import Stream


class StreamAnswer(Response):
    """Sends what a stream is offered, each piece at once."""

    def __init__(self, stream: Stream, gone: Callable[[Stream], None]) -> None:
        """`gone` is called when the stream has ended, whoever ended it."""
        self._stream, self._gone = stream, gone
        self.init_headers({"content-type": "text/event-stream; charset=utf-8"})  # and no length

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG002  as ASGI has it
        """Send until the stream is ended or the phone is gone."""
        listening = asyncio.create_task(self._end_with_phone(receive))
        try:
            await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
            async for piece in self._stream.events():
                await send({"type": "http.response.body", "body": piece, "more_body": True})
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            listening.cancel()
            self._gone(self._stream)

    async def _end_with_phone(self, receive: Receive) -> None:
        while (await receive())["type"] != "http.disconnect":
            pass
        self._stream.end("bye")

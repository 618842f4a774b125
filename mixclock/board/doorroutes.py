"""The routes of the doors beside the page."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from mixclock.board.desk import Desk
from mixclock.board.doors import read_photo
from mixclock.board.house import DoorHouse, RefusedError
from mixclock.board.phones import Phone
from mixclock.job.sensorreading import EXAMPLE

_CALENDAR = "text/calendar; charset=utf-8"
_BEARER = "bearer "


class DoorRoutes:
    """Calendars and sensors bring the secret; a picture comes from a paired phone."""

    def __init__(self, desk: Desk, address_at: Callable[[str], str]) -> None:
        """`address_at` gives the board's address for others, from the host under which a page was opened."""
        self._desk, self._address_at = desk, address_at

    def open_routes(self) -> list[Route]:
        """The routes that need no cookie."""
        return [
            Route("/floor/{key}.ics", self._calendar),
            Route("/readings", self._reading, methods=["POST"]),
        ]

    async def _calendar(self, request: Request) -> Response:
        refusal = self._refusal(request, request.path_params["key"])
        if refusal is not None:
            return refusal
        now = self._desk.clock.now()
        found = await self._desk.ask(lambda: self._doors().calendar(now))
        return Response(found, media_type=_CALENDAR) if found else _line(404, "no job is in use")

    async def _reading(self, request: Request) -> Response:
        said = request.headers.get("authorization", "")
        refusal = self._refusal(request, said[len(_BEARER) :] if said.lower().startswith(_BEARER) else "")
        if refusal is not None:
            return refusal
        try:
            told = json.loads(await request.body())
            if not isinstance(told, dict):
                return _line(422, f"expected one JSON object, such as {EXAMPLE}")
            now = self._desk.clock.now()
            answer = await self._desk.ask(lambda: self._doors().take_reading(told, now))
        except ClientDisconnect:
            return _line(413, "that was too long, or did not arrive")
        except (ValueError, RecursionError) as wrong:
            return _line(422, str(wrong) if isinstance(wrong, RefusedError) else f"expected JSON, such as {EXAMPLE}")
        self._tell(answer)
        return JSONResponse(answer)

    async def photo(self, request: Request, phone: Phone) -> Response:
        """A picture from a phone, tied to an area or a batch."""
        try:
            told = json.loads(await request.body())
        except (ValueError, RecursionError):
            raise RefusedError("that is not JSON") from None
        if not isinstance(told, dict):
            raise RefusedError("a JSON object is needed")
        photo, now = read_photo(told), self._desk.clock.now()
        answer = await self._desk.ask(lambda: self._doors(phone).take_photo(photo, now, phone.holder))
        self._desk.changed()
        return JSONResponse({"entry": answer.entry, "said": answer.said})

    async def addresses(self, request: Request, _: Phone) -> Response:
        """The addresses for a calendar and a sensor, shown on a paired page."""
        from mixclock.words.calendar import MAY_STAY_SILENT

        at = self._address_at(request.headers["host"])
        key = self._desk.door_key.value
        return JSONResponse(
            {
                "calendar": f"{at}/floor/{key}.ics",
                "silent": MAY_STAY_SILENT,
                "readings": f"{at}/readings",
                "header": f"Authorization: Bearer {key}",
                "example": EXAMPLE,
            }
        )

    def _tell(self, answer: Mapping[str, Any]) -> None:
        """Show the crew a reading that was held back."""
        held, sensor = answer["held_back"], answer["sensor"]
        self._desk.sensor_said(sensor, f"sensor {sensor}: {held}. Held back: look at the sensor" if held else None)
        if answer["entry"] is not None:
            self._desk.changed()

    def _doors(self, phone: Phone | None = None) -> DoorHouse:
        doors = (self._desk.house_of(phone) if phone is not None else self._desk.house).doors
        if doors is None:
            raise RefusedError("this board has no doors")
        return doors

    def _refusal(self, request: Request, key: str) -> Response | None:
        address, now = request.client.host if request.client else "", self._desk.clock.now()
        if self._desk.guesses.too_many(address, now):
            return _line(429, "too many wrong keys from here: wait a minute")
        if self._desk.door_key.fits(key):
            return None
        self._desk.guesses.wrong(address, now)
        return _line(401, "the key is not right: look under More, Calendar and sensors")


def _line(status: int, line: str) -> Response:
    return JSONResponse({"refused": line}, status_code=status)

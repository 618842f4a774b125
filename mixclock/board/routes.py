"""The board's answers: a page, a view, a stream of events, and the few things that a phone may ask for."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from mixclock.board.cuptaps import read_cup
from mixclock.board.desk import Desk
from mixclock.board.doorroutes import DoorRoutes
from mixclock.board.guard import Guard
from mixclock.board.house import RefusedError
from mixclock.board.hub import Stream
from mixclock.board.office import OFFICE
from mixclock.board.pages import load_pages
from mixclock.board.phones import LapsedError, Phone
from mixclock.board.qr import picture_code
from mixclock.board.streamanswer import StreamAnswer
from mixclock.board.taps import read_tap, read_when
from mixclock.values import replace

_COOKIE_LASTS_S = 90 * 24 * 3600
_THIS_MACHINE = ("127.0.0.1", "::1", "")
LOOKING = ("/hold", "/shown", "/sound-check")
"""What a phone may send that only looks."""

KEYS = ("/doors", "/code.svg")
"""What lets others state something: no phone gets it that only looks."""

SILENT = "The watch on the laptop is silent: nobody is called out."

Handler = Callable[[Request, Phone], Awaitable[Response]]


class Board:
    """The routes, joined to a desk. `pairing_url` gives the address with the next one-time secret."""

    def __init__(
        self, desk: Desk, port: int, pairing_url: Callable[[str], str], knows: Callable[[tuple[str, int]], None]
    ) -> None:
        """`knows` takes each socket on which a paired phone asks."""
        self._desk, self._pairing_url, self._knows = desk, pairing_url, knows
        self._cookie = f"mixclock_{port}"
        self._pages = load_pages()

    def app(self) -> Guard:
        """The guarded application."""
        paired, doors = self._paired, DoorRoutes(self._desk, self._address)
        routes = [
            *doors.open_routes(),
            Route("/photo", paired(doors.photo), methods=["POST"]),
            Route("/doors", paired(doors.addresses)),
            Route("/", self._page),
            Route("/office", paired(self._office)),
            Route("/static/{name}", self._file),
            Route("/pair", self._pair, methods=["POST"]),
            Route("/view", paired(self._view)),
            Route("/events", paired(self._events)),
            Route("/code.svg", paired(self._code)),
            Route("/state", paired(self._state), methods=["POST"]),
            Route("/rounds", paired(self._rounds)),
            Route("/next", paired(self._next), methods=["POST"]),
            Route("/take-back", paired(self._take_back), methods=["POST"]),
            Route("/cup", paired(self._cup), methods=["POST"]),
            Route("/hold", paired(self._hold), methods=["POST"]),
            Route("/drop", paired(self._drop), methods=["POST"]),
            Route("/shown", paired(self._shown), methods=["POST"]),
            Route("/sound-check", paired(self._sound_check), methods=["POST"]),
        ]
        return Guard(Starlette(routes=routes))  # type: ignore[arg-type]

    def _address(self, host: str) -> str:
        return self._pairing_url(host).partition("#")[0].rstrip("/")

    def _paired(self, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        async def checked(request: Request) -> Response:
            phone = self._phone(request)
            if isinstance(phone, Response):
                return phone
            if phone.holder == OFFICE and _is_more_than_looking(request):
                return _line(403, "this is the office's phone, which only looks: say first who holds it")
            try:
                return await handler(request, phone)
            except RefusedError as refused:
                return _line(422, str(refused))
            except ClientDisconnect:
                return _line(413, "that was too long, or did not arrive")
            except Exception as defect:  # a phone without an answer asks for ever, and its later taps wait
                self._desk.defect(f"{request.url.path} of a phone: {type(defect).__name__}: {defect}")
                return _line(422, f"this could not be taken ({type(defect).__name__}): state it on the laptop")

        return checked

    def _phone(self, request: Request) -> Phone | Response:
        token, address, now = request.cookies.get(self._cookie), _address(request), self._desk.clock.now()
        phone = self._desk.phones.of_token(token) if token else None
        if phone is not None:
            if request.client is not None:
                self._knows((request.client.host, request.client.port))
            return phone
        if self._desk.guesses.too_many(address, now):
            return _line(429, "too many wrong codes from this phone: wait a minute")
        if token:
            self._desk.guesses.wrong(address, now)
        return _line(401, "this phone is not paired: scan the code that the laptop shows")

    async def _page(self, _: Request) -> Response:
        return self._named("index.html")

    async def _file(self, request: Request) -> Response:
        return self._named(request.path_params["name"])

    def _named(self, name: str) -> Response:
        if name not in self._pages:
            return _line(404, "there is no such page")
        content, kind = self._pages[name]
        return Response(content, media_type=kind)

    async def _pair(self, request: Request) -> Response:
        desk, address, now = self._desk, _address(request), self._desk.clock.now()
        if (known := desk.phones.of_token(request.cookies.get(self._cookie, ""))) is not None:
            return JSONResponse({"phone": known.id})
        if desk.guesses.too_many(address, now):
            return _line(429, "too many wrong codes from this phone: wait a minute")
        try:
            body = await _body(request)
            secret, device = str(body.get("secret", ""))[:200], str(body.get("device", ""))
            phone, token = await desk.ask(lambda: desk.phones.pair(secret, device, now, self._job_for(address)))
        except ClientDisconnect:
            return _line(413, "that was too long, or did not arrive")
        except LapsedError as lapsed:
            desk.lapsed()
            return _line(403, str(lapsed))
        except RefusedError as refused:
            desk.guesses.wrong(address, now)
            return _line(403, str(refused))
        return self._let_in(phone, token)

    def _job_for(self, address: str) -> str | None:
        """A phone that comes over the network belongs to the job in use when it was paired; the laptop's own page
        follows the laptop."""
        return None if address in _THIS_MACHINE else self._desk.house.floor().job

    def _let_in(self, phone: Phone, token: str) -> Response:
        answer = JSONResponse({"phone": phone.id})
        answer.set_cookie(self._cookie, token, max_age=_COOKIE_LASTS_S, path="/", httponly=True, samesite="strict")
        self._desk.changed()
        self._desk.paired()
        return answer

    async def _office(self, _: Request, __: Phone) -> Response:
        desk = self._desk
        silent = "" if desk.daemon_alive() else SILENT
        trouble = " · ".join(filter(None, (silent, json.loads(desk.beat())["trouble"])))
        page = await desk.ask(lambda: desk.house.office(desk.clock.now(), trouble))
        return Response(page, media_type="text/html; charset=utf-8")

    async def _view(self, request: Request, phone: Phone) -> Response:
        job = self._desk.job_of(phone)
        await self._desk.current_view(job)
        seal = self._desk.hub.seal(job)
        body = {"beat": json.loads(self._desk.beat()), "phone": phone.id, "holder": phone.holder}
        if request.headers.get("x-seal") != str(seal):
            body["view"] = self._desk.hub.sealed(job)
        return JSONResponse(body)

    async def _events(self, request: Request, phone: Phone) -> Response:
        stream = self._desk.hub.open(phone.id, request.query_params.get("page", "")[:40], self._desk.job_of(phone))
        stream.offer("hello", json.dumps({"phone": phone.id, "holder": phone.holder}))
        stream.offer("beat", self._desk.beat())
        self._desk.changed()
        return StreamAnswer(stream, self._stream_gone)

    def _stream_gone(self, stream: Stream) -> None:
        self._desk.hub.leave(stream)
        self._desk.receipts.gone(stream.phone, stream.page)

    async def _code(self, request: Request, _: Phone) -> Response:
        address = self._pairing_url(request.headers["host"])
        return Response(picture_code(address), media_type="image/svg+xml")

    async def _state(self, request: Request, phone: Phone) -> Response:
        tap = read_tap(await _body(request))
        tap = tap if tap.job is not None else replace(tap, job=self._desk.job_of(phone))
        answer, again = await self._desk.state(tap, tap.by or phone.holder, phone.id)
        told = {"entry": answer.entry, "said": answer.said, "batch": answer.batch, "again": again}
        minded = {"look_out": answer.look_out, "cautions": answer.cautions, "moved": answer.moved}
        return JSONResponse({**told, **{name: list(lines) for name, lines in minded.items()}})

    async def _rounds(self, _: Request, phone: Phone) -> Response:
        now, desk = self._desk.clock.now(), self._desk
        return JSONResponse(await desk.ask(lambda: desk.house_of(phone).rounds(now)))

    async def _next(self, request: Request, phone: Phone) -> Response:
        await _body(request)
        told = await self._desk.ask_next_kit(phone)
        self._desk.changed()
        return JSONResponse(told)

    async def _take_back(self, request: Request, phone: Phone) -> Response:
        body = await _body(request)
        entry, job = body.get("entry"), body.get("job")
        if not isinstance(entry, int) or isinstance(entry, bool):
            raise RefusedError("say which entry to take back by its number")
        answer = await self._desk.withdraw(entry, phone, job if isinstance(job, str) else None)
        return JSONResponse({"entry": answer.entry, "said": answer.said})

    async def _cup(self, request: Request, _: Phone) -> Response:
        body, now = await _body(request), self._desk.clock.now()
        said, at = read_cup(body), read_when(body).before(now)
        lines = await self._desk.ask(lambda: self._desk.house.state_cup(said, at))
        self._desk.changed()
        return JSONResponse({"said": list(lines)})

    async def _hold(self, request: Request, phone: Phone) -> Response:
        body = await _body(request)
        if "job" in body:
            return await self._belong(phone, body["job"])
        name = body.get("holder")
        crew = (await self._desk.ask(lambda: self._desk.house_of(phone).floor())).crew
        if name is not None and name not in (*crew, OFFICE):
            raise RefusedError("nobody of that name is in the crew: choose one from the list")
        held = await self._desk.ask(lambda: self._desk.phones.hold(phone.id, name))
        self._desk.changed()
        return JSONResponse({"phone": held.id, "holder": held.holder})

    async def _belong(self, phone: Phone, job: Any) -> Response:
        """Set the job that a phone belongs to: one under way, or none, which means the job in use."""
        if job is not None and job not in await self._desk.ask(self._desk.house.jobs):
            raise RefusedError("no job of that name is under way: choose one from the list")
        held = await self._desk.ask(lambda: self._desk.phones.belong(phone.id, job))
        self._desk.changed()
        return JSONResponse({"phone": held.id, "holder": held.holder, "job": held.job})

    async def _drop(self, request: Request, _: Phone) -> Response:
        dropped = str((await _body(request)).get("phone", ""))
        await self._desk.ask(lambda: self._desk.phones.drop(dropped))
        await self._desk.ask(self._desk.door_key.renew)
        self._desk.hub.drop(dropped)
        self._desk.changed()
        return JSONResponse({"dropped": dropped})

    async def _shown(self, request: Request, phone: Phone) -> Response:
        body = await _body(request)
        shown, page = body.get("alerts"), str(body.get("page", ""))[:40]
        if not isinstance(shown, list) or len(shown) > 64 or not all(isinstance(each, dict) for each in shown):
            raise RefusedError("say which alerts are shown, at most 64")
        job = str(body.get("job") or "")[:200]
        tags = [(str(each.get("id"))[:200], str(each.get("stage"))[:20], job) for each in shown]
        if phone.holder != OFFICE:  # an alert on the office's phone has reached nobody on the floor
            self._desk.receipts.put(phone.id, page, tags)
        return JSONResponse({})

    async def _sound_check(self, request: Request, _: Phone) -> Response:
        await _body(request)
        check = self._desk.wishes.sound_check
        said = await asyncio.to_thread(check) if check else "the laptop cannot sound from here: try it on the laptop"
        return JSONResponse({"said": said})


def _is_more_than_looking(request: Request) -> bool:
    return request.url.path in KEYS or (request.method == "POST" and request.url.path not in LOOKING)


async def _body(request: Request) -> dict[str, Any]:
    try:
        body = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise RefusedError("that is not JSON") from None
    if not isinstance(body, dict):
        raise RefusedError("a JSON object is needed")
    try:
        json.dumps(body, ensure_ascii=False, allow_nan=False).encode()
    except ValueError:
        raise RefusedError("a text there holds half a character, or a figure is no number") from None
    return body


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


def _line(status: int, line: str) -> Response:
    return JSONResponse({"refused": line}, status_code=status)

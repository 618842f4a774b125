"""The board's server. It has its own thread and socket, and leaves signals alone."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
from collections.abc import Callable
from datetime import datetime

from uvicorn.config import Config
from uvicorn.server import Server

from mixclock.board.desk import Desk, Wishes
from mixclock.board.house import BoardHouse
from mixclock.board.qr import terminal_code
from mixclock.board.routes import Board
from mixclock.board.wire import (
    ACCEPTED_AT_ONCE,
    ARRIVAL_S,
    HEADER_BYTES_AT_MOST,
    SOCKETS_AT_MOST,
    SOCKETS_PER_ADDRESS,
    limited_protocol,
)
from mixclock.outside.addresses import lan_address
from mixclock.outside.clock import Clock

PORT = 8377
_STOP_S = 5.0
_ASK_S = 0.5
_MAY_WAIT = 512
_TURNS_TO_BE_LET_IN = 3


class BoardError(OSError):
    """The board cannot be served: one line that says why and how to mend it."""


class QuietServer(Server):
    """uvicorn's server, but it is told when to end. uvicorn's own looks ten times a second whether it shall."""

    def __init__(self, config: Config) -> None:
        super().__init__(config)
        self._ended = asyncio.Event()

    def end(self) -> None:
        """End in order. Only for the server's own thread."""
        self.should_exit = True
        self._ended.set()

    async def main_loop(self) -> None:
        """Sleep until the end. The guard dates the answers."""
        if not self.should_exit:
            await self._ended.wait()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let nobody else in, and only then end: whoever is let in while asyncio closes keeps its socket for ever."""
        loop = asyncio.get_running_loop()
        for listening in [each for server in self.servers for each in server.sockets]:
            with contextlib.suppress(NotImplementedError):  # on Windows the loop has no readers
                loop.remove_reader(listening.fileno())
        for _ in range(_TURNS_TO_BE_LET_IN):
            await asyncio.sleep(0)
        await super().shutdown(sockets)


class BoardServer:
    """Serves the board from a thread of its own.

    `open_house` is called once, on the thread that asks the house from then on: a connection to the book belongs to
    one thread. Without `lan` only this machine is answered.
    """

    def __init__(
        self,
        open_house: Callable[[], BoardHouse],
        clock: Clock,
        *,
        lan: bool = False,
        port: int = PORT,
        wishes: Wishes | None = None,
        arrival_s: float = ARRIVAL_S,
        sockets_per_address: int = SOCKETS_PER_ADDRESS,
        sockets_at_most: int = SOCKETS_AT_MOST,
    ) -> None:
        self._lan = lan
        self._socket = _listen("0.0.0.0" if lan else "127.0.0.1", port)
        self._port: int = self._socket.getsockname()[1]
        self._desk = Desk(open_house, clock, wishes or Wishes())
        protocol = limited_protocol(sockets_per_address, arrival_s, sockets_at_most)
        board = Board(self._desk, self._port, self._pairing_url_at, protocol.known.add)
        config = Config(
            board.app(),
            http=protocol,
            backlog=ACCEPTED_AT_ONCE,
            h11_max_incomplete_event_size=HEADER_BYTES_AT_MOST,
            ws="none",
            lifespan="off",
            loop="asyncio",
            access_log=False,
            log_config=None,
            log_level="error",
            proxy_headers=False,
            server_header=False,
            date_header=False,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=2,
        )
        self._server = QuietServer(config)
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._up = threading.Event()

    @property
    def reachable(self) -> bool:
        """Whether a phone could reach it over a network."""
        return not self._lan or lan_address() is not None

    @property
    def address(self) -> str:
        """The board's address, as a person types it."""
        host = (lan_address() if self._lan else None) or "127.0.0.1"
        return f"http://{host}:{self._port}/"

    def pairing_url(self) -> str:
        """The address that pairs the next phone, once. What follows the # stays in the phone."""
        return f"{self.address}#pair={self._desk.next_secret()}"

    def pairing_code(self) -> str:
        """The pairing address as a square code for the terminal."""
        return terminal_code(self.pairing_url())

    def when_paired(self, told: Callable[[], None]) -> None:
        """Call this whenever a phone was paired: the code that was shown has been used up."""
        self._desk.paired = told

    def when_lapsed(self, told: Callable[[], None]) -> None:
        """Call this whenever a phone came with a code that had lapsed: somebody waits for a new one."""
        self._desk.lapsed = told

    def start(self) -> None:
        """Serve. Returns when the board answers."""
        self._thread = threading.Thread(target=self._run, name="board", daemon=True)
        self._thread.start()
        if not self._up.wait(10.0):
            raise BoardError(f"the board did not come up on {self.address}; is the machine very busy?")

    def stop(self) -> None:
        """End the streams, then the server; returns when the socket is free. A second call does nothing."""
        if self._thread is not None and self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._wind_down)
            self._thread.join(_STOP_S)
        self._socket.close()
        self._desk.close()

    def notify_change(self) -> None:
        """Show now what was written or raised. Any thread may call it."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._desk.changed)

    def notify_trouble(self) -> None:
        """Tell every page now that a trouble came or went. Any thread may call it."""
        self._desk.trouble_told()

    def heartbeat(self, at: datetime) -> None:
        """Note that the daemon ticked. Any thread may call it."""
        self._desk.heartbeat(at)

    def daemon_alive(self) -> bool:
        """Whether the daemon has ticked within 15 s."""
        return self._desk.daemon_alive()

    def watched(self, job: str = "") -> bool:
        """Whether any page is open or, with a job, whether any page shows it."""
        return self._desk.hub.shows(job) if job else self._desk.hub.watched

    def shown_on(self, alert: str, stage: str, job: str = "", span_s: float = 1.5) -> frozenset[str]:
        """The phones that have an alert on their glass: the board's receipt. Waits up to the span for the first."""
        self.notify_change()
        return self._desk.receipts.wait(alert, stage, span_s, job)

    def _pairing_url_at(self, host: str) -> str:
        """The pairing address for the code on a page: the LAN's, whatever address the page was opened at."""
        at = self.address if self._lan else f"http://{host}/"
        return f"{at}#pair={self._desk.next_secret()}"

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        chores = [asyncio.create_task(self._desk.keep_up()), asyncio.create_task(self._desk.beat_on())]
        chores.append(asyncio.create_task(self._say_when_up()))
        try:
            await self._server.serve(sockets=[self._socket])
        finally:
            for chore in chores:
                chore.cancel()

    async def _say_when_up(self) -> None:
        while not self._server.started:
            await asyncio.sleep(0.01)
        self._socket.listen(_MAY_WAIT)  # the loop accepts few at once; the others wait in the system's queue
        self._up.set()

    def _wind_down(self) -> None:
        self._desk.hub.close()
        self._server.end()


def _listen(host: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if port and somebody_answers(port):
            raise OSError(0, "something answers there already")
        listening.setsockopt(socket.SOL_SOCKET, bind_option(), 1)
        listening.bind((host, port))
    except OSError as failure:
        listening.close()
        why = f"port {port} is taken ({failure.strerror})"
        raise BoardError(f"{why}: stop the other watch, or choose another port") from None
    listening.setblocking(False)
    return listening


def bind_option() -> int:
    """What lets a restart take its port at once, and no second program beside a living one.

    On Windows SO_REUSEADDR means "share it with whoever has it"; there the exclusive option is the safe one.
    """
    exclusive: int | None = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
    return socket.SO_REUSEADDR if exclusive is None else exclusive


def somebody_answers(port: int) -> bool:
    """Whether a program on this machine serves the port, whatever address it was bound to.

    BSD and macOS give a port of 127.0.0.1 away although another program has it on every address.
    """
    try:
        socket.create_connection(("127.0.0.1", port), timeout=_ASK_S).close()
    except OSError:
        return False
    return True

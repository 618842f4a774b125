"""The server's own conduct: where it listens, what it refuses to share, how it tells that the daemon is alive."""

from __future__ import annotations

import gc
import socket
import urllib.request
import warnings
from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Any

import pytest

from mixclock.board.server import BoardError, BoardServer, bind_option, somebody_answers
from mixclock.outside.addresses import lan_address
from mixclock.outside.clock import FakeClock, SystemClock
from tests.board.boardfakes import FakeHouse

CLOCK = SystemClock()
NOW = datetime(2026, 4, 13, 10, 42, tzinfo=UTC)


def test_only_this_machine_is_answered_until_the_network_is_asked_for(serve: Any) -> None:
    served = serve()
    assert served.server.address == f"http://127.0.0.1:{served.port}/"
    own = lan_address()
    if own is not None:
        with pytest.raises(OSError, match="refused"):
            socket.create_connection((own, served.port), timeout=2)


def test_on_the_network_the_code_names_the_address_that_a_phone_can_reach() -> None:
    server = BoardServer(FakeHouse, FakeClock(NOW), lan=True, port=0)
    try:
        host = server.address.split("//")[1].split(":")[0]
        assert host == (lan_address() or "127.0.0.1")
        assert server.pairing_url().startswith(f"{server.address}#pair=")
        assert "█" in server.pairing_code() or "▄" in server.pairing_code()
    finally:
        server.stop()


def test_a_port_that_is_taken_is_told_in_one_line(serve: Any) -> None:
    served = serve()
    with pytest.raises(BoardError, match=f"port {served.port} is taken"):
        BoardServer(FakeHouse, FakeClock(NOW), port=served.port)


def test_a_port_that_another_program_has_on_every_address_is_taken_too() -> None:
    """As macOS and BSD would not say by themselves."""
    with socket.socket() as other:
        other.bind(("0.0.0.0", 0))
        other.listen()
        port: int = other.getsockname()[1]
        assert somebody_answers(port)
        with pytest.raises(BoardError, match="is taken"):
            BoardServer(FakeHouse, FakeClock(NOW), port=port)
    assert not somebody_answers(port)


def test_windows_is_never_asked_to_share_a_port(monkeypatch: pytest.MonkeyPatch) -> None:
    assert bind_option() == socket.SO_REUSEADDR
    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", -5, raising=False)
    assert bind_option() == -5


def test_without_a_network_the_crew_is_told_to_make_one_and_sees_no_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from mixclock.cli.watch import _show_code

    monkeypatch.setattr("mixclock.board.server.lan_address", lambda: None)
    server = BoardServer(FakeHouse, FakeClock(NOW), lan=True, port=0)
    try:
        _show_code(server, lan=True)
    finally:
        server.stop()
    said = capsys.readouterr().out
    assert "switch on this machine's hotspot" in said
    assert "127.0.0.1" not in said
    assert "█" not in said


def test_a_daemon_that_has_not_ticked_for_15_s_is_not_alive() -> None:
    clock = FakeClock(NOW)
    server = BoardServer(FakeHouse, clock, port=0)
    try:
        assert not server.daemon_alive()
        server.heartbeat(clock.now())
        clock.advance(14.0)
        assert server.daemon_alive()
        clock.advance(1.5)
        assert not server.daemon_alive()
    finally:
        server.stop()


def test_stopping_twice_or_before_starting_is_no_harm(serve: Any) -> None:
    served = serve()
    served.down()
    served.down()
    never = BoardServer(FakeHouse, FakeClock(NOW), port=0)
    never.stop()
    never.stop()


def test_a_quiet_board_ends_at_once_and_dates_its_answers(serve: Any) -> None:
    """It sleeps between two looks, and still nobody waits for its end or reads an old date."""
    served = serve()
    with urllib.request.urlopen(f"http://127.0.0.1:{served.port}/", timeout=5) as answer:
        dated = parsedate_to_datetime(answer.headers["Date"])
    assert abs((dated - CLOCK.now()).total_seconds()) < 5.0
    began_s = CLOCK.monotonic_s()
    served.down()
    assert CLOCK.monotonic_s() - began_s < 1.0


@pytest.fixture
def nothing_of_others() -> Iterator[None]:
    """What others left behind is not asked about here, nor walked at each search for garbage."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()
        gc.freeze()
    yield
    gc.unfreeze()


@pytest.mark.usefixtures("nothing_of_others")
def test_who_comes_in_the_moment_of_the_end_leaves_no_socket_behind() -> None:
    """asyncio loses the socket of one that it lets in while it closes: each turn of the loop round the end is tried."""
    for turns in range(5):
        server = BoardServer(FakeHouse, SystemClock(), port=0)
        server.start()
        loop = server._loop
        assert loop is not None
        with socket.socket() as late:
            loop.call_soon_threadsafe(_come_and_end, server, late, turns)
            assert server._thread is not None
            server._thread.join(5.0)
            with warnings.catch_warnings(record=True) as told:
                warnings.simplefilter("always", ResourceWarning)
                server.stop()
                del server, loop
                gc.collect()
            assert [str(each.message) for each in told if "transport" in str(each.message)] == [], turns


def _come_and_end(server: BoardServer, late: socket.socket, turns: int) -> None:
    late.connect(("127.0.0.1", server._port))
    _end_after(server, turns)


def _end_after(server: BoardServer, turns: int) -> None:
    if turns and server._loop is not None:
        server._loop.call_soon(_end_after, server, turns - 1)
        return
    server._wind_down()

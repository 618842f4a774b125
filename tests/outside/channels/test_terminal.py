"""A line in the terminal."""

import io
import os
import pty
from collections.abc import Callable

import pytest

from mixclock.outside.channels.message import Message, Outcome, Rank
from mixclock.outside.channels.terminal import TerminalChannel, alert_line

Writer = Callable[..., Message]


@pytest.mark.parametrize(("rank", "label"), [("critical", "!! CRITICAL"), ("timely", "->"), ("notice", "   NOTICE")])
def test_the_rank_is_said_in_a_word_and_not_by_colour(message: Writer, rank: Rank, label: str) -> None:
    stream = io.StringIO()
    receipt = TerminalChannel(lambda: stream).send(message(rank=rank, repeat=2))
    assert stream.getvalue() == (
        f"{label}  Batch 3, bay 2: pour it out now. Pour it out by 10:42. Two minutes left.  (said 2 times before)\n"
    )
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)


def test_a_real_terminal_rings_for_what_is_critical_alone(message: Writer) -> None:
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "w") as terminal:
        channel = TerminalChannel(lambda: terminal)
        receipt = channel.send(message())
        assert (receipt.detail, receipt.shown) == ("printed on the terminal with the bell", True)
        channel.send(message(rank="timely"))
        printed = ""
        while printed.count("\n") < 2:
            printed += os.read(ours, 4096).decode()
    os.close(ours)
    assert [line.count("\a") for line in printed.splitlines()] == [1, 0]


def test_a_name_can_not_move_the_cursor_or_break_the_line(message: Writer) -> None:
    line = alert_line(message(title="bay\x1b[2J\a 2\r\nbay 3", body="x" * 5000))
    assert line.isprintable()
    assert "bay[2J 2 bay 3" in line
    assert len(line) <= 1000


def test_a_terminal_that_knows_no_umlauts_prints_what_it_can(message: Writer) -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", write_through=True)
    TerminalChannel(lambda: stream).send(message(title="Küche", body="21 °C"))
    assert b"K?che. 21 ?C" in raw.getvalue()


def test_a_closed_terminal_is_told(message: Writer) -> None:
    stream = io.StringIO()
    stream.close()
    receipt = TerminalChannel(lambda: stream).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)
    assert "can't be written" in receipt.detail


def test_the_probe_prints_a_line() -> None:
    stream = io.StringIO()
    TerminalChannel(lambda: stream).probe()
    assert stream.getvalue() == "mixclock: alerts are printed here\n"

"""What the terminal shows: alerts in words first, then what closes next, never by colour alone."""

from __future__ import annotations

import io
from types import SimpleNamespace

from rich.console import Console

from mixclock.outside.clock import SystemClock
from mixclock.watch.livescreen import LiveScreen, board_of
from mixclock.watch.rows import rows
from mixclock.watch.screen import PlainScreen
from mixclock.watch.whichscreen import screen_for
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def overdue() -> Day:
    """A bay that nobody rolled and a bucket whose time is up."""
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    day.until("7:05")
    day.say("poured", batch=1)
    day.look()
    day.until("7:16")
    day.say("mixing", product="Shed base", areas=["bay 2"], volume_l=3.45)
    day.look()
    day.until("7:32")
    return day


def drawn(day: Day, width: int = 120) -> str:
    """The board as a terminal without colours has it."""
    daemon = SimpleNamespace(
        ticker=day.ticker,
        delivery=day.delivery,
        troubles=SimpleNamespace(lines=list),
        cups=SimpleNamespace(lines=lambda units: ["Cup of Shed base, lot 7A, mixed 12 min ago: how warm is it now?"]),
        faults=SimpleNamespace(recent=lambda: ["the disk is full"]),
        power_words="on battery at 80 %: plug it in",
        awake_words="the machine stays awake",
    )
    paper = io.StringIO()
    Console(file=paper, width=width, force_terminal=False).print(board_of(daemon, day.clock.now()))  # type: ignore[arg-type]
    return paper.getvalue()


def test_the_board_says_in_words_what_is_critical_what_closes_next_and_whose_it_is() -> None:
    lines = drawn(overdue()).splitlines()
    assert lines[0] == "Boat shed · 8:32:00"
    assert lines[1].startswith("!! CRITICAL")
    told = "\n".join(lines)
    assert "Batch 2, bay 2: pour it all out now" in told
    assert "CLOSING" in told
    assert "by 8:30" in told
    assert "the disk is full" in told
    assert "on battery" in told
    assert "desktop works" in told
    assert "?  Cup of Shed base, lot 7A" in told


def test_the_soonest_to_close_stands_first_and_what_is_done_is_gone() -> None:
    day = overdue()
    job = day.ticker.watched[day.job]
    shown = rows(job.seen(), job.tracks, day.clock.now())
    names = [row.what for row in shown]
    assert names[:3] == ["wet edge", "pour out", "broadcast"]
    day.say("poured", batch=2)
    day.look()
    assert "pour out" not in [row.what for row in rows(job.seen(), job.tracks, day.clock.now())]


def test_a_narrow_terminal_still_holds_every_alert() -> None:
    told = " ".join(drawn(overdue(), width=40).split())
    assert "pour it all out now" in told


def test_without_a_job_the_board_says_how_to_begin_one() -> None:
    day = Day(site(), [BASE, TOP])
    day.ticker.watched.clear()
    assert "mixclock job start FILE" in drawn(day)


def test_plain_lines_where_nobody_looks_at_a_terminal() -> None:
    assert type(screen_for(True, SystemClock())) is PlainScreen
    assert not isinstance(screen_for(False, SystemClock()), LiveScreen)  # the tests' output is no terminal

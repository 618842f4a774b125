"""From due to accepted by a real notification bus: the daemon's calls beside a bare scheduler job to the same bus.

The bus is a real one (`dbus-daemon`), the server on it counts what it is asked to show. Run under `dbus-run-session`;
a job of so many live batches is looked at by the whole daemon on the machine's own clocks.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from apscheduler.schedulers.background import BackgroundScheduler
from jeepney import HeaderFields, MessageType, new_method_return
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import open_dbus_connection

from mixclock.decide.alerting.happenings import SCRAPE_AT
from mixclock.job.drafts import Draft
from mixclock.job.entry import Combined, Dumped
from mixclock.outside.clock import SystemClock
from mixclock.wiring import House
from tests.bench.livejob import PRODUCT

CLOCK = SystemClock()
SETTLES_S = 12.0
BARE_JOBS = 60
ANOTHER_EVERY_S = 1.5
SHORT_S = 5.0
"""A look no longer than this is the short form: it settles for a second, beside a few bare jobs."""


class CountingServer:
    """Answers as a notification server does, and keeps when each request came."""

    def __init__(self) -> None:
        self.came: list[tuple[float, str, str]] = []
        self.alerts: list[tuple[float, frozenset[str]]] = []
        self._wire = open_dbus_connection(bus="SESSION")
        self._wire.send_and_get_reply(message_bus.RequestName("org.freedesktop.Notifications"))
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        shown = 0
        while True:
            asked = self._wire.receive()
            if asked.header.message_type is not MessageType.method_call:
                continue
            member = asked.header.fields.get(HeaderFields.member)
            if member == "Notify":
                at = CLOCK.now().timestamp()
                self.came.append((at, asked.body[3], asked.body[4]))
                _, told = asked.body[6].get("x-mixclock-alert", ("s", ""))
                self.alerts.append((at, frozenset(told.split("+"))))
                shown += 1
                answer = new_method_return(asked, "u", (asked.body[1] or shown,))
            elif member == "GetCapabilities":
                answer = new_method_return(asked, "as", (["body", "actions", "persistence"],))
            elif member == "GetServerInformation":
                answer = new_method_return(asked, "ssss", ("counter", "tests", "1", "1.2"))
            else:
                answer = new_method_return(asked)
            self._wire.send(answer)


def bare_ms(server: CountingServer, jobs: int = BARE_JOBS) -> list[float]:
    """A scheduler job that sends one notification, at random instants."""
    from jeepney import DBusAddress, new_method_call

    where = DBusAddress("/org/freedesktop/Notifications", "org.freedesktop.Notifications",
                        "org.freedesktop.Notifications")  # fmt: skip

    def call(due: float) -> None:
        wire = open_dbus_connection(bus="SESSION")
        wire.send_and_get_reply(new_method_call(where, "Notify", "susssasa{sv}i",
                                                ("bare", 0, "", "bare", f"{due}", [], {}, -1)))  # fmt: skip
        wire.close()

    scheduler = BackgroundScheduler(timezone=UTC)
    scheduler.start()
    before = len(server.came)
    for number in range(jobs):
        due = CLOCK.now() + timedelta(seconds=1.0 + 0.083 * number)
        scheduler.add_job(call, "date", run_date=due, args=[due.timestamp()])
    time.sleep(2.0 + 0.083 * jobs)  # noqa: TID251 — real time is measured
    scheduler.shutdown()
    return [1000 * (at - float(body)) for at, title, body in server.came[before:] if title == "bare"]


def daemon_ms(server: CountingServer, live: int, watched_s: float) -> list[float]:
    """How long after its edge each new call was with the bus, for what fell due while the daemon looked."""
    from mixclock.job.entry import Raised
    from mixclock.outside.channels.choosable import ChannelWishes
    from mixclock.watch.setup import daemon_for
    from mixclock.wiring import open_house
    from tests.bench.livejob import make_job_of_now

    with tempfile.TemporaryDirectory() as folder:
        make_job_of_now(Path(folder) / "book.sqlite3", live, CLOCK.now())
        with open_house(Path(folder)) as house:
            daemon = daemon_for(house, ChannelWishes(sound=False), _say)
            daemon.start()
            time.sleep(SETTLES_S if watched_s > SHORT_S else 1.0)  # noqa: TID251 — what was due before the daemon came is told first
            from_at = CLOCK.now()
            _wait(house, live, watched_s)
            until = CLOCK.now() - timedelta(seconds=1)
            daemon.stop()
            log = house.book.entries("Boat hall")
        firsts: dict[tuple[str, str, str], Any] = {}
        for entry in log:
            if isinstance(entry.facts, Raised):
                firsts.setdefault((entry.facts.alert, entry.facts.stage, entry.facts.due), entry)
        found = []
        for entry in firsts.values():
            due = datetime.fromisoformat(entry.facts.due)
            if from_at <= due <= until and entry.happened >= due:
                raised_s = entry.happened.timestamp()
                came = (at for at, told in server.alerts if at >= raised_s - 0.001 and entry.facts.alert in told)
                found += [1000 * (at - due.timestamp()) for at in (min(came, default=None),) if at is not None]
        return found


def _wait(house: House, live: int, watched_s: float) -> None:
    """Wait. A single bucket calls once in some minutes: so it is dumped again and again, and another one begun."""
    if live > 1:
        time.sleep(watched_s)  # noqa: TID251 — real time is measured
        return
    scraped_after = timedelta(seconds=SCRAPE_AT * house.standing("Boat hall").batches[0].mixing_s)
    for batch in range(1, round(watched_s / ANOTHER_EVERY_S) + 1):
        begun = CLOCK.now() + timedelta(seconds=0.6 * ANOTHER_EVERY_S) - scraped_after
        mixed = Combined(PRODUCT, ("bay 1",), "base", volume_l=4.0, material_c=19.0)
        told = [Draft(Dumped(batch)), Draft(mixed, begun)]
        house.book.append_within("Boat hall", lambda _, told=told: told)  # type: ignore[misc]
        time.sleep(ANOTHER_EVERY_S)  # noqa: TID251


def main(live: int, watched_s: float) -> None:
    """Print how many calls there were, and percentiles of both in ms, as JSON."""
    import json

    server = CountingServer()
    bare, ours = (
        sorted(bare_ms(server, BARE_JOBS if watched_s > SHORT_S else 8)),
        sorted(daemon_ms(server, live, watched_s)),
    )
    figures = {"calls": len(ours)}
    for name, values in (("bare", bare), ("ours", ours)):
        for share in (0.5, 0.99):
            if values:
                figures[f"{name}_{round(100 * share)}"] = values[min(len(values) - 1, int(share * len(values)))]
    print(json.dumps(figures))


def _say(line: str) -> None:
    print(line, file=sys.stderr)


if __name__ == "__main__":
    main(int(sys.argv[1]), float(sys.argv[2]))

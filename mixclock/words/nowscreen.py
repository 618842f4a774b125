"""How the job stands, on a person's screen: alerts first, then what runs, then the areas over days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.job.instants import utc_from
from mixclock.units import CrewUnits
from mixclock.words.times import closes_said, day_and_clock, opens_said
from mixclock.words.unsurewindows import UNSURE_REVERSED, UNSURE_SPAN, is_unsure, no_date_of

Json = Mapping[str, Any]

_MARKS = {
    "waiting": "waits",
    "open": "open",
    "closing": "closing",
    "closed": "closed",
    "done": "done",
    "missed": "missed",
}
_RANKS = {"critical": "!!", "timely": "! ", "notice": "- "}


def now_lines(answer: Json, zone: ZoneInfo, units: CrewUnits) -> list[str]:
    """The lines of `now`, from its JSON."""
    screen = _Screen(answer, zone, units)
    return list(screen.lines())


class _Screen:
    def __init__(self, answer: Json, zone: ZoneInfo, units: CrewUnits) -> None:
        self._answer = answer
        self._zone = zone
        self._units = units
        self._at = utc_from(answer["at"])

    def lines(self) -> Iterator[str]:
        yield f"{self._answer['job']}, {self._clock(self._at)}{self._conditions()}"
        yield from (f"!! {line}" for line in self._answer.get("troubles", ()))
        yield from self._alerts()
        yield from (f"?  {asked['text']}" for asked in self._answer.get("questions", ()))
        live = [batch for batch in self._answer["batches"] if batch["stage"] != "done"]
        for batch in live:
            yield ""
            yield from self._batch(batch)
        yield from self._areas()
        if not live and not self._answer["alerts"]:
            yield "Nothing is live."

    def _conditions(self) -> str:
        read = self._answer["conditions"]
        parts = [
            f"air {self._units.write_temp(read['air_c'])}" if read["air_c"] is not None else "",
            f"{read['rh_pct']:.0f} %" if read["rh_pct"] is not None else "",
            f"slab {self._units.write_temp(read['slab_c'])}" if read["slab_c"] is not None else "read the slab",
            self._margin(read["margin_k"]) if read["margin_k"] is not None else "",
        ]
        said = ", ".join(filter(None, parts))
        if read["read_at"] is None:
            return "; no readings yet"
        return f"; {said} (read {self._clock(utc_from(read['read_at']))})"

    def _margin(self, margin_k: float) -> str:
        if margin_k <= 0:
            return "the slab is at or below the dew point: it is wet"
        return f"{self._units.write_margin(margin_k)} over the dew point"

    def _alerts(self) -> Iterator[str]:
        for alert in self._answer["alerts"]:
            heard = f", heard by {alert['heard_by']}" if alert["heard_by"] else ""
            yield f"{_RANKS[alert['rank']]} {alert['text']} [{alert['id']}{heard}]"

    def _batch(self, batch: Json) -> Iterator[str]:
        amount = self._units.write_volume(batch["amount_l"])
        places = ", ".join(batch["areas"])
        mixed = self._clock(utc_from(batch["mixed_at"]))
        own = f" ({batch['van']}'s {batch['number']})" if batch["van"] else ""
        yield f"Batch {batch['id']}{own} · {batch['product']} · {amount} · {places} · mixed {mixed} · {batch['stage']}"
        told: Json | None = None
        for window in batch["windows"]:
            portion = window.get("portion")
            if portion is not None and portion != told:
                yield f"  {self._portion(portion)}:"
            told = portion
            yield self._window(window)

    def _portion(self, portion: Json) -> str:
        """What tells one portion of a batch that was poured in parts from another."""
        amount = self._units.write_volume(portion["amount_l"]) if portion["amount_l"] else "a part"
        places = ", ".join(portion["areas"])
        if portion["poured_at"] is None:
            return f"{amount} still in the bucket, for {places}"
        return f"{amount} poured {self._clock(utc_from(portion['poured_at']))} on {places}"

    def _areas(self) -> Iterator[str]:
        for area in self._answer["areas"]:
            open_still = [window for window in area["windows"] if window["state"] not in ("done", "missed")]
            if open_still:
                yield ""
                yield " · ".join(filter(None, (area["name"], area["coat"])))
                for window in open_still:
                    yield self._window({**window, "area": None})

    def _window(self, window: Json) -> str:
        name = " on ".join(filter(None, (window["name"], window["area"])))
        used = window["ripeness_closes"] if window["closes"] else window["ripeness_opens"]
        ripe = f"{min(999, round(used * 100))} % used" if used is not None and window["closes"] else ""
        parts = [self._span(window), ripe]
        return f"  {name:<24} {_MARKS[window['state']]:<8} {' · '.join(filter(None, parts))}".rstrip()

    def _span(self, window: Json) -> str:
        opens, closes = window["opens"], window["closes"]
        if is_unsure(window):
            return self._unsure(opens, closes)
        parts = []
        if opens is not None:
            parts.append(f"from {opens_said(utc_from(opens['late'] or opens['likely']), self._at, self._zone)}")
        if closes is not None:
            parts.append(f"by {closes_said(utc_from(closes['early']), self._at, self._zone)}")
        no_date = no_date_of(window)
        return "; ".join(filter(None, (no_date, " ".join(parts))))

    def _unsure(self, opens: Json, closes: Json) -> str:
        """A window whose doubt is wider than itself, never shown reversed."""
        begins, ends = utc_from(opens["likely"]), utc_from(closes["likely"])
        from_said, by_said = opens_said(begins, self._at, self._zone), closes_said(ends, self._at, self._zone)
        said = f"{UNSURE_SPAN} now and in the morning" if begins < ends else UNSURE_REVERSED
        return said.format(opens=from_said, closes=by_said)

    def _clock(self, at: datetime) -> str:
        return day_and_clock(at, self._at, self._zone)


def job_lines(jobs: Sequence[Json]) -> list[str]:
    """The jobs of the book, the one in use marked."""
    if not jobs:
        return ["No job yet; start one with `mixclock job start FILE`."]
    return [
        f"{'*' if job['in_use'] else ' '} {job['name']}: begun {_day(job, 'started')}, "
        + (f"finished {_day(job, 'finished')}" if job["finished"] else _RUNS[job["for_reading"]])
        + f", {job['entries']} {'entry' if job['entries'] == 1 else 'entries'}"
        for job in jobs
    ]


_RUNS = {False: "under way", True: "for reading only"}


def _day(job: Json, which: str) -> str:
    return f"{utc_from(job[which]).astimezone(ZoneInfo(job['zone'])):%Y-%m-%d}"

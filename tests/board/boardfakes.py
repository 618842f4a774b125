"""A house for the board's tests: a small job whose windows are plain spans, so that a test can say when what is due."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.board.house import (
    ALONE,
    Along,
    CoatChoice,
    ComingBatch,
    CupStatement,
    FirstWord,
    Floor,
    RecentStatement,
    RefusedError,
    RunningCup,
    TapAnswer,
)
from mixclock.board.officepage import office_page
from mixclock.board.view import card_json
from mixclock.job.statements import Statement
from mixclock.words.enumeration import list_words
from mixclock.words.stepwords import words_of

POUR_OUT, BACK_ROLL, BROADCAST = timedelta(minutes=10), timedelta(minutes=22), timedelta(minutes=40)
RECOAT = timedelta(hours=12), timedelta(hours=48)
_STAGE_AFTER = {"poured": "poured", "rolled": "rolled", "flaked": "flaked"}
_STEPS = (("pour-out", "poured", POUR_OUT), ("back-roll", "rolled", BACK_ROLL), ("broadcast", "flaked", BROADCAST))
_DO = {"pour-out": "pour it out now", "back-roll": "back-roll it now", "broadcast": "throw the flake now"}


@dataclass(frozen=True)
class FakeEntry:
    number: int
    statement: Mapping[str, Any]
    at: datetime
    by: str | None


@dataclass
class FakeHouse:
    """Keeps statements in memory; settings too, unless they are handed in to outlive a "restart"."""

    job: Floor = field(default_factory=lambda: studio_floor())
    settings: dict[str, str] = field(default_factory=dict)
    entries: list[FakeEntry] = field(default_factory=list)
    planned: list[ComingBatch] = field(default_factory=lambda: studio_plan())
    conditions: Mapping[str, Any] = field(default_factory=lambda: dict(STUDIO_CONDITIONS))
    questions: list[dict[str, Any]] = field(default_factory=list)
    extra_batches: list[dict[str, Any]] = field(default_factory=list)
    running: list[RunningCup] = field(default_factory=list)
    of_cups: list[CupStatement] = field(default_factory=list)
    fail: Callable[[], None] | None = None
    heads_up: timedelta = timedelta(minutes=2)
    kit: Mapping[str, Any] | None = None
    asked_by: list[str | None] = field(default_factory=list)
    others: dict[str, FakeHouse] = field(default_factory=dict)
    lock: threading.RLock = field(default_factory=threading.RLock)
    _version: int = 0
    doors: Any = None

    def version(self) -> int:
        return self._version

    def is_still(self) -> bool:
        return False

    def floor(self) -> Floor:
        return self.job

    def jobs(self) -> list[str]:
        return [name for name in (self.job.job, *self.others) if name is not None]

    def of_job(self, name: str | None) -> FakeHouse:
        return self.others.get(name, self) if name is not None else self

    def setting(self, name: str) -> str | None:
        return self.settings.get(name)

    def put_setting(self, name: str, value: str) -> None:
        self.settings[name] = value

    def close(self) -> None:
        """Nothing to close; the entries outlive a "restart"."""

    def next_kit(self, now: datetime) -> Mapping[str, Any] | None:
        return self.kit

    def rounds(self, now: datetime) -> Mapping[str, Any]:
        return {}

    def ask_next_kit(self, now: datetime, by: str | None) -> Mapping[str, Any]:
        if self.kit is None:
            raise RefusedError("no job is under way")
        self.asked_by.append(by)
        return self.kit

    def office(self, now: datetime, trouble: str) -> str:
        return office_page((), now, trouble)

    def planned_next(self, now: datetime) -> Sequence[ComingBatch]:
        return self.planned[len(self.batches()) :]

    def live(self) -> list[FakeEntry]:
        gone = {each.statement["entry"] for each in self.entries if each.statement["verb"] == "withdrawn"}
        return [each for each in self.entries if each.number not in gone]

    def cups(self, now: datetime) -> Sequence[RunningCup]:
        return tuple(self.running)

    def state_cup(self, said: CupStatement, at: datetime) -> Sequence[str]:
        if said.began not in {each.began for each in self.running}:
            raise RefusedError("that cup is not running any more")
        self.of_cups.append(said)
        self._version += 1
        return ("Cup: 31 °C after 12 min.",)

    def batches(self) -> list[FakeEntry]:
        return [each for each in self.live() if each.statement["verb"] == "mixing"]

    def state(
        self,
        told: Statement | Mapping[str, Any],
        at: datetime,
        by: str | None,
        along: Along = ALONE,
    ) -> TapAnswer:
        statement = told.as_json() if isinstance(told, Statement) else told
        if self.fail is not None:
            self.fail()
        with self.lock:
            batch = statement.get("batch")
            if batch is not None and batch > len(self.batches()) + len(self.extra_batches):
                raise RefusedError(f"batch {batch} is not known: batches are 1 to {len(self.batches())}")
            number = len(self.entries) + 1
            self.entries.append(FakeEntry(number, dict(statement), at, by))
            self._version += 1
        number_of = len(self.batches()) if statement["verb"] == "mixing" else batch
        said = f"{statement['verb']} {number_of or ''}".strip()
        self.settings.update(along.settings)
        if along.heard is not None:
            along.heard(self._first_word(statement, number, at, by, number_of))
        if statement.get("sign") == "hot":
            return TapAnswer(number, said, number_of, ("batch 1 runs hot: stop mixing",), ("Never put a lid on it.",))
        return TapAnswer(number, said, number_of)

    def _first_word(
        self, statement: Mapping[str, Any], number: int, at: datetime, by: str | None, batch: int | None
    ) -> FirstWord:
        """What the real house says of it first: of a step what was done and when, and no window."""
        recent = {"entry": number, "said": statement["verb"], "at": iso(at), "by": by, "withdrawn": False}
        card = None
        if statement["verb"] in ("mixing", *_STAGE_AFTER) and batch is not None and batch <= len(self.batches()):
            bare = {**self._batch(batch, self.batches()[batch - 1], at), "windows": []}
            told = {"label": statement["verb"].capitalize(), "at": iso(at), "by": by}
            card = {
                **card_json(bare, self.job.units),
                "told": told,
                "is_new": bare["stage"] == "mixed",
                "areas": bare["areas"],
            }
        return FirstWord(self.job.job or "", {"statement": statement, "by": by, "recent": recent, "card": card})

    def stated_at(self, at: datetime, by: str | None) -> TapAnswer | None:
        found = next((each for each in self.entries if each.at == at and each.by == by), None)
        return TapAnswer(found.number, found.statement["verb"], found.statement.get("batch")) if found else None

    def withdraw(self, entry: int, at: datetime, by: str | None) -> TapAnswer:
        with self.lock:
            if entry not in {each.number for each in self.live()}:
                raise RefusedError(f"entry {entry} is not there to be taken back")
            number = len(self.entries) + 1
            self.entries.append(FakeEntry(number, {"verb": "withdrawn", "entry": entry}, at, by))
            self._version += 1
        return TapAnswer(number, f"took back {entry}")

    def recent(self, now: datetime) -> list[RecentStatement]:
        alive = {each.number for each in self.live()}
        said = [each for each in self.entries if each.statement["verb"] not in ("withdrawn", "heard")]
        return [
            RecentStatement(
                each.number,
                f"{each.statement['verb']} {each.statement.get('batch', '')}".strip(),
                each.at,
                each.by,
                each.number not in alive,
            )
            for each in reversed(said)
        ]  # fmt: skip

    def snapshot(self, now: datetime) -> Mapping[str, Any]:
        batches = [*(self._batch(number, entry, now) for number, entry in enumerate(self.batches(), 1))]
        batches += self.extra_batches
        for batch in batches:
            batch["windows"] = [{"calls": _calls(batch, window), **window} for window in batch["windows"]]
        return {
            "at": iso(now),
            "job": self.job.job,
            "conditions": self.conditions,
            "questions": self.questions,
            "batches": batches,
            "areas": self._areas(batches),
            "alerts": [alert for batch in batches for alert in self._alerts(batch, now)],
        }

    def _batch(self, number: int, combined: FakeEntry, now: datetime) -> dict[str, Any]:
        own = {each.statement["verb"]: each for each in self.live() if each.statement.get("batch") == number}
        poured = own["poured"].at if "poured" in own else combined.at + POUR_OUT
        windows = [self._window(own, name, verb, (combined.at if name == "pour-out" else poured), span, now)
                   for name, verb, span in _STEPS]  # fmt: skip
        stage = next((_STAGE_AFTER[verb] for verb in ("flaked", "rolled", "poured") if verb in own), "mixed")
        windows.append(self._recoat(poured))
        statement = combined.statement
        return {
            "id": number,
            "product": statement["product"],
            "amount_l": statement.get("volume_l"),
            "mass_kg": statement.get("mass_kg"),
            "areas": list(statement["areas"]),
            "mixed_at": iso(combined.at),
            "stage": "done" if stage == "flaked" else stage,
            "windows": windows,
        }

    def _window(
        self, own: Any, name: str, verb: str, start: datetime, span: timedelta, now: datetime
    ) -> dict[str, Any]:
        early, began = start + span, self._began(own, name)
        state = (
            "done"
            if verb in own
            else "closed"
            if now >= early
            else "closing"
            if now >= early - self.heads_up
            else "open"
        )
        return {
            "name": name,
            "area": None,
            "opens": None,
            "closes": {"early": iso(early), "likely": iso(early + span / 5), "late": iso(early + span / 2)},
            "state": state,
            "ripeness_opens": None,
            "ripeness_closes": max(0.0, (now - start) / span),
            "because": ["slab 3 °C warmer than at 09:10: closes 6 min sooner"],
            "assumed": [] if name == "pour-out" else ["poured at the early edge"],
            "who": "mixer" if name == "pour-out" else "roller",
            "began": {"by": began.by, "at": iso(began.at)} if began else None,
        }

    def _began(self, own: Any, name: str) -> FakeEntry | None:
        began = own.get("began")
        return began if began is not None and began.statement["step"] == name else None

    def _recoat(self, poured: datetime) -> dict[str, Any]:
        opens, closes = poured + RECOAT[0], poured + RECOAT[1]
        return {
            "name": "recoat", "area": None, "state": "waiting", "because": [], "assumed": [],
            "opens": {"early": iso(opens), "likely": iso(opens), "late": iso(opens)},
            "closes": {"early": iso(closes), "likely": iso(closes), "late": None},
            "ripeness_opens": 0.1, "ripeness_closes": 0.02,
        }  # fmt: skip

    def _areas(self, batches: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [
            {"name": batch["areas"][0], "coat": "base", "windows": [batch["windows"][-1]]}
            for batch in batches
            if batch["areas"] and batch["windows"] and batch["windows"][-1]["name"] == "recoat"
        ]

    def _alerts(self, batch: dict[str, Any], now: datetime) -> list[dict[str, Any]]:
        found = []
        running = [window for window in batch["windows"][:3] if window["closes"]]
        current = [window for window in running if window["state"] != "done"][:1]
        for window in current:
            early = datetime.fromisoformat(window["closes"]["early"])
            if now < early - self.heads_up:
                continue
            stage = "late" if now >= early + timedelta(seconds=30) else "now" if now >= early else "heads-up"
            name, alert_id = window["name"], f"b{batch['id']}.{window['name']}"
            where = f"Batch {batch['id']}, {batch['areas'][0] if batch['areas'] else 'floor'}"
            heard = [each for each in self.live() if alert_id in each.statement.get("alerts", ())]
            found.append({
                "id": alert_id, "step": name, "rank": "timely" if name == "back-roll" else "critical", "stage": stage,
                "batch": batch["id"], "area": None, "text": f"{where}: {_DO[name]}.", "due": iso(early),
                "delivered": [], "heard_by": (heard[-1].by or "somebody") if heard else None,
                "who": window.get("who"), "claimed_by": (window.get("began") or {}).get("by"),
            })  # fmt: skip
        return found


def _calls(batch: Mapping[str, Any], window: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The calls to come of a window, as the real house adds them."""
    closes = window.get("closes")
    if not closes:
        return []
    early, do = window.get("latest_start") or closes["early"], words_of(window["name"]).do
    text = f"Batch {batch['id']}, {list_words(batch.get('areas', ()))}: {do[:1].lower()}{do[1:]} now."
    said = {"do": do, "text": text, "speech": text}
    calls = [{"stage": "now", "at": early, **said}]
    return calls if early == closes["early"] else [*calls, {"stage": "late", "at": closes["early"], **said}]


STUDIO_CONDITIONS: Mapping[str, Any] = {
    "air_c": 18.5, "rh_pct": 62.0, "slab_c": 14.5, "dew_point_c": 11.1, "margin_k": 3.4, "verdict": "go", "reasons": [],
}  # fmt: skip


def studio_floor() -> Floor:
    return Floor(
        job="Pottery studio floor",
        zone="Europe/Lisbon",
        areas=("bay 1", "bay 2", "bay 3", "bay 4"),
        crew=("mixer", "roller"),
        coats=(
            CoatChoice("base", "Slow epoxy base", volume_l=9.0, areas=("bay 1", "bay 2", "bay 3", "bay 4")),
            CoatChoice("top", "Polyaspartic top coat", volume_l=4.0),
        ),
    )


def studio_plan(start: datetime | None = None) -> list[ComingBatch]:
    first = ComingBatch("Slow epoxy base", ("bay 1",), volume_l=9.0, coat="base", who="mixer", start=start)
    return [
        replace(first, areas=(f"bay {n}",), start=start + timedelta(minutes=25 * n) if start else None)
        for n in range(1, 5)
    ]


def mixing(area: str = "bay 1") -> dict[str, Any]:
    return {"verb": "mixing", "product": "Slow epoxy base", "areas": [area], "volume_l": 9.0, "coat": "base"}


def wall_clock(at: datetime, zone: str, now: datetime) -> str:
    """A time as a crew in that zone reads it, with its day if that is not the day of `now` there.

    >>> evening = datetime(2026, 4, 13, 22, 55, tzinfo=UTC)
    >>> wall_clock(evening, "Europe/Lisbon", evening), wall_clock(evening + POUR_OUT, "Europe/Lisbon", evening)
    ('23:55', 'Tue 0:05')
    """
    there, today = (each.astimezone(ZoneInfo(zone)) for each in (at, now))
    day = "" if there.date() == today.date() else f"{there:%a} "
    return f"{day}{there.hour}:{there:%M}"


def iso(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"

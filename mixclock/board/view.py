"""Makes the page's content, one JSON value, from a snapshot. Pure; the page only draws and counts down."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Any

from mixclock.board.gauges import amount_gauge, conditions_said, cup_gauge, reading_gauges, spot_gauge
from mixclock.board.house import CoatChoice, ComingBatch, Floor, RecentStatement, RunningCup
from mixclock.board.nextsteps import (
    began_of,
    closing_time,
    dump_of,
    next_statement,
    open_steps,
    other_statements,
    statement_of,
)
from mixclock.board.openingstocome import coming, waits
from mixclock.decide.alerting.raising import REPEAT_EVERY
from mixclock.decide.stages import IN_THE_BUCKET, BatchStage
from mixclock.job.batchbuilding import DUMPED_SHARES
from mixclock.job.cups import SIGNS
from mixclock.job.statements import MixingStatement, SpotStatement
from mixclock.job.statements.spot import SPOT_USES
from mixclock.job.stepkinds import RANK_ORDER, SAVABLE_FIRST
from mixclock.job.steps import BY_VERB, HOT, NEXT_BATCH, POUR_OUT, TAPE, WET_EDGE, row_of
from mixclock.outside.channels.tones import sounds_told
from mixclock.units import METRIC_CREW, Amount, CrewUnits
from mixclock.values import dataclass
from mixclock.words.byfinger import by_finger
from mixclock.words.cautions import DUMP_SPOT
from mixclock.words.cupwords import ASKED, named_cup
from mixclock.words.enumeration import list_words
from mixclock.words.jsonfields import fields_json
from mixclock.words.stepwords import STAGE_MARKS, words_of
from mixclock.words.ticklist import tick_rows
from mixclock.words.times import ROUNDED_TO
from mixclock.words.unsurewindows import UNSURE_REVERSED, UNSURE_SPAN, is_unsure, no_date_of

Json = Mapping[str, Any]

TABLE: Json = {
    "ranks": [rank.value for rank in RANK_ORDER],
    "stages": [stage.value for stage in SAVABLE_FIRST],
    "marks": {stage.value: mark for stage, mark in STAGE_MARKS.items()},
    "mix": {"verb": "mixing", "label": words_of(NEXT_BATCH).done, "do": words_of(NEXT_BATCH).do},
    "pour": {"verb": row_of(POUR_OUT).verb, "label": words_of(POUR_OUT).done},
    "spot": {"verb": SpotStatement.verb, "label": "Small mix", "uses": list(SPOT_USES)},
    "ticks": tick_rows(),
    "dump": {"verb": row_of(POUR_OUT).gone_verb, "label": words_of(POUR_OUT).gone, "shares": list(DUMPED_SHARES)},
    "dump_spot": DUMP_SPOT,
    "rounded_ms": [[limit.total_seconds() * 1000, step.total_seconds() * 1000] for limit, step in ROUNDED_TO],
    "unsure": {"span": UNSURE_SPAN, "reversed": UNSURE_REVERSED},
    "sounds": sounds_told(),
    "repeat_ms": REPEAT_EVERY.total_seconds() * 1000,
    "dated": ["mixing", "mixed", "spot", "dumped", *BY_VERB, "did"],
}
"""What the page knows of steps, of stages, and of how times are said and calls sound: it makes up none by itself."""

_OTHERWISE = {WET_EDGE: (TAPE, words_of(TAPE).done), HOT: (POUR_OUT, words_of(POUR_OUT).gone)}


@dataclass(frozen=True)
class ViewParts:
    """Everything that a view is made from."""

    snapshot: Json
    floor: Floor
    planned: Sequence[ComingBatch]
    recent: Sequence[RecentStatement]
    next_kit: Json | None = None
    cups: Sequence[RunningCup] = ()


def build_view(told: ViewParts, now: datetime) -> dict[str, Any]:
    """The page's content. Times are ISO 8601 in UTC, as `now --json` gives them."""
    batches = told.snapshot.get("batches", ())
    units = told.floor.units
    cards = [card_json(batch, units) for batch in batches if batch.get("stage") != "done"]
    alerts = sorted((_alert(alert, batches) for alert in told.snapshot.get("alerts", ())), key=_urgency)
    return {
        "job": told.floor.job,
        "zone": told.floor.zone,
        "twelve_hours": told.floor.twelve_hours,
        "month_first": told.floor.month_first,
        "crew": list(told.floor.crew),
        "areas": list(told.floor.areas),
        "coats": [_coat(choice, units) for choice in told.floor.coats],
        "spots": [{"product": name, "gauge": spot_gauge(units)} for name in _products(told.floor)],
        "alerts": alerts,
        "batches": sorted(cards, key=lambda card: (card["closes"] or {}).get("at") or "9999"),
        "coming": coming(told.snapshot, now),
        "conditions": _conditions(told.snapshot.get("conditions") or {}, units),
        "questions": [_question(asked) for asked in told.snapshot.get("questions", ())],
        "gauges": reading_gauges(told.snapshot.get("conditions") or {}, units),
        "cups": [_cup(cup, told.cups, units) for cup in told.cups],
        "deadlines": [deadline for batch in batches for deadline in _deadlines(batch)],
        "planned": [_planned(batch, units) for batch in told.planned[:4]],
        "recent": [fields_json(each) for each in told.recent[:12]],
        "in_bucket": [card["id"] for card in cards if card["in_bucket"]],
        "table": dict(TABLE),
        "kit": told.next_kit,
    }


def _products(floor: Floor) -> list[str]:
    """The products that a small mix may be made of: each of the job's once."""
    return list(dict.fromkeys(choice.product for choice in floor.coats))


def _alert(alert: Json, batches: Sequence[Json]) -> dict[str, Any]:
    number, area, step = alert.get("batch"), alert.get("area"), alert["step"]
    batch = next((each for each in batches if each["id"] == number), None)
    window = _window_of(batch, step, area)
    areas = [area] if area and _several_areas(batch, step) else ()
    gone = bool(alert.get("gone")) and dump_of(step, number) is not None
    return {
        "id": alert["id"],
        "rank": alert.get("rank", "timely"),
        "stage": alert.get("stage", "now"),
        "step": step,
        "kind": row_of(step).about.value,
        "batch": number,
        "area": area,
        "do": alert.get("do") or words_of(step).do,
        "text": alert.get("text", ""),
        "speech": alert.get("speech", alert.get("text", "")),
        "by": closing_time(window) if window else None,
        "unsure": window is not None and is_unsure(window),
        "who": alert.get("who"),
        "claimed_by": alert.get("claimed_by"),
        "due": alert.get("due"),
        "heard_by": alert.get("heard_by"),
        "done": {"label": words_of(step).gone, "statement": dump_of(step, number)}
        if gone
        else _done(batch, step, areas),
        "ends": _ends_otherwise(batch, step, areas),
        "on_it": None if gone else began_of(step, number),
    }


def _done(batch: Json | None, step: str, areas: Sequence[str]) -> dict[str, Any] | None:
    """The button that ends an alert. It makes the alert's own statement, else that of the step that ends it, as
    neutralising ends a dwell."""
    if batch is None:
        return None
    has = {window["name"] for window in batch.get("windows", ())}
    for name in (step, *row_of(step).ended_by):
        if (name == step or name in has) and (statement := statement_of(name, batch["id"], areas)) is not None:
            return {"label": words_of(name).done, "statement": statement}
    return None


def _ends_otherwise(batch: Json | None, step: str, areas: Sequence[str]) -> dict[str, Any] | None:
    """What else ends a call: tape ends a wet edge, carrying it out ends a hot bucket. Only a finger states it."""
    if batch is None or step not in _OTHERWISE:
        return None
    otherwise, words = _OTHERWISE[step]
    done = dump_of(otherwise, batch["id"]) if step == HOT else statement_of(otherwise, batch["id"], areas)
    return {"label": words, "statement": done}


def _window_of(batch: Json | None, step: str, area: str | None) -> Json | None:
    windows = [window for window in batch.get("windows", ()) if window["name"] == step] if batch else []
    exact = [window for window in windows if area is None or window.get("area") in (None, area)]
    return min(exact or windows, key=lambda window: closing_time(window) or "9999", default=None)


def _several_areas(batch: Json | None, step: str) -> bool:
    areas = {window.get("area") for window in (batch or {}).get("windows", ()) if window["name"] == step}
    return len(areas) > 1


def _urgency(alert: Json) -> tuple[int, int, str]:
    return RANK_ORDER.index(alert["rank"]), SAVABLE_FIRST.index(alert["stage"]), alert["by"] or alert["due"] or ""


def card_json(batch: Json, units: CrewUnits) -> dict[str, Any]:
    """A batch as its card shows it."""
    steps = open_steps(batch)
    closing = next((window for window in steps if closing_time(window)), None)
    return {
        "id": batch["id"],
        "product": batch.get("product", ""),
        "amount": amount_words(batch.get("amount_l"), batch.get("mass_kg"), units),
        "grit": batch.get("grit"),
        "where": list_words(batch.get("areas", ())),
        "stage": batch.get("stage", ""),
        "stage_words": _STAGE_WORDS.get(batch["stage"], batch["stage"]),
        "in_bucket": batch.get("stage") in IN_THE_BUCKET,
        "mixed_at": batch.get("mixed_at"),
        "who": closing.get("who") if closing else None,
        "began": next((window.get("began") for window in steps if window.get("began")), None),
        "closes": _closes(closing) if closing else None,
        "waits": waits(batch),
        "next": next_statement(batch),
        "others": other_statements(batch),
        "windows": [_window(window) for window in batch.get("windows", ())],
    }


def _closes(window: Json) -> dict[str, Any]:
    words = words_of(window["name"])
    told = {"step": window["name"], "do": words.do, "at": closing_time(window), "state": window.get("state")}
    return {**told, "unsure": True} if is_unsure(window) else told


def _window(window: Json) -> dict[str, Any]:
    return {
        "name": words_of(window["name"]).window,
        "area": window.get("area"),
        "opens": window.get("opens"),
        "closes": window.get("closes"),
        "state": window.get("state"),
        "used_pct": _used_pct(window),
        "unsure": is_unsure(window),
        "no_date": no_date_of(window),
        "because": [said for said in window.get("because", ()) if said != no_date_of(window)],
        "assumed": list(window.get("assumed", ())),
    }


def _used_pct(window: Json) -> int | None:
    used = window.get("ripeness_closes")
    return None if used is None else round(100 * used)


def _deadlines(batch: Json) -> Iterator[dict[str, Any]]:
    """The deadlines that the page calls by itself when the daemon is gone, each with its words for every stage.

    They are all that the daemon would call, also a window that no statement of its own ends: a wet edge, or a dwell.
    """
    for window in sorted(batch.get("windows", ()), key=lambda each: closing_time(each) or "9999"):
        step, area, calls = window["name"], window.get("area"), window.get("calls")
        if not calls or window.get("state") in ("missed", "done"):
            continue
        areas = [area] if area and _several_areas(batch, step) else ()
        yield {
            "id": f"b{batch['id']}.{area or ''}.{step}",
            "batch": batch["id"],
            "step": step,
            "kind": row_of(step).about.value,
            "at": calls[0]["at"],
            "by": closing_time(window),
            "unsure": is_unsure(window),
            "rank": row_of(step).rank.value,
            "calls": calls,
            "do": calls[0]["do"],
            "text": calls[0]["text"],
            "speech": calls[0]["speech"],
            "who": window.get("who"),
            "done": _done(batch, step, areas),
            "ends": _ends_otherwise(batch, step, areas),
        }


def _conditions(told: Json, units: CrewUnits) -> dict[str, Any]:
    """The readings in words, and since when."""
    return {"rows": list(conditions_said(told, units)), "at": told.get("at") or told.get("read_at")}


def _question(asked: Json) -> dict[str, Any]:
    """The question about a reading that jumped. A finger answers it, so it names no command."""
    return {"entry": asked["entry"], "text": by_finger(asked["text"])}


def _cup(cup: RunningCup, among: Sequence[RunningCup], units: CrewUnits) -> dict[str, Any]:
    """A running test cup, with the question that it asks. Its begin is its name."""
    return {
        "began": cup.began.isoformat(),
        "text": f"{named_cup(cup.product, cup.lot, len(among))}: {ASKED}",
        "gauge": cup_gauge(cup.last_c, units),
        "signs": list(SIGNS),
    }


def _coat(choice: CoatChoice, units: CrewUnits) -> dict[str, Any]:
    return {
        "name": choice.name,
        "product": choice.product,
        "gauge": amount_gauge(choice, units),
        "amount": amount_words(choice.volume_l, choice.mass_kg, units),
        "areas": list(choice.areas),
    }


def _planned(batch: ComingBatch, units: CrewUnits) -> dict[str, Any]:
    known = batch.volume_l is not None or batch.mass_kg is not None
    amount = Amount(batch.volume_l, batch.mass_kg if batch.volume_l is None else None) if known else None
    statement = MixingStatement(batch.product, amount, batch.areas, batch.coat)
    return {
        "product": batch.product,
        "where": list_words(batch.areas),
        "amount": ", ".join(filter(None, (amount_words(batch.volume_l, batch.mass_kg, units), batch.grit))),
        "who": batch.who,
        "start": batch.start.strftime("%Y-%m-%dT%H:%M:%SZ") if batch.start else None,
        "statement": statement.as_json(),
    }


_STAGE_WORDS: Mapping[str, str] = MappingProxyType(
    {BatchStage.MIXED: "in the bucket", BatchStage.POURED: "on the floor"}
)


def amount_words(volume_l: float | None, mass_kg: float | None, units: CrewUnits = METRIC_CREW) -> str:
    """An amount as this crew says it.

    >>> amount_words(9.0, None), amount_words(None, 4.25), amount_words(None, None)
    ('9 L', '4.2 kg', '')
    """
    if volume_l is not None:
        return units.write_volume(volume_l)
    return units.write_mass(mass_kg) if mass_kg is not None else ""

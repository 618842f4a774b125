"""What `plan --json` answers, and what is kept of a plan to tell later what changed."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

from mixclock.decide.plan.floor.acid import DilutedBucket
from mixclock.decide.plan.floor.atonce import tools_at_once
from mixclock.decide.plan.floor.flake import Flake
from mixclock.decide.plan.floor.plans import Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.systems import System
from mixclock.decide.plan.floor.takeoff import AreaTake, CoatTake, TakeOff
from mixclock.job.instants import json_text
from mixclock.words.plan.mixsheet import mixing_cautions
from mixclock.words.plan.sheet import PlanSheet


def plan_json(sheet: PlanSheet) -> dict[str, Any]:
    """A plan with its take-off: quantities with their SI unit in the key, times in UTC."""
    plan = sheet.plan
    products = dict.fromkeys(batch.product for batch in plan.batches)
    return {
        **bare_plan_json(plan),
        "take_off": take_off_json(sheet.take),
        "cautions": {product: mixing_cautions(sheet.profile(product)) for product in products},
        "instead": _compared(sheet),
    }


def bare_plan_json(plan: Plan) -> dict[str, Any]:
    """The plan alone."""
    return {
        **_fields(plan, "batches", "steps", "soonest"),
        "feasible": plan.feasible,
        "finish": _plain(plan.finish),
        "batches_in_all": len(plan.batches) + len(plan.kept),
        "batches": [_batch(plan, batch) for batch in plan.batches],
        "steps": [_step(step) for step in plan.steps],
        "tightest": _step(plan.tightest) if plan.tightest else None,
        "chance": _chance(plan),
        "obstacle": _obstacle(plan),
        "changes": [{**_fields(change, "said"), "change": change.said} for change in plan.changes],
        "at_once": [{"tool": tool, "number": count} for tool, count in tools_at_once(plan).items()],
    }


def _fields(thing: Any, *leave: str) -> dict[str, Any]:
    """The fields of a thing under their own names, but for some."""
    return {each.name: _plain(getattr(thing, each.name)) for each in fields(thing) if each.name not in leave}


def _plain(value: Any, places: int = 3) -> Any:
    if isinstance(value, datetime):
        return json_text(value)
    if isinstance(value, float):
        return round(value, places)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return _fields(value) if is_dataclass(value) else value


def _obstacle(plan: Plan) -> dict[str, Any] | None:
    found = plan.obstacle
    return found and {**_fields(found, "said"), "text": found.said}


def _share_pct(share: float | None) -> float | None:
    return None if share is None else round(share * 100.0, 2)


def _chance(plan: Plan) -> dict[str, Any] | None:
    chance, soonest = plan.chance, plan.soonest
    return chance and {
        "days": chance.days,
        "holds_pct": _share_pct(chance.holds),
        "windows_hold_pct": _share_pct(chance.windows_hold),
        "hours_hold_pct": _share_pct(chance.hours_hold),
        "soonest": soonest and {"finish": _plain(soonest.finish), "holds_pct": _share_pct(soonest.holds)},
        "seed": chance.seed,
        "breaks": [{"step": name, "share_pct": _share_pct(share)} for name, share in chance.breaks],
    }


def _batch(plan: Plan, batch: PlannedBatch) -> dict[str, Any]:
    return {
        **_fields(batch),
        "areas": list(batch.areas),
        "pieces": [_fields(piece, "edge_m", "texture_um", "upright_m2") for piece in batch.pieces],
        "size_m2": _plain(batch.size_m2),
        "who": next((step.who for step in plan.steps if step.batch == batch.number and step.kind == "mix"), None),
        "windows": [_fields(window, "batch", "likely_closes") for window in batch.windows],
    }


def _step(step: PlannedStep) -> dict[str, Any]:
    return {**_fields(step, "kind", "beside"), "step": step.kind, "slack_s": _slack_s(step), "together_with": step.beside}


def _slack_s(step: PlannedStep | None) -> int | None:
    return None if step is None or step.slack_s is None else round(step.slack_s)


def take_off_json(take: TakeOff) -> dict[str, Any]:
    """Quantities, coat by coat and area by area."""
    return {
        **_fields(take, "coats"),
        "cost": _plain(take.cost, 2),
        "cost_by_area": {area: _plain(cost, 2) for area, cost in take.cost_by_area().items()},
        "coats": [_coat(coat) for coat in take.coats],
    }


def _coat(coat: CoatTake) -> dict[str, Any]:
    kits = coat.kits
    return {
        **_fields(coat, "parts", "batches", "stock"),
        **_fields(coat.parts),
        "kits": kits and {"size_l": _plain(kits.size_l), "bought": kits.bought, "spare": kits.spare},
        "left_l": _plain(coat.left_l),
        "left_mixed_l": _plain(coat.surplus_l),
        "flake": _flake(coat.flake),
        "dilution": _dilution(coat.dilution),
        "cost": _plain(coat.cost, 2),
        "product_cost": _plain(coat.product_cost, 2),
        "flake_cost": _plain(coat.flake_cost, 2),
        "areas": [_area(area) for area in coat.areas],
    }


def _area(area: AreaTake) -> dict[str, Any]:
    return {
        **_fields(area, "parts"),
        **_fields(area.parts),
        "flake": _flake(area.flake),
        "dilution": _dilution(area.dilution),
        "cost": _plain(area.cost, 2),
    }


def _flake(flake: Flake | None) -> dict[str, Any] | None:
    return flake and {
        **_fields(flake, "cover_share", "said"),
        "swept_kg": _plain(flake.swept_kg),
        "cover_pct": round(flake.cover_share * 100.0, 1),
    }


def _dilution(dilution: DilutedBucket | None) -> dict[str, Any] | None:
    return dilution and {**_fields(dilution), "acid_pct": _plain(dilution.acid_pct, 2)}


def _compared(sheet: PlanSheet) -> dict[str, Any] | None:
    compared = sheet.compared
    return compared and {
        "coats": list(compared.coats),
        "film": list(compared.said),
        "as_planned": _system(compared.as_planned),
        "instead": _system(compared.instead),
    }


def _system(system: System) -> dict[str, Any]:
    return {
        "product": system.product,
        "feasible": system.plan.feasible,
        "obstacle": _obstacle(system.plan),
        "batches": len(system.plan.batches),
        "finish": _plain(system.plan.finish),
        "least_slack_s": _slack_s(system.plan.tightest),
        "leaves_out": list(system.leaves_out),
        "take_off": take_off_json(system.take),
    }

"""What `plan --json` answers, and what is kept of a plan to tell later what changed."""

from __future__ import annotations

from typing import Any

from mixclock.decide.plan.floor.acid import DilutedBucket
from mixclock.decide.plan.floor.flake import Flake
from mixclock.decide.plan.floor.pailsinuse import tools_at_once
from mixclock.decide.plan.floor.plans import Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.systems import System
from mixclock.decide.plan.floor.takeoff import AreaTake, CoatTake, TakeOff
from mixclock.words.jsonfields import fields_json, plain_json
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
        **fields_json(plan, "batches", "steps", "soonest"),
        "feasible": plan.feasible,
        "finish": plain_json(plan.finish),
        "batches_in_all": len(plan.batches) + len(plan.kept),
        "batches": [_batch(plan, batch) for batch in plan.batches],
        "steps": [_step(step) for step in plan.steps],
        "tightest": _step(plan.tightest) if plan.tightest else None,
        "chance": _chance(plan),
        "obstacle": _obstacle(plan),
        "changes": [{**fields_json(change, "said"), "change": change.said} for change in plan.changes],
        "at_once": [{"tool": tool, "number": count} for tool, count in tools_at_once(plan).items()],
    }


def _obstacle(plan: Plan) -> dict[str, Any] | None:
    found = plan.obstacle
    return {**fields_json(found, "said"), "text": found.said} if found else None


def _share_pct(share: float | None) -> float | None:
    return None if share is None else round(share * 100.0, 2)


def _chance(plan: Plan) -> dict[str, Any] | None:
    chance, soonest = plan.chance, plan.soonest
    if chance is None:
        return None
    return {
        "days": chance.days,
        "holds_pct": _share_pct(chance.holds),
        "windows_hold_pct": _share_pct(chance.windows_hold),
        "hours_hold_pct": _share_pct(chance.hours_hold),
        "soonest": soonest and {"finish": plain_json(soonest.finish), "holds_pct": _share_pct(soonest.holds)},
        "seed": chance.seed,
        "breaks": [{"step": name, "share_pct": _share_pct(share)} for name, share in chance.breaks],
    }


def _batch(plan: Plan, batch: PlannedBatch) -> dict[str, Any]:
    return {
        **fields_json(batch),
        "areas": list(batch.areas),
        "pieces": [fields_json(piece, "edge_m", "texture_um", "upright_m2") for piece in batch.pieces],
        "size_m2": plain_json(batch.size_m2),
        "who": next((step.who for step in plan.steps if step.batch == batch.number and step.kind == "mix"), None),
        "windows": [fields_json(window, "batch", "likely_closes") for window in batch.windows],
    }


def _step(step: PlannedStep) -> dict[str, Any]:
    return {
        **fields_json(step, "kind", "beside"),
        "step": step.kind,
        "slack_s": _slack_s(step),
        "together_with": step.beside,
    }


def _slack_s(step: PlannedStep | None) -> int | None:
    return None if step is None or step.slack_s is None else round(step.slack_s)


def take_off_json(take: TakeOff) -> dict[str, Any]:
    """Quantities, coat by coat and area by area."""
    return {
        **fields_json(take, "coats"),
        "cost": plain_json(take.cost, 2),
        "cost_by_area": {area: plain_json(cost, 2) for area, cost in take.cost_by_area().items()},
        "coats": [_coat(coat) for coat in take.coats],
    }


def _coat(coat: CoatTake) -> dict[str, Any]:
    kits = coat.kits
    return {
        **fields_json(coat, "parts", "batches", "stock"),
        **fields_json(coat.parts),
        "kits": kits and {"size_l": plain_json(kits.size_l), "bought": kits.bought, "spare": kits.spare},
        "left_l": plain_json(coat.left_l),
        "left_mixed_l": plain_json(coat.surplus_l),
        "flake": _flake(coat.flake),
        "dilution": _dilution(coat.dilution),
        "cost": plain_json(coat.cost, 2),
        "product_cost": plain_json(coat.product_cost, 2),
        "flake_cost": plain_json(coat.flake_cost, 2),
        "areas": [_area(area) for area in coat.areas],
    }


def _area(area: AreaTake) -> dict[str, Any]:
    return {
        **fields_json(area, "parts"),
        **fields_json(area.parts),
        "flake": _flake(area.flake),
        "dilution": _dilution(area.dilution),
        "cost": plain_json(area.cost, 2),
    }


def _flake(flake: Flake | None) -> dict[str, Any] | None:
    if flake is None:
        return None
    return {
        **fields_json(flake, "cover_share", "said"),
        "swept_kg": plain_json(flake.swept_kg),
        "cover_pct": round(flake.cover_share * 100.0, 1),
    }


def _dilution(dilution: DilutedBucket | None) -> dict[str, Any] | None:
    return {**fields_json(dilution), "acid_pct": plain_json(dilution.acid_pct, 2)} if dilution else None


def _compared(sheet: PlanSheet) -> dict[str, Any] | None:
    compared = sheet.compared
    if compared is None:
        return None
    return {
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
        "finish": plain_json(system.plan.finish),
        "least_slack_s": _slack_s(system.plan.tightest),
        "leaves_out": list(system.leaves_out),
        "take_off": take_off_json(system.take),
    }

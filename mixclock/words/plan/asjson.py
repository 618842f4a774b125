"""What `plan --json` answers, and what is kept of a plan to tell later what changed."""

from __future__ import annotations

from dataclasses import asdict
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
    tightest = plan.tightest
    return {
        "job": plan.job,
        "feasible": plan.feasible,
        "begins": json_text(plan.begins),
        "finish": json_text(plan.finish) if plan.finish else None,
        "batches_in_all": len(plan.batches) + len(plan.kept),
        "batches": [_batch(plan, batch) for batch in plan.batches],
        "steps": [_step(step) for step in plan.steps],
        "tightest": _step(tightest) if tightest else None,
        "breaks": list(plan.breaks),
        "chance": _chance(plan),
        "obstacle": _obstacle(plan),
        "changes": [
            {
                "direction": change.direction,
                "change": change.said,
                "finish": json_text(change.finish) if change.finish else None,
                "batches": change.batches,
            }
            for change in plan.changes
        ],
        "changed": list(plan.changed),
        "kept": list(plan.kept),
        "stopped_early": plan.stopped_early,
        "at_once": [{"tool": tool, "number": count} for tool, count in tools_at_once(plan).items()],
        "warnings": list(plan.warnings),
        "assumed": list(plan.assumed),
    }


def _obstacle(plan: Plan) -> dict[str, Any] | None:
    found = plan.obstacle
    if found is None:
        return None
    return {"constraint": found.constraint, "coat": found.coat, "area": found.area, "text": found.said}


def _share_pct(share: float | None) -> float | None:
    return None if share is None else round(share * 100.0, 2)


def _soonest(plan: Plan) -> dict[str, Any] | None:
    """The plan with nothing in reserve, where another was chosen."""
    if plan.soonest is None:
        return None
    return {"finish": json_text(plan.soonest.finish), "holds_pct": _share_pct(plan.soonest.holds)}


def _chance(plan: Plan) -> dict[str, Any] | None:
    if plan.chance is None:
        return None
    return {
        "days": plan.chance.days,
        "holds_pct": round(plan.chance.holds * 100.0, 2),
        "windows_hold_pct": _share_pct(plan.chance.windows_hold),
        "hours_hold_pct": _share_pct(plan.chance.hours_hold),
        "soonest": _soonest(plan),
        "seed": plan.chance.seed,
        "breaks": [{"step": name, "share_pct": round(share * 100.0, 2)} for name, share in plan.chance.breaks],
    }


def _batch(plan: Plan, batch: PlannedBatch) -> dict[str, Any]:
    return {
        "number": batch.number,
        "coat": batch.coat,
        "product": batch.product,
        "areas": list(batch.areas),
        "pieces": [
            {"area": piece.area, "part": piece.part, "parts": piece.parts, "size_m2": _rounded(piece.size_m2)}
            for piece in batch.pieces
        ],
        "size_m2": _rounded(batch.size_m2),
        "volume_l": _rounded(batch.volume_l),
        "mass_kg": _rounded(batch.mass_kg),
        "needed_l": _rounded(batch.needed_l),
        "kits": _rounded(batch.kits),
        "a_l": _rounded(batch.a_l),
        "b_l": _rounded(batch.b_l),
        "a_kg": _rounded(batch.a_kg),
        "b_kg": _rounded(batch.b_kg),
        "flake_kg": _rounded(batch.flake_kg),
        "vessel": batch.vessel,
        "who": next((step.who for step in plan.steps if step.batch == batch.number and step.kind == "mix"), None),
        "mixed_at": json_text(batch.mixed_at),
        "poured_at": json_text(batch.poured_at),
        "pour_by": json_text(batch.pour_by) if batch.pour_by else None,
        "set_by": batch.set_by,
        "windows": [
            {
                "name": window.name,
                "starts": json_text(window.starts),
                "opens": json_text(window.opens) if window.opens else None,
                "closes": json_text(window.closes) if window.closes else None,
                "sure": window.sure,
            }
            for window in batch.windows
        ],
    }


def _step(step: PlannedStep) -> dict[str, Any]:
    return {
        "step": step.kind,
        "who": step.who,
        "batch": step.batch,
        "coat": step.coat,
        "areas": list(step.areas),
        "starts": json_text(step.starts),
        "ends": json_text(step.ends),
        "window": step.window,
        "by": json_text(step.by) if step.by else None,
        "slack_s": None if step.slack_s is None else round(step.slack_s),
        "note": step.note,
        "together_with": step.beside,
    }


def take_off_json(take: TakeOff) -> dict[str, Any]:
    """Quantities, coat by coat and area by area."""
    return {
        "currency": take.currency,
        "cost": _rounded(take.cost, 2),
        "cost_by_area": {area: _rounded(cost, 2) for area, cost in take.cost_by_area().items()},
        "unpriced": list(take.unpriced),
        "assumed": list(take.assumed),
        "coats": [_coat(coat) for coat in take.coats],
    }


def _coat(coat: CoatTake) -> dict[str, Any]:
    kits = coat.kits
    return {
        "coat": coat.coat,
        "product": coat.product,
        "needed_l": _rounded(coat.needed_l),
        "mixed_l": _rounded(coat.mixed_l),
        "mass_kg": _rounded(coat.mass_kg),
        **{key: _rounded(value) for key, value in asdict(coat.parts).items()},
        "kits": kits and {"size_l": _rounded(kits.size_l), "bought": kits.bought, "spare": kits.spare},
        "bought_l": _rounded(coat.bought_l),
        "left_l": _rounded(coat.left_l),
        "left_mixed_l": _rounded(coat.surplus_l),
        "flake": _flake(coat.flake),
        "grit_kg": _rounded(coat.grit_kg),
        "dilution": _dilution(coat.dilution),
        "thinner": coat.thinner,
        "cleaner": coat.cleaner,
        "cleaner_l": _rounded(coat.cleaner_l),
        "cost": _rounded(coat.cost, 2),
        "product_cost": _rounded(coat.product_cost, 2),
        "flake_cost": _rounded(coat.flake_cost, 2),
        "areas": [_area(area) for area in coat.areas],
    }


def _area(area: AreaTake) -> dict[str, Any]:
    return {
        "area": area.area,
        "size_m2": _rounded(area.size_m2),
        "upright_m2": _rounded(area.upright_m2),
        "volume_l": _rounded(area.volume_l),
        "mass_kg": _rounded(area.mass_kg),
        **{key: _rounded(value) for key, value in asdict(area.parts).items()},
        "flake": _flake(area.flake),
        "dilution": _dilution(area.dilution),
        "cost": _rounded(area.cost, 2),
    }


def _flake(flake: Flake | None) -> dict[str, Any] | None:
    if flake is None:
        return None
    return {
        "material": flake.material,
        "size": flake.size,
        "thrown_kg": _rounded(flake.thrown_kg),
        "stuck_kg": _rounded(flake.stuck_kg),
        "swept_kg": _rounded(flake.swept_kg),
        "cover_pct": _rounded(flake.cover_share * 100.0, 1),
        "to_refusal": flake.to_refusal,
    }


def _dilution(dilution: DilutedBucket | None) -> dict[str, Any] | None:
    if dilution is None:
        return None
    return {
        "product_l": _rounded(dilution.product_l),
        "water_l": _rounded(dilution.water_l),
        "water_to_product": dilution.water_to_product,
        "acid_pct": _rounded(dilution.acid_pct, 2),
        "soda_kg": _rounded(dilution.soda_kg),
    }


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
    tight = system.plan.tightest
    return {
        "product": system.product,
        "feasible": system.plan.feasible,
        "obstacle": _obstacle(system.plan),
        "batches": len(system.plan.batches),
        "finish": json_text(system.plan.finish) if system.plan.finish else None,
        "least_slack_s": None if tight is None or tight.slack_s is None else round(tight.slack_s),
        "leaves_out": list(system.leaves_out),
        "take_off": take_off_json(system.take),
    }


def _rounded(value: float | None, places: int = 3) -> float | None:
    return None if value is None else round(value, places)

"""What an etch says on its mix sheet and in the lists: neutraliser ready, slab damp, neutralise, rinse, let it dry."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from mixclock.decide.plan.floor.acid import dilution_of
from mixclock.decide.plan.floor.plans import PlannedBatch, PlannedStep
from mixclock.job.profile import Family, Profile
from mixclock.job.steps import NEUTRALISE, RINSE
from mixclock.words.plan.sheet import PlanSheet

RINSED_TWICE = "twice, until clean rinse water has the pH of the tap's"
BY_PH = "At most 1 below and 2 above the water that you rinse with (ASTM D4262, from memory)."
FIRST_UP = "rinse the acid up first; the floor gets what is left"
"""Most acid dies in the slab, and too much neutraliser leaves salts under the coat."""

HOW: dict[Family, tuple[str, ...]] = {
    Family.ACID_ETCH: ("A plastic pail, never metal, and not the neutraliser's. Stir by hand, no drill: it splashes.",),
    Family.NEUTRALISER: ("In a pail of its own, ready before any acid is poured.",),
}
"""How these are mixed, the same for every bucket."""

DRY = "Before the coat a plastic sheet taped down for 16 h must show no damp under it (ASTM D4263, from memory)."


def family_of(sheet: PlanSheet, coat: str) -> Family | None:
    """The family of a coat's product."""
    found = sheet.coat(coat)
    return sheet.profile(found.product).family if found is not None else None


def acid_note(sheet: PlanSheet, step: PlannedStep) -> str:
    """What somebody in gloves has to know at a step of an etch; nothing at other steps."""
    family = family_of(sheet, step.coat)
    if family is Family.NEUTRALISER and step.kind == "mix":
        return "ready before any acid is poured"
    if family is not Family.ACID_ETCH:
        return ""
    batch = sheet.batch(step.batch)
    notes = {
        "ready": _soda(sheet, step.coat),
        "mix": "water first, the acid INTO it",
        "pour": "onto damp slab, no puddles; keep it wet",
        NEUTRALISE: f"begin where the acid was begun; {FIRST_UP}",
        RINSE: f"{RINSED_TWICE}{_dries(sheet, batch)}",
    }
    return notes.get(step.kind, "")


def acid_steps(sheet: PlanSheet, batch: PlannedBatch, profile: Profile, mixed: str) -> Iterator[str]:
    """The lines of a mix sheet of what is rinsed off again; `mixed` is the one of its mixing."""
    if profile.family is Family.NEUTRALISER:
        on_acid = [step for step in sheet.plan.steps if step.kind == NEUTRALISE and _on(batch, step)]
        yield mixed
        if on_acid:
            begins, ends = min(step.starts for step in on_acid), max(step.ends for step in on_acid)
            yield f"Onto the acid from {sheet.clock(begins)} on, the last of it by {sheet.clock(ends, up=True)}."
        return
    steps = {step.kind: step for step in sheet.plan.steps if step.batch == batch.number}
    own = steps[NEUTRALISE].note.removeprefix("with ") if NEUTRALISE in steps else ""
    spill = _soda_for(sheet, batch, profile)
    yield f"The neutraliser stands ready first: {own or spill}."
    if own:
        yield f"Beside it, for a spill of the whole bucket: {spill}, or as much of another."
    yield mixed
    pour, neutralise, rinse = (steps.get(kind) for kind in ("pour", NEUTRALISE, RINSE))
    if pour is not None:
        until = sheet.clock(pour.ends, up=True)
        yield f"Pour and brush it out from {sheet.clock(pour.starts)} to {until}, on damp slab without puddles."
    if neutralise is not None:
        by = f", all of it by {sheet.clock(neutralise.by)}" if neutralise.by is not None else ""
        yield f"Neutralise from {sheet.clock(neutralise.starts)} on, where the acid was begun{by}: {FIRST_UP}."
    if rinse is not None:
        by = f", by {sheet.clock(rinse.by)}" if rinse.by is not None else ""
        yield f"Scrub, vacuum and rinse from {sheet.clock(rinse.starts)} on{by}, {RINSED_TWICE}{_dries(sheet, batch)}."
        yield BY_PH
        yield DRY


def dry_from(batch: PlannedBatch) -> datetime | None:
    """From when the slab is dry enough to coat after a batch of acid."""
    return next((window.opens for window in batch.windows if window.name == "dry"), None)


def _on(batch: PlannedBatch, step: PlannedStep) -> bool:
    return bool({piece.said for piece in batch.pieces} & set(step.areas))


def _soda_for(sheet: PlanSheet, batch: PlannedBatch, profile: Profile) -> str:
    dilution = dilution_of(profile, batch.volume_l)
    soda_kg = dilution.soda_kg if dilution is not None else None
    return f"{sheet.units.write_mass(soda_kg)} of baking soda" if soda_kg else "as its sheet says"


def _soda(sheet: PlanSheet, coat: str) -> str:
    take = sheet.take.of(coat)
    if take is None or take.dilution is None or take.dilution.soda_kg is None:
        return ""
    return f"baking soda, {sheet.units.write_mass(take.dilution.soda_kg)}, enough for all of it if it spills"


def _dries(sheet: PlanSheet, batch: PlannedBatch | None) -> str:
    dry = dry_from(batch) if batch is not None else None
    return f"; then it dries until {sheet.day_and_clock(dry, up=True)}" if dry is not None else ""

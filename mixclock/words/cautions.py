"""The usual cautions, at the moment at which they matter.

They are general practice; the product's own safety data sheet, local rules and licensed practice come first, and every
answer ends by saying so. Nothing here says that a limit may be passed.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from mixclock.job.profile import Family


class Moment(StrEnum):
    """When a caution is given."""

    OPENING = "opening"
    MIXING = "mixing"
    POURING = "pouring"
    ROLLING = "rolling"
    BROADCAST = "broadcast"
    ACID = "acid"
    NEUTRALISING = "neutralising"
    SANDING = "sanding"
    CLEANING = "cleaning"
    LEFTOVERS = "leftovers"
    HOT_BUCKET = "hot-bucket"
    SMOKING_BUCKET = "smoking-bucket"


DEFERS = "The product's safety data sheet, local rules and licensed practice come before this."

_SKIN = "Nitrile gloves, long sleeves and eye protection: resin and hardener make skin allergic for life."
_WASH = "Off the skin at once with soap and water, never with solvent."
_ISOCYANATE = "Isocyanates in part B harm the lungs: not for anybody with asthma; mask as its sheet says."
_ISOCYANATE_LID = "Never a lid on mixed leftovers: isocyanate and moisture make gas, and the can bursts."
_SOLVENT = "Solvent vapour burns: no flame, heater, pilot light or switch sparks; air the room through."
_NO_LID = "Never a lid on mixed resin."
_THIN = "Leftovers: outside, away from anything that burns, spread thin on sand or sheeting until hard."
_DUST = "Dust of concrete and cured resin harms the lungs: extraction on the machine and a P3 (P100) mask."
_SLIP = "Loose flake is slippery: spiked shoes on, nobody else on the floor."
_WET_SLIP = "Wet resin is slippery: spiked shoes, and keep the way to the door free."
_ACID = "Acid into water, never water into acid."
_ACID_GEAR = "Goggles and face shield, acid-proof gloves, apron and boots, a mask against acid gas; doors open."
_ACID_MIX = "Never with bleach or another cleaner. Keep it off steel and out of drains."
_FIZZ = "Neutraliser into the acid a little at a time: it foams and gives off gas; air the room through."
_LYE = "The neutraliser is caustic too: goggles and gloves stay on until the last rinse."
_AMMONIA = "Never mix ammonia with bleach."

_HOT = (
    "Still holdable: take it outside, away from anything that burns, and spread it thin.",
    "Don't use it up, and never put a lid on it.",
    "Once it smokes, don't lift, stir or cap it: get out, air the room, call the fire service.",
)
_SMOKING = (
    "Don't lift, stir or cap it, and no water into it.",
    "Everybody out, air the room from outside, call the fire service.",
    "Don't breathe the smoke.",
)

_EPOXY: Mapping[Moment, tuple[str, ...]] = {
    Moment.OPENING: (_SKIN,),
    Moment.MIXING: (_SKIN, _WASH),
    Moment.POURING: (_WET_SLIP, _NO_LID),
    Moment.ROLLING: (_WET_SLIP,),
    Moment.BROADCAST: (_SLIP,),
    Moment.CLEANING: (_SOLVENT, _WASH),
    Moment.LEFTOVERS: (_THIN, _NO_LID),
}
_WATERBORNE: Mapping[Moment, tuple[str, ...]] = {
    **_EPOXY,
    Moment.CLEANING: ("Tools with water before it sets; the washings not into drains.", _WASH),
}
_ISOCYANATES: Mapping[Moment, tuple[str, ...]] = {
    Moment.OPENING: (_ISOCYANATE, _SKIN),
    Moment.MIXING: (_ISOCYANATE, _SKIN, _SOLVENT),
    Moment.POURING: (_ISOCYANATE, _WET_SLIP),
    Moment.ROLLING: (_ISOCYANATE, _SOLVENT),
    Moment.BROADCAST: (_ISOCYANATE, _SLIP),
    Moment.CLEANING: (_SOLVENT, _WASH),
    Moment.LEFTOVERS: (_THIN, _ISOCYANATE_LID),
}
_MONOMER: Mapping[Moment, tuple[str, ...]] = {
    **_EPOXY,
    Moment.MIXING: (_SOLVENT, _SKIN, "Peroxide powder never onto dry accelerator: the two alone can explode."),
    Moment.POURING: (_SOLVENT, _WET_SLIP),
}
_ETCH: Mapping[Moment, tuple[str, ...]] = {
    Moment.OPENING: (_ACID_GEAR,),
    Moment.MIXING: (_ACID, _ACID_GEAR, _ACID_MIX),
    Moment.ACID: (_ACID, _ACID_GEAR, _ACID_MIX),
    Moment.POURING: (_ACID_GEAR, "Prewet, no puddles, and never let the acid dry on the floor."),
    Moment.NEUTRALISING: (_FIZZ, _LYE),
    Moment.CLEANING: (_ACID_MIX,),
    Moment.LEFTOVERS: (_ACID_MIX, "Unused acid goes back to a collection point, labelled, upright, in its own can."),
}
_NEUTRALISER: Mapping[Moment, tuple[str, ...]] = {
    Moment.OPENING: (_LYE,),
    Moment.MIXING: (_LYE, _AMMONIA),
    Moment.POURING: (_FIZZ, _LYE),
    Moment.NEUTRALISING: (_FIZZ, _LYE, _AMMONIA),
}
_ALL: Mapping[Moment, tuple[str, ...]] = {
    Moment.SANDING: (_DUST, "Dust in the air can burn: no flame, and earth the extraction."),
    Moment.HOT_BUCKET: _HOT,
    Moment.SMOKING_BUCKET: _SMOKING,
}

CAUTIONS: Mapping[Family, Mapping[Moment, tuple[str, ...]]] = MappingProxyType(
    {
        Family.EPOXY: {**_ALL, **_EPOXY},
        Family.WATERBORNE_EPOXY: {**_ALL, **_WATERBORNE},
        Family.POLYASPARTIC: {**_ALL, **_ISOCYANATES},
        Family.POLYURETHANE: {**_ALL, **_ISOCYANATES},
        Family.ACRYLIC: {**_ALL, **_MONOMER},
        Family.ACID_ETCH: {**_ALL, **_ETCH},
        Family.NEUTRALISER: {**_ALL, **_NEUTRALISER},
    }
)
"""What is said, by family and moment (common practice; the hot bucket from published advice on resin fires)."""


def cautions_for(family: Family | str, moment: Moment | str) -> tuple[str, ...]:
    """What to say at this moment, most pressing first; the last line defers to the product's own safety data sheet.

    A moment that has no caution of its own answers with nothing. For a hot or smoking bucket the advice alone is
    given: there is no time to read more.

    >>> cautions_for("acid etch", "acid")[0]
    'Acid into water, never water into acid.'
    >>> cautions_for("epoxy", "acid")
    ()
    >>> cautions_for("polyaspartic", "hot-bucket")[0]
    'Still holdable: take it outside, away from anything that burns, and spread it thin.'
    """
    at = Moment(moment)
    found = CAUTIONS[Family(family)].get(at, ())
    if not found or at in (Moment.HOT_BUCKET, Moment.SMOKING_BUCKET):
        return found
    return (*found, DEFERS)

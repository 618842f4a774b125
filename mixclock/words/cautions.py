"""The usual cautions, at the moment at which they matter: one row each, with its families, moments and places.

They are general practice; the product's own safety data sheet, local rules and licensed practice come first, and every
answer ends by saying so. Nothing here says that a limit may be passed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from types import MappingProxyType

from mixclock.job.frozen import FrozenRecord
from mixclock.job.profile import EPOXIES, Family


class Moment(StrEnum):
    """When a caution is given."""

    OPENING = "opening"
    MIXING = "mixing"
    POURING = "pouring"
    ROLLING = "rolling"
    BROADCAST = "broadcast"
    ACID = "acid"
    ACID_DRYING = "acid-drying"
    NEUTRALISING = "neutralising"
    SANDING = "sanding"
    CLEANING = "cleaning"
    LEFTOVERS = "leftovers"
    GONE_BUCKET = "gone-bucket"
    HOT_BUCKET = "hot-bucket"
    SMOKING_BUCKET = "smoking-bucket"
    MISSED_RECOAT = "missed-recoat"


class Place(StrEnum):
    """Where a caution is put before the crew."""

    ANSWER = "the answer to a statement"
    CALL = "an alert"
    SHEET = "the mix sheet"
    RECORD = "the record page"


SHOWN: Mapping[Moment, tuple[Place, ...]] = MappingProxyType(
    {
        Moment.OPENING: (Place.CALL,),
        Moment.MIXING: (Place.ANSWER, Place.SHEET, Place.RECORD),
        Moment.POURING: (Place.ANSWER, Place.SHEET),
        Moment.ROLLING: (Place.ANSWER, Place.SHEET),
        Moment.BROADCAST: (Place.ANSWER, Place.SHEET),
        Moment.ACID: (Place.SHEET, Place.RECORD),
        Moment.ACID_DRYING: (Place.CALL,),
        Moment.NEUTRALISING: (Place.ANSWER, Place.SHEET),
        Moment.SANDING: (Place.ANSWER, Place.CALL, Place.SHEET, Place.RECORD),
        Moment.CLEANING: (Place.ANSWER, Place.SHEET),
        Moment.LEFTOVERS: (Place.ANSWER, Place.SHEET, Place.RECORD),
        Moment.GONE_BUCKET: (Place.ANSWER, Place.CALL),
        Moment.HOT_BUCKET: (Place.ANSWER, Place.CALL),
        Moment.SMOKING_BUCKET: (Place.ANSWER, Place.CALL),
        Moment.MISSED_RECOAT: (Place.ANSWER, Place.CALL),
    }
)
"""Where each moment's cautions are shown; a test walks every statement and alert of every family and looks."""

DEFERS = "The product's safety data sheet, local rules and licensed practice come before this."

SMOKE = "Once it smokes, don't lift, stir or cap it: get out, air the room, call the fire service."

DUMP_SPOT = (
    "Name the dump spot before batch 1: bare ground, sand or a steel tray, outside, a clear way to it, no deeper than "
    "a pencil is thick; no cardboard, sawdust, grass or drain."
)
"""Where a bucket goes that is lost, said before there is one (common practice, no source)."""

NO_TIME_TO_READ = (Moment.HOT_BUCKET, Moment.SMOKING_BUCKET, Moment.GONE_BUCKET)
"""Moments at which the advice alone is given."""

ISOCYANATES = frozenset({Family.POLYASPARTIC, Family.POLYURETHANE})
MONOMERS = frozenset({Family.ACRYLIC})
RESINS = EPOXIES | ISOCYANATES | MONOMERS
ETCHES = frozenset({Family.ACID_ETCH})
NEUTRALISERS = frozenset({Family.NEUTRALISER})
EVERY = frozenset(Family)


class Caution(FrozenRecord):
    """One caution: what is said, at which moments, each with the families that it is said of."""

    text: str
    said: Mapping[Moment, frozenset[Family]]

    def places(self, family: Family) -> frozenset[Place]:
        """Where it is shown for a family."""
        return frozenset(place for moment, kin in self.said.items() if family in kin for place in SHOWN[moment])


def _of(families: frozenset[Family], *moments: Moment) -> dict[Moment, frozenset[Family]]:
    return dict.fromkeys(moments, families)


_M = Moment

CAUTIONS: tuple[Caution, ...] = (
    Caution("Acid into water, never water into acid.", _of(ETCHES, _M.MIXING, _M.ACID)),
    Caution("In a bucket, acid goes into water, never water into acid.", _of(ETCHES, _M.ACID_DRYING)),
    Caution(
        "Isocyanates in part B harm the lungs: not for anybody with asthma; mask with the filter that its safety data "
        "sheet names.",
        _of(ISOCYANATES, _M.OPENING, _M.MIXING, _M.POURING, _M.ROLLING, _M.BROADCAST),
    ),
    Caution(
        "Nitrile gloves, long sleeves and eye protection: resin and hardener make skin allergic for life.",
        _of(RESINS, _M.OPENING, _M.MIXING),
    ),
    Caution(
        "Off the skin at once with soap and water, never with solvent.",
        {_M.MIXING: EPOXIES, _M.CLEANING: RESINS},
    ),
    Caution(DUMP_SPOT, _of(RESINS, _M.MIXING)),
    Caution("Peroxide powder never onto dry accelerator: the two alone can explode.", _of(MONOMERS, _M.MIXING)),
    Caution(
        "Solvent vapour burns: no flame, heater, pilot light or switch sparks; air the room through.",
        {
            _M.MIXING: ISOCYANATES | MONOMERS,
            _M.POURING: MONOMERS,
            _M.ROLLING: ISOCYANATES,
            _M.CLEANING: RESINS - {Family.WATERBORNE_EPOXY},
        },
    ),
    Caution(
        "Tools with water before it sets; the washings not into drains.",
        _of(frozenset({Family.WATERBORNE_EPOXY}), _M.CLEANING),
    ),
    Caution(
        "Goggles and face shield, acid-proof gloves, apron and boots, a mask against acid gas; doors open.",
        _of(ETCHES, _M.OPENING, _M.MIXING, _M.ACID, _M.POURING),
    ),
    Caution(
        "In an eye or on skin: running water at once, a quarter of an hour, and call for help.",
        _of(ETCHES | NEUTRALISERS, _M.OPENING, _M.MIXING),
    ),
    Caution("Never alone with acid: somebody stays within call.", _of(ETCHES, _M.OPENING, _M.MIXING)),
    Caution(
        "Never with bleach or another cleaner. Keep it off steel and out of drains.",
        _of(ETCHES, _M.MIXING, _M.ACID, _M.CLEANING, _M.LEFTOVERS),
    ),
    Caution("Prewet, no puddles, and never let the acid dry on the floor.", _of(ETCHES, _M.POURING)),
    Caution(
        "Neutraliser for the whole of the acid stands ready for a spill. Rinse the floor up first: it gets what is "
        "left.",
        _of(ETCHES, _M.MIXING, _M.NEUTRALISING),
    ),
    Caution(
        "Neutraliser into the acid a little at a time: it foams and gives off gas; air the room through.",
        {_M.NEUTRALISING: ETCHES | NEUTRALISERS, _M.POURING: NEUTRALISERS},
    ),
    Caution(
        "The neutraliser is caustic too: goggles and gloves stay on until the last rinse.",
        {**_of(NEUTRALISERS, _M.OPENING, _M.MIXING, _M.POURING), _M.NEUTRALISING: ETCHES | NEUTRALISERS},
    ),
    Caution("Never mix ammonia with bleach.", _of(NEUTRALISERS, _M.MIXING, _M.NEUTRALISING)),
    Caution(
        "Slurry and wash water go where local rules say: not into a drain, not onto soil.",
        _of(ETCHES | NEUTRALISERS, _M.NEUTRALISING, _M.CLEANING),
    ),
    Caution("Rinse twice, until clean rinse water has the pH of the tap's.", _of(ETCHES, _M.NEUTRALISING, _M.CLEANING)),
    Caution("Unused acid goes to a collection point, labelled, upright, in its own can.", _of(ETCHES, _M.LEFTOVERS)),
    Caution(
        "Wet resin is slippery: spiked shoes, and keep the way to the door free.",
        {_M.POURING: RESINS, _M.ROLLING: EPOXIES | MONOMERS},
    ),
    Caution("Never a lid on mixed resin.", _of(EPOXIES | MONOMERS, _M.POURING, _M.LEFTOVERS)),
    Caution("Loose flake is slippery: spiked shoes on, nobody else on the floor.", _of(RESINS, _M.BROADCAST)),
    Caution("Sand throws up quartz dust, which scars the lungs: a P3 (P100) mask.", _of(RESINS, _M.BROADCAST)),
    Caution(
        "Leftovers: outside, away from anything that burns, spread thin on sand or sheeting until hard.",
        _of(RESINS, _M.LEFTOVERS),
    ),
    Caution(
        "Never a lid on mixed leftovers: isocyanate and moisture make gas, and the can bursts.",
        _of(ISOCYANATES, _M.LEFTOVERS),
    ),
    Caution(
        "Once hard, take off the blush: warm water, detergent and a pad, rinse, dry until taped film shows it dry. "
        "Then abrade to a uniform dull, vacuum, wipe by the sheet.",
        _of(EPOXIES, _M.MISSED_RECOAT),
    ),
    Caution(
        "Over open flake or bare slab no water: scrape, vacuum, and ask the maker.", _of(EPOXIES, _M.MISSED_RECOAT)
    ),
    Caution(
        "It does not blush: abrade it to a uniform dull, vacuum, wipe by the sheet.",
        _of(ISOCYANATES | MONOMERS, _M.MISSED_RECOAT),
    ),
    Caution(
        "Dust of concrete and cured resin harms the lungs: extraction on the machine and a P3 (P100) mask.",
        {_M.SANDING: EVERY, _M.MISSED_RECOAT: RESINS},
    ),
    Caution("Dust in the air can burn: no flame, and earth the extraction.", _of(EVERY, _M.SANDING)),
    Caution("Outside, away from anything that burns, spread it thin.", _of(RESINS, _M.GONE_BUCKET)),
    Caution(
        "Still holdable: take it outside, away from anything that burns, and spread it thin.",
        _of(EVERY, _M.HOT_BUCKET),
    ),
    Caution("Don't use it up, and never put a lid on it.", {_M.HOT_BUCKET: EVERY, _M.GONE_BUCKET: RESINS}),
    Caution(
        "Carry it only if the rim is cool enough to hold, else leave it and get out.",
        {_M.HOT_BUCKET: EVERY, _M.GONE_BUCKET: RESINS},
    ),
    Caution(SMOKE, {_M.HOT_BUCKET: EVERY, _M.GONE_BUCKET: RESINS}),
    Caution("No water into it, and don't breathe the smoke.", _of(EVERY, _M.HOT_BUCKET)),
    Caution("Don't lift, stir or cap it, and no water into it.", _of(EVERY, _M.SMOKING_BUCKET)),
    Caution("Everybody out, air the room from outside, call the fire service.", _of(EVERY, _M.SMOKING_BUCKET)),
    Caution("Don't breathe the smoke.", _of(EVERY, _M.SMOKING_BUCKET)),
)
"""What is said, most pressing first at each moment.

Common practice, no source; water at once on acid and lye is first-aid practice, from memory. The hot bucket follows
what makers publish on resin that heats itself, but for the sand that some stir in: it puts a face over the fumes.
"""


def cautions_for(family: Family | str, moment: Moment | str) -> tuple[str, ...]:
    """What to say at this moment, most pressing first; the last line defers to the product's own safety data sheet.

    A moment that has no caution of its own answers with nothing. For a bucket that is gone, hot or smoking the advice
    alone is given: there is no time to read more.

    >>> cautions_for("acid etch", "acid")[0]
    'Acid into water, never water into acid.'
    >>> cautions_for("epoxy", "acid")
    ()
    >>> cautions_for("polyaspartic", "hot-bucket")[0]
    'Still holdable: take it outside, away from anything that burns, and spread it thin.'
    """
    at, kin = Moment(moment), Family(family)
    found = tuple(row.text for row in CAUTIONS if kin in row.said.get(at, ()))
    return found if not found or at in NO_TIME_TO_READ else (*found, DEFERS)


def merged(families: Iterable[Family], moments: Iterable[Moment]) -> tuple[str, ...]:
    """The cautions of several moments or families, each line once, what defers at the end."""
    at = tuple(moments)
    lines = dict.fromkeys(line for family in families for moment in at for line in cautions_for(family, moment))
    deferring = lines.pop(DEFERS, lines) is None
    return (*lines, DEFERS) if deferring else tuple(lines)

"""Every trade fact that can be ticked: those that decide a cause, where the film broke, and those of a claim.

They stand apart from the causes that they decide, because a page lists them all day and asks for no cause.
"""

from __future__ import annotations

from datetime import timedelta

from mixclock.job.ticks import AT_ANY_TIME, Tick

WATER = Tick(
    "water on it",
    ("rain", "leak", "splash", "none"),
    "whether rain, a leak or a splash came onto it while it was wet",
    about=r"\brain|leak|splash|storm|puddle",
)
HEATER = Tick(
    "heater",
    ("fuel", "electric", "none"),
    "whether a fuel heater was lit while it was wet or curing",
    about=r"heater|salamander|torpedo|burner|kerosene|diesel|propane",
)
SUN_ON_SLAB = Tick(
    "sun on the slab",
    ("yes", "no"),
    "whether sun or heating warmed the slab while it was wet",
    about=r"sunlight|sunshine|\b(the|in|full|direct) sun\b|underfloor|warming",
)
DOORS = Tick(
    "doors",
    ("shut", "open"),
    "whether doors and vents were open while it dried",
    after=timedelta(days=1),
    about=r"\b(doors?|windows?|vents?|fans?|airflow|ventilat\w*|closed room)\b",
)
"""Asked after a fault, and used before one: with open doors a floor gets colder at night."""
CLEANER = Tick(
    "cleaner",
    ("bleach", "degreaser", "solvent", "acid", "neutral", "none"),
    "which cleaner the owner used, and since when",
    "ask the owner",
    before=timedelta(),
    after=AT_ANY_TIME,
    about=r"clean(er|ed|ing)|bleach|degreas|mopp|detergent|chemical|washed",
)
SUN = Tick(
    "sun on the floor",
    ("yes", "no"),
    "whether sun falls on it",
    "compare with floor under a mat",
    before=timedelta(),
    after=AT_ANY_TIME,
    about=r"sunlight|sunshine|\b(the|in|full|direct) sun\b|skylight|roof ?light|\buv\b",
)
ABRADED = Tick(
    "abraded",
    ("yes", "no"),
    "whether the coat below was abraded before this one",
    before=timedelta(days=30),
    about=r"sand(ed|ing)|abrad|screen(ed|ing)|scuff|keyed|ground back",
)
DRILL = Tick(
    "drill",
    ("slow", "fast"),
    "whether the drill ran slow, with the paddle under the resin",
    "ask the mixer",
    before=timedelta(hours=1),
    about=r"\bdrill|paddle|whip|froth|vortex",
)
PART_B = Tick(
    "part B",
    ("right", "wrong one", "short", "forgotten"),
    "whether the right B went in, all of it",
    "ask the mixer; look at the empty pails",
    about=r"hardener|\b(part|pail|can) b\b|\bb (part|pail|can)\b|spil(t|led)|partial kit|wrong (kit|pail)",
)
PAILS = Tick(
    "pails",
    ("in date", "expired", "frozen", "crystallised"),
    "the expiry date and how the pails were stored",
    "read the labels",
    before=timedelta(days=3),
    about=r"expir|best before|use by|out of date|past (its|their|the) date|fro(ze|zen)|crystal",
)
BUCKET = Tick(
    "bucket",
    ("scraped out", "upended", "dripped", "poured only"),
    "whether the bucket was scraped out, upended or dripped",
    "thumbnail: soft islands where it stood",
    about=r"scrap\w*|upend|tipped|drip|bucket|pail",
)
STIRRED = Tick(
    "stirred",
    ("yes", "no"),
    "whether the pail was stirred to the bottom",
    "look at the bottom of the empty pail",
    before=timedelta(hours=12),
    about=r"stir|settled|sediment|bottom of the|flatt(en|ing)|pigment|boxed",
)
PRIMED = Tick(
    "primed",
    ("yes", "no"),
    "whether the slab was primed and closed",
    "a drop of water on bare slab near by",
    before=timedelta(days=14),
    about=r"prim(ed|er|ing)|over-?ground",
)
SOAKED_IN = Tick(
    "soaked in",
    ("yes", "no"),
    "whether the resin soaked in while it was rolled",
    "a drop of water on bare slab near by",
    about=r"soak|drank|drinking|sucked|porous|thirsty|bare patch",
)
DIRT = ("oil", "grease", "silicone", "wax", "dust", "etch residue", "curing compound", "old coating")
CONTAMINATION = Tick(
    "contamination",
    (*DIRT, "none"),
    "whether the surface was wiped and tested before coating",
    "pull-off: look at the back of the film",
    before=timedelta(days=14),
    about=r"\boil|greas|silicone|\bwax|residue|powder|dust|contaminat|\bsalts?\b|wipe|degreas|dirt",
)
PLANE = Tick(
    "broke",
    ("at the slab", "between coats", "in the coat", "in the concrete"),
    "where the film broke away: at the slab, between coats, in the coat or in the concrete",
    "lift a flap, or pull off; look at the back of it",
    before=timedelta(),
    after=AT_ANY_TIME,
)
"""The plane of failure (ASTM D7234 asks to report it). It narrows the causes down, and decides the remedy."""

OF_CAUSES: tuple[Tick, ...] = (
    WATER,
    HEATER,
    SUN_ON_SLAB,
    DOORS,
    CLEANER,
    SUN,
    ABRADED,
    DRILL,
    PART_B,
    PAILS,
    BUCKET,
    STIRRED,
    PRIMED,
    SOAKED_IN,
    CONTAMINATION,
    PLANE,
)
"""The facts that decide a cause, in the order of the table of causes, and the plane of failure."""

SLAB_TESTS = Tick(
    "slab tests",
    ("accepted by the owner", "refused by the owner"),
    "whether the owner accepted or refused tests of the slab",
    before=AT_ANY_TIME,
)
PREPARATION = Tick(
    "prep",
    ("ground", "blasted", "scarified", "etched", "sanded", "none"),
    "how the surface was prepared",
    before=AT_ANY_TIME,
)
SAMPLE = Tick(
    "signed sample",
    ("colour, gloss and grit", "colour and gloss", "colour", "none"),
    "which sample the owner signed",
    before=AT_ANY_TIME,
)
EXTRAS = Tick("extras", (), "what was ordered besides", example="extras: cove base, 12 m", before=AT_ANY_TIME)
MIXER_SPEED = Tick("mixer speed", (), "how fast the drill turned", example="mixer speed: 400 rpm")
EXPIRY = Tick("expiry", (), "the date on the pails", example="expiry: A 2027-03, B 2026-11", before=AT_ANY_TIME)
KEPT = Tick(
    "kept sample",
    ("cup", "wet A and B", "cup and wet A and B", "none"),
    "what was kept of the batch",
    after=AT_ANY_TIME,
)
KEEP_OUT = Tick(
    "keep-out",
    ("held until hand-over", "broken"),
    "whether everybody kept out until hand-over",
    after=AT_ANY_TIME,
)
RELEASED = Tick("released by", (), "who released the floor", example="released by: site manager", after=AT_ANY_TIME)
CARE_SHEET = Tick(
    "care sheet", (), "which care sheet was handed over", example="care sheet: version of May 2026", after=AT_ANY_TIME
)
TOLD = Tick("told", (), "who was told of a finding", example="told: the supplier, by letter", after=AT_ANY_TIME)

CLAIM_TICKS = (
    SLAB_TESTS,
    PREPARATION,
    SAMPLE,
    EXTRAS,
    EXPIRY,
    MIXER_SPEED,
    KEPT,
    KEEP_OUT,
    RELEASED,
    CARE_SHEET,
    TOLD,
)
"""In the order in which they come up on a job."""

ALL_TICKS: tuple[Tick, ...] = (*OF_CAUSES, *CLAIM_TICKS)

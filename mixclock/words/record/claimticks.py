"""The facts that win a dispute, ticked: each statement means one thing and counts in a claim alone."""

from __future__ import annotations

from mixclock.job.ticks import AT_ANY_TIME, Tick

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

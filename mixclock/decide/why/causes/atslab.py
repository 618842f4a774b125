"""Causes that lie in the slab and its preparation."""

from mixclock.decide.why.causes.shape import (
    DUST,
    POSSIBLE,
    RESIN,
    SUPPORTS,
    TYPICAL,
    UNUSUAL,
    Cause,
    Shows,
)

_THIRSTY = Cause(
    name="thirsty slab",
    mechanism="An open slab drank the resin: what stayed on top is starved.",
    shows=(
        Shows("absorbed_pct"),
        Shows("note:thirsty"),
        Shows("volume_excess_pct", 0.6),
        Shows("texture_csp", SUPPORTS),
    ),
    symptoms={
        "dull": TYPICAL,
        "pinholes": POSSIBLE,
        "holiday": POSSIBLE,
        "bubbles": POSSIBLE,
        "loose flake": POSSIBLE,
        "lap line": UNUSUAL,
        "roller marks": UNUSUAL,
    },
    shapes={"batch-edge": 0.0, "drips": 0.0, "cut-in": 0.0},
    confirm="A drop of water on bare slab nearby is gone in a minute; gauge against volume used.",
    tests=("look along the batch edges", "chip and film gauge"),
    remedy="Abrade, prime until it stays wet, recoat.",
    caution=DUST,
    decided_by="film",
    source="ICRI 310.2R (texture against film); otherwise common practice, no source",
)

_PREP = Cause(
    name="prep left behind",
    mechanism="Etch salts, moisture, oil or dust lie between slab and film: it bonds to them instead.",
    shows=(Shows("ph_off"), Shows("moisture_over"), Shows("note:contamination")),
    symptoms={"peeling": TYPICAL, "fisheyes": TYPICAL, "hot-tyre pick-up": TYPICAL, "bubbles": POSSIBLE,
              "pinholes": UNUSUAL, "soft": UNUSUAL, "dull": UNUSUAL},
    shapes={"batch-edge": 0.0, "cut-in": POSSIBLE, "door": POSSIBLE},
    confirm="Pull-off breaks at the slab with powder or oil on it; plastic sheet for moisture.",
    tests=("wipe and pH", "tape and scrape", "tape a plastic sheet", "pull-off"),
    remedy="Remove to sound slab, prepare mechanically, clean, test, prime and coat again.",
    caution=f"{DUST} {RESIN} Acid only as its safety data sheet says, acid into water, never with bleach.",
    decided_by="preparation",
    source="ASTM D4262, F2170, F1869, D4263; 'Installation of Polymer Floor Coatings' (salts break the bond)",
)  # fmt: skip

SLAB_CAUSES = (_THIRSTY, _PREP)

"""Causes that lie in what was in the bucket and how much of it went on the floor."""

from mixclock.decide.why.causes.shape import (
    DUST,
    POSSIBLE,
    RESIN,
    TYPICAL,
    UNUSUAL,
    Cause,
    Shows,
)

_OFF_RATIO = Cause(
    name="off ratio",
    mechanism="One part was left without partners: it stays soft for ever.",
    shows=(Shows("ratio_error_pct"), Shows("note:wrong part", 0.6)),
    symptoms={"soft": TYPICAL, "tacky": TYPICAL, "greasy film": POSSIBLE, "dull": POSSIBLE,
              "hot-tyre pick-up": POSSIBLE, "yellowed": UNUSUAL, "peeling": UNUSUAL},
    shapes={"batch-edge": TYPICAL, "drips": 0.0, "door": 0.0, "shade": 0.0, "cut-in": 0.0},
    confirm="Soft up to a batch edge; no harder after a warm day; the kept cup is soft.",
    tests=("thumbnail", "the kept cup", "hardness after a warm day"),
    remedy="Remove it all, clean, and coat again; more hardener on top does not help.",
    caution=f"{RESIN} {DUST}",
    decided_by="ratio",
    source="Trade notes on soft batches (ratio, wrong B, partial kit); data sheet's mix ratio",
)  # fmt: skip

_SHORT_MIXING = Cause(
    name="short mixing",
    mechanism="Parts of the bucket never met: soft streaks and spots in a hard film.",
    shows=(Shows("mixing_share"),),
    symptoms={"soft": TYPICAL, "tacky": TYPICAL, "greasy film": POSSIBLE, "dull": POSSIBLE, "fisheyes": UNUSUAL},
    shapes={"drips": POSSIBLE, "batch-edge": TYPICAL, "door": 0.0, "shade": 0.0, "cut-in": 0.0},
    confirm="Thumbnail: soft in streaks within one batch.",
    tests=("thumbnail", "look along the batch edges", "the kept cup"),
    remedy="Cut out what is soft to sound film, clean, recoat.",
    caution=f"{RESIN} {DUST}",
    decided_by="mixing time",
    source="ferfa.org.uk/standard (too slow or short: soft spots); data sheet's mixing time",
)

_THIN = Cause(
    name="thin film",
    mechanism="Too little resin to level, to hide, to hold flake or to carry load.",
    shows=(Shows("film_thin_um"),),
    symptoms={"dull": TYPICAL, "holiday": TYPICAL, "squeegee lines": POSSIBLE, "roller marks": POSSIBLE,
              "loose flake": POSSIBLE, "hot-tyre pick-up": POSSIBLE, "pinholes": UNUSUAL, "fisheyes": UNUSUAL},
    shapes={"batch-edge": TYPICAL, "drips": 0.0, "shade": 0.0},
    confirm="Chip and film gauge against what was used; the gloss follows the batch.",
    tests=("look along the batch edges", "chip and film gauge"),
    remedy="Abrade and recoat at the rate that the sheet asks for.",
    caution=DUST,
    decided_by="film",
    source="ASTM D4414 (wet film); ISO 19840 (80 % rule, from memory); data sheet's film",
)  # fmt: skip

_THICK = Cause(
    name="thick film",
    mechanism="Air, solvent or heat could not leave: bubbles, a soft core, a greasy surface.",
    shows=(Shows("film_thick_um"),),
    symptoms={"bubbles": TYPICAL, "soft": POSSIBLE, "tacky": POSSIBLE, "pinholes": POSSIBLE, "greasy film": POSSIBLE,
              "yellowed": UNUSUAL, "roller marks": UNUSUAL},
    shapes={"batch-edge": TYPICAL, "drips": POSSIBLE, "door": 0.0, "shade": 0.0},
    confirm="Chip and film gauge; low spots are the worst.",
    tests=("thumbnail", "chip and film gauge"),
    remedy="Abrade through the bubbles, thinner coat; in moisture-cured films remove what is foamed.",
    caution=DUST,
    decided_by="film",
    source="AMPP 41205-190-SG (thicker film, more blush); constructionspecifier.com, floor failures, p. 5",
)  # fmt: skip

_LOT = Cause(
    name="different lot",
    mechanism="A lot that the healthy areas did not get: expired, frozen, mislabelled or off.",
    shows=(Shows("lot", 0.55), Shows("note:expired")),
    symptoms={"soft": POSSIBLE, "tacky": POSSIBLE, "dull": POSSIBLE, "yellowed": POSSIBLE, "fisheyes": POSSIBLE,
              "greasy film": POSSIBLE, "roller marks": UNUSUAL, "bubbles": UNUSUAL, "peeling": UNUSUAL,
              "hot-tyre pick-up": UNUSUAL},
    shapes={"batch-edge": TYPICAL, "door": 0.0, "shade": 0.0, "cut-in": 0.0, "drips": 0.0},
    confirm="Dab of that lot on a sealed panel; the supplier's retained sample.",
    tests=("read the labels", "the kept cup", "dab on a sealed panel"),
    remedy="Keep pails, labels and the cup; call the supplier before any repair.",
    caution=RESIN,
    decided_by="lot",
    source="'Documenting Floor Failures' (delivery and batch numbers); otherwise judgement",
)  # fmt: skip

_SCRAPED = Cause(
    name="scraped bucket",
    mechanism="Unmixed resin from the wall of the bucket was scraped or dripped onto the floor.",
    shows=(Shows("note:scraped"), Shows("shape:drips", 0.6)),
    symptoms={"soft": TYPICAL, "tacky": TYPICAL, "fisheyes": UNUSUAL, "dull": UNUSUAL},
    shapes={"drips": TYPICAL, "all-over": 0.0, "door": 0.0, "shade": 0.0, "cut-in": 0.0},
    confirm="Thumbnail: soft islands or a trail where the bucket stood, hard between them.",
    tests=("thumbnail", "look along the batch edges"),
    remedy="Cut out the soft islands, wipe with the sheet's solvent, fill and recoat.",
    caution=RESIN,
    decided_by="bucket scraped",
    source="'Why you should never tip over an Epoxy Bucket'",
)

_UNSTIRRED = Cause(
    name="unstirred pail",
    mechanism="Flatting agent, filler or pigment stayed at the bottom of the pail.",
    shows=(Shows("note:unstirred"), Shows("first of pail", 0.2)),
    symptoms={"dull": TYPICAL, "yellowed": POSSIBLE, "soft": UNUSUAL, "roller marks": UNUSUAL, "holiday": UNUSUAL},
    shapes={"batch-edge": TYPICAL, "door": 0.0, "shade": 0.0, "cut-in": 0.0, "drips": 0.0},
    confirm="Look at the bottom of the pail; gloss steps at the batch edge.",
    tests=("look along the batch edges", "read the labels"),
    remedy="Abrade and recoat from a pail that was stirred to the bottom and boxed.",
    caution=DUST,
    decided_by="stirring",
    source="common practice, no source",
)

BUCKET_CAUSES = (_OFF_RATIO, _SHORT_MIXING, _THIN, _THICK, _LOT, _SCRAPED, _UNSTIRRED)

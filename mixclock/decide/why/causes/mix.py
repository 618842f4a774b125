"""Causes that lie in what was in the bucket and how much of it went on the floor."""

from mixclock.decide.why.case import Case
from mixclock.decide.why.causes.cause import DUST, RESIN, SUPPORTS, Cause, Clue, graded
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, Value, worst
from mixclock.decide.why.observation import ticked
from mixclock.decide.why.quantities.film import THICKEST_FILM, THINNEST_FILM
from mixclock.decide.why.quantities.mix import FIRST_OF_PAIL, LOT, MIXING, RATIO_ERROR
from mixclock.job.progress import Batch
from mixclock.job.tradefacts import BUCKET, DRILL, PAILS, PART_B, STIRRED


def _material(_: Case, layer: Layer) -> Fact:
    """How warm the coldest material was when it was mixed."""
    return worst([_material_of(batch) for batch in layer.batches], -1)


def _material_of(batch: Batch) -> Fact:
    if batch.material_c is None:
        return Gap(f"how warm the material of batch {batch.id} was", "ask where the pails stood overnight")
    return Value(batch.material_c, batch=batch.id, told=f"batch {batch.id}")


_MATERIAL = Gauge(
    "material_c",
    "material when it was mixed",
    _material,
    -1,
    15.0,
    5.0,
    1.0,
    "'No Need to Blush': 60 to 85 °F, stored material too",
    "5 K cost a quarter of the rate at 47 kJ/mol (judgement)",
    "a probe in the pail, or the store's thermometer (judgement)",
    unit="c",
)

BUCKET_CAUSES = (
    Cause(
        name="whipped-in air",
        mechanism="A fast drill, or a paddle that comes up, beats air into the resin; a thick one does not let it go.",
        clues=(Clue(ticked(DRILL, "fast")), Clue(_MATERIAL, SUPPORTS)),
        symptoms=graded(typical="bubbles", possible="pinholes", unusual="fisheyes"),
        shapes=graded(typical="batch-edge", never="door, shade, cut-in"),
        confirm="Look for bubbles from its first square metre on, and none in the batches beside; froth in the pail.",
        tests=("look along the batch edges", "the kept cup"),
        remedy="Sand them off and recoat; mix slowly with the paddle under the surface, and roll with a spiked roller.",
        caution=f"{DUST} {RESIN}",
        decided_by="drill",
        source="common practice, no source",
    ),
    Cause(
        name="cold material",
        mechanism="Cold resin is thick: it takes up air, mixes badly and starts to cure late.",
        clues=(Clue(_MATERIAL),),
        symptoms=graded(typical="tacky", possible="soft, bubbles", unusual="roller marks"),
        shapes=graded(typical="batch-edge", never="door, shade, cut-in, drips"),
        confirm="The same lot from warm pails hardens overnight.",
        tests=("thumbnail", "hardness after a warm day"),
        remedy="Give it warmth and time and test again; next time store the pails warm for a day.",
        caution=RESIN,
        decided_by="material temperature",
        source="a maker's note on cure times, 2015 (the same product from cold cans tacky, from warm cans hard)",
    ),
    Cause(
        name="off ratio",
        mechanism="One part was left without partners: it stays soft for ever.",
        clues=(Clue(RATIO_ERROR), Clue(ticked(PART_B, "wrong one", "short", "forgotten"))),
        symptoms=graded(
            typical="soft, tacky", possible="cracks, greasy film, dull, hot-tyre pick-up", unusual="yellowed, peeling"
        ),
        shapes=graded(typical="batch-edge", never="drips, door, shade, cut-in"),
        confirm="Soft up to a batch edge; no harder after a warm day; the kept cup is soft.",
        tests=("thumbnail", "the kept cup", "hardness after a warm day"),
        remedy="Remove it all, clean, and coat again; more hardener on top does not help.",
        caution=f"{RESIN} {DUST}",
        decided_by="ratio",
        source="Trade notes on soft batches (ratio, wrong B, partial kit); data sheet's mix ratio",
    ),
    Cause(
        name="short mixing",
        mechanism="Parts of the bucket never met: soft streaks and spots in a hard film.",
        clues=(Clue(MIXING),),
        symptoms=graded(typical="soft, tacky", possible="greasy film, dull", unusual="gel lumps, fisheyes"),
        shapes=graded(typical="batch-edge", possible="drips", never="door, shade, cut-in"),
        confirm="Thumbnail: soft in streaks within one batch.",
        tests=("thumbnail", "look along the batch edges", "the kept cup"),
        remedy="Cut out what is soft to sound film, clean, recoat.",
        caution=f"{RESIN} {DUST}",
        decided_by="mixing time",
        source="ferfa.org.uk/standard (too slow or short: soft spots); data sheet's mixing time",
    ),
    Cause(
        name="thin film",
        mechanism="Too little resin to level, to hide, to hold flake or to carry load.",
        clues=(Clue(THINNEST_FILM),),
        symptoms=graded(
            typical="dull, holiday",
            possible="squeegee lines, roller marks, loose flake, hot-tyre pick-up",
            unusual="pinholes, fisheyes",
        ),
        shapes=graded(typical="batch-edge", never="drips, shade"),
        confirm="Hold a chip and the film gauge against what was used; see whether the gloss follows the batch.",
        tests=("look along the batch edges", "chip and film gauge"),
        remedy="Abrade and recoat at the rate that the sheet asks for.",
        caution=DUST,
        decided_by="film",
        source="ASTM D4414 (wet film); ISO 19840 (80 % rule, from memory); data sheet's film",
    ),
    Cause(
        name="thick film",
        mechanism="Air, solvent or heat could not leave: bubbles, a soft core, a greasy surface.",
        clues=(Clue(THICKEST_FILM),),
        symptoms=graded(
            typical="bubbles", possible="cracks, soft, tacky, pinholes, greasy film", unusual="yellowed, roller marks"
        ),
        shapes=graded(typical="batch-edge", possible="drips", never="door, shade"),
        confirm="Chip and film gauge; low spots are the worst.",
        tests=("thumbnail", "chip and film gauge"),
        remedy="Abrade through the bubbles and put on a thinner coat; if moisture cures the film, remove what foamed.",
        caution=DUST,
        decided_by="film",
        source="AMPP 41205-190-SG (thicker film, more blush); constructionspecifier.com, floor failures, p. 5",
    ),
    Cause(
        name="different lot",
        mechanism="A lot that the healthy areas did not get: expired, frozen, mislabelled or off.",
        clues=(Clue(LOT, 0.55), Clue(ticked(PAILS, "expired", "frozen", "crystallised"))),
        symptoms=graded(
            possible="soft, tacky, dull, yellowed, fisheyes, greasy film",
            unusual="roller marks, bubbles, peeling, hot-tyre pick-up",
        ),
        shapes=graded(typical="batch-edge", never="door, shade, cut-in, drips"),
        confirm="Put a dab of that lot on a sealed panel; ask for the supplier's retained sample.",
        tests=("read the labels", "the kept cup", "dab on a sealed panel"),
        remedy="Keep pails, labels and the cup; call the supplier before any repair.",
        caution=RESIN,
        decided_by="lot",
        source="'Documenting Floor Failures' (delivery and batch numbers); otherwise judgement",
    ),
    Cause(
        name="scraped bucket",
        mechanism="Unmixed resin from the wall of the bucket was scraped or dripped onto the floor.",
        clues=(Clue(ticked(BUCKET, "scraped out", "upended", "dripped")),),
        symptoms=graded(typical="soft, tacky", possible="gel lumps", unusual="fisheyes, dull"),
        shapes=graded(typical="drips", never="all-over, door, shade, cut-in"),
        confirm="Thumbnail: soft islands or a trail where the bucket stood, hard between them.",
        tests=("thumbnail", "look along the batch edges"),
        remedy="Cut out the soft islands, wipe with the sheet's solvent, fill and recoat.",
        caution=RESIN,
        decided_by="bucket scraped",
        source="'Why you should never tip over an Epoxy Bucket'",
    ),
    Cause(
        name="unstirred pail",
        mechanism="Flatting agent, filler or pigment stayed at the bottom of the pail.",
        clues=(Clue(ticked(STIRRED, "no")), Clue(FIRST_OF_PAIL, 0.2)),
        symptoms=graded(typical="dull", possible="yellowed", unusual="soft, roller marks, holiday"),
        shapes=graded(typical="batch-edge", never="door, shade, cut-in, drips"),
        confirm="Look at the bottom of the pail; see whether the gloss steps at the batch edge.",
        tests=("look along the batch edges", "read the labels"),
        remedy="Abrade and recoat from a pail that was stirred to the bottom and boxed.",
        caution=DUST,
        decided_by="stirring",
        source="common practice, no source",
    ),
)

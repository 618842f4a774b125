"""Causes that lie in the slab and its preparation."""

from mixclock.decide.why.causes.cause import (
    DUST,
    RESIN,
    SUPPORTS,
    Cause,
    Clue,
    Lies,
    graded,
)
from mixclock.decide.why.observation import ticked
from mixclock.decide.why.quantities.slab import ABSORBED, ACIDITY, MOISTURE, TEXTURE, VOLUME_EXCESS
from mixclock.job.tradefacts import CONTAMINATION, DIRT, PLANE, PRIMED, SOAKED_IN

SLAB_CAUSES = (
    Cause(
        name="thirsty slab",
        mechanism="An open slab drank the resin: what stayed on top is starved.",
        clues=(
            Clue(ABSORBED),
            Clue(ticked(PRIMED, "no")),
            Clue(ticked(SOAKED_IN, "yes")),
            Clue(VOLUME_EXCESS, 0.6),
            Clue(TEXTURE, SUPPORTS),
        ),
        symptoms=graded(
            typical="dull", possible="pinholes, holiday, bubbles, loose flake", unusual="lap line, roller marks"
        ),
        shapes=graded(never="batch-edge, drips, cut-in"),
        confirm="Put a drop of water on bare slab: is it gone in a minute? Hold the gauge against the volume used.",
        tests=("look along the batch edges", "chip and film gauge"),
        remedy="Abrade, prime until it stays wet, recoat.",
        caution=DUST,
        decided_by="film",
        source="ICRI 310.2R (texture against film); otherwise common practice, no source",
    ),
    Cause(
        name="prep left behind",
        lies=Lies.ON_THE_SLAB,
        planes=graded(typical="at the slab", never="between coats, in the coat, in the concrete"),
        mechanism="Etch salts, moisture, oil or dust lie between slab and film: it bonds to them instead.",
        clues=(Clue(ACIDITY), Clue(MOISTURE), Clue(ticked(CONTAMINATION, *DIRT))),
        symptoms=graded(
            typical="peeling, fisheyes, hot-tyre pick-up", possible="bubbles", unusual="pinholes, soft, dull"
        ),
        shapes=graded(possible="cut-in, door", never="batch-edge"),
        confirm="Pull-off breaks at the slab with powder or oil on it; plastic sheet for moisture.",
        tests=("wipe and pH", "tape and scrape", "tape a plastic sheet", "pull-off"),
        remedy="Remove to sound slab, prepare mechanically, clean, test, prime and coat again.",
        caution=f"{DUST} {RESIN} Acid only as its safety data sheet says, acid into water, never with bleach.",
        decided_by="preparation",
        source="ASTM D4262, F2170, F1869, D4263; 'Installation of Polymer Floor Coatings' (salts break the bond)",
    ),
    Cause(
        name="dirt between coats",
        lies=Lies.BETWEEN_COATS,
        mechanism="Dust, oil or footmarks lay on the coat below when the next one went on: it bonds to them instead.",
        clues=(Clue(ticked(CONTAMINATION, *DIRT)),),
        symptoms=graded(typical="peeling, fisheyes", possible="hot-tyre pick-up", unusual="bubbles, holiday"),
        shapes=graded(possible="door", never="batch-edge"),
        planes=graded(typical="between coats", never="at the slab, in the coat, in the concrete"),
        confirm="Lift a flap: it breaks clean between the coats, with dirt on its back.",
        tests=("tape and scrape", "pull-off"),
        remedy="Remove what lifts down to the coat below, which stays; clean and abrade that, wipe, recoat.",
        caution=DUST,
        decided_by="cleaning between coats",
        source="'Inter coat delamination'; CoatingsPro, May 2015, p. 76 (dirt on the back of the film)",
    ),
    Cause(
        name="weak slab",
        mechanism="The skin of the slab is weaker than the bond: it comes away on the back of the film.",
        clues=(Clue(ticked(PLANE, "in the concrete")),),
        symptoms=graded(typical="peeling, hot-tyre pick-up", possible="cracks", unusual="bubbles"),
        shapes=graded(never="batch-edge, cut-in, drips"),
        lies=Lies.ON_THE_SLAB,
        confirm="Look for a thin layer of concrete on the back of the flap; a weak pull-off breaks in the concrete.",
        tests=("tape and scrape", "pull-off"),
        remedy="Remove the coating and the weak skin by blasting or grinding, test the pull-off, prime, coat again.",
        caution=DUST,
        decided_by="plane of failure",
        source="CoatingsPro, Jan 2017 (concrete on the back, petrography); ASTM D7234",
    ),
)

"""Causes that lie in the air and in the temperature of the slab."""

from datetime import timedelta

from mixclock.decide.why.causes.cause import (
    DUST,
    ISOCYANATE,
    RESIN,
    SOLVENT,
    SUPPORTS,
    Cause,
    Clue,
    graded,
)
from mixclock.decide.why.observation import ticked
from mixclock.decide.why.quantities.air import COLDEST_SLAB, DEW, DEW_MARGIN, HUMIDITY, SLAB_RISE
from mixclock.decide.why.quantities.film import THICKEST_FILM
from mixclock.decide.why.quantities.slab import EPOXY_ON_TOP
from mixclock.decide.why.quantities.steps import STAND, TRAFFIC
from mixclock.job.profile import EPOXIES, Family
from mixclock.job.ticks import AT_ANY_TIME, DOORS, Tick

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


WATER = Tick(
    "water on it",
    ("rain", "leak", "splash", "none"),
    "whether rain, a leak or a splash came onto it while it was wet",
    about=r"\brain|leak|splash|storm|puddle",
)

AIR_CAUSES = (
    Cause(
        name="water on the film",
        mechanism="Water came onto film that was still wet. It whitens a film, and makes one with an isocyanate foam.",
        clues=(Clue(ticked(WATER, "rain", "leak", "splash")),),
        symptoms=graded(typical="bubbles, dull", possible="pinholes, soft", unusual="peeling"),
        shapes=graded(typical="door", never="batch-edge, cut-in"),
        confirm="Look for blisters where the water lay and none under a roof; a lens shows foam inside them.",
        tests=("look along the batch edges", "chip and film gauge"),
        remedy="Sand off what foamed or whitened, let it dry, and recoat when no more water can come in.",
        caution=DUST,
        decided_by="water on the film",
        source="kta.com, concrete floor coatings forensics (blisters by the outside door, rain, fans blowing in)",
    ),
    Cause(
        name="moisture foam",
        mechanism="Isocyanate takes up the air's water and gives off gas: in damp air the film foams before it closes.",
        clues=(Clue(HUMIDITY), Clue(THICKEST_FILM, SUPPORTS)),
        symptoms=graded(typical="bubbles, pinholes", unusual="dull, soft"),
        shapes=graded(possible="drips"),
        families=frozenset({Family.POLYURETHANE, Family.POLYASPARTIC}),
        confirm="Look for fine bubbles through the whole film, most where it is thick; coats of a drier day have none.",
        tests=("look along the batch edges", "chip and film gauge"),
        remedy="Sand off what foamed and recoat thinner, on a day under the sheet's humidity.",
        caution=f"{DUST} {ISOCYANATE}",
        decided_by="humidity",
        source="data sheet's limit of humidity; common practice, no source (isocyanate and water make carbon dioxide)",
    ),
    Cause(
        name="condensation",
        planes=graded(typical="between coats", never="in the concrete"),
        mechanism="Dew settled on film that was not tack free yet: it whitens, and water stays between coats.",
        clues=(Clue(DEW),),
        symptoms=graded(typical="dull", possible="greasy film, peeling, fisheyes", unusual="bubbles, pinholes, tacky"),
        shapes=graded(typical="door, shade", possible="drips", never="batch-edge"),
        confirm="Wash a patch; look for white rings and drops in low light.",
        tests=("wipe and pH", "wash a patch"),
        remedy="Let it harden, wash, abrade to a uniform dull; recoat on a slab that stays over the dew point.",
        caution=f"{DUST} A wet film makes a slippery floor.",
        decided_by="dew margin",
        source="ISO 8502-4; pcimag.com/articles/85460 (blushing is whitening by condensation)",
    ),
    Cause(
        name="amine blush",
        planes=graded(typical="between coats", never="at the slab, in the concrete"),
        mechanism="Amine at the surface of a curing epoxy takes up water and carbon dioxide: greasy carbamate is left.",
        clues=(
            Clue(DEW_MARGIN),
            Clue(HUMIDITY),
            Clue(ticked(HEATER, "fuel")),
            Clue(COLDEST_SLAB, SUPPORTS),
            Clue(STAND, SUPPORTS),
            Clue(THICKEST_FILM, 0.15),
        ),
        symptoms=graded(typical="greasy film, dull", possible="tacky, peeling, fisheyes", unusual="yellowed, soft"),
        shapes=graded(typical="door, shade", never="batch-edge, drips"),
        families=EPOXIES,
        confirm="Wipe and pH; wash a patch with warm water and detergent: gloss that comes back was blush.",
        tests=("wipe and pH", "wash a patch"),
        remedy="Wash with warm water and detergent before abrasion, rinse, dry; abrade; recoat when `air` says go.",
        caution=f"Sanding before washing drives blush into the film. {DUST} Fuel heaters give off carbon monoxide.",
        decided_by="dew margin",
        source="coatingspromag.com, Sep 2024; AMPP 41205-190-SG; pcimag.com/articles/85460; 'Cure Time vs Recoat Time'",
    ),
    Cause(
        name="cold cure",
        mechanism="Below its limit the resin all but stops curing: it stays soft, or turns glassy before it is hard.",
        clues=(Clue(COLDEST_SLAB),),
        symptoms=graded(typical="soft, tacky", possible="dull, greasy film, hot-tyre pick-up", unusual="cracks"),
        shapes=graded(typical="shade, door, all-over", never="batch-edge, drips"),
        confirm="Keep a patch warm for a day: if it gets harder, it was cold cure.",
        tests=("thumbnail", "hardness after a warm day"),
        remedy="Warm the room and the slab with indirect heat, wait, test again; keep traffic off until it is hard.",
        caution="No open flame and no fuel heater over a curing film: fire, carbon monoxide and blush.",
        decided_by="slab temperature",
        source="'Epoxy Floor Curing Times' (below 10 °C); data sheet's limits",
    ),
    Cause(
        name="rising slab",
        mechanism="A slab that warms after coating pushes the air of its pores through the wet film.",
        clues=(Clue(SLAB_RISE), Clue(ticked(SUN_ON_SLAB, "yes"), SUPPORTS)),
        symptoms=graded(typical="pinholes, bubbles", unusual="fisheyes, holiday"),
        shapes=graded(never="batch-edge, shade, drips"),
        confirm="Open a crater with a knife: it goes down to bare concrete.",
        tests=("look along the batch edges", "chip and film gauge"),
        remedy="Sand, fill the craters with a tight scrape coat, prime, and coat while the slab is cooling.",
        caution=DUST,
        decided_by="slab temperature after pouring",
        source="'5 common issues with flooring applications' (coat on falling temperature)",
    ),
    Cause(
        name="poor airflow",
        mechanism="Water or solvent could not leave the film: it stays soft, dull and weak however long you wait.",
        clues=(Clue(ticked(DOORS, "shut")), Clue(HUMIDITY, SUPPORTS)),
        symptoms=graded(typical="soft, tacky, dull", unusual="greasy film, bubbles, pinholes"),
        shapes=graded(possible="shade", never="door, batch-edge, drips"),
        families=frozenset({Family.WATERBORNE_EPOXY, Family.POLYURETHANE, Family.ACRYLIC, Family.POLYASPARTIC}),
        confirm="Move air over a patch for a day and press a thumbnail into it again.",
        tests=("thumbnail", "solvent rub"),
        remedy="Open the room and move dry air over it without blowing on wet film; wait; if it stays soft, remove it.",
        caution=f"{SOLVENT} Solvent vapour lies on the floor and burns.",
        decided_by="airflow",
        source="ISO 12944-7 (ventilation while curing, from memory); otherwise common practice, no source",
    ),
    Cause(
        name="after the job",
        mechanism="The floor was sound and something came later: a cleaner, early use, sun on an epoxy.",
        clues=(
            Clue(ticked(CLEANER, "bleach", "degreaser", "solvent", "acid")),
            Clue(ticked(SUN, "yes")),
            Clue(TRAFFIC, SUPPORTS),
            Clue(EPOXY_ON_TOP, 0.2),
        ),
        symptoms=graded(typical="yellowed, dull", possible="hot-tyre pick-up, greasy film", unusual="soft, peeling"),
        shapes=graded(typical="door", possible="drips", never="shade, batch-edge, cut-in"),
        confirm="Compare with floor under a mat or a cupboard; ask which cleaner was used and from when.",
        tests=("ask the crew and the owner", "wash a patch"),
        remedy="Use neutral cleaner only; abrade, and put on an aliphatic top coat where the sun shines.",
        caution=f"{DUST} {RESIN}",
        decided_by="use of the floor",
        source="common practice, no source; epoxy yellows in ultraviolet light (TDS texts in general)",
    ),
)

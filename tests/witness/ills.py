"""What can go wrong in this generator, in minutes, grams, degrees and everyday words.

The names of the causes are those of the design's table: they are what an answer is compared by. All else is this
generator's own. Symptoms are in the words of the reports.
"""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Container, Sequence
from dataclasses import dataclass
from pathlib import Path

REPORTS = Path(__file__).with_name("reports.toml")
NOTHING, OUTSIDE = "nothing", "outside the table"
STRENGTHS = ("mild", "clear", "gross")


@dataclass(frozen=True)
class Ill:
    """A cause: where it shows, how its name is read in a sentence, and what would have to be stated to decide it.

    `shapes` are options of `found --shape`. `fact` finds the deciding fact among the words of an answer. A cause
    without a dose is there or is not. `can_miss` is False where the fact is stated with the step itself: how much went
    on which area, which coat went on when.
    """

    name: str
    shapes: Sequence[str | None]
    fact: str
    dosed: bool = True
    named: str = ""
    can_miss: bool = True

    def in_words(self) -> re.Pattern[str]:
        """Finds its name in a sentence."""
        return re.compile(self.named or re.escape(self.name), re.IGNORECASE)


_HOURS = r"humid|dew|slab|air and|condition|logger|weather station"
ILLS = {
    ill.name: ill
    for ill in (
        Ill("amine blush", ("all-over", "shade", "door", None), _HOURS, named=r"(?:amine )?blush"),
        Ill("condensation", ("all-over", "shade", "door", None), _HOURS, named=r"condensation|\bdew on\b"),
        Ill("cold cure", ("all-over", "door", None), r"slab|temperature|how cold", named=r"cold cure|too cold"),
        Ill("old batch", ("batch-edge", "all-over", None), r"pour", named=r"old batch|past its pot life"),
        Ill("late back-roll", ("all-over", None), r"roll", named=r"late back-?roll|rolled (?:too )?late"),
        Ill("late broadcast", ("all-over", None), r"flak|broadcast", named=r"late broadcast|flaked (?:too )?late"),
        Ill("lap joint", ("batch-edge", None), r"pour|met|joint|edge|laid", named=r"lap joint|\blap\b", can_miss=False),
        Ill("thin film", ("all-over", None), "film", named=r"thin film|starved|too thin", can_miss=False),
        Ill("thick film", ("all-over", None), "film", named=r"thick film|too thick", can_miss=False),
        Ill(
            "off ratio",
            ("batch-edge", "all-over", None),
            r"how much|ratio|parts?\b|of A\b|\bB\b",
            named=r"off[- ]ratio",
        ),
        Ill("short mixing", ("batch-edge", "all-over", None), r"mix", named=r"short mixing|mixed (?:too )?short"),
        Ill(
            "no induction",
            ("all-over", "batch-edge", None),
            r"stand|stood|pour|induction",
            named=r"no induction|induction",
        ),
        Ill("rising slab", ("all-over", "door", None), r"slab|warm|rising", named=r"rising slab|outgassing"),
        Ill("early recoat", ("all-over", None), r"laid|pour|coat", named=r"early recoat", can_miss=False),
        Ill("late recoat", ("all-over", None), r"laid|pour|coat", named=r"late recoat", can_miss=False),
        Ill("early traffic", ("all-over", None), r"traffic|used|walk|drove|people|car", named=r"early traffic"),
        Ill(
            "different lot",
            ("batch-edge", "all-over", None),
            r"\blots?\b|label",
            dosed=False,
            named=r"different lot|other lot",
        ),
        Ill(
            "scraped bucket",
            ("drips", None),
            r"scrap|upend|bucket|drip",
            dosed=False,
            named=r"scraped bucket|scrapings",
        ),
        Ill(
            "thirsty slab",
            ("all-over", "shade", None),
            r"prime|texture|film|ground|drop of water",
            named=r"thirsty slab",
        ),
        Ill(
            "prep left behind",
            ("all-over", None),
            r"moistur|\bpH\b|contamin|oil|clean|wipe|etch",
            named=r"prep(?:aration)? left",
        ),
        Ill(
            "poor airflow",
            ("all-over", None),
            r"air|door|vent|fan|window",
            dosed=False,
            named=r"poor airflow|air ?flow",
        ),
        Ill("unstirred pail", ("all-over", "batch-edge", None), r"stir|box|bottom", dosed=False, named=r"unstirred"),
        Ill(
            "after the job", ("door", "all-over", None), r"owner|clean|sun|traffic", dosed=False, named=r"after the job"
        ),
    )
}

ALIKE = (
    frozenset({"amine blush", "condensation"}),
    frozenset({"thirsty slab", "thin film"}),
    frozenset({"early traffic", "after the job"}),
)
"""Causes of one and the same quantity: a floor that fogged has dew and blush; a slab that drank leaves a thin film; a
car that came too early came after the job."""

LOOKS = {
    "amine blush": "greasy film",
    "condensation": "dull",
    "cold cure": "tacky",
    "old batch": "dull",
    "late back-roll": "roller marks",
    "late broadcast": "loose flake",
    "lap joint": "lap line",
    "thin film": "dull",
    "thick film": "bubbles",
    "off ratio": "soft",
    "short mixing": "soft",
    "no induction": "dull",
    "rising slab": "pinholes",
    "early recoat": "soft",
    "late recoat": "peeling",
    "early traffic": "hot-tyre pick-up",
    "different lot": "soft",
    "scraped bucket": "soft",
    "thirsty slab": "dull",
    "prep left behind": "peeling",
    "poor airflow": "dull",
    "unstirred pail": "dull",
    "after the job": "dull",
    NOTHING: "dull",
    OUTSIDE: "peeling",
}
"""What the tool itself calls it, for a crew whose own word was refused."""

FUSSY = ("patchy", "dull", "not as glossy as I thought", "streaks", "orange peel", "yellowed", "tacky", "roller marks")
"""What an owner says of a sound floor."""

INNOCENT = (
    "drip tray, all clean",
    "Sun 17 May: called the owner",
    "electric heater on in the corridor",
    "scraped the ice off the van before we left",
    "no oil anywhere, wiped and dry",
    "door stays shut, there is a cat",
    "all pails stirred to the bottom, as always",
    "primer went down last week, no trouble",
    "mixer drill has a new paddle",
    "lot numbers checked, all the same",
    "coffee cup left on the window sill",
    "cleaner comes on Thursdays, keep the hall clear",
    "sprayed the hinge of the gate outside, wind took it away",
    "traffic on the ring road, 20 min late",
    "the other job was cold and damp, this one is fine",
    "no blush, no bubbles, looks good",
    "playground next door, noisy",
    "wet paint sign hung on the door",
)
"""Notes that mean nothing for the floor, though they hold words that elsewhere would."""

MEANT = {
    "scraped bucket": (
        "bucket scraped out and left upside down on the floor to drain",
        "got the last bit out of the pail with the spatula, onto the floor",
    ),
    "poor airflow": ("doors and windows shut while it dried, no fan", "closed room, no air moving"),
    "unstirred pail": (
        "forgot to stir the pail, flattener still on the bottom",
        "forgot to box the satin, flattener still in the can",
    ),
    "sun": ("afternoon sun falls on it through the roller door",),
    "after the job": (
        "owner washed it with citrus cleaner the third day",
        "owner's cleaner went over it with degreaser",
    ),
    "fuel heater": ("propane heater blowing in here all night", "torpedo heater, diesel, in the room"),
    "unprimed": ("no primer in this bay", "bare ground slab, not primed"),
    "contaminated": ("oil stains were here, only swept", "tyre dressing on the slab, silicone"),
}
"""What a crew writes where it knows the fact, in words that mean one thing."""

TICKED = {
    "scraped bucket": ("bucket: scraped out", "bucket: upended"),
    "poor airflow": ("doors: shut",),
    "unstirred pail": ("stirred: no",),
    "sun": ("sun on the floor: yes",),
    "after the job": ("cleaner: acid", "cleaner: degreaser"),
    "fuel heater": ("heater: fuel",),
    "unprimed": ("primed: no",),
    "contaminated": ("contamination: oil", "contamination: silicone"),
}
"""The same as a fact to tick, as the tool itself asks for it."""

TICKED_SOUND = (
    "bucket: poured only",
    "doors: open",
    "stirred: yes",
    "sun on the floor: no",
    "cleaner: none",
    "heater: electric",
    "heater: none",
    "primed: yes",
    "contamination: none",
    "pails: in date",
    "part B: right",
)
"""What a crew ticks where all is well."""


@dataclass(frozen=True)
class Report:
    """A published report of a failure."""

    title: str
    year: str
    cause: str
    words: Sequence[str]
    fact: str = ""


def reports() -> list[Report]:
    """The reports that symptoms are taken from."""
    said = tomllib.loads(REPORTS.read_text(encoding="utf-8"))["report"]
    return [Report(each["title"], each["year"], each["cause"], each["words"], each.get("fact", "")) for each in said]


_REPORTS = reports()


def complaint(cause: str, dice: random.Random, facts: Container[str] = ()) -> str:
    """How somebody says what they see, from a report of this cause, and of this fact where reports tell facts apart."""
    if cause == NOTHING:
        return dice.choice(FUSSY)
    fitting = [report for report in _REPORTS if report.cause == ("" if cause == OUTSIDE else cause)]
    apart = [report for report in fitting if report.fact]
    fitting = [report for report in apart if report.fact in facts] or [each for each in fitting if each not in apart]
    return dice.choice(dice.choice(fitting).words)

"""Tests that can be made on the floor now, the cheapest first."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.values import dataclass


@dataclass(frozen=True)
class FloorTest:
    """One test: what to do, what it tells, and what to mind."""

    name: str
    how: str
    tells: str
    source: str
    caution: str = ""


_SOLVENT = "Gloves and eye protection; solvent only with the doors open and no flame or heater near."
_DUST = "Dust mask and eye protection; dust of cured resin and concrete harms lungs."

_TESTS = (
    FloorTest(
        "ask the crew and the owner",
        "Ask who was there, before memories fade, and state it with --at and --note.",
        "What nobody stated, somebody may still know.",
        "common practice, no source",
    ),
    FloorTest(
        "look along the batch edges",
        "Stand low against the light and see where the fault stops: at a batch edge, a door, the cut-in, in drips.",
        "A fault that stops where a batch stops comes from that bucket; one at a door comes from the air.",
        "common practice, no source",
    ),
    FloorTest(
        "read the labels",
        "Read lot and expiry on the empty pails and state them.",
        "A lot that only the bad area got.",
        "common practice, no source",
    ),
    FloorTest(
        "wipe and pH",
        "Wet a hand's breadth with clean water, wait two minutes, lay pH paper on it; wipe a bad spot with a cloth.",
        "Above pH 9, or a greasy wipe, speaks for amine blush; the paper is indirect, swab kits find carbamate itself.",
        "'How do you test for amine blush' (swab kits); the pH figure is common practice, no source",
    ),
    FloorTest(
        "wash a patch",
        "Wash a patch with warm water and detergent, rinse, dry, and compare.",
        "Gloss that comes back was a film on top (blush, cleaner, dew); gloss that does not is in the coat.",
        "'Cure Time vs Recoat Time' (wash before any abrasion)",
    ),
    FloorTest(
        "thumbnail",
        "Press a thumbnail into a good and a bad spot at the same temperature.",
        "Soft in islands: scraped bucket or mixing; soft up to a batch edge: ratio; soft everywhere: cold.",
        "common practice, no source",
    ),
    FloorTest(
        "solvent rub",
        "Rub a good and a bad spot twenty times with a cloth wet with the solvent that the data sheet names.",
        "Film that softens or colours the cloth is under-cured: ratio, mixing or cold.",
        "ASTM D4752 does it so on zinc paint; on floors common practice, no source",
        _SOLVENT,
    ),
    FloorTest(
        "the kept cup",
        "Look at the cup kept from the batch: is it hard through?",
        "A hard cup clears ratio and lot and points at the floor; a soft cup points at the bucket.",
        "common practice, no source",
    ),
    FloorTest(
        "tape and scrape",
        "Press tape on the edge of the fault and pull; scrape with a blade held flat; look at the back.",
        "Clean between coats: late recoat, blush or dirt. Flake without resin at its foot: late, or a thin film.",
        "'Flake Floor Systems Explained' (tacky base does not anchor)",
    ),
    FloorTest(
        "dab on a sealed panel",
        "Mix a cup of the same lot and roll it on a clean sealed panel away from the floor.",
        "Clean there: the floor is at fault; the same there: the material is.",
        "Architect's Viewpoint IV, concreteopenings.com",
        "Gloves; mix no more than a cup.",
    ),
    FloorTest(
        "tape a plastic sheet",
        "Tape a clear sheet of about 45 cm (18 in) square tight to bare slab for 16 hours or more.",
        "Drops or a dark patch: moisture rises. It doesn't say how much.",
        "ASTM D4263 (from memory)",
    ),
    FloorTest(
        "chip and film gauge",
        "Take a chip and measure it, or cut a V and read the film through a lens.",
        "The film as it is, against the figure that the sheet asks for.",
        "ASTM D4138 does it so (from memory)",
        _DUST,
    ),
    FloorTest(
        "hardness after a warm day",
        "Keep a patch at 20 °C (68 °F) or more for 24 hours and measure hardness before and after.",
        "It gains: cold cure, wait. It does not: ratio, remove.",
        "trade practice; Shore D as in ASTM D2240",
    ),
    FloorTest(
        "pull-off",
        "Three pulls on good and three on bad floor; note where it breaks.",
        "Between coats and clean: recoat missed or blush. In the slab: prep. 1.5 MPa is usual.",
        "ASTM D7234; 'Substrate pull-off test'",
        _DUST,
    ),
)

TESTS: Mapping[str, FloorTest] = MappingProxyType({test.name: test for test in _TESTS})


def cheapest_first(names: tuple[str, ...]) -> tuple[FloorTest, ...]:
    """The tests of these names, the cheapest first, each once.

    >>> [test.name for test in cheapest_first(("pull-off", "wash a patch", "pull-off"))]
    ['wash a patch', 'pull-off']
    """
    return tuple(test for name, test in TESTS.items() if name in names)

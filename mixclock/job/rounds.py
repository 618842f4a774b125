"""The rounds of a day: questions before any kit is opened, when a crew goes home, and when it comes back.

An item is a short question. Mixclock records the answer, warns if it is a bad one, and never blocks anything. An
unanswered question is not recorded, and the record says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from mixclock.job.frozen import FrozenRecord
from mixclock.job.mistakes import plain_name


class RoundName(StrEnum):
    """Which round."""

    READY = "ready"
    EVENING = "evening"
    MORNING = "morning"


class Takes(StrEnum):
    """What an answer may be besides a word."""

    WORDS = "words"
    MOISTURE = "moisture of the slab"
    STRENGTH = "pull-off strength"
    TEMPERATURE = "temperature"


class RoundItem(FrozenRecord):
    """One question.

    `fine` holds the answers that one hopes for, and `bad` the others; "yes" and "no" mean the first of each. `warn` is
    the reply to a bad answer. `ticks` tells which counting fact (`noted`) an answer states. `only` names what a coat
    must have for the question: flake, grit, or nothing.
    """

    name: str
    ask: str
    fine: tuple[str, ...] = ("yes",)
    bad: tuple[str, ...] = ("no",)
    warn: str = ""
    takes: Takes | None = None
    ticks: tuple[tuple[str, str], ...] = ()
    only: str = ""

    def understood(self, said: str) -> tuple[str, bool | None]:
        """The answer as the record holds it, and whether it is one that people hope for.

        >>> cloth = RoundItem("cloth", "A dark cloth wiped over it stays clean?", ("clean",), ("dusty",))
        >>> cloth.understood("Yes"), cloth.understood("dusty"), cloth.understood("only at the door")
        (('clean', True), ('dusty', False), ('only at the door', None))
        """
        plain = plain_name(said).rstrip(".!")
        for words, answers, fine in ((_YES, self.fine, True), (_NO, self.bad, False)):
            if answers and plain in words:
                return answers[0], fine
            known = next((answer for answer in answers if answer.casefold() == plain), None)
            if known is not None:
                return known, fine
        return " ".join(said.split()), None


_YES = frozenset({"yes", "y", "ok", "okay", "done", "fine", "all", "j"})
_NO = frozenset({"no", "n", "not yet", "none"})

_READY = (
    RoundItem(
        "moisture",
        "How moist is the slab? {moisture}.",
        (),
        (),
        "over the limit: no coat yet. Dry it, or ask the maker for a moisture primer",
        takes=Takes.MOISTURE,
    ),
    RoundItem(
        "pull-off",
        "What did the pull-off test reach? {strength} is usual; if the sheet names a figure, that one counts.",
        (),
        (),
        "too weak: grind to sound concrete and pull again",
        takes=Takes.STRENGTH,
    ),
    RoundItem(
        "water drop",
        "A drop of water on the slab: does it soak in?",
        ("soaks in",),
        ("beads",),
        "it beads: sealer, curing compound or oil is on it. Grind it off and try again",
    ),
    RoundItem(
        "oil",
        "Is the slab free of oil, grease and silicone?",
        ("clean",),
        ("oil",),
        "oil comes through every coat: degrease, rinse, grind, and try the drop again",
    ),
    RoundItem(
        "cloth",
        "A dark cloth wiped over it: does it stay clean?",
        ("clean",),
        ("dusty",),
        "dust holds the film, not the slab: vacuum again, then wipe again",
    ),
    RoundItem(
        "lots",
        "Have you read the lots and dates of A and B? Is none past its date?",
        ("read",),
        ("past its date", "not read"),
        "keep a part that is past its date shut, and ask the supplier",
    ),
    RoundItem(
        "one lot",
        "Does each visible floor get one lot only?",
        ("one lot",),
        ("several",),
        "change the lot at a wall or a saw cut, never inside a visible floor",
    ),
    RoundItem(
        "delivery",
        "Did all of it arrive whole: nothing dented, leaking or frozen?",
        ("whole",),
        ("damaged", "frozen"),
        "set it aside, take a photo, ring the supplier before anything is opened",
    ),
    RoundItem(
        "pails",
        "Pails: {material}. How warm are they?",
        (),
        (),
        "outside the sheet's figures: warm or cool the pails first, indoors, off the slab",
        takes=Takes.TEMPERATURE,
    ),
    RoundItem(
        "tools",
        "Are paddle, spikes, scales, second pail and rollers all here?",
        ("all here",),
        ("missing",),
        "fetch what is missing before part B is opened",
    ),
    RoundItem(
        "dump spot",
        "Where do you put a bucket that is lost? It needs bare ground, sand or steel, outside.",
        ("named",),
        ("not yet",),
        "name it before batch 1, with a clear way to it",
        takes=Takes.WORDS,
    ),
    RoundItem(
        "sprinklers",
        "Are sprinklers and hoses off, and tomorrow's dew and rain kept out?",
        ("off",),
        ("on",),
        "turn them off at the controller: they start at night",
    ),
    RoundItem(
        "others",
        "Are the other trades out? Do they know until when?",
        ("out",),
        ("still here",),
        "agree it now, and tape the door: a footprint is a new coat",
    ),
    RoundItem(
        "way out",
        "Which way do you leave with the last roller?",
        ("named",),
        ("not yet",),
        "name the door that you leave by, and finish there",
        takes=Takes.WORDS,
    ),
    RoundItem(
        "sample",
        "Is a sample of the texture or flake agreed and kept?",
        ("kept",),
        ("no sample",),
        "make one on a board with the same dose: who agreed to it, and when",
        only="texture",
    ),
)

_EVENING = (
    RoundItem("keep off", "{tack_free} Is everybody told to keep off?", ("told",), ("not told",), "tell them now"),
    RoundItem(
        "dew",
        "{dew} Have you seen that?",
        ("seen",),
        ("not seen",),
        "read air and slab in the coldest corner now: `reading`",
    ),
    RoundItem(
        "doors",
        "Are doors and vents shut?",
        ("shut",),
        ("open",),
        "damp night air on a young film blushes it: shut them",
        ticks=(
            ("shut", "doors: shut"),
            ("open", "doors: open"),
        ),
    ),
    RoundItem(
        "heater",
        "Is the heater electric or off?",
        ("electric", "off"),
        ("fuel",),
        "a burner makes water and carbon dioxide: the film blushes and yellows. Electric, or none",
        ticks=(
            ("electric", "heater: electric"),
            ("off", "heater: none"),
            ("fuel", "heater: fuel"),
        ),
    ),
    RoundItem(
        "leftovers",
        "Are the leftovers cold, spread thin and outside?",
        ("cold, outside",),
        ("still warm", "inside"),
        "outside, away from anything that burns, spread thin, no lid",
    ),
    RoundItem(
        "barrier", "Is the barrier up, with the time on a note?", ("up",), ("not up",), "put it up before you go"
    ),
    RoundItem(
        "tomorrow",
        "{tomorrow} Where does it stand warm tonight?",
        ("warm",),
        ("cold",),
        "cold pails mix badly and roll thick: bring them indoors tonight",
        takes=Takes.WORDS,
    ),
)

_MORNING = (
    RoundItem(
        "thumb",
        "Press a thumb into it and twist: does it leave no mark?",
        ("no mark",),
        ("marks",),
        "it is not hard: no coat yet. Try again in an hour",
    ),
    RoundItem(
        "grease",
        "Wipe it with a clean white cloth: does it show no grease?",
        ("no grease",),
        ("greasy",),
        "blush: wash with warm water and detergent, rinse, let it dry, then abrade. Never sand it first",
    ),
    RoundItem(
        "scraped",
        "Is it scraped and swept, and the loose flake weighed?",
        ("scraped",),
        ("not yet",),
        "loose flake is no ground for a coat: scrape both ways, sweep, vacuum, `measured 'flake back' 3.2 kg`",
        only="flake",
    ),
    RoundItem(
        "conditions",
        "Have you read slab and air this morning? {conditions}",
        ("read",),
        ("not read",),
        "read them now, the slab in its coldest corner: `reading --air … --rh … --slab …`",
    ),
    RoundItem("coat by", "{coat_by} Have you seen that?", ("seen",), ("not seen",), "write it on the door"),
)

ROUNDS: Mapping[RoundName, tuple[RoundItem, ...]] = MappingProxyType(
    {RoundName.READY: _READY, RoundName.EVENING: _EVENING, RoundName.MORNING: _MORNING}
)


def items_of(name: RoundName, has_flake: bool, has_texture: bool) -> tuple[RoundItem, ...]:
    """The questions of a round for a floor with or without flake and grit."""
    asked = {"": True, "flake": has_flake, "texture": has_flake or has_texture}
    return tuple(item for item in ROUNDS[name] if asked[item.only])

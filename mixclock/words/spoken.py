"""What is said by ear: a call of at most twelve words and five seconds, then its caution as a sentence of its own.

Over a grinder short sentences at a usual rate, said again, are understood best: speech that was slowed down was
understood worse in noise (Interspeech 2018). What does not fit into a call stands on the screens.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from mixclock.job.profile import EPOXIES, Family
from mixclock.units.spanwords import number_word
from mixclock.words.cautions import ETCHES, EVERY, ISOCYANATES, MONOMERS, NEUTRALISERS, RESINS, Moment

MOST_WORDS = 12
MOST_S = 4.8
"""A call lasts five seconds at most. We only estimate how long a voice takes, so this leaves some room (judgement)."""

UNSURE_BY_EAR = "Can't call it to the hour: read the slab."

_DIGITS = re.compile(r"\d+")
_IN_A_NUMBER = re.compile(r"(?<=\d)[:.,](?=\d)")
_HALF_OF_THE_DAY = re.compile(r"(?<=\d) ([ap])m\b")
_UNITS = {"L": "litres", "mL": "millilitres", "gal": "gallons", "qt": "quarts", "kg": "kilos", "lb": "pounds"}

EAR_CAUTIONS: Mapping[Moment, tuple[tuple[frozenset[Family], str], ...]] = MappingProxyType(
    {
        Moment.HOT_BUCKET: ((EVERY, "If it smokes, don't touch it: get out, call the fire service."),),
        Moment.SMOKING_BUCKET: ((EVERY, "Don't lift it, no water. Call the fire service."),),
        Moment.GONE_BUCKET: ((RESINS, "Outside if you can hold it, spread thin, never a lid."),),
        Moment.ACID_DRYING: ((ETCHES, "In a bucket, acid goes into water, never water into acid."),),
        Moment.SANDING: ((EVERY, "Mask and extraction on: the dust harms lungs."),),
        Moment.MISSED_RECOAT: ((RESINS, "Mask and extraction on: the dust harms lungs."),),
        Moment.OPENING: (
            (ISOCYANATES, "Isocyanate: mask, gloves and eye protection on."),
            (EPOXIES | MONOMERS, "Gloves, long sleeves and goggles on."),
            (ETCHES, "Acid: goggles, shield and mask on, somebody within call."),
            (NEUTRALISERS, "Caustic: goggles and gloves on."),
        ),
    }
)
"""A moment's most pressing caution in the fewest words; all of them stand on the screen (`mixclock.words.cautions`)."""


def ear_caution(family: Family, moment: Moment | None) -> str:
    """The one caution that the voice says at a moment; empty where it has none.

    >>> ear_caution(Family.EPOXY, Moment.GONE_BUCKET)
    'Outside if you can hold it, spread thin, never a lid.'
    """
    rows = EAR_CAUTIONS.get(moment, ()) if moment is not None else ()
    return next((text for families, text in rows if family in families), "")


def call_of(who: str, batch: int | None, places: Sequence[str], do: str, tail: str) -> str:
    """The fullest call that fits. What does not fit is left out: the place first, then the time, then the person.

    >>> call_of("mixer", 3, ["bay 2"], "pour it out now", ". Two minutes left.")
    'mixer, batch 3, bay 2: pour it out now. Two minutes left.'
    >>> call_of("mixer", 3, ["the left bay beside the door of the office"], "pour it out now", ". Two minutes left.")
    'mixer, batch 3: pour it out now. Two minutes left.'
    """
    calls = list(_calls(who, batch, places, do, tail))
    plainest = " ".join(calls[-1].split()[:MOST_WORDS])
    return next((call for call in calls if fits(call)), plainest)


def and_more(count: int) -> str:
    """What is said of all but the first where several fall together."""
    return f"And {count} more on the board." if count else ""


def fits(call: str) -> bool:
    """Whether a call is short enough to be taken in."""
    return len(call.split()) <= MOST_WORDS and spoken_s(call) <= MOST_S


def spoken_s(text: str) -> float:
    """How long a voice at 175 words a minute takes for a text, in seconds.

    Fitted to espeak-ng over every call of the table (standard deviation 0.2 s).

    >>> round(spoken_s("Batch 3, bay 2: pour it out now."), 1)
    2.7
    """
    text = _HALF_OF_THE_DAY.sub(r" \1ee em", text)
    said = " ".join(_UNITS.get(word, word) for word in _IN_A_NUMBER.sub(" ", text).split())
    said = _DIGITS.sub(lambda found: _number(found[0]), said)
    letters = sum(letter.isalpha() for letter in said)
    stops = len(re.findall(r"[.!?](?=\s)", said))
    return (
        0.2 + 0.058 * letters + 0.041 * len(said.split()) + 0.2 * said.count(",") + 0.35 * said.count(":") + 0.3 * stops
    )


def _calls(who: str, batch: int | None, places: Sequence[str], do: str, tail: str) -> Iterator[str]:
    """From the fullest to the plainest."""
    person = f"{who}, " if who else ""
    number = f"batch {batch}" if batch is not None else ""
    many = f"{places[0]} and {len(places) - 1} more" if len(places) > 2 else " and ".join(places)
    full, plain = ", ".join(filter(None, (number, many))), number or many
    one = places[0] if places and not number else number
    for end in (tail, "."):
        for where in dict.fromkeys((full, plain, one)):
            for first in dict.fromkeys((person, "")) if end == "." else (person,):
                yield _capital(f"{first}{where}: {do}{end}" if where else f"{first}{do}{end}")
    yield _capital(f"{number}: {do}." if number else f"{do}.")


def _capital(call: str) -> str:
    """A call begins with a capital, but for a person's own name."""
    return call[:1].upper() + call[1:] if call.startswith("batch ") else call


def _number(digits: str) -> str:
    value = int(digits) if len(digits) < 4 else 100
    if value < 100:
        return number_word(value).replace("-", " ") if value else "zero"
    return " ".join(_number(each) for each in digits)

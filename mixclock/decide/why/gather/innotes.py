"""What was noted in words: heaters, shut rooms, scraped buckets, and so on."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from mixclock.decide.why.case import Case, Gathered, Laid, Missing, Value, clock_text
from mixclock.job.entry import Entry

_FAR = timedelta(days=3650)


@dataclass(frozen=True)
class Topic:
    """What a note is about: words that mean it, words that deny it, when it counts, and what to ask without one.

    `before` and `after` are counted from the first pour and from tack free.
    """

    words: str
    denied: str
    before: timedelta
    after: timedelta
    ask: str
    find_out: str


_ASK = "ask the crew and the owner"
_HOURS = timedelta(hours=3)

TOPICS: Mapping[str, Topic] = MappingProxyType(
    {
        "fuel heater": Topic(
            r"heater|salamander|torpedo|burner|blower heat",
            r"electric|no heater|heater off|without heater|unlit",
            _HOURS,
            timedelta(),
            "whether a fuel heater was lit",
            _ASK,
        ),
        "closed room": Topic(
            r"(doors?|windows?|room|vents?)\b.{0,20}\b(shut|closed)|closed room|no air ?flow"
            r"|no ventilation|fans? (was |were )?off",
            r"not (shut|closed)|(shut|closed) (for|against) (a )?(minute|moment)",
            _HOURS,
            timedelta(days=1),
            "whether doors and vents were open while it dried",
            _ASK,
        ),
        "scraped": Topic(
            r"scrap(ed|ing) (out )?(the )?(bucket|pail|side|wall)|upend|tipped|drained (the )?(bucket|pail)|drip"
            r"|bucket (was )?left (up|on)",
            r"not scraped|no drip|into the clean pail",
            timedelta(minutes=90),
            timedelta(),
            "whether the bucket was scraped out, upended or dripped",
            "thumbnail: soft islands where it stood",
        ),
        "unstirred": Topic(
            r"(not|un|n't) ?-?stir|settled|sediment|bottom of the pail"
            r"|(flatt?ing|pigment|filler) (left|stayed|at)",
            r"stirred (up )?to the bottom",
            timedelta(hours=12),
            timedelta(),
            "whether the pail was stirred to the bottom",
            "look at the bottom of the empty pail",
        ),
        "contamination": Topic(
            r"\boil|grease|silicone|wax|residue|powder|dust(y| left)|contaminat|salts?\b|no wipe"
            r"|not (rinsed|vacuumed|swept)",
            r"no (oil|grease|dust|residue)|clean|wiped (clean|dry)|degreased",
            timedelta(days=14),
            timedelta(),
            "whether the slab was wiped and tested before coating",
            "pull-off: look at the back of the film",
        ),
        "thirsty": Topic(
            r"unprimed|not primed|over-?ground|soaked in|drank|drinking|sucked|porous|thirsty|bare patch",
            r"not porous|\bprimed\b.*(until|twice)",
            timedelta(days=14),
            timedelta(hours=1),
            "whether the slab was primed and closed",
            "a drop of water on bare slab near by",
        ),
        "cleaner": Topic(
            r"cleaner|bleach|degreaser|solvent wash|mopp(ed|ing)|detergent|salt(ed)? water|chemical",
            r"neutral cleaner|no cleaner",
            timedelta(),
            _FAR,
            "which cleaner the owner used, and since when",
            _ASK,
        ),
        "sun": Topic(
            r"\bsun|daylight|south (window|door)|roof ?light|skylight|\buv\b",
            r"no sun|shaded",
            timedelta(),
            _FAR,
            "whether sun falls on it",
            "compare with floor under a mat",
        ),
        "sun on slab": Topic(
            r"\bsun|warming|heating (on|up)|underfloor",
            r"no sun|shaded|cooling",
            _HOURS,
            timedelta(),
            "whether the sun came onto the slab",
            _ASK,
        ),
        "abraded": Topic(
            r"sanded|abraded|screened|scuffed|keyed|ground back",
            r"not (sanded|abraded|screened|keyed)|un-?sanded",
            timedelta(days=30),
            timedelta(),
            "whether the coat below was abraded before this one",
            _ASK,
        ),
        "wrong part": Topic(
            r"wrong (part|b\b|hardener|pail|kit)|short of (b\b|hardener)|left over in the (a|b)\b"
            r"|spilt|spilled|partial kit",
            r"not wrong",
            timedelta(hours=2),
            timedelta(hours=2),
            "whether the right B went in, all of it",
            _ASK,
        ),
        "expired": Topic(
            r"expired|past (its |their )?(date|expiry)|out of date|too old|frozen|froze|crystalli|skinned pail",
            r"not expired",
            timedelta(days=3),
            timedelta(),
            "the expiry date and how the pails were stored",
            "read the labels",
        ),
    }
)


def gatherer(topic: str) -> Callable[[Case, Laid], Gathered]:
    """Reads one topic from the notes of a coat on an area."""

    def read(case: Case, laid: Laid) -> Gathered:
        return _read(case, laid, TOPICS[topic])

    return read


def _read(case: Case, laid: Laid, topic: Topic) -> Gathered:
    start, end = laid.first - topic.before, _end(case, laid, topic)
    for entry, words, everywhere in _notes(case, laid):
        if start <= entry.happened <= end and _means(topic, words):
            when = clock_text(case.standing, entry.happened)
            return Value(f"“{words}”, {when}", at=entry.happened, holds_elsewhere=everywhere)
    return Missing(topic.ask, topic.find_out)


def _end(case: Case, laid: Laid, topic: Topic) -> datetime:
    if topic.after == _FAR:
        return case.at
    return case.tack_free(laid) + topic.after if topic.after or topic.before <= _HOURS else laid.last


def _means(topic: Topic, text: str) -> bool:
    return bool(re.search(topic.words, text, re.I)) and not re.search(topic.denied, text, re.I)


def _notes(case: Case, laid: Laid) -> Iterator[tuple[Entry, str, bool]]:
    """Notes that hold for this coat here, with their words, and whether they hold for the whole floor."""
    batches = {batch.id for batch in laid.batches}
    mixed = {batch.combined.entry for batch in laid.batches}
    for entry, words in case.noted:
        area, batch = getattr(entry.facts, "area", None), getattr(entry.facts, "batch", None)
        areas = getattr(entry.facts, "areas", ())
        if entry.number in mixed or batch in batches or area == laid.area or laid.area in areas:
            yield entry, words, False
        elif area is None and batch is None and not areas:
            yield entry, words, True

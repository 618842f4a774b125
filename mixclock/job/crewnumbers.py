"""On papers that are handed over, people are crew 1 and crew 2, unless somebody asks for names."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from mixclock.job.entry import Entry, Noted, Raised
from mixclock.job.progress import Standing
from mixclock.job.site import Site
from mixclock.values import replace

NO_CREW = frozenset({"owner", "supplier"})
"""Those who state something and are not of the crew."""


def crew_numbers(site: Site, entries: Sequence[Entry]) -> Mapping[str, str]:
    """Each person's number: those of the job file in its order, then others as they first stated something."""
    stated = [entry.by for entry in entries if entry.by is not None]
    people = dict.fromkeys(name for name in (*(person.name for person in site.crew), *stated) if name not in NO_CREW)
    return MappingProxyType(numbered(people))


def numbered(people: Iterable[str]) -> dict[str, str]:
    """What each of these is called on such a paper."""
    return {name: f"crew {number}" for number, name in enumerate(people, start=1)}


def numbered_entries(entries: Sequence[Entry], numbers: Mapping[str, str]) -> tuple[Entry, ...]:
    """The log with people as numbers, in what they wrote too."""
    return tuple(_numbered(entry, numbers) for entry in entries)


def numbered_site(standing: Standing, numbers: Mapping[str, str]) -> Standing:
    """The job with its crew as numbers."""
    crew = tuple(replace(person, name=numbers.get(person.name, person.name)) for person in standing.site.crew)
    return replace(standing, site=replace(standing.site, crew=crew))


def _numbered(entry: Entry, numbers: Mapping[str, str]) -> Entry:
    facts = entry.facts
    if isinstance(facts, Noted):
        facts = facts.but(text=in_words(facts.text, numbers))
    elif isinstance(facts, Raised):
        facts = facts.but(who=numbers.get(facts.who or "", facts.who), text=in_words(facts.text, numbers))
    by = numbers.get(entry.by, entry.by) if entry.by is not None else None
    note = in_words(entry.note, numbers) if entry.note is not None else None
    return replace(entry, facts=facts, by=by, note=note)


def in_words(text: str, numbers: Mapping[str, str]) -> str:
    """A text with people's names replaced, wherever a name stands as a word of its own."""
    for name, number in numbers.items():
        text = re.sub(rf"\b{re.escape(name)}\b", number, text)
    return text

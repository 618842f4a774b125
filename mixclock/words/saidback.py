"""An entry of the log in one sentence, as it is said back to the person who stated it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Any

from mixclock.formulas.air import dew_margin_k
from mixclock.job.dayentries import Answered, BackAtWork, KitAsked, PaceDropped, Settled, StoppedWork, Visited
from mixclock.job.entry import (
    Began,
    Combined,
    CupUsed,
    Did,
    Dumped,
    Entry,
    FactorDropped,
    Found,
    Heard,
    JobFinished,
    JobMended,
    JobStarted,
    Measured,
    MixingEnded,
    Noted,
    PhotoTaken,
    Poured,
    Reading,
    Saw,
    Traffic,
    Unreadable,
    Withdrawn,
)
from mixclock.job.jumps import open_jumps, worst_read
from mixclock.job.progress import Standing
from mixclock.job.slabmoisture import BY_WEIGHT
from mixclock.job.steps import row_of
from mixclock.units import CrewUnits, TypedFigures, write_span
from mixclock.units.vapour import write_vapour
from mixclock.values import dataclass
from mixclock.words.enumeration import list_words
from mixclock.words.stepwords import words_of
from mixclock.words.times import day_and_clock

_SHARES = MappingProxyType(
    {"quarter": "about a quarter of it", "half": "about half of it", "most": "most of it", "all": "all of it"}
)
_BY_WHAT = MappingProxyType({"foot": "Walked", "vehicle": "Driven"})


@dataclass(frozen=True)
class _Teller:
    """An entry with what its words need."""

    entry: Entry
    standing: Standing
    now: datetime

    @property
    def units(self) -> CrewUnits:
        return self.standing.site.units

    @property
    def at(self) -> str:
        return day_and_clock(self.entry.happened, self.now, self.standing.site.wall)

    @property
    def typed(self) -> TypedFigures:
        """The units that the person typed in: a statement is read back in them."""
        return TypedFigures(self.units)

    def amount(self, volume_l: float | None, mass_kg: float | None) -> str:
        if volume_l is not None:
            return self.typed.write_volume(volume_l)
        return self.typed.write_mass(mass_kg) if mass_kg is not None else ""


def said_back(entry: Entry, standing: Standing, now: datetime) -> str:
    """What an entry says, in one sentence, with who said it and the note."""
    tell = _SENTENCES.get(type(entry.facts))
    told = _Teller(entry, standing, now)
    sentence = tell(told, entry.facts) if tell else f"{entry.facts.kind} at {told.at}"
    by = f", by {entry.by}" if entry.by else ""
    note = f" ({entry.note})" if entry.note else ""
    return f"{sentence}{by}{note}"


def measured_words(facts: Measured, units: CrewUnits) -> str:
    """What was measured, with its unit.

    >>> from mixclock.units import US_CREW
    >>> measured_words(Measured("wet film", 279.4, "um"), US_CREW), measured_words(Measured("pH", 7.2, ""), US_CREW)
    ('11 mil', '7.2')
    """
    if facts.unit == "um":
        return TypedFigures(units).write_film(facts.value)
    if facts.unit == BY_WEIGHT:
        return write_vapour(facts.value, units.system == "US")
    if facts.unit == "kg":
        return TypedFigures(units).write_mass(facts.value)
    return f"{facts.value:g} %" if facts.unit == "pct" else f"{facts.value:g}"


def _combined(told: _Teller, facts: Combined) -> str:
    batch = next((each for each in told.standing.batches if each.combined.entry == told.entry.number), None)
    name = f"Batch {batch.id}" if batch else "A batch that was withdrawn"
    amount = told.amount(facts.volume_l, facts.mass_kg)
    coat = f", coat {facts.coat}" if facts.coat else ""
    lots = (("lot", facts.lot), ("lot of A", facts.lot_a), ("lot of B", facts.lot_b))
    lot = "".join(f", {part} {number}" for part, number in lots if number)
    return f"{name}: {amount} of {facts.product} for {_listed(facts.areas)}{coat}{lot}, part B in at {told.at}"


def _poured(told: _Teller, facts: Poured) -> str:
    batch = told.standing.batch(facts.batch)
    places = facts.areas or (batch.areas if batch else ())
    part = told.amount(facts.part_l, facts.part_kg)
    left = f", {told.units.write_volume(batch.left_l)} left" if part and batch and batch.left_l > 0 else ""
    covered = f" over {told.typed.write_area(facts.covered_m2)}" if facts.covered_m2 is not None else ""
    return f"Batch {facts.batch}: {f'{part} ' if part else ''}poured on {_listed(places)}{covered} at {told.at}{left}"


def _dumped(told: _Teller, facts: Dumped) -> str:
    how_much = _SHARES.get(facts.share or "", "")
    return f"Batch {facts.batch}: dumped at {told.at}{f', {how_much}' if facts.share else ''}"


def _did(told: _Teller, facts: Did) -> str:
    return f"{_about(facts.batch, facts.areas)} {row_of(facts.step).past} at {told.at}"


def _began(told: _Teller, facts: Began) -> str:
    doing = words_of(facts.step).doing
    return f"{_about(facts.batch, facts.areas)} {doing} since {told.at}; quiet until it must be done"


def _reading(told: _Teller, facts: Reading) -> str:
    typed = told.typed
    parts = [
        f"air {typed.write_temp(facts.air_c)}" if facts.air_c is not None else "",
        f"humidity {facts.rh_pct:g} %" if facts.rh_pct is not None else "",
        f"slab {typed.write_temp(facts.slab_c)}" if facts.slab_c is not None else "",
        f"bucket of batch {facts.batch} {typed.write_temp(facts.bucket_c)}" if facts.bucket_c is not None else "",
    ]
    where = f" on {facts.area}" if facts.area else ""
    return f"Read{where} at {told.at}: {', '.join(filter(None, parts))}{_dew(told)}"


def _dew(told: _Teller) -> str:
    """The margin that follows from the latest readings, where the air's water is known."""
    readings = told.standing.readings
    asked = bool(open_jumps(told.standing))
    air_read, slab_read = worst_read(readings)
    samples = air_read, readings.humidity(), slab_read
    if not all(samples):
        return "; read the slab too, in its coldest corner, for the dew margin" if samples[1] and not samples[2] else ""
    air, damp, slab = (each[-1].value for each in samples)
    try:
        margin_k = dew_margin_k(air, damp, slab)
    except ValueError:
        return ""  # the formula does not hold here: the reading is kept, but no margin is told
    if margin_k <= 0:
        return "; the slab is at or below the dew point: it is wet"
    by = " by the colder slab and the warmer air, until the question is answered" if asked else ""
    return f"; slab {told.units.write_margin(margin_k)} over the dew point{by}"


def _measured(told: _Teller, facts: Measured) -> str:
    shown = measured_words(facts, told.units)
    return f"Measured at {told.at}: {facts.quantity} {shown}{_on(facts.area, facts.batch)}"


def _saw(told: _Teller, facts: Saw) -> str:
    where = f"Batch {facts.batch}" if facts.batch is not None else str(facts.area)
    return f"{where[:1].upper()}{where[1:]}: seen {facts.sign} at {told.at}"


def _withdrawn(told: _Teller, facts: Withdrawn) -> str:
    meant = next((entry for entry in told.standing.entries if entry.number == facts.entry), None)
    if meant is not None and isinstance(meant.facts, Withdrawn):
        return _counts_again(told, meant.facts.entry)
    what = f" ({said_back(meant, told.standing, told.now)})" if meant is not None else ""
    return f"Entry {facts.entry} does not count any more{what}"


def _counts_again(told: _Teller, number: int) -> str:
    """Somebody withdrew a withdrawal: which entry counts again."""
    batch = next((each for each in told.standing.batches if each.combined.entry == number), None)
    if batch is not None:
        return f"Batch {batch.id} counts again"
    meant = next((entry for entry in told.standing.entries if entry.number == number), None)
    return f"Entry {number} counts again" + (f" ({said_back(meant, told.standing, told.now)})" if meant else "")


def _heard(told: _Teller, facts: Heard) -> str:
    return f"Heard at {told.at}: {_listed(facts.alerts) if facts.alerts else 'everything that stood'}"


def _cup(_: _Teller, facts: CupUsed) -> str:
    """What a test cup had shown. A cup without mass means that somebody dropped all cups of its lot."""
    of = f"of {facts.product}{f', lot {facts.lot}' if facts.lot else ''}"
    if facts.mass_kg == 0.0:
        return f"Test cups {of} are dropped"
    ended = f"ended after {write_span(facts.end_s)}" if facts.end_s is not None else "not ended yet"
    return f"Test cup {of}: {facts.mass_kg * 1000.0:.0f} g, {ended}"


def _answered(told: _Teller, facts: Answered) -> str:
    minded = "" if facts.fine is not False else " (look out)"
    coat = f", {facts.coat}" if facts.coat else ""
    return f"{facts.round.capitalize()} at {told.at}{_on(facts.area, None)}{coat}: {facts.item}: {facts.answer}{minded}"


def _about(batch: int | None, areas: tuple[str, ...]) -> str:
    if batch is None:
        return f"{_listed(areas)}:"
    return f"Batch {batch}{f' on {_listed(areas)}' if areas else ''}:"


def _on(area: str | None, batch: int | None) -> str:
    return f" on {area}" if area else f" of batch {batch}" if batch is not None else ""


def _listed(names: tuple[str, ...]) -> str:
    return list_words(names) or "nowhere"


_SENTENCES: Mapping[type, Callable[[_Teller, Any], str]] = MappingProxyType(
    {
        JobStarted: lambda told, facts: f"Job '{facts.name}' begun at {told.at}",
        JobMended: lambda told, facts: f"Job file mended at {told.at}: {'; '.join(facts.changed)}",
        JobFinished: lambda told, _: f"Job '{told.standing.job}' finished at {told.at}",
        Combined: _combined,
        MixingEnded: lambda told, facts: f"Batch {facts.batch}: mixed at {told.at}",
        Poured: _poured,
        Dumped: _dumped,
        Did: _did,
        Began: _began,
        Reading: _reading,
        Measured: _measured,
        Noted: lambda told, facts: f"Noted at {told.at}{_on(facts.area, facts.batch)}: {facts.text}",
        PhotoTaken: lambda told, facts: f"Photo at {told.at}{_on(facts.area, facts.batch)}: {facts.name}",
        Traffic: lambda told, facts: f"{_BY_WHAT.get(facts.by_what, facts.by_what)} on {facts.area} at {told.at}",
        Saw: _saw,
        Found: lambda told, facts: (
            f"Found on {facts.area} at {told.at}: {facts.symptom}{f', {facts.shape}' if facts.shape else ''}"
        ),
        KitAsked: lambda told, facts: f"Asked at {told.at} whether to open the next kit. {facts.said}".rstrip(),
        Answered: _answered,
        StoppedWork: lambda told, facts: f"Called away at {told.at}{f': {facts.why}' if facts.why else ''}",
        BackAtWork: lambda told, _: f"Back at {told.at}",
        Visited: lambda told, facts: f"Call-back begun at {told.at}{f': {facts.why}' if facts.why else ''}",
        Settled: lambda told, facts: f"Put right on {facts.area} at {told.at}: {facts.how}",
        CupUsed: _cup,
        PaceDropped: lambda *_: "How fast the crew was on this job is dropped: no plan goes by it",
        FactorDropped: lambda _, facts: f"What was learned of {facts.product}, {facts.window}, is dropped",
        Heard: _heard,
        Unreadable: lambda told, facts: f"Entry {told.entry.number} ({facts.was}) cannot be read: {facts.why}",
        Withdrawn: _withdrawn,
    }
)

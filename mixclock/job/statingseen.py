"""Statements about what was read, measured, seen, heard and found, and the withdrawal of a mistake."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from mixclock.formulas.air import AIR_RANGE_C, RH_RANGE_PCT, SLAB_RANGE_C
from mixclock.job.candidates import in_the_bucket, the_one, where_it_lies
from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    Delivered,
    Entry,
    FactorUsed,
    Found,
    Heard,
    JobFinished,
    JobMended,
    JobStarted,
    Measured,
    Noted,
    PhotoTaken,
    Planned,
    ProfileUsed,
    Raised,
    Reading,
    Saw,
    Traffic,
    WatchEvent,
    Withdrawn,
)
from mixclock.job.folding import site_of
from mixclock.job.mending import contradictions
from mixclock.job.mistakes import did_you_mean, quoted
from mixclock.job.naming import area_named, batch_numbered, one_of, sign_named
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError, Said, checked, text

BY_MACHINE = (Raised, Delivered, WatchEvent, ProfileUsed, FactorUsed, Planned)
"""What no person states, and so no person withdraws."""

TRAFFIC = ("foot", "vehicle")
_TRAFFIC_ALIASES = MappingProxyType({"feet": "foot", "walked": "foot", "car": "vehicle", "wheels": "vehicle"})
_SIGNS_OF_A_BUCKET = ("stringy", "hot")


@dataclass(frozen=True)
class Quantity:
    """Something that is measured on a floor: its unit in the log and the values that make sense.

    `also` are other names of it, `beside` what the trade writes before or behind the number, `scale` which scale it is.
    """

    name: str
    unit: str
    least: float
    most: float
    also: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    scale: str = ""

    @property
    def called(self) -> str:
        """Its name with its scale, for a person who typed another one."""
        return f"{self.name} ({self.scale})" if self.scale else self.name


_QUANTITIES = (
    Quantity("wet film", "um", 1.0, 20_000.0, ("film", "wft", "wet film thickness")),
    Quantity("moisture", "pct", 0.0, 100.0, ("slab moisture", "slab humidity"), ("rh", "cm")),
    Quantity("pH", "", 0.0, 14.0, (), ("ph",)),
    Quantity(
        "hardness", "", 0.0, 100.0, ("shore d", "shore"), ("shore d", "shore-d", "shored", "shore", "d"), "Shore D"
    ),
    Quantity("texture", "", 1.0, 10.0, ("csp", "profile"), ("icri csp", "csp"), "CSP"),
)
QUANTITIES: Mapping[str, Quantity] = MappingProxyType({quantity.name: quantity for quantity in _QUANTITIES})


def quantity_named(said: str) -> Quantity:
    """The quantity that is meant.

    >>> quantity_named("wet-film").unit, quantity_named("ph").name, quantity_named("CSP").name
    ('um', 'pH', 'texture')
    """
    names = {alias: quantity.name for quantity in _QUANTITIES for alias in (quantity.name, *quantity.also)}
    return QUANTITIES[names[one_of(said, names, "quantity")]]


def value_alone(quantity: Quantity, said: str) -> str:
    """A value as the trade writes it, without the words beside the number.

    >>> value_alone(QUANTITIES["hardness"], "80 Shore D"), value_alone(QUANTITIES["texture"], "CSP3")
    ('80', '3')
    >>> value_alone(QUANTITIES["moisture"], "75 % RH"), value_alone(QUANTITIES["hardness"], "80 Shore A")
    ('75 %', '80 Shore A')
    """
    plain = " ".join(said.split())
    for word in quantity.beside:
        before, behind = rf"{word}[ -]?(?=[\d.,])", rf"(?<=[\d %]){word}"
        plain = re.sub(rf"^{before}|{behind}$", "", plain, flags=re.IGNORECASE).strip()
    return plain


def reading(
    standing: Standing,
    said: Said,
    *,
    air_c: float | None = None,
    rh_pct: float | None = None,
    slab_c: float | None = None,
    area: str | None = None,
    bucket_c: float | None = None,
    batch: int | None = None,
    logger: str | None = None,
) -> tuple[Draft, ...]:
    """Conditions as measured; any one value suffices."""
    said = checked(standing, said)
    if air_c is None and rh_pct is None and slab_c is None and bucket_c is None:
        raise CannotTellError("nothing was read; say at least one of --air, --rh, --slab or --bucket")
    if batch is not None and bucket_c is None:
        raise CannotTellError("a batch is named, but no temperature of its bucket; say --bucket T")
    if rh_pct is not None and 0 < rh_pct < 1:
        raise CannotTellError(f"a humidity of {rh_pct:g} % is drier than any desert; {rh_pct * 100:g} % may be meant")
    facts = Reading(
        air_c=_between(air_c, *AIR_RANGE_C, "air", " °C"),
        rh_pct=_between(rh_pct, *RH_RANGE_PCT, "humidity", " %"),
        slab_c=_between(slab_c, *SLAB_RANGE_C, "slab", " °C"),
        area=area_named(standing, area),
        bucket_c=_between(bucket_c, -20.0, 300.0, "bucket", " °C"),
        batch=_batch_of_bucket(standing, said, batch) if bucket_c is not None else None,
        logger=text(logger, "the logger's name") if logger is not None else None,
    )
    return (Draft(facts, said.when, said.by, said.note),)


def measured(
    standing: Standing,
    said: Said,
    *,
    quantity: str,
    value: float,
    area: str | None = None,
    batch: int | None = None,
) -> tuple[Draft, ...]:
    """A measurement on the floor, its value in the quantity's own unit."""
    said = checked(standing, said)
    meant = quantity_named(quantity)
    _between(value, meant.least, meant.most, meant.name, f" {meant.unit}".rstrip())
    number = batch_numbered(standing, batch).id if batch is not None else None
    facts = Measured(meant.name, value, meant.unit, area_named(standing, area), number)
    return (Draft(facts, said.when, said.by, said.note),)


def noted(
    standing: Standing, said: Said, *, text: str, area: str | None = None, batch: int | None = None
) -> tuple[Draft, ...]:
    """Something worth remembering."""
    said = checked(standing, said)
    number = batch_numbered(standing, batch).id if batch is not None else None
    return (Draft(Noted(_plain_text(text), area_named(standing, area), number), said.when, said.by, said.note),)


def photo(
    standing: Standing, said: Said, *, name: str, sha256: str, area: str | None = None, batch: int | None = None
) -> tuple[Draft, ...]:
    """A picture was taken; it is known by its original's hash."""
    said = checked(standing, said)
    if area is not None and batch is not None:
        raise CannotTellError("a photo shows an area or a batch; say --on AREA or --batch BATCH, not both")
    number = batch_numbered(standing, batch).id if batch is not None else None
    facts = PhotoTaken(text(name, "the file's name"), sha256, area_named(standing, area), number)
    return (Draft(facts, said.when, said.by, said.note),)


def traffic(standing: Standing, said: Said, *, area: str, by_what: str) -> tuple[Draft, ...]:
    """Feet or wheels went over an area."""
    said = checked(standing, said)
    plain = by_what.strip().casefold()
    what = one_of(_TRAFFIC_ALIASES.get(plain, by_what), TRAFFIC, "traffic")
    return (Draft(Traffic(_area(standing, area), what), said.when, said.by, said.note),)


def saw(
    standing: Standing, said: Said, *, sign: str, batch: int | None = None, area: str | None = None
) -> tuple[Draft, ...]:
    """A sign on a batch or on an area."""
    said = checked(standing, said)
    what = sign_named(sign)
    place = area_named(standing, area)
    if batch is None and place is None:
        raise CannotTellError(f"where was it {what}? say a batch's number or an area")
    if batch is None and what in _SIGNS_OF_A_BUCKET:
        raise CannotTellError(f"a batch is {what}, an area is not; say its number: `saw BATCH {what}`")
    if batch is not None:
        found = batch_numbered(standing, batch)
        if said.when < found.combined.at:
            raise CannotTellError(f"batch {found.id} was not begun by then; mend --at")
    elif not _coated(standing, place, said):
        raise CannotTellError(f"nothing was laid on {place} by then; say the batch, or mend --at")
    return (Draft(Saw(what, batch, place), said.when, said.by, said.note),)


def found(standing: Standing, said: Said, *, area: str, symptom: str, shape: str | None = None) -> tuple[Draft, ...]:
    """An area was found faulty. Symptom and shape are the words of `mixclock.decide.why`, already settled."""
    said = checked(standing, said)
    return (Draft(Found(_area(standing, area), symptom, shape), said.when, said.by, said.note),)


def heard(standing: Standing, said: Said, *, alerts: Sequence[str] = ()) -> tuple[Draft, ...]:
    """Somebody heard an alert; without a name, all that stand."""
    said = checked(standing, said)
    known = {raising.entry.facts.alert for raising in standing.raisings if isinstance(raising.entry.facts, Raised)}
    for alert in alerts:
        if alert not in known:
            raise CannotTellError(
                f"no alert {quoted(alert)} was raised; "
                + (did_you_mean(alert, sorted(known)) if known else "none was raised yet")
            )
    return (Draft(Heard(tuple(dict.fromkeys(alerts))), said.when, said.by, said.note),)


def finished(standing: Standing, said: Said) -> tuple[Draft, ...]:
    """Nobody works on the job any more."""
    said = checked(standing, said)
    if standing.finished is not None:
        raise CannotTellError(f"the job '{standing.job}' is finished already")
    return (Draft(JobFinished(), said.when, said.by, said.note),)


def withdraw(standing: Standing, said: Said, *, entry: int | None = None) -> tuple[Draft, ...]:
    """An earlier statement was a mistake; without a number, the last one (of this person, where one is named)."""
    said = checked(standing, said)
    meant = _last_statement(standing, said.by) if entry is None else _entry_numbered(standing, entry)
    if isinstance(meant.facts, BY_MACHINE):
        raise CannotTellError(f"entry {meant.number} was written by mixclock itself ({meant.facts.kind}); it stays")
    if isinstance(meant.facts, JobStarted):
        raise CannotTellError("the start of a job cannot be withdrawn; choose another with `mixclock job use NAME`")
    if meant.number in standing.withdrawn:
        raise CannotTellError(f"entry {meant.number} does not count any more; `mixclock record` shows what does")
    gone = Draft(Withdrawn(meant.number), said.now, said.by, said.note)
    if isinstance(meant.facts, JobMended | Withdrawn):
        _refuse_contradiction(standing, meant)
    return (gone,)


def _refuse_contradiction(standing: Standing, meant: Entry) -> None:
    """Without it the job would go by another file: one that knows nothing of what was stated since."""
    last = standing.entries[-1]
    without = replace(last, number=last.number + 1, facts=Withdrawn(meant.number))
    wrong = contradictions(standing, site_of((*standing.entries, without)))
    if wrong:
        raise CannotTellError(
            f"entry {meant.number} cannot be withdrawn, the job would go by its file as it was: {wrong[0].what}"
        )


def _last_statement(standing: Standing, by: str | None) -> Entry:
    for entry in reversed(standing.live()):
        mine = by is None or entry.by == by
        if mine and not isinstance(entry.facts, (*BY_MACHINE, JobStarted, Withdrawn)):
            return entry
    raise CannotTellError("there is nothing to withdraw" + (f" that {by} stated" if by else ""))


def _entry_numbered(standing: Standing, number: int) -> Entry:
    for entry in standing.entries:
        if entry.number == number:
            return entry
    last = standing.entries[-1].number if standing.entries else 0
    raise CannotTellError(
        f"this job has no entry {number} (the last is {last}); each statement answers with its number"
    )


def _batch_of_bucket(standing: Standing, said: Said, batch: int | None) -> int:
    if batch is not None:
        return batch_numbered(standing, batch).id
    held = in_the_bucket(standing, said.when)
    return the_one(standing, held, "no batch is in a bucket; say --batch BATCH").id


def _coated(standing: Standing, area: str | None, said: Said) -> bool:
    return any(area in where_it_lies(batch) and batch.combined.at <= said.when for batch in standing.batches)


def _area(standing: Standing, said: str) -> str:
    area = area_named(standing, said)
    assert area is not None
    return area


def _plain_text(said: str) -> str:
    return text(said, "the note")


def _between(value: float | None, least: float, most: float, what: str, unit: str) -> float | None:
    if value is not None and not least <= value <= most:
        raise CannotTellError(f"{what} of {value:g}{unit} is outside {least:g} to {most:g}{unit}; mend it")
    return value

"""Statements about what was read, measured, noted, seen and found."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Any, ClassVar

from mixclock.formulas.air import AIR_RANGE_C, RH_RANGE_PCT, SLAB_RANGE_C
from mixclock.job.candidates import in_the_bucket, the_one, where_it_lies
from mixclock.job.entry import Facts, Found, Measured, Noted, PhotoTaken, Reading, Saw, Traffic
from mixclock.job.frozen import FrozenRecord
from mixclock.job.naming import area_named, batch_numbered, one_of, sign_named
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import Attribution, CannotTellError, text
from mixclock.job.slabmoisture import BY_WEIGHT
from mixclock.job.statements.fields import (
    BATCH,
    TEXT,
    FieldKind,
    Measure,
    OneOf,
    Room,
    Temperature,
    of_batch,
    on_area,
    option,
    percentage,
    untyped,
    word,
)
from mixclock.job.statements.statement import Statement, Typed
from mixclock.units import UnitError, film_um, mass_kg, number, pct
from mixclock.units.vapour import is_vapour, vapour_g_m2_d

TRAFFIC = ("foot", "vehicle")
_TRAFFIC_ALIASES = MappingProxyType({"feet": "foot", "walked": "foot", "car": "vehicle", "wheels": "vehicle"})
_SIGNS_OF_A_BUCKET = ("stringy", "hot", "smoking")


class Quantity(FrozenRecord):
    """Something that is measured on a floor: its unit in the log and the values that make sense.

    `also` holds its other names. `beside` holds what the trade writes before or behind the number. `scale` is its
    scale.
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
    Quantity("moisture by weight", BY_WEIGHT, 0.0, 1000.0, ("calcium chloride", "mver")),
    Quantity("flake back", "kg", 0.0, 100_000.0, ("flake swept back", "flake weighed back")),
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
    for beside in quantity.beside:
        before, behind = rf"{beside}[ -]?(?=[\d.,])", rf"(?<=[\d %]){beside}"
        plain = re.sub(rf"^{before}|{behind}$", "", plain, flags=re.IGNORECASE).strip()
    return plain


MANNERS = ("contact", "infrared")
"""With what a slab is read at the place itself."""


class ReadingStatement(Statement):
    """Air, humidity, slab or bucket as you measured them. One value is enough."""

    verb: ClassVar[str] = "reading"
    from_a_phone: ClassVar[bool] = True
    air_c: float | None = option(
        Temperature(*AIR_RANGE_C, "air"), "--air", "T", "Air temperature, such as '18 °C'.", default=None
    )
    rh_pct: float | None = option(
        percentage(*RH_RANGE_PCT, "humidity"), "--rh", "H", "Relative humidity, such as 62.", default=None
    )
    slab_c: float | None = option(
        Temperature(*SLAB_RANGE_C, "slab"), "--slab", "T", "Surface temperature of the slab.", default=None
    )
    area: str | None = on_area(default=None)
    bucket_c: float | None = option(
        Temperature(-20.0, 300.0, "bucket"), "--bucket", "T", "Temperature in a bucket.", default=None
    )
    batch: int | None = of_batch(default=None)
    logger: str | None = untyped(TEXT, default=None)
    how: str | None = option(
        OneOf(*MANNERS),
        "--how",
        "MANNER",
        "How the slab was read, at the place itself: contact or infrared (from within 20 cm, matt concrete or tape).",
        default=None,
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The values as they were read."""
        if self.rh_pct is not None and 0 < self.rh_pct < 1:
            raise CannotTellError(
                f"a humidity of {self.rh_pct:g} % is drier than any desert; "
                f"if you mean {self.rh_pct * 100:g} %, type that"
            )
        self.refuse_nonsense(standing)
        if self.air_c is None and self.rh_pct is None and self.slab_c is None and self.bucket_c is None:
            raise CannotTellError("nothing was read; say at least one of --air, --rh, --slab or --bucket")
        if self.how is not None and self.slab_c is None:
            raise CannotTellError("--how tells how a slab was read, and none was; say --slab T")
        if self.batch is not None and self.bucket_c is None:
            raise CannotTellError("a batch is named, but no temperature of its bucket; say --bucket T")
        facts = Reading(
            air_c=self.air_c,
            rh_pct=self.rh_pct,
            slab_c=self.slab_c,
            area=area_named(standing, self.area),
            bucket_c=self.bucket_c,
            batch=_batch_of_bucket(standing, said, self.batch) if self.bucket_c is not None else None,
            logger=text(self.logger, "the logger's name") if self.logger is not None else None,
            how=self.how if self.slab_c is not None else None,
        )
        return (facts,)


class _QuantityKind(FieldKind):
    """The quantity that is measured, by its name."""

    def read(self, typed: str, where: str, room: Room) -> Quantity:
        return quantity_named(typed)

    def taken(self, name: str, told: Mapping[str, Any]) -> Any:
        found = super().taken(name, told)
        return quantity_named(found) if found is not None else None

    def told(self, name: str, value: Any) -> dict[str, Any]:
        return {name: value.name}


class MeasuredStatement(Statement):
    """You measured something on the floor: film, moisture, pH, hardness, texture or flake."""

    verb: ClassVar[str] = "measured"
    quantity: Quantity = word(_QuantityKind(), "QUANTITY", "wet-film, moisture, pH, hardness, texture or flake-back.")
    value: float = word(
        Measure(number, -1e6, 1e6, lambda _, value: f"{value:g}"),
        "VALUE",
        "The value with its unit, such as 300 um.",
        many=True,
    )
    area: str | None = on_area(default=None)
    batch: int | None = of_batch(default=None)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The value in the quantity's own unit."""
        what = self.quantity
        if not what.least <= self.value <= what.most:
            unit = f" {what.unit}".rstrip()
            raise CannotTellError(
                f"{what.name} of {self.value:g}{unit} is outside {what.least:g} to {what.most:g}{unit}; mend it"
            )
        batch = batch_numbered(standing, self.batch).id if self.batch is not None else None
        return (Measured(what.name, self.value, what.unit, area_named(standing, self.area), batch),)

    @classmethod
    def _read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        what, said = quantity_named(str(typed["quantity"])), " ".join(typed["value"] or ())
        if what.name == "moisture" and is_vapour(said):
            what = QUANTITIES["moisture by weight"]
        yield "quantity", what
        yield "value", _value(what, said)
        yield from cls._each_read({**typed, "quantity": None, "value": None}, room)


def _value(what: Quantity, typed: str) -> float:
    readers: dict[str, Callable[[str], float]] = {"um": film_um, "pct": pct, "kg": mass_kg, BY_WEIGHT: vapour_g_m2_d}
    reader = readers.get(what.unit, number)
    try:
        return reader(value_alone(what, typed))
    except UnitError as error:
        raise error.at(what.called) from None


class NotedStatement(Statement):
    """Write down something worth remembering. A fact that `ticks` lists, such as "heater: fuel", counts in `why`."""

    verb: ClassVar[str] = "noted"
    from_a_phone: ClassVar[bool] = True
    text: str = word(TEXT, "TEXT", "What is worth remembering, or a fact to tick: 'heater: fuel'.", many=True)
    area: str | None = on_area(default=None)
    batch: int | None = of_batch(default=None)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The note on one line."""
        batch = batch_numbered(standing, self.batch).id if self.batch is not None else None
        return (Noted(text(self.text, "the note"), area_named(standing, self.area), batch),)


class PhotoStatement(Statement):
    """A picture of an area or a batch: the book keeps a small copy and the original's hash."""

    verb: ClassVar[str] = "photo"
    name: str = word(TEXT, "FILE", "The picture.")
    sha256: str = untyped(TEXT, default="")
    area: str | None = on_area(default=None)
    batch: int | None = of_batch(default=None)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """A picture, known by its original's hash."""
        if self.area is not None and self.batch is not None:
            raise CannotTellError("a photo shows an area or a batch; say --on AREA or --batch BATCH, not both")
        batch = batch_numbered(standing, self.batch).id if self.batch is not None else None
        return (PhotoTaken(text(self.name, "the file's name"), self.sha256, area_named(standing, self.area), batch),)


class TrafficStatement(Statement):
    """Feet or wheels went over an area."""

    verb: ClassVar[str] = "traffic"
    area: str = word(TEXT, "AREA", "The area.")
    by_what: str = word(TEXT, "foot|vehicle", "What went over it.")

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """Who went where."""
        plain = self.by_what.strip().casefold()
        what = one_of(_TRAFFIC_ALIASES.get(plain, self.by_what), TRAFFIC, "traffic")
        return (Traffic(_area(standing, self.area), what),)


class SawStatement(Statement):
    """You saw a sign on a batch or an area: it tells how far the resin has set."""

    verb: ClassVar[str] = "saw"
    from_a_phone: ClassVar[bool] = True
    needs: ClassVar[tuple[str, ...]] = ("sign",)
    where: str | None = word(TEXT, "BATCH-OR-AREA", "A batch's number, or an area.", default=None)
    sign: str = word(TEXT, "SIGN", "stringy, skinned, tack free, hard, hot or smoking.", many=True, default="")
    batch: int | None = untyped(BATCH, default=None)
    area: str | None = untyped(TEXT, default=None)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The sign, on what it was seen."""
        what = sign_named(self.sign)
        batch, place = self._meant(standing)
        if batch is None and place is None:
            raise CannotTellError(f"where was it {what}? say a batch's number or an area")
        if batch is None and place is not None and what in _SIGNS_OF_A_BUCKET:
            batch, place = _bucket_for(standing, place, said.when).id, None
        if batch is not None:
            found = batch_numbered(standing, batch)
            if said.when < found.combined.at:
                raise CannotTellError(f"batch {found.id} was not begun by then; mend --at")
        elif not any(place in where_it_lies(batch) and batch.combined.at <= said.when for batch in standing.batches):
            raise CannotTellError(f"nothing was laid on {place} by then; say the batch, or mend --at")
        return (Saw(what, batch, place),)

    def _meant(self, standing: Standing) -> tuple[int | None, str | None]:
        """The batch or the area that is meant: a batch if the words read as a number and no area has that name."""
        if self.where is None:
            return self.batch, area_named(standing, self.area)
        known = {area.name.casefold() for area in standing.site.areas}
        number, said = BATCH.number(self.where), self.where.strip().casefold()
        if number is not None and (said.isdecimal() or said not in known):
            return number, None
        return None, area_named(standing, self.where)


def _bucket_for(standing: Standing, place: str, when: datetime) -> Batch:
    """The only bucket that its area can mean: one that is still full, else one that was poured there."""
    begun = [batch for batch in standing.batches if batch.combined.at <= when and place in where_it_lies(batch)]
    full = [batch for batch in begun if batch.emptied is None or batch.emptied.at > when]
    return the_one(standing, full or begun, f"no batch was mixed for {place} by then; say its number")


class FoundStatement(Statement):
    """You looked at an area: it is faulty, or sound."""

    verb: ClassVar[str] = "found"
    area: str = word(TEXT, "AREA", "The area.")
    symptom: str = word(TEXT, "SYMPTOM", "What is wrong, such as dull or bubbles; or sound.", many=True)
    shape: str | None = option(
        TEXT, "--shape", "SHAPE", "batch-edge, door, shade, cut-in, drips or all-over.", default=None
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The finding. Symptom and shape are the words of `mixclock.decide.why`, already settled."""
        return (Found(_area(standing, self.area), self.symptom, self.shape),)


def _batch_of_bucket(standing: Standing, said: Attribution, batch: int | None) -> int:
    if batch is not None:
        return batch_numbered(standing, batch).id
    held = in_the_bucket(standing, said.when)
    return the_one(standing, held, "no batch is in a bucket; say --batch BATCH").id


def _area(standing: Standing, said: str) -> str:
    area = area_named(standing, said)
    assert area is not None
    return area

"""Statements about the bucket: part B goes in, mixing ends, the bucket goes out on the floor."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Any, ClassVar

from mixclock.job.batchbuilding import DUMPED_SHARES
from mixclock.job.candidates import being_mixed, in_the_bucket, the_one
from mixclock.job.drafts import Draft
from mixclock.job.entry import Combined, Dumped, Facts, MixingEnded, Poured
from mixclock.job.mistakes import in_a_row
from mixclock.job.naming import areas_named, batch_numbered, coat_and_product, one_of, vessel_named
from mixclock.job.practice import mixing_time
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import Attribution, CannotTellError, checked, clock, text
from mixclock.job.statements.bucketchecks import (
    not_before,
    refuse_ended,
    refuse_finished,
    refuse_more_than_floor,
    refuse_more_than_left,
    refuse_poured,
)
from mixclock.job.statements.fields import (
    AMOUNT,
    BATCH,
    FLOOR,
    TEXT,
    AmountKind,
    Room,
    Temperature,
    its_batch,
    on_areas,
    option,
    span,
    untyped,
    word,
)
from mixclock.job.statements.statement import OnceStatement, Statement, Typed
from mixclock.units import Amount, UnitError
from mixclock.units import amount as read_amount

_SAME_AMOUNT = 0.15
"""A mixed amount may differ from the sum of its parts by this much: pails are not measuring cups (judgement)."""


class MixingStatement(Statement):
    """Part B goes in now: the batch's clock starts."""

    verb: ClassVar[str] = "mixing"
    from_a_phone: ClassVar[bool] = True
    product: str = word(TEXT, "PRODUCT AMOUNT", "The product, and how much of it is mixed.", many=True)
    amount: Amount | None = untyped(AmountKind("the amount"), default=None)
    areas: tuple[str, ...] = on_areas(default=())
    coat: str | None = option(TEXT, "--coat", "NAME", "The coat, if two coats take this product.", default=None)
    a: Amount | None = option(AmountKind("part A"), "--a", "AMOUNT", "Part A, measured apart.", default=None)
    b: Amount | None = option(AmountKind("part B"), "--b", "AMOUNT", "Part B, measured apart.", default=None)
    material_c: float | None = option(
        Temperature(-20.0, 60.0, "the material's temperature"),
        "--material",
        "T",
        "How warm the material is.",
        default=None,
    )
    lot: str | None = option(TEXT, "--lot", "LOT", "The lot printed on the pails.", default=None)
    lot_a: str | None = option(TEXT, "--lot-a", "LOT", "The lot of part A, if it has its own.", default=None)
    lot_b: str | None = option(TEXT, "--lot-b", "LOT", "The lot of part B.", default=None)
    vessel: str | None = option(TEXT, "--vessel", "NAME", "What it is mixed in.", default=None)
    mixing_s: float | None = option(
        span(5.0, 3600.0, "the mixing time"), "--mixing", "SPAN", "How long it is or was mixed.", default=None
    )

    def drafts(self, standing: Standing, said: Attribution) -> tuple[Draft, ...]:
        """A batch that starts now."""
        return self._combined(standing, said, ended=False)

    def _combined(self, standing: Standing, said: Attribution, ended: bool) -> tuple[Draft, ...]:
        self.refuse_nonsense(standing)
        refuse_finished(standing, said)
        coat, product = self._coat_and_product(standing)
        profile = standing.profile(product)
        areas = self._places(standing)
        amount = self._amount_with(profile)
        vessel = _vessel_that_holds(standing, amount, profile, self.vessel)
        mixing_s = self.mixing_s
        if ended:
            mixing_s, said = _dated(self.mixing_s, said, profile)
        said = checked(standing, said)
        facts = Combined(
            product=product,
            areas=areas,
            coat=coat,
            volume_l=amount.volume_l,
            mass_kg=amount.mass_kg,
            a_l=self.a.volume_l if self.a else None,
            a_kg=self.a.mass_kg if self.a else None,
            b_l=self.b.volume_l if self.b else None,
            b_kg=self.b.mass_kg if self.b else None,
            material_c=self.material_c,
            lot=text(self.lot, "--lot") if self.lot is not None else None,
            lot_a=text(self.lot_a, "--lot-a") if self.lot_a is not None else None,
            lot_b=text(self.lot_b, "--lot-b") if self.lot_b is not None else None,
            vessel=vessel,
            mixing_s=mixing_s,
            ended=ended,
        )
        return (Draft(facts, said.when, said.by, said.note),)

    def _coat_and_product(self, standing: Standing) -> tuple[str | None, str]:
        return coat_and_product(standing, self.product, self.coat)

    def _places(self, standing: Standing) -> tuple[str, ...]:
        return _areas_of_batch(standing, self.areas)

    def _amount_with(self, profile: Profile | None) -> Amount:
        """The amount as it was said, if it agrees with its parts. If nobody said one, it is the sum of the parts."""
        if self.a is None and self.b is None:
            if self.amount is None:
                raise CannotTellError("how much was mixed? say a volume or a weight, such as '6 L' or '6.5 kg'")
            return self.amount
        if self.a is None or self.b is None:
            raise CannotTellError("only one part was measured; say both with --a AMOUNT --b AMOUNT, or neither")
        parts = _sum_of_parts(self.a, self.b, profile)
        if self.amount is not None:
            _refuse_other_sum(self.amount, parts)
        return self.amount or parts

    @classmethod
    def _read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        product, amount = product_and_amount(typed["product"] or ())
        yield "product", product
        yield "amount", amount
        yield from cls._each_read({**typed, "product": None}, room)


class MixedStatement(MixingStatement):
    """Mixing is over. It ends a batch that `mixing` began, or states a whole batch that nobody stated before."""

    verb: ClassVar[str] = "mixed"
    product: str = word(
        TEXT,
        "[BATCH] | PRODUCT AMOUNT",
        "The batch whose mixing ends, or a whole batch that is stated late.",
        default="",
        many=True,
    )
    batch: int | None = untyped(BATCH, default=None)

    @property
    def once(self) -> bool:
        """The end of one mixing is one fact; two equal buckets are two."""
        return not self.product

    def drafts(self, standing: Standing, said: Attribution) -> tuple[Draft, ...]:
        """The end of a mixing, or a batch that was mixed before it was stated."""
        places = _place_meant(standing, self.product) if self.amount is None else ()
        if self.product and not places:
            return self._combined(standing, said, ended=True)
        self._refuse_new_facts()
        said = checked(standing, said)
        if self.batch is not None:
            meant = batch_numbered(standing, self.batch)
            refuse_ended(standing, meant)
        else:
            meant = the_one(
                standing,
                [each for each in being_mixed(standing, said.when) if not places or set(each.areas) & set(places)],
                f"nobody was mixing at {clock(standing, said.when)}; state a batch with `mixed PRODUCT AMOUNT --on "
                "AREA`, or mend --at",
            )
        not_before(standing, said, meant, "mixed")
        return (Draft(MixingEnded(meant.id), said.when, said.by, said.note),)

    def _refuse_new_facts(self) -> None:
        """Refuse facts that only a new batch can have, so that none is lost without a word."""
        for name, field in self.of_fields().items():
            if name not in ("batch", "product") and getattr(self, name) != field.default:
                raise CannotTellError(
                    f"{field.where} belongs to a new batch, and this one was stated before; leave it out, or "
                    "state another with `mixed PRODUCT AMOUNT --on AREA`"
                )

    @classmethod
    def _read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        words = typed["product"] or ()
        batch = BATCH.number(" ".join(words))
        if words and batch is None:
            yield from super()._read(typed, room)
            return
        yield "batch", batch
        yield from cls._each_read({**typed, "product": None}, room)


class PouredStatement(OnceStatement):
    """The bucket, or a part of it, was poured on the floor."""

    verb: ClassVar[str] = "poured"
    batch: int | None = its_batch(default=None)
    areas: tuple[str, ...] = on_areas(default=())
    part: Amount | None = option(AMOUNT, "--part", "AMOUNT", "How much you poured, if some is left.", default=None)
    covered_m2: float | None = option(
        FLOOR, "--covered", "SIZE", "How much floor it covered, such as 11.5 m2.", default=None
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """A portion on the floor."""
        self.refuse_nonsense(standing)
        places = areas_named(standing, self.areas)
        meant = self._meant(standing, said, places)
        not_before(standing, said, meant, "poured")
        refuse_more_than_left(standing, meant, self.part)
        refuse_more_than_floor(standing, meant, places, self.covered_m2)
        facts = Poured(
            batch=meant.id,
            areas=places,
            part_l=self.part.volume_l if self.part else None,
            part_kg=self.part.mass_kg if self.part else None,
            covered_m2=self.covered_m2,
        )
        return (facts,)

    def _meant(self, standing: Standing, said: Attribution, places: Sequence[str]) -> Batch:
        if self.batch is not None:
            meant = batch_numbered(standing, self.batch)
            refuse_poured(standing, meant)
            return meant
        return the_one(
            standing,
            in_the_bucket(standing, said.when, places),
            f"no batch was in a bucket at {clock(standing, said.when)}; state it first with `mixed PRODUCT AMOUNT --on "
            "AREA`, or mend --at",
        )


class DumpedStatement(OnceStatement):
    """A bucket was taken outside, spread thin and thrown away: the batch is over."""

    verb: ClassVar[str] = "dumped"
    batch: int | None = its_batch(default=None)
    areas: tuple[str, ...] = on_areas(default=())
    share: str | None = option(
        TEXT, "--share", "SHARE", "How much of the bucket: quarter, half, most or all.", default=None
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The end of a bucket that never went on the floor, or not all of it."""
        share = one_of(self.share, DUMPED_SHARES, "share") if self.share is not None else None
        if self.batch is not None:
            meant = batch_numbered(standing, self.batch)
        else:
            nothing = f"no batch was in a bucket at {clock(standing, said.when)}; say its number: `dumped BATCH`"
            places = areas_named(standing, self.areas)
            full = in_the_bucket(standing, said.when, places)
            meant = the_one(standing, [each for each in full if not places or set(each.areas) & set(places)], nothing)
        not_before(standing, said, meant, "dumped")
        if meant.dumped is not None and share is None:
            raise CannotTellError(
                f"batch {meant.id} was dumped at {clock(standing, meant.dumped.at)}; "
                f"`withdraw {meant.dumped.entry}` first if that was wrong"
            )
        return (Dumped(meant.id, share),)


def _place_meant(standing: Standing, word: str) -> tuple[str, ...]:
    """The area that stands where a product could, if no product and no coat has that name."""
    named = [*standing.profiles, *(each for coat in standing.site.coats for each in (coat.name, coat.product))]
    if word.casefold() in (name.casefold() for name in named):
        return ()
    return tuple(area.name for area in standing.site.areas if area.name.casefold() == word.strip().casefold())


def product_and_amount(words: Sequence[str]) -> tuple[str, Amount | None]:
    """Reads `PRODUCT AMOUNT`, even if the shell split a name or an amount. The longest ending that reads as an amount
    is it."""
    words = (words,) if isinstance(words, str) else words
    if len(words) == 1:
        return words[0], None
    if len(words) > 2:
        try:
            return " ".join(words[:-2]), read_amount(" ".join(words[-2:]))
        except UnitError:
            pass
    try:
        return " ".join(words[:-1]), read_amount(words[-1])
    except UnitError as error:
        raise error.at("AMOUNT") from None


def _areas_of_batch(standing: Standing, areas: Sequence[str]) -> tuple[str, ...]:
    known = [area.name for area in standing.site.areas]
    if areas or len(known) == 1:
        return areas_named(standing, areas or known)
    raise CannotTellError(f"for which area? say --on AREA; known are: {in_a_row(known)}")


def _sum_of_parts(a: Amount, b: Amount, profile: Profile | None) -> Amount:
    if a.volume_l is not None and b.volume_l is not None:
        return Amount(volume_l=a.volume_l + b.volume_l)
    if a.mass_kg is not None and b.mass_kg is not None:
        return Amount(mass_kg=a.mass_kg + b.mass_kg)
    densities = profile.mix.density_kg_l if profile else None
    if densities is None or len(densities) != 2:
        raise CannotTellError(
            "one part by volume and one by weight need the densities of both in the profile; say both the same way"
        )
    kilograms = (
        part.mass_kg if part.mass_kg is not None else (part.volume_l or 0.0) * density
        for part, density in zip((a, b), densities, strict=True)
    )
    return Amount(mass_kg=sum(kilograms))


def _refuse_other_sum(amount: Amount, parts: Amount) -> None:
    for stated, sum_, unit in (
        (amount.volume_l, parts.volume_l, "L"),
        (amount.mass_kg, parts.mass_kg, "kg"),
    ):
        if stated is not None and sum_ is not None and abs(stated - sum_) > _SAME_AMOUNT * sum_:
            raise CannotTellError(
                f"A and B make {sum_:.3g} {unit}, not {stated:.3g} {unit}; mend the one that is wrong"
            )


def _vessel_that_holds(standing: Standing, amount: Amount, profile: Profile | None, said: str | None) -> str | None:
    vessel = vessel_named(standing, said)
    volume_l, density_kg_l = amount.volume_l, profile.mix.mixed_kg_l if profile else None
    if amount.mass_kg is not None and density_kg_l is not None:
        volume_l = amount.mass_kg / density_kg_l
    largest = vessel or max(standing.site.vessels, key=lambda each: each.volume_l, default=None)
    if volume_l is not None and largest is not None and volume_l > largest.volume_l:
        units = standing.site.units
        raise CannotTellError(
            f"{units.write_volume(volume_l)} do not fit into the {largest.name}, which holds "
            f"{units.write_volume(largest.volume_l)}; state one bucket at a time, or mend the amount"
        )
    return vessel.name if vessel else None


def _dated(mixing_s: float | None, said: Attribution, profile: Profile | None) -> tuple[float | None, Attribution]:
    """When B met A in a batch that is mixed already, and how long somebody mixed it. Unless said, B met A one mixing
    time ago."""
    usual_s = mixing_time(profile).value
    took_s = mixing_s if mixing_s is not None else usual_s
    if said.at is None:
        return mixing_s, said.dated(said.now - timedelta(seconds=took_s))
    since_s = (said.now - said.at).total_seconds()
    if 0 <= since_s < took_s:
        # the batch is mixed by now, so mixing took no longer than until now
        return since_s, said
    return mixing_s, said

"""The take-off: what to buy for a floor, what will be left of it, and what it costs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from mixclock.decide.plan.floor.acid import ACID_SAID, DilutedBucket, dilution_of
from mixclock.decide.plan.floor.flake import Flake, flake_of
from mixclock.decide.plan.floor.pieces import as_it_meets, meets_slab, ordered_areas, uncut
from mixclock.decide.plan.floor.plans import FloorPiece, PlannedBatch, areas_of
from mixclock.decide.plan.floor.quantities import (
    COVE_M,
    DENSITY_KG_L,
    FULL_KIT,
    OVER_FLAKE_UM,
    STAIR_M,
    UPRIGHT_THIN,
    amounts,
    density_kg_l,
    film_um,
    kit_l,
    split_parts,
    water_to_product,
)
from mixclock.decide.plan.floor.stock import Stock
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Family, Profile
from mixclock.job.site import Area, Coat, Site
from mixclock.values import dataclass, replace

CLEANER_L = practice.UsualFigure(0.5, "{volume} of cleaner for the tools of each batch", practice.JUDGEMENT)
SMOOTH_SAID = "the slab is taken to be smooth where the job file states no texture"
PRICE_SAID = "a price without a kit is taken to be that of a {unit}"
IN_WATER = (Family.WATERBORNE_EPOXY, *WASHED_OFF)
"""Families whose tools are cleaned with water."""


@dataclass(frozen=True)
class PartAmounts:
    """What is measured out of A and B; None where the sheet does not say."""

    a_l: float | None
    b_l: float | None
    a_kg: float | None
    b_kg: float | None


@dataclass(frozen=True)
class AreaTake:
    """What one area takes of one coat."""

    area: str
    size_m2: float
    upright_m2: float
    volume_l: float
    mass_kg: float
    parts: PartAmounts
    flake: Flake | None
    dilution: DilutedBucket | None
    cost: float | None


@dataclass(frozen=True)
class Kits:
    """Kits of the size that is sold. Of what is left, `surplus_l` is mixed and must be spread out to harden."""

    size_l: float
    needed: int
    spare: int
    there: int

    @property
    def bought(self) -> int:
        """How many to buy. Kits that stand there unopened are taken off already."""
        return max(0, self.needed + self.spare - self.there)

    @property
    def opened(self) -> int:
        """How many are opened or kept to spare, wherever they come from."""
        return max(self.needed + self.spare, self.there)


@dataclass(frozen=True)
class CoatTake:
    """What one coat takes. `needed_l` reaches the floor or stays in pails and rollers, `mixed_l` is what its batches
    hold, `bought_l` what the kits make."""

    coat: str
    product: str
    needed_l: float
    mixed_l: float
    mass_kg: float
    parts: PartAmounts
    kits: Kits | None
    bought_l: float
    areas: tuple[AreaTake, ...]
    flake: Flake | None
    dilution: DilutedBucket | None
    thinner: str
    cleaner: str
    cleaner_l: float | None
    product_cost: float | None
    flake_cost: float | None
    batches: int
    stock: Stock | None = None
    grit_kg: float | None = None
    may_drink_l: float | None = None
    """How much more it may take over flake than the job file counts on, where its sheet does not say."""

    @property
    def surplus_l(self) -> float:
        """What is mixed and not needed."""
        return max(0.0, self.mixed_l - self.needed_l)

    @property
    def left_l(self) -> float:
        """What is bought and not needed, mixed or unopened."""
        return max(0.0, self.bought_l - self.needed_l)

    @property
    def cost(self) -> float | None:
        """Product and flake, as far as prices are known."""
        known = [cost for cost in (self.product_cost, self.flake_cost) if cost is not None]
        return sum(known) if known else None


@dataclass(frozen=True)
class TakeOff:
    """What a job takes in all. `unpriced` names what the total leaves out."""

    coats: tuple[CoatTake, ...]
    currency: str | None
    assumed: tuple[str, ...]
    unpriced: tuple[str, ...]

    @property
    def cost(self) -> float | None:
        """All that is known of the cost."""
        known = [coat.cost for coat in self.coats if coat.cost is not None]
        return sum(known) if known else None

    def of(self, coat: str) -> CoatTake | None:
        """What a coat takes."""
        return next((each for each in self.coats if each.coat == coat), None)

    def cost_by_area(self) -> dict[str, float]:
        """What each area costs over all coats, as far as prices are known."""
        found: dict[str, float] = {}
        for coat in self.coats:
            for area in coat.areas:
                if area.cost is not None:
                    found[area.area] = found.get(area.area, 0.0) + area.cost
        return found


def take_off(
    site: Site,
    profiles: Mapping[str, Profile],
    batches: Sequence[PlannedBatch] = (),
    left_m2: Mapping[tuple[str, str], float] | None = None,
    stocks: Mapping[str, Stock] | None = None,
) -> TakeOff:
    """Quantities of every coat.

    A coat with planned batches takes what they hold; another what is left of the whole floor: `left_m2` names that by
    coat and area where some is laid, and nothing of what it leaves out. `stocks` names what is there by coat.
    """
    assumed: list[str] = []
    coats = []
    for coat in site.coats:
        mine = [batch for batch in batches if batch.coat == coat.name]
        taken = _Coat(site, coat, profiles, mine, assumed, left_m2, (stocks or {}).get(coat.name))
        if taken.pieces:
            coats.append(taken.take())
    return TakeOff(tuple(coats), site.currency, tuple(dict.fromkeys(assumed)), tuple(_unpriced(coats)))


def _unpriced(coats: Iterable[CoatTake]) -> list[str]:
    lines = [f"{coat.product} ({coat.coat})" for coat in coats if coat.product_cost is None]
    lines += [f"{coat.flake.named} ({coat.coat})" for coat in coats if coat.flake and coat.flake_cost is None]
    return lines


class _Coat:
    def __init__(
        self,
        site: Site,
        coat: Coat,
        profiles: Mapping[str, Profile],
        batches: Sequence[PlannedBatch],
        assumed: list[str],
        left_m2: Mapping[tuple[str, str], float] | None,
        stock: Stock | None,
    ) -> None:
        self.site = site
        self.coat = coat
        self.profiles, self.profile = profiles, profiles[coat.product.casefold()]
        self.batches, self.left_m2, self.stock = batches, left_m2, stock
        self.pieces = tuple(piece for batch in batches for piece in batch.pieces) or self._whole_floor()
        if self.pieces:
            self._assume(assumed)

    def _whole_floor(self) -> tuple[FloorPiece, ...]:
        areas = []
        for area in ordered_areas(self.site, self.coat):
            size_m2 = area.size_m2 if self.left_m2 is None else self.left_m2.get((self.coat.name, area.name), 0.0)
            if size_m2 > 0.0:
                areas.append(replace(self._met(area), size_m2=size_m2))
        return uncut(areas)

    def _met(self, area: Area) -> Area:
        return as_it_meets(self.site, self.profiles, self.coat, area)

    def take(self) -> CoatTake:
        """The coat's quantities."""
        needed = amounts(self.coat, self.profile, self.pieces)
        mixed_l = sum(batch.volume_l for batch in self.batches) if self.batches else needed.mixed_l
        kits = self._kits(mixed_l)
        size_m2 = sum(piece.size_m2 for piece in self.pieces)
        flake = flake_of(self.coat, size_m2) if self.coat.flake_kg_m2 else None
        product_cost = self._product_cost(kits, mixed_l)
        mass_kg = needed.needed_l * density_kg_l(self.coat, self.profile)
        in_water = self.profile.family in IN_WATER
        count = len(self.batches)
        return CoatTake(
            coat=self.coat.name,
            product=self.coat.product,
            needed_l=needed.needed_l,
            mixed_l=mixed_l,
            mass_kg=mass_kg,
            parts=PartAmounts(*split_parts(self.profile, needed.needed_l, mass_kg)),
            kits=kits,
            bought_l=mixed_l if kits is None else kits.opened * kits.size_l + self._opened_l(),
            areas=tuple(self._area(name, needed.needed_l, product_cost) for name in areas_of(self.pieces)),
            flake=flake,
            dilution=dilution_of(self.profile, needed.needed_l),
            thinner="water" if water_to_product(self.profile) else "none unless the sheet names one",
            cleaner="water" if in_water else "the cleaner that the sheet names",
            cleaner_l=None if in_water else CLEANER_L.value * max(1, count),
            product_cost=product_cost,
            flake_cost=self._flake_cost(flake),
            batches=count,
            stock=self.stock,
            grit_kg=self.coat.grit_g_l * mixed_l / 1000.0 if self.coat.grit_g_l else None,
            may_drink_l=self._may_drink_l(),
        )

    def _opened_l(self) -> float:
        """What is left in opened kits and may still be used: measured parts, or a product of one part."""
        may_be_used = self.coat.split or not self.profile.two_part
        return self.stock.opened_l if self.stock is not None and may_be_used else 0.0

    def _kits(self, mixed_l: float) -> Kits | None:
        size_l = kit_l(self.coat, self.profile)
        if size_l is None:
            return None
        needed = max(0, math.ceil((mixed_l - self._opened_l()) / size_l - FULL_KIT))
        there = self.stock.unopened_kits if self.stock is not None else 0
        return Kits(size_l, needed, self.coat.spare_kits, there)

    def _product_cost(self, kits: Kits | None, mixed_l: float) -> float | None:
        if self.coat.price is None:
            return None
        if kits is not None:
            return self.coat.price * kits.bought
        undiluted_l = mixed_l / (1.0 + water_to_product(self.profile))
        return self.coat.price * self.site.units.scale("l").shown(undiluted_l)

    def _flake_cost(self, flake: Flake | None) -> float | None:
        if flake is None or self.coat.flake_price_kg is None:
            return None
        return self.coat.flake_price_kg * flake.thrown_kg

    def _area(self, name: str, all_l: float, product_cost: float | None) -> AreaTake:
        pieces = [piece for piece in self.pieces if piece.area == name]
        size_m2 = sum(piece.size_m2 for piece in pieces)
        volume_l = amounts(self.coat, self.profile, pieces).needed_l
        mass_kg = volume_l * density_kg_l(self.coat, self.profile)
        flake = flake_of(self.coat, size_m2) if self.coat.flake_kg_m2 else None
        shared = None if product_cost is None else product_cost * volume_l / all_l
        thrown = self._flake_cost(flake)
        return AreaTake(
            area=name,
            size_m2=size_m2,
            upright_m2=sum(piece.upright_m2 for piece in pieces),
            volume_l=volume_l,
            mass_kg=mass_kg,
            parts=PartAmounts(*split_parts(self.profile, volume_l, mass_kg)),
            flake=flake,
            dilution=dilution_of(self.profile, volume_l),
            cost=None if shared is None and thrown is None else (shared or 0.0) + (thrown or 0.0),
        )

    def _assume(self, assumed: list[str]) -> None:
        """Note what the quantities rest on that neither job file nor sheet states."""
        waste, units = practice.waste_share(self.coat), self.site.units
        if self.coat.price is not None and kit_l(self.coat, self.profile) is None:
            assumed.append(PRICE_SAID.format(unit="gallon" if self.site.units.is_us else "litre"))
        assumed += self._of_the_floor()
        assumed += [waste.words] if waste.words else []
        assumed += self._over_flake()
        assumed += flake_of(self.coat, 1.0, units).said
        if self.profile.mix.density_kg_l is None:
            filled = practice.is_taken_as_filled(self.coat, self.profile)
            assumed.append((practice.FILLED_KG_L if filled else DENSITY_KG_L).words(units))
        if self.profile.family is Family.ACID_ETCH:
            stated = self.profile.dilution.water_to_product is not None
            assumed += [] if stated else [practice.WATER_TO_ACID.words(units)]
            usual = practice.ETCH_SPREAD_M2_L.words(units)
            assumed += [] if self._spread_is_told() else [usual]
            assumed += [] if self.profile.dilution.acid_pct is not None else [ACID_SAID]
        assumed += [] if self.profile.family in IN_WATER else [CLEANER_L.words(units)]

    def _over_flake(self) -> list[str]:
        """What a top coat drinks over flake: by the sheet, else that the job file may count on too little."""
        coat, units = self.coat, self.site.units
        by_file, taken = self._stated_um(), film_um(coat, self.profile)
        if not coat.over_flake or by_file is None:
            return []
        goes, counted = units.write_spread(1000.0 / taken), units.write_spread(1000.0 / by_file)
        if self.profile.film.over_flake_m2_l is not None:
            instead = f", in place of the job file's {counted}" if taken > by_file else ""
            return [f"{coat.name} drinks over flake: {goes} by its sheet{instead}"]
        more_l = self._may_drink_l()
        if more_l is None:
            return []
        least, most = (units.write_spread(1000.0 / film) for film in reversed(OVER_FLAKE_UM))
        return [
            f"{coat.name} over flake: its sheet doesn't say how far it goes there, {least} to {most} is usual; the "
            f"job file's {counted} is taken, and it may drink up to {units.write_volume(more_l)} more: gauge the first "
            "bucket"
        ]

    def _stated_um(self) -> float | None:
        return practice.stated_film_um(replace(self.coat, over_flake=False), self.profile)

    def _may_drink_l(self) -> float | None:
        coat = self.coat
        told = self.profile.film.over_flake_m2_l is not None or self._stated_um() is None
        if not coat.over_flake or told or film_um(coat, self.profile) >= OVER_FLAKE_UM[0]:
            return None
        thick = replace(coat, wet_film_um=OVER_FLAKE_UM[1], spread_m2_l=None)
        return amounts(thick, self.profile, self.pieces).needed_l - amounts(coat, self.profile, self.pieces).needed_l

    def _spread_is_told(self) -> bool:
        coat, sheet = self.coat, self.profile.dilution.spread_m2_l
        return coat.wet_film_um is not None or coat.spread_m2_l is not None or sheet is not None

    def _of_the_floor(self) -> list[str]:
        """What texture, coves and stairs are taken to be; where no texture is stated the slab is taken to be smooth."""
        areas = [area for name in areas_of(self.pieces) if (area := self.site.area(name)) is not None]
        units = self.site.units
        bare = [area for area in areas if meets_slab(self.site, self.profiles, self.coat, area.name)]
        textures = [practice.texture_um(area, units).words for area in bare if area.texture is not None]
        if len(textures) < len(bare):
            textures.append(SMOOTH_SAID)
        coves, stairs = any(area.cove_m for area in areas), any(area.stairs_m for area in areas)
        thin = (coves or stairs) and self.profile.family not in WASHED_OFF
        said = zip((COVE_M, STAIR_M, UPRIGHT_THIN), (coves, stairs, thin), strict=True)
        return textures + [figure.words(units) for figure, needed in said if needed]

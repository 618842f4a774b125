"""Two systems on the same floor: one product put in the place of another, at the same film and share of flake."""

from __future__ import annotations

from collections.abc import Mapping

from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.quantities import film_um
from mixclock.decide.plan.floor.takeoff import TakeOff
from mixclock.formulas.coverage import dry_um, wet_um_for_dry
from mixclock.job.assumptions import not_answered
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.job.steps import DWELL, INDUCTION
from mixclock.units import CrewUnits
from mixclock.values import dataclass, replace

STEP_WINDOWS: Mapping[str, str] = {
    INDUCTION: "a stand before it is poured",
    "scrape": "scraping when it says",
    DWELL: "time to work on the slab",
}


@dataclass(frozen=True)
class Price:
    """A kit of the product that is put in, and what it costs; the job file names neither."""

    kit_l: float | None = None
    kit_kg: float | None = None
    price: float | None = None


@dataclass(frozen=True)
class System:
    """One of the two: its plan, what it takes, and what its sheet leaves out on this floor."""

    product: str
    plan: Plan
    take: TakeOff
    leaves_out: tuple[str, ...]


@dataclass(frozen=True)
class Comparison:
    """The system of the job file beside the one with the other product; `said` tells at which film."""

    coats: tuple[str, ...]
    as_planned: System
    instead: System
    said: tuple[str, ...]


@dataclass(frozen=True)
class SwappedJob:
    """The job with another product in some coats."""

    site: Site
    coats: tuple[str, ...]
    said: tuple[str, ...]


def with_product(site: Site, old: Profile, new: Profile, price: Price | None = None) -> SwappedJob:
    """The job with `new` wherever it has `old`, at the same dry film where both sheets state their solids."""
    coats, said = [], []
    for coat in site.coats:
        if coat.product.casefold() == old.name.casefold():
            coats.append(_swapped(site, coat, new, wet_um(coat, old, new), price))
            said.append(_film_said(coat, old, new, site.units))
        else:
            coats.append(coat)
    names = tuple(coat.name for coat, was in zip(coats, site.coats, strict=True) if coat is not was)
    return SwappedJob(replace(site, coats=tuple(coats)), names, tuple(dict.fromkeys(said)))


def wet_um(coat: Coat, old: Profile, new: Profile) -> float:
    """The wet film of the new product that dries to what the old one would leave; the same wet film where a sheet does
    not state its solids."""
    was, now = old.film.volume_solids_pct, new.film.volume_solids_pct
    if was is None or now is None:
        return film_um(coat, old)
    return wet_um_for_dry(dry_um(film_um(coat, old), was), now)


def _film_said(coat: Coat, old: Profile, new: Profile, units: CrewUnits) -> str:
    was, wet = old.film.volume_solids_pct, units.write_film(film_um(coat, old))
    if was is None or new.film.volume_solids_pct is None:
        return f"{coat.name}: the same wet film of {wet}; a sheet does not state its solids"
    dry = units.write_film(dry_um(film_um(coat, old), was))
    return f"{coat.name}: the same {dry} dry, which is {wet} wet against {units.write_film(wet_um(coat, old, new))}"


def _swapped(site: Site, coat: Coat, new: Profile, film: float, price: Price | None) -> Coat:
    """The coat with the new product. Kit and price are those given, else those of another coat with that product."""
    known = next((other for other in site.coats if other.product.casefold() == new.name.casefold()), None)
    if price is None and known is not None:
        price = Price(known.kit_l, known.kit_kg, known.price)
    price = price or Price()
    return replace(
        coat,
        product=new.name,
        wet_film_um=film,
        spread_m2_l=None,
        kit_l=price.kit_l,
        kit_kg=price.kit_kg,
        price=price.price,
        split=True if price.kit_l is None and price.kit_kg is None else coat.split,
        batch_l=None,
    )


def leaves_out(site: Site, names: tuple[str, ...], profile: Profile, other: Profile) -> tuple[str, ...]:
    """What a product would lack on these coats: steps that the other has, and questions that its sheet can't answer."""
    lines, units = [], site.units
    coats = [coat for coat in site.coats if coat.name in names]
    for coat in coats:
        if coat.flake_kg_m2 and profile.window("broadcast") is None:
            lines.append(f"{coat.name}: its sheet states no broadcast, and flake is asked for")
        wet = profile.film.wet_um
        film = film_um(coat, profile)
        if wet is not None and not wet[0] * 0.999 <= film <= wet[1] * 1.001:
            low, high = units.write_film(wet[0]), units.write_film(wet[1])
            lines.append(f"{coat.name}: {units.write_film(film)} wet is outside its sheet, {low} to {high}")
    for name, said in STEP_WINDOWS.items():
        if other.window(name) is not None and profile.window(name) is None:
            lines.append(f"no {name}: {said}")
    return tuple(dict.fromkeys((*lines, *not_answered(profile))))

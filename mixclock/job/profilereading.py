"""Reads a profile's text. It reports all mistakes at once, adds nothing and guesses nothing.

What the sheet leaves out stays out. `mixclock.job.assumptions` says what is then assumed, or can't be answered.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from mixclock import units
from mixclock.formulas.mix import USUAL_DENSITY_KG_L
from mixclock.job import kinds
from mixclock.job.mistakes import Mistake, Mistakes, quoted
from mixclock.job.mixreading import read_mix
from mixclock.job.profile import HOT_END, Dilution, Family, Film, Limits, MixRule, PotLife, Profile
from mixclock.job.sheetspans import read_span
from mixclock.job.steps import POUR_OUT, WINDOWS
from mixclock.job.tablereading import Findings, Table, parse_toml
from mixclock.job.windowreading import read_windows
from mixclock.units.vapour import vapour_g_m2_d

POT_LIFE_ENDS = ("gel", "workable", HOT_END)
"""What may count as the end of the pot life: the mix has set, it can no longer be worked, or a kit has reached 40
°C."""

_SPELLINGS_OF_HOT = frozenset({"40°c", "40c", "104°f", "104f"})


@lru_cache(maxsize=32)
def read_profile(text: str) -> Profile:
    """The profile that the text describes; raises `Mistakes` with everything that is wrong with it."""
    found = Findings()
    values = parse_toml(text, found)
    if values is not None and {"areas", "coats"} <= values.keys():
        raise Mistakes([Mistake("areas", "this is a job file, not a product", "`mixclock job start` takes it")])
    profile = None if values is None else _read(Table(values, "", found))
    if profile is None or found.mistakes:
        raise Mistakes(found.mistakes)
    return profile


def known_keys() -> frozenset[str]:
    """Every key that the reader asks for, as 'windows.recoat.closes'. A test compares the template with it."""
    found = Findings()
    _read(Table({"windows": {name: {} for name in WINDOWS if name != POUR_OUT}}, "", found))
    return frozenset(found.known)


def _read(top: Table) -> Profile | None:
    name = top.text("name", "Slow epoxy base", required=True)
    family = _family(top)
    source = top.text("source", "data sheet, revision 4, page 2") or ""
    mix = read_mix(top.table("mix", "[mix]"), family)
    pot_life = _pot_life(top, mix)
    film_table = top.table("film", "[film]")
    filled = film_table.flag("filled")
    film, limits, dilution = _film(film_table), _limits(top.table("limits", "[limits]")), _dilution(top)
    windows = read_windows(top.table("windows", "[windows.recoat]"))
    cautions = top.words("cautions", '["Part B burns skin: gloves, goggles."]')
    notes = _notes(top.table("notes", "[notes]"))
    if not top.values.get("pot-life") and not top.values.get("windows"):
        top.wrong("pot-life", "is missing, and there is no window either", "state [pot-life] or a [windows.NAME]")
    top.finish()
    if name is None or family is None:
        return None
    return Profile(name, family, source, mix, pot_life, film, limits, dilution, windows, filled, cautions, notes)


def _family(top: Table) -> Family | None:
    word = top.choice("family", [family.value for family in Family], required=True)
    return Family(word) if word else None


def _mass(table: Table, mix: MixRule | None) -> float | None:
    """The mass that the pot life was measured on. If the sheet prints a volume, it is the weight of that much mix."""
    raw = table.raw("mass")
    if raw is None:
        return None
    try:
        stated = units.amount(raw) if isinstance(raw, str) else None
    except units.UnitError:
        stated = None
    if stated is None or stated.volume_l is None:
        return table.found.quantity(raw, kinds.MASS, table.where("mass"))
    table.found.quantities.append(str(raw))
    return stated.volume_l * ((mix.mixed_kg_l if mix else None) or USUAL_DENSITY_KG_L)


def _pot_life(top: Table, mix: MixRule | None) -> PotLife | None:
    table = top.table("pot-life", "[pot-life]")
    mass_kg = _mass(table, mix)
    end = _end(table)
    span = read_span(table, "at", constant=table.flag("constant"))
    table.finish()
    if not table.values:
        return None
    if "at" not in table.values:
        table.wrong("at", "is missing", 'state the pot life, as in at = { "20 °C" = "40 min", "30 °C" = "20 min" }')
    if end == HOT_END and "mass" not in table.values:
        table.wrong(
            "mass", "is missing: the time to 40 °C holds for a whole kit", 'state the mass of the kit, as in "10 kg"'
        )
    if span is not None and span.points[0].rh_pct is not None:
        table.wrong("at", "states a humidity, which does nothing in the bucket", "state one time for each temperature")
    return None if span is None else PotLife(span, mass_kg, end or POT_LIFE_ENDS[0], end is not None)


def _end(table: Table) -> str | None:
    raw = table.values.get("end")
    if isinstance(raw, str) and "".join(raw.split()).casefold() in _SPELLINGS_OF_HOT:
        table.raw("end")
        return HOT_END
    return table.choice("end", POT_LIFE_ENDS)


def _film(table: Table) -> Film:
    solids_pct = table.quantity("volume_solids", kinds.SHARE_ABOVE_ZERO)
    wet_um = table.pair("wet", kinds.FILM)
    over_flake_m2_l = table.quantity("over_flake", kinds.SPREAD)
    table.finish()
    return Film(solids_pct, wet_um, over_flake_m2_l)


def _limits(table: Table) -> Limits:
    limits = Limits(
        slab_c=table.pair("slab", kinds.TEMP),
        air_c=table.pair("air", kinds.TEMP),
        material_c=table.pair("material", kinds.TEMP),
        humidity_max_pct=table.quantity("humidity_max", kinds.HUMIDITY),
        dew_margin_min_k=table.quantity("dew_margin_min", kinds.TEMP_DIFFERENCE),
        moisture_max_pct=table.quantity("moisture_max", kinds.HUMIDITY),
        vapour_max_g_m2_d=_vapour(table),
    )
    table.finish()
    return limits


def _vapour(table: Table) -> float | None:
    typed = table.text("vapour_max", "3 lb")
    if typed is None:
        return None
    try:
        return vapour_g_m2_d(typed)
    except units.UnitError as error:
        table.wrong("vapour_max", str(error).partition(";")[0], "expected such as 3 lb (per 1000 ft2 in 24 h)")
        return None


def _dilution(top: Table) -> Dilution:
    table = top.table("dilution", "[dilution]")
    dilution = Dilution(
        water_to_product=_water(table),
        spread_m2_l=table.quantity("spread", kinds.SPREAD),
        acid_pct=table.quantity("acid", kinds.SHARE_ABOVE_ZERO),
    )
    table.finish()
    return dilution


def _water(table: Table) -> float | None:
    raw = table.raw("water_to_product")
    if raw is None:
        return None
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not 0.0 <= raw <= 1_000.0:
        table.wrong(
            "water_to_product",
            f"{quoted(raw)} is no number of parts",
            "expected parts of water to one of product, as in 3",
        )
        return None
    return float(raw)


def _notes(table: Table) -> Mapping[str, str]:
    return {key: text for key in table.values if (text := table.text(key, "what else the sheet says")) is not None}

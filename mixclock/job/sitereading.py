"""Reads a job file's text: the floor, the crew, the coats, hours and forecast. It reports all mistakes at once.

What the file leaves out is None. `mixclock.job.practice` fills it in, and says so.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, tzinfo
from functools import partial
from typing import TypeVar

from mixclock.job import kinds
from mixclock.job.kinds import CLOSING, LEAD
from mixclock.job.measured import read_measured
from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean, quoted
from mixclock.job.site import Area, Coat, Person, Site, Vessel, in_file_order, lying_on_flake
from mixclock.job.sitechecks import check_site, completed_neighbours
from mixclock.job.steps import Skill
from mixclock.job.tablereading import Findings, QuantityKind, Table, parse_toml
from mixclock.job.timesreading import check_gaps, read_forecast, read_hours
from mixclock.job.zones import zone_named
from mixclock.units import CLOCKS, METRIC_CREW, US_CREW, UnitError, amount, crew_units_for, number
from mixclock.values import replace

TASKS = tuple(skill.value for skill in Skill)
"""The tasks that the file may give to one of the crew."""

_TASK_SPELLINGS = {
    "cut in": "cut-in",
    "cut_in": "cut-in",
    "back-roll": Skill.ROLL.value,
    "back roll": Skill.ROLL.value,
    "flake": Skill.BROADCAST.value,
    "sweep": Skill.SCRAPE.value,
    "etch": "prep",
    "clean up": "clean",
}

TEXTURES = ("smooth", "ground", "blasted", "rough")
"""How open the slab is, from steel-trowelled to scabbled."""

NeedsFilm = Callable[[str], bool]
"""Whether only the job file can tell the film or the spread of a product of this name."""

_Named = TypeVar("_Named", Area, Person, Vessel, Coat)


def always(_: str) -> bool:
    """The answer while nobody has looked at any sheet: every product needs its film told."""
    return True


def read_site(text: str, needs_film: NeedsFilm = always) -> Site:
    """The job that the text describes; raises `Mistakes` with everything that is wrong with it."""
    site, mistakes = try_site(text, needs_film)
    if site is None or mistakes:
        raise Mistakes(mistakes)
    return site


def try_site(text: str, needs_film: NeedsFilm = always) -> tuple[Site | None, list[Mistake]]:
    """As much of the job as can be read, and everything that is wrong with it, for checks that go further."""
    found = Findings()
    values = parse_toml(text, found)
    if values is not None and "family" in values and "areas" not in values:
        return None, [Mistake("family", "this is a product, not a job file", "`mixclock profile check` reads it")]
    site = None if values is None else _read(Table(values, "", found), needs_film)
    return site, found.mistakes


def known_keys() -> frozenset[str]:
    """Every key that the reader asks for, as 'coats.wet_film'."""
    found = Findings()
    blank: dict[str, object] = {key: [{}] for key in ("areas", "crew", "vessels", "coats", "forecast")}
    _read(Table(blank, "", found))
    return frozenset(found.known)


def _read(top: Table, needs_film: NeedsFilm = always) -> Site | None:
    name = top.text("name", "Pottery studio floor", required=True)
    zone_name, zone = _zone(top)
    areas = _named(top, "areas", _area, required=True)
    crew = _named(top, "crew", _person)
    vessels = _named(top, "vessels", _vessel)
    coats = _named(top, "coats", partial(_coat, needs_film=needs_film), required=True)
    hours = read_hours(top.table("hours", "[hours]"))
    forecast = read_forecast(top.tables("forecast"), zone)
    check_gaps(top, forecast, hours, zone)
    named = top.choice("units", ("metric", "US"))
    site = Site(
        name=name or "",
        zone=zone_name or "",
        areas=areas,
        coats=coats,
        crew=crew,
        vessels=vessels,
        hours=hours,
        forecast=forecast,
        currency=_currency(top),
        units={"US": US_CREW, "metric": METRIC_CREW}[named] if named else crew_units_for(top.found.quantities),
        names_units=named is not None,
        clock=top.choice("clock", CLOCKS),
        door=top.text("door", "bay 5"),
        mixing_at=top.text("mixing_at", "bay 1"),
        sealed=top.flag("sealed"),
        check_in_s=top.quantity("check_in", kinds.SPAN),
        contact=top.text("contact", "site office"),
        saw_cuts=_saw_cuts(top),
        leads=_leads(top),
    )
    top.finish()
    check_site(site, top)
    return replace(completed_neighbours(site), coats=lying_on_flake(in_file_order(site.coats)))


def _saw_cuts(top: Table) -> tuple[tuple[str, str], ...]:
    raw = top.raw("saw_cuts")
    if raw is None:
        return ()
    cuts = raw if isinstance(raw, list) else [raw]
    if not all(isinstance(cut, list) and len(cut) == 2 and all(isinstance(name, str) for name in cut) for cut in cuts):
        top.wrong("saw_cuts", f"{quoted(raw)} is no list of pairs", 'expected saw_cuts = [["bay 2", "bay 3"]]')
        return ()
    return tuple((cut[0], cut[1]) for cut in cuts)


def _leads(top: Table) -> tuple[tuple[str, float], ...]:
    table = top.table("leads", '[leads] with pour-out = "5 min"')
    found = {step: table.quantity(step, LEAD) for step in CLOSING}
    table.finish()
    return tuple((step, lead_s) for step, lead_s in found.items() if lead_s is not None)


def _zone(top: Table) -> tuple[str | None, tzinfo]:
    name = top.text("zone", "Europe/Lisbon", required=True)
    if name is None:
        return None, UTC
    try:
        return name, zone_named(name)
    except Mistakes as wrong:
        top.wrong("zone", wrong.found[0].what, wrong.found[0].mend)
        return None, UTC


def _currency(top: Table) -> str | None:
    code = top.text("currency", "EUR")
    if code is not None and not (len(code) == 3 and code.isascii() and code.isupper()):
        top.wrong("currency", f"{quoted(code)} is no code of a currency", "expected three capitals, as in EUR or USD")
        return None
    return code


def _named(
    top: Table, key: str, read: Callable[[Table], _Named | None], *, required: bool = False
) -> tuple[_Named, ...]:
    tables = top.tables(key)
    if required and not tables and not top.values.get(key):
        top.wrong(key, "is missing", f"begin at least one with a line [[{key}]]")
    things: list[_Named] = []
    for table in tables:
        thing = read(table)
        table.finish()
        if thing is None:
            continue
        if any(thing.name.casefold() == other.name.casefold() for other in things):
            table.wrong("name", f"{quoted(thing.name)} stands twice under [[{key}]]", "give each its own name")
        else:
            things.append(thing)
    return tuple(things)


def _area(table: Table) -> Area | None:
    name = table.text("name", "bay 1", required=True)
    size_m2, shape = read_measured(table)
    area = Area(
        name=name or "",
        size_m2=size_m2 or 0.0,
        shape=shape,
        edge_m=table.quantity("edge", kinds.LENGTH),
        order=table.whole("order", 1),
        next_to=table.words("next_to", '["bay 2"]'),
        texture=table.choice("texture", TEXTURES),
        cove_m=table.quantity("cove", kinds.LENGTH),
        stairs_m=table.quantity("stairs", kinds.LENGTH),
        sun=table.flag("sun"),
        heated=table.flag("heated"),
        outside=table.flag("outside"),
    )
    return area if name is not None else None


def _required(table: Table, key: str, kind: QuantityKind) -> float | None:
    value = table.quantity(key, kind)
    if key not in table.values:
        table.wrong(key, "is missing", f'expected something like "{kind.example}"')
    return value


def _person(table: Table) -> Person | None:
    name = table.text("name", "roller", required=True)
    person = Person(
        name=name or "",
        does=_tasks(table, "does"),
        helps=_tasks(table, "helps"),
        squeegee_m2_h=table.quantity("squeegee", kinds.AREA_RATE),
        roll_m2_h=table.quantity("roll", kinds.AREA_RATE),
        broadcast_m2_h=table.quantity(Skill.BROADCAST, kinds.AREA_RATE),
        cut_in_m_h=table.quantity("cut_in", kinds.LENGTH_RATE),
        phone=table.text("phone", "roller's phone"),
    )
    return person if name is not None else None


def _tasks(table: Table, key: str) -> tuple[str, ...]:
    tasks = []
    for word in table.words(key, '["mix", "pour", "squeegee"]' if key == "does" else '["roll", "cut-in"]'):
        task = _TASK_SPELLINGS.get(word.casefold(), word.casefold())
        if task in TASKS:
            tasks.append(task)
        else:
            table.wrong(key, f"{quoted(word)} is no task", did_you_mean(word, TASKS))
    return tuple(dict.fromkeys(tasks))


def _vessel(table: Table) -> Vessel | None:
    name = table.text("name", "pail", required=True)
    volume_l = _required(table, "volume", kinds.VOLUME)
    across_m = table.quantity("across", kinds.ACROSS)
    return Vessel(name, volume_l or 0.0, across_m) if name is not None else None


def _coat(table: Table, needs_film: NeedsFilm) -> Coat | None:
    name = table.text("name", "base", required=True)
    product = table.text("product", "Slow epoxy base", required=True)
    wet_film_um = table.quantity("wet_film", kinds.FILM)
    spread_m2_l = table.quantity("spread", kinds.SPREAD)
    if not {"wet_film", "spread"} & table.values.keys() and needs_film(product or ""):
        table.wrong("wet_film", "is missing, and so is spread", 'state one, as in wet_film = "300 um"')
    kit_l, kit_kg = _kit(table)
    waste_pct = table.quantity("waste", kinds.WASTE)
    coat = Coat(
        name=name or "",
        product=product or "",
        wet_film_um=wet_film_um,
        spread_m2_l=spread_m2_l,
        after=table.text("after", "base"),
        flake_kg_m2=table.quantity("flake", kinds.THROWN),
        flake_size=table.text("flake_size", "1/4 in"),
        grit_g_l=None if (dose := table.quantity("grit", kinds.DOSE)) is None else dose * 1000.0,
        kit_l=kit_l,
        kit_kg=kit_kg,
        price=_price(table, "price"),
        split=bool(table.flag("split")),
        waste=None if waste_pct is None else waste_pct / 100.0,
        spare_kits=table.whole("spare_kits", 0) or 0,
        areas=table.words("areas", '["bay 1", "bay 2"]'),
        wet_edge=table.flag("wet_edge"),
        flake_price_kg=_price(table, "flake_price"),
        batch_l=table.quantity("batch", kinds.VOLUME),
    )
    return coat if name is not None else None


def _kit(table: Table) -> tuple[float | None, float | None]:
    raw = table.raw("kit")
    if raw is None:
        return None, None
    example = 'expected something like "9 L" or "12 kg"'
    if not isinstance(raw, str):
        table.wrong("kit", f"{quoted(raw)} stands without a unit", example)
        return None, None
    table.found.quantities.append(raw)
    try:
        size = amount(raw)
    except UnitError as error:
        what, colon, mend = str(error).rpartition(": ")
        table.wrong("kit", what if colon else mend, mend if colon else example)
        return None, None
    return size.volume_l, size.mass_kg


def _price(table: Table, key: str) -> float | None:
    raw = table.raw(key)
    if raw is None:
        return None
    try:
        price = number(raw) if isinstance(raw, str) else float(raw) if isinstance(raw, int | float) else -1.0
    except (UnitError, OverflowError):
        price = -1.0
    if isinstance(raw, bool) or not 0.0 <= price < 1e9:
        table.wrong(key, f"{quoted(raw)} is no price", 'expected a number in the currency of the job, as in "95"')
        return None
    return price

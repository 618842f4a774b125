"""What stands in the way of a plan is said all at once, each in one line: what, where, and how to mend it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest

from mixclock.decide.plan.floor.checks import check_plan
from mixclock.job.mistakes import Mistakes
from mixclock.job.profile import Family
from mixclock.job.site import Area, Coat, Forecast, Hours, Person, Site
from tests.decide.plan.etches import ETCH_COAT, PROFILES, SODA_COAT
from tests.decide.plan.floors import profile, row_of

BASE = Coat("base", "Base", 300.0, kit_l=9.0, split=True)
SHELF = {"base": profile("Base", ("back-roll", "wet-edge")), **{name: PROFILES[name] for name in ("etch", "soda")}}
HOURS = Hours((date(2026, 4, 13), date(2026, 4, 14)), time(7), time(18))
FLOOR = Site("Boat shed", "UTC", row_of((10.0, 10.0, 10.0), (4.0, 4.0, 4.0)), (BASE,), (Person("one"),), hours=HOURS)


def lines(site: Site) -> list[str]:
    """Everything that is wrong, as a person reads it."""
    try:
        check_plan(site, SHELF)
    except Mistakes as mistakes:
        return mistakes.lines("shed.toml")
    return []


def forecast(*hours: int, day: int = 13, **values: float) -> tuple[Forecast, ...]:
    """Entries at these hours of one day."""
    return tuple(Forecast(datetime(2026, 4, day, hour, tzinfo=UTC), **values) for hour in hours)


def apart(*pairs: tuple[str, str]) -> tuple[Area, ...]:
    """Four bays of which only these touch."""
    names = [f"bay {number}" for number in range(1, 5)]
    beside = {name: tuple({*(b for a, b in pairs if a == name), *(a for a, b in pairs if b == name)}) for name in names}
    return tuple(Area(name, 10.0, 4.0, next_to=beside[name]) for name in names)


def coated(**changed: object) -> Callable[[Site], Site]:
    return lambda site: replace(site, coats=(replace(BASE, **changed),))  # type: ignore[arg-type]


def test_a_sound_job_has_nothing_in_the_way() -> None:
    assert lines(FLOOR) == []
    assert lines(replace(FLOOR, forecast=forecast(8, 12, 17, air_c=16.0, rh_pct=60.0, slab_c=14.0))) == []


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (
            lambda site: replace(
                site, areas=apart(("bay 1", "bay 2"), ("bay 2", "bay 3")), coats=(replace(BASE, wet_edge=True),)
            ),
            "at 'areas[bay 4].next_to': no neighbours, but coats[base] asks for a wet edge; "
            'write next_to = ["its neighbour"]',
        ),
        (
            lambda site: replace(
                site, areas=apart(("bay 1", "bay 2"), ("bay 3", "bay 4")), coats=(replace(BASE, wet_edge=True),)
            ),
            "at 'coats[base].wet_edge': the floor is cut in two: bay 1, bay 2 and bay 3, bay 4 touch nowhere; "
            "name the neighbours across the cut, or lay them as coats of their own areas",
        ),
        (
            lambda site: replace(site, crew=(Person("one", roll_m2_h=0.0),)),
            "at 'crew[one].roll': a rate of zero never ends; leave it out, or give what they really do",
        ),
        (
            lambda site: replace(site, crew=(Person("one", cut_in_m_h=0.0),)),
            "at 'crew[one].cut_in': a rate of zero never ends; leave it out, or give what they really do",
        ),
        (
            lambda site: replace(site, hours=Hours(start=time(17, 30), end=time(7, 30))),
            "at 'hours.end': the hours end before they begin; write an end after the start",
        ),
        # 10 m² at 300 µm are 3 L, /0.95 = 3.16 L: over twelve kits of 0.25 L
        (
            coated(kit_l=0.25),
            "at 'coats[base].kit': a kit of 250 mL is smaller than a batch: bay 1 alone takes 3.2 L, "
            "and 2 more are too large; give a larger kit, or cut bay 1 into areas of at most 12 kits",
        ),
        (
            coated(batch_l=12.0),
            "at 'coats[base].kit': a kit of 9 L is smaller than the batch of 12 L; "
            "give the kit that one bucket is mixed from, or a smaller batch",
        ),
        (
            coated(batch_l=3.0, split=False),
            "at 'coats[base].batch': a batch of 3 L is part of a kit of 9 L, and part kits are not allowed; "
            "write split = true if the maker allows measured parts",
        ),
        (
            lambda site: replace(site, forecast=forecast(8, 17, air_c=16.0, slab_c=14.0)),
            "at 'forecast': nothing from 2026-04-13 08:00 to 2026-04-13 17:00, more than 6 working hours; "
            "add a [[forecast]] in between, or drop the later ones so that the last one holds",
        ),
        (
            coated(product="Bse"),
            "at 'coats[base].product': 'Bse' has no profile; did you mean 'Base'?",
        ),
    ],
)
def test_each_mistake_is_one_line_that_says_where_what_and_how_to_mend_it(
    change: Callable[[Site], Site], line: str
) -> None:
    assert lines(change(FLOOR)) == [f"shed.toml: {line}"]


def test_a_slab_forecast_for_morning_and_evening_alone_is_a_hole_in_the_slab() -> None:
    """The air is known every four hours; the slab would be drawn straight from seven to six."""
    hourly = [
        *forecast(7, slab_c=10.0, air_c=12.0),
        *forecast(11, 15, air_c=18.0),
        *forecast(18, slab_c=18.0, air_c=16.0),
    ]
    (said,) = lines(replace(FLOOR, forecast=tuple(hourly)))
    assert "at 'forecast': no slab from 2026-04-13 07:00 to 2026-04-13 18:00, more than 6 working hours" in said


def test_a_night_without_forecast_is_no_hole_and_a_sunday_neither() -> None:
    nights = (*forecast(8, 12, 17, air_c=16.0), *forecast(8, 12, 17, day=14, air_c=16.0))
    assert lines(replace(FLOOR, forecast=nights)) == []
    over_sunday = (*forecast(16, day=18, air_c=16.0), *forecast(8, day=20, air_c=16.0))  # Saturday to Monday
    assert lines(replace(FLOOR, hours=None, forecast=over_sunday)) == []


def test_a_hole_is_seen_on_any_working_day_where_the_job_file_names_no_days() -> None:
    (said,) = lines(replace(FLOOR, hours=None, forecast=forecast(7, 18, day=15, air_c=16.0)))
    assert "nothing from 2026-04-15 07:30 to 2026-04-15 17:30" in said


def test_jugs_of_acid_may_be_any_number_for_an_area() -> None:
    # 10 m² at 1.5 m²/L are 6.7 L of solution; a jug of 100 mL makes 400 mL: seventeen
    etched = replace(FLOOR, coats=(replace(ETCH_COAT, kit_l=0.1),))
    assert lines(etched) == []


def test_acid_without_a_time_to_come_off_and_etched_floor_that_is_not_neutralised_are_refused() -> None:
    mute = replace(PROFILES["etch"], name="Mute etch", windows=())
    site = replace(FLOOR, coats=(replace(ETCH_COAT, product="Mute etch"), replace(SODA_COAT, areas=("bay 1", "bay 3"))))
    with pytest.raises(Mistakes) as caught:
        check_plan(site, {**SHELF, "mute etch": mute})
    assert [str(mistake) for mistake in caught.value.found] == [
        "at 'coats[etch].product': the sheet of Mute etch doesn't say by when its acid must come off; "
        'add [windows.dwell] with closes = "10 min", or what it allows, to Mute etch',
        "at 'coats[neutralise].areas': bay 2 is etched by etch but not neutralised; "
        "name every area that is etched, or leave areas out",
    ]
    assert mute.family is Family.ACID_ETCH


def test_all_that_is_wrong_is_said_at_once() -> None:
    wrong = replace(
        FLOOR,
        areas=apart(("bay 1", "bay 2"), ("bay 3", "bay 4")),
        crew=(Person("one", squeegee_m2_h=0.0, broadcast_m2_h=-1.0),),
        coats=(replace(BASE, wet_edge=True, kit_l=0.1), Coat("top", "Oak", 100.0, after="base")),
        hours=Hours((date(2026, 4, 13),), time(18), time(7)),
    )
    places = [line.split("'")[1] for line in lines(wrong)]
    assert places == [
        "coats[base].kit", "coats[base].wet_edge", "coats[top].product", "crew[one].squeegee", "crew[one].broadcast",
        "hours.end",
    ]  # fmt: skip

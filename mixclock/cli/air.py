"""Whether the conditions allow to start."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.answering import say_answer
from mixclock.cli.mistaken import ANSWER_IS_NO, one_line_errors
from mixclock.cli.options import AsJson, JobName, completes

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from mixclock.decide.conditions import Judgement, Margin
    from mixclock.job.profile import Limits
    from mixclock.job.slabmoisture import SlabMoisture


def air(
    air_temp: Annotated[str, typer.Option("--air", metavar="T", help="Air temperature, such as '18 °C' or 64F.")],
    rh: Annotated[str, typer.Option("--rh", metavar="H", help="Relative humidity, such as 62.")],
    slab: Annotated[
        str | None, typer.Option("--slab", metavar="T", help="Surface temperature of the slab, in its coldest corner.")
    ] = None,
    product: Annotated[
        str | None,
        typer.Option(
            "--product",
            metavar="NAME",
            help="The product whose sheet sets the limits.",
            autocompletion=completes("products"),
        ),
    ] = None,
    moisture: Annotated[
        str | None,
        typer.Option("--moisture", metavar="M", help="Moisture of the slab, such as '75 %', or '3.5 lb' by weight."),
    ] = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Go, caution or no-go: dew margin, humidity, slab and its moisture against the limits. You need no job. In a
    job, the moisture that was last measured there counts."""
    from mixclock.words.jsonfields import plain_json

    with one_line_errors():
        judged = _judged(air_temp, rh, slab, product, moisture, job)
    told = {
        "dew_point_c": round(judged.dew_point_c, 2),
        "margin_k": plain_json(judged.margin_k, 2),
        "verdict": judged.verdict.value,
        "reasons": list(judged.reasons),
    }
    rules = "The product's data sheet rules where it asks for more."
    say_answer(as_json, told, [judged.verdict.value.upper(), *(f"  {line}" for line in (*judged.reasons, rules))])
    if judged.verdict == "no-go":
        raise typer.Exit(ANSWER_IS_NO)


def _judged(
    air_temp: str, rh: str, slab: str | None, product: str | None, moisture: str | None, job: str | None
) -> Judgement:
    from mixclock.cli.typed import read
    from mixclock.decide.conditions import Conditions, judge
    from mixclock.job.saying import CannotTellError
    from mixclock.job.slabmoisture import judged_moisture
    from mixclock.units import crew_units_for, pct, temp_c

    air_c, rh_pct = read(temp_c, air_temp, "--air"), read(pct, rh, "--rh")
    conditions = Conditions(air_c or 0.0, rh_pct or 0.0, read(temp_c, slab, "--slab"))
    limits = None
    if product is not None:
        from mixclock.outside.profilefiles import find

        limits = find(product).profile.limits
    try:
        units = crew_units_for([typed for typed in (air_temp, slab) if typed])
        damp = judged_moisture(*_typed(moisture), limits, units) if moisture is not None else None
        earlier, now, measured = lately(job, limits)
        return judge(conditions, limits, earlier, now, units, damp or measured)
    except ValueError as error:
        raise CannotTellError(f"{error}; read it again") from error


def _typed(moisture: str) -> tuple[float, str]:
    from mixclock.job.slabmoisture import typed_moisture
    from mixclock.units import UnitError

    try:
        return typed_moisture(moisture)
    except UnitError as error:
        raise error.at("--moisture") from None


def lately(job: str | None, limits: Limits | None) -> tuple[Sequence[Margin], datetime | None, SlabMoisture | None]:
    """The dew margins that the job in use has seen, now, and its slab's moisture where it was measured; nothing where
    there is no book yet."""
    from mixclock.decide.conditions import margins_of
    from mixclock.job.entry import TOLD_BY_MACHINE
    from mixclock.job.slabmoisture import slab_moisture
    from mixclock.job.statements.rounds import coat_to_come
    from mixclock.outside.coatshelf import with_sheets
    from mixclock.wiring import house_if_any

    with house_if_any(job) as house:
        if house is None or house.which.asked() is None:
            return (), None, None
        standing, now = house.standing(skip=TOLD_BY_MACHINE), house.clock.now()
        margins = margins_of(standing.readings)
        if slab_moisture(standing, None, limits, now) is None:
            return margins, now, None
        if limits is None:  # by the sheet of what goes on it
            standing = with_sheets(standing)
            coat = coat_to_come(standing)
            profile = standing.profile(coat.product) if coat is not None else None
            limits = profile.limits if profile is not None else None
        return margins, now, slab_moisture(standing, None, limits, now)

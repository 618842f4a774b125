"""The weather that is expected, taken into the job."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.answering import print_json
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson, JobName

if TYPE_CHECKING:
    from mixclock.job.entry import ForecastTaken
    from mixclock.job.forecastreading import ExpectedWeather
    from mixclock.wiring import House


def forecast(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A table (CSV) or JSON with times, air and humidity.")
    ] = None,
    near: Annotated[
        str | None, typer.Option("--near", metavar="LAT,LON", help="Ask a public weather service for this place.")
    ] = None,
    us: Annotated[bool, typer.Option("--us", help="Ask the US weather service, not MET Norway's.")] = False,
    zone: Annotated[str | None, typer.Option("--zone", metavar="ZONE", help="The zone of the table's times.")] = None,
    degrees: Annotated[
        str | None, typer.Option("--degrees", metavar="C|F", help="C or F, if no heading names the degrees.")
    ] = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Take the weather forecast into the job. mixclock asks a weather service only if you say --near."""
    from mixclock.job.saying import CannotTellError

    with at_house(job=job) as house:
        if (file is None) == (near is None):
            raise CannotTellError("say FILE or --near LAT,LON, and only one of them; for example --near 38.72,-9.14")
        name = house.which.stated(lambda _: ())
        now = house.clock.now()
        told, fetched = _of_file(file, zone, degrees, now) if file is not None else _of_service(house, str(near), us)
        facts = _with_slab(house, name, told)
        entry = house.book.append(name, facts)
        _show(house, name, facts, fetched, now, entry.number, as_json)


def _of_file(file: Path, zone: str | None, degrees: str | None, now: datetime) -> tuple[ExpectedWeather, datetime]:
    from mixclock.cli.logger import wish_of
    from mixclock.job.forecastreading import read_forecast
    from mixclock.job.mistakes import Mistakes
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.loggers import text_of_export

    try:
        return read_forecast(text_of_export(file), file.name, wish_of(zone=zone, degrees=degrees)), now
    except Mistakes as mistakes:
        raise CannotTellError("\n".join(mistakes.lines(str(file)))) from mistakes


def _of_service(house: House, near: str, us: bool) -> tuple[ExpectedWeather, datetime]:
    from mixclock.outside.weatherservice import WeatherService

    return WeatherService(house.home, house.clock.now, us=us, base=_base()).at(_spot(near))


def _base() -> str | None:
    """The variable that names another address in the same format, for a crew that runs its own copy of a service."""
    import os

    return os.environ.get("MIXCLOCK_WEATHER") or None


def _spot(near: str) -> Any:
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.weatherservice import Spot

    try:
        lat, lon = (float(part) for part in near.split(","))
    except ValueError:
        raise CannotTellError(f"--near: '{near}' is no place; give two numbers, such as 38.72,-9.14") from None
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        raise CannotTellError(f"--near: '{near}' lies outside -90 to 90 and -180 to 180; latitude comes first")
    return Spot(lat, lon)


def _with_slab(house: House, job: str, told: ExpectedWeather) -> ForecastTaken:
    """The forecast as an entry, with the slab temperature that this floor's own readings suggest."""
    from mixclock.decide.slabahead import slab_follows, with_slab
    from mixclock.job.entry import TOLD_BY_MACHINE, ForecastTaken

    standing = house.standing(job, skip=TOLD_BY_MACHINE)
    air = standing.readings.air()
    law = slab_follows(air, standing.readings.slab(None))
    points = with_slab(told.points, air, law) if law is not None else told.points
    units = standing.site.units
    by = (
        f"{law.lag_h:g} h behind the air, {units.write_difference(abs(law.offset_k))} "
        f"{'over' if law.offset_k > 0 else 'under'} it, from {law.pairs} readings of this floor"
        if law is not None
        else ""
    )
    return ForecastTaken(
        source=told.source,
        at=tuple(point.at.isoformat() for point in points),
        air_c=tuple(point.air_c for point in points),
        rh_pct=tuple(point.rh_pct for point in points),
        slab_c=tuple(point.slab_c for point in points),
        issued=told.issued.isoformat() if told.issued else None,
        slab_by=by,
    )


def _show(
    house: House, job: str, facts: ForecastTaken, fetched: datetime, now: datetime, number: int, as_json: bool
) -> None:
    from mixclock.job.instants import json_text
    from mixclock.words.times import day_and_clock

    first, last = (datetime.fromisoformat(facts.at[place]) for place in (0, -1))
    if as_json:
        print_json(
            {
                "entry": number, "job": job, "source": facts.source, "hours": len(facts.at),
                "from": json_text(first), "to": json_text(last), "fetched_at": json_text(fetched),
                "issued_at": json_text(datetime.fromisoformat(facts.issued)) if facts.issued else None,
                "slab_by": facts.slab_by or None,
            }
        )  # fmt: skip
        return
    zone = house.zone(job)
    issued = datetime.fromisoformat(facts.issued) if facts.issued else None
    age = f", issued {day_and_clock(issued, now, zone)}" if issued else ""
    typer.echo(f"'{job}' expects the weather of {facts.source}{age}  (entry {number})")
    typer.echo(f"{len(facts.at)} hours, from {day_and_clock(first, now, zone)} to {day_and_clock(last, now, zone)}")
    if facts.slab_by:
        typer.echo(f"The slab is taken {facts.slab_by}.")
    elif any(value is not None for value in facts.air_c) and not any(value is not None for value in facts.slab_c):
        typer.echo(
            "mixclock does not know this slab yet: read it morning and afternoon, then take in the forecast again."
        )

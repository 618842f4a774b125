"""Readings from a temperature logger."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson, JobName, completes

if TYPE_CHECKING:
    from mixclock.job.loggertable import LoggerTable, LoggerWish
    from mixclock.outside.loggers import LoggerIntake
    from mixclock.wiring import House

app = typer.Typer(help="Readings from a temperature logger.", no_args_is_help=True)

_MOST_HELD = 10

_Slab = Annotated[bool, typer.Option("--slab", help="The probe lies on the slab. Without this, it hangs in the air.")]
_On = Annotated[
    str | None,
    typer.Option(
        "--on", metavar="AREA", help="The area. Without it, the whole floor.", autocompletion=completes("areas")
    ),
]
_Zone = Annotated[str | None, typer.Option("--zone", metavar="ZONE", help="The zone of its clock.")]
_Degrees = Annotated[
    str | None, typer.Option("--degrees", metavar="C|F", help="C or F, if no heading names the degrees.")
]
_Order = Annotated[
    str | None,
    typer.Option("--order", metavar="day|month", help="Say whether the day or the month stands first in its dates."),
]
_Temperature = Annotated[
    str | None, typer.Option("--temperature", metavar="HEADING", help="The column of the temperature.")
]
_Humidity = Annotated[str | None, typer.Option("--humidity", metavar="HEADING", help="The column of the humidity.")]


@app.command("read")
def read_file(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What the logger exported: a CSV or text table.")],
    slab: _Slab = False,
    on: _On = None,
    zone: _Zone = None,
    degrees: _Degrees = None,
    order: _Order = None,
    temperature: _Temperature = None,
    humidity: _Humidity = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="The logger's name. Without it, the file's name.")
    ] = None,
    job: JobName = None,
    try_it: Annotated[bool, typer.Option("--try", help="Only show what would be taken.")] = False,
    as_json: AsJson = False,
) -> None:
    """Take in the readings of an export. It takes none twice, and holds back any that cannot be true."""
    from mixclock.outside.loggers import read_export, take_export

    with at_house(job=job) as house:
        wish = wish_of(zone=zone, degrees=degrees, order=order, temperature=temperature, humidity=humidity)
        table = read_export(file, wish)
        meant = house.which.stated(lambda _: ())
        place = _area(house, on, meant)
        if try_it:
            _show(table, file, None, house, as_json)
            return
        taken = take_export(house.book, meant, table, name or file.stem, area=place, slab=slab, now=house.clock.now())
        _show(table, file, taken, house, as_json)


@app.command()
def follow(
    folder: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="The folder into which the logger's program exports.")
    ] = None,
    slab: _Slab = False,
    on: _On = None,
    zone: _Zone = None,
    degrees: _Degrees = None,
    order: _Order = None,
    temperature: _Temperature = None,
    humidity: _Humidity = None,
    job: JobName = None,
    leave: Annotated[bool, typer.Option("--leave", help="Stop following the folder.")] = False,
    as_json: AsJson = False,
) -> None:
    """Follow a folder: while the watch runs, it takes in every export there. Without a folder: list those followed."""
    from dataclasses import asdict

    from mixclock.outside import loggerfolders as folders

    with at_house(job=job) as house:
        if folder is not None and leave:
            _leave(house, folder)
        elif folder is not None:
            wish = wish_of(zone=zone, degrees=degrees, order=order, temperature=temperature, humidity=humidity)
            first = wish.order.value if wish.order else None
            meant = house.which.stated(lambda _: ())
            place = _area(house, on, meant)
            folders.follow(
                house.book,
                folders.LoggerFolder(
                    _folder(folder), meant, place, slab, zone, wish.degrees, first, temperature, humidity
                ),
            )
        kept = folders.followed(house.book)
    if as_json:
        print_json({"folders": [asdict(each) for each in kept]})
        return
    for each in kept:
        where = f", {each.area}" if each.area else ""
        typer.echo(
            f"{each.path}: {'slab' if each.slab else 'air'} of '{each.job}'{where}, taken in while the watch runs"
        )
    if not kept:
        typer.echo("No folder is followed.")


def _folder(folder: Path) -> str:
    from mixclock.job.saying import CannotTellError

    if not folder.is_dir():
        raise CannotTellError(f"{folder}: is no folder; name the one into which the logger's program exports")
    return str(folder.resolve())


def _leave(house: House, folder: Path) -> None:
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.loggerfolders import leave

    if not leave(house.book, str(folder.resolve())):
        raise CannotTellError(f"{folder}: is not followed; `mixclock logger follow` lists those that are")


def wish_of(
    *,
    zone: str | None = None,
    degrees: str | None = None,
    order: str | None = None,
    temperature: str | None = None,
    humidity: str | None = None,
) -> LoggerWish:
    """The options about the export, checked; a refusal lists all mistakes at once."""
    from mixclock.job.loggertable import LoggerWish
    from mixclock.job.loggertimes import TimeOrder
    from mixclock.job.mistakes import Mistakes
    from mixclock.job.saying import CannotTellError
    from mixclock.job.zones import zone_named

    mistakes = []
    try:
        _ = zone_named(zone) if zone is not None else None
    except Mistakes as wrong:
        mistakes += [f"--zone: {each.what}; {each.mend}" for each in wrong.found]
    letter = degrees.strip(" °").upper()[:1] if degrees else None
    if letter not in (None, "C", "F"):
        mistakes.append(f"--degrees: '{degrees}' is neither C nor F; say one of them")
    first = order.casefold() if order else None
    if first not in (None, "day", "month"):
        mistakes.append(f"--order: '{order}' is neither day nor month; say which stands first")
    if mistakes:
        raise CannotTellError("\n".join(mistakes))
    return LoggerWish(temperature, humidity, letter, zone, TimeOrder(first) if first else None)


def _area(house: House, on: str | None, job: str | None) -> str | None:
    from mixclock.job.naming import area_named

    return area_named(house.standing(job), on) if on is not None else None


def _show(table: LoggerTable, file: Path, taken: LoggerIntake | None, house: House, as_json: bool) -> None:
    if as_json:
        print_json(_json(table, taken))
        return
    say_lines(_lines(table, file, taken, house))


def _lines(table: LoggerTable, file: Path, taken: LoggerIntake | None, house: House) -> list[str]:
    columns = table.columns
    what = [
        f"temperature from '{columns.temperature}' in °{columns.degrees}" if columns.temperature else "",
        f"humidity from '{columns.humidity}'" if columns.humidity else "",
        f"times from '{columns.time}'",
    ]
    lines = [f"{file}: {', '.join(part for part in what if part)}"]
    held = taken.held_back if taken else table.held_back
    if taken is None:
        lines.append(f"{len(table.rows)} readings found; this was a try, so none was taken in")
    else:
        lines.append(f"{_count(len(taken.new), 'reading')} taken{_span(taken, house)}{_rest(taken)}")
    lines += [f"held back, line {each.line}: {each.why}" for each in held[:_MOST_HELD]]
    if len(held) > _MOST_HELD:
        lines.append(f"held back: {len(held) - _MOST_HELD} more, all with --json")
    return lines


def _span(taken: LoggerIntake, house: House) -> str:
    from mixclock.words.times import day_and_clock

    if not taken.new:
        return ""
    now, zone = house.clock.now(), house.zone(taken.new[0].job)
    first, last = (day_and_clock(taken.new[place].happened, now, zone) for place in (0, -1))
    return f", from {first} to {last}"


def _rest(taken: LoggerIntake) -> str:
    alike = len(taken.table.rows) - len(taken.new) - taken.known - taken.too_early
    rest = [
        f"{taken.known} known already" if taken.known else "",
        f"{taken.too_early} from before this job" if taken.too_early else "",
        f"{alike} that repeat the one before" if alike > 0 else "",
    ]
    return "".join(f"; {part}" for part in rest if part)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _json(table: LoggerTable, taken: LoggerIntake | None) -> dict[str, Any]:
    held = taken.held_back if taken else table.held_back
    return {
        "columns": {
            "time": table.columns.time,
            "temperature": table.columns.temperature,
            "humidity": table.columns.humidity,
            "degrees": table.columns.degrees,
        },
        "rows": len(table.rows),
        "blank": table.blank,
        "taken": len(taken.new) if taken else 0,
        "known": taken.known if taken else 0,
        "before_this_job": taken.too_early if taken else 0,
        "held_back": [{"line": each.line, "why": each.why} for each in held],
    }

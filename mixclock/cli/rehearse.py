"""`mixclock rehearse`: a whole job in under two minutes, by the real daemon on a book of its own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.streams import columns, fitting_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import datetime

    from mixclock.cli.rehearseboard import RehearsalBoard
    from mixclock.job.site import Site
    from mixclock.outside.clock import FastClock
    from mixclock.watch.rehearsing.crewwork import BatchPiece
    from mixclock.watch.rehearsing.narrator import Narrator
    from mixclock.watch.rehearsing.playedcrew import Script
    from mixclock.watch.rehearsing.rehearsal import Rehearsal
    from mixclock.wiring import House

    Say = Callable[[str], None]
    Planned = Mapping[str, Sequence[BatchPiece]]

SLOWEST, FASTEST = 1.0, 2000.0
USUAL_SPEED = 90.0
ALL_WITHIN_S = 114.0
"""The rehearsal ends within this time: what the plan leaves of it sets the speed of the play."""


def rehearse(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A job file. Without it, a made-up job.")
    ] = None,
    speed: Annotated[
        float | None,
        typer.Option(
            "--speed", metavar="N", help="How many times faster than real time. Without it, it ends in two minutes."
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Make no sound and do not speak.")] = False,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="The folder for the book and the record.")
    ] = None,
) -> None:
    """Play a job: a made-up crew states what it does, and the real watch calls out. It touches nothing of yours."""
    import tempfile

    from mixclock.cli.mistaken import one_line_errors
    from mixclock.outside.jobs import checked_site
    from mixclock.watch.screen import close_quietly

    with one_line_errors():
        text = _text(file)
        _check_speed(speed)
        site = checked_site(text, str(file or ""))
        folder = to or Path(tempfile.mkdtemp(prefix="mixclock-rehearsal-"))
        folder.mkdir(parents=True, exist_ok=True)
        _play(folder, text, site, speed, quiet, made_up=file is None)
    close_quietly()


def _text(file: Path | None) -> str:
    from mixclock.outside.jobtexts import job_text_of
    from mixclock.watch.rehearsing.pottery import JOB

    return JOB if file is None else job_text_of(file)


def _check_speed(speed: float | None) -> None:
    from mixclock.job.saying import CannotTellError

    if speed is not None and not SLOWEST <= speed <= FASTEST:
        raise CannotTellError(f"--speed must be between {SLOWEST:.0f} and {FASTEST:.0f}, got {speed:g}")


def _play(folder: Path, text: str, site: Site, speed: float | None, quiet: bool, made_up: bool) -> None:
    from mixclock.outside.clock import FastClock, SystemClock
    from mixclock.outside.profilefiles import find
    from mixclock.watch.rehearsing.playedcrew import Script
    from mixclock.watch.rehearsing.pottery import DUMPED_BAY, LATE_BAY
    from mixclock.watch.screen import say as say_line
    from mixclock.wiring import open_house

    say = _fitting(say_line)
    ends_at_s = None if speed else SystemClock().monotonic_s() + ALL_WITHIN_S
    profiles = {coat.product.casefold(): find(coat.product).profile for coat in site.coats}
    _introduce(site, speed, made_up, say)
    planned = _tell_plan(folder, text, _begins(site).astimezone(site.wall), say)
    clock = FastClock(speed or USUAL_SPEED, _begins(site))  # the job's own time begins once everything is told
    with open_house(folder, clock) as house:
        house.start(text)
        late, dumped = (LATE_BAY, DUMPED_BAY) if made_up else (None, None)
        rehearsal, board = _rehearsal(house, clock, quiet, Script(profiles, planned, late, dumped), say)
        rehearsal.ends_at_s = ends_at_s
        with board.served(say, may_open=not quiet):
            played = _run(rehearsal)
        if played:
            _finish(rehearsal, folder, made_up, say, may_open=not quiet)


def _begins(site: Site) -> datetime:
    """A little before work begins on the first day that the job names, else on a Monday of our own."""
    from datetime import UTC, date, datetime, timedelta

    from mixclock.job.practice import USUAL_HOURS

    hours = site.hours or USUAL_HOURS
    day = min(hours.days, default=date(2026, 4, 13))
    return datetime.combine(day, hours.start, tzinfo=site.wall).astimezone(UTC) + timedelta(minutes=5)


def _introduce(site: Site, speed: float | None, made_up: bool, say: Say) -> None:
    crew = " and ".join(person.name for person in site.crew) or "one person"
    coats = ", then ".join(f"{coat.name} ({coat.product})" for coat in site.coats)
    size = site.units.write_area(sum(area.size_m2 for area in site.areas))
    say(f"{site.name}: {len(site.areas)} area{'s' if len(site.areas) > 1 else ''}, {size}, {crew}.")
    say(f"Coats: {coats}.")
    pace = f"at {speed:g} times speed" if speed else "in two minutes"
    say(f"Played {pace} by the real daemon, on a book of its own.")
    say("Hours in which nothing happens are skipped.")
    if made_up:
        say("Job, crew and products are made up. One bucket stands too long and is dumped as")
        say("told. Another is poured late all the same. See what is called out, and what the")
        say("record says weeks later.")


PLAN_LINES = 10
PLAN_WITHIN_S = 15.0
"""Nobody waits longer than this for the plan of a rehearsal: then the best plan so far is taken."""


def _tell_plan(folder: Path, text: str, begins: datetime, say: Say) -> Planned:
    """The plan of the job in a few lines, and its buckets. The rehearsal goes on without a plan if none can be made."""
    from mixclock.cli.mistaken import WrongInputError, one_line_errors
    from mixclock.cli.planasking import sheet_for
    from mixclock.cli.planreading import of_file
    from mixclock.cli.plantyped import Wish
    from mixclock.decide.plan.search.schedule import Ways
    from mixclock.outside.atomicfile import write_atomically
    from mixclock.outside.clock import SystemClock
    from mixclock.watch.rehearsing.crewwork import BatchPiece
    from mixclock.words.plan.text import answer_lines, fit

    file, clock = folder / "job.toml", SystemClock()
    try:
        with one_line_errors():
            write_atomically(file, text)
            wished = Wish(None, None, f"{begins:%Y-%m-%d %H:%M}", 1)
            until_s = clock.monotonic_s() + PLAN_WITHIN_S
            ways = Ways(seed=1, stop=lambda: clock.monotonic_s() >= until_s)
            sheet = sheet_for(of_file(file, None, wished), wished, ways)
    except WrongInputError as error:
        say(f"No plan was made: {error.lines[0]}")
        return {}
    say("The plan, in short (`mixclock plan FILE` shows all of it):")
    answer = [part for line in answer_lines(sheet) for part in fit(f"   {line}")]
    batches = [
        f"   batch {each.number}, {each.coat}: {sheet.units.write_volume(each.volume_l)} for "
        f"{' and '.join(each.areas)}, {sheet.day_and_clock(each.mixed_at)}"
        for each in sheet.plan.batches
    ]
    for line in [*answer[: max(4, PLAN_LINES - len(batches))], *batches][:PLAN_LINES]:
        say(line)
    if not sheet.plan.feasible:
        say("It is played all the same, so that you see what would be called out.")
    planned: dict[str, list[BatchPiece]] = {}
    for each in sheet.plan.batches:
        rolls = [step for step in sheet.plan.steps if (step.batch, step.kind) == (each.number, "roll")]
        by_two = tuple(dict.fromkeys(step.who for step in rolls if step.beside is not None))
        planned.setdefault(each.coat, []).append(BatchPiece(each.areas, each.size_m2, each.volume_l, by_two))
    return planned


def _rehearsal(
    house: House, clock: FastClock, quiet: bool, script: Script, say: Say
) -> tuple[Rehearsal, RehearsalBoard]:
    from mixclock.cli.rehearseboard import RehearsalBoard
    from mixclock.watch.rehearsing.narrator import Narrator, daemon_for_rehearsal
    from mixclock.watch.rehearsing.rehearsal import Rehearsal

    narrator = Narrator(clock, house.site().wall, say, columns())
    board = RehearsalBoard(house, clock, clock.speed)
    daemon = daemon_for_rehearsal(house, narrator, clock.speed, not quiet, board.channels)
    board.follow(daemon)
    return Rehearsal(house, daemon, clock, narrator, script), board


def _fitting(say: Say) -> Say:
    """Lines broken where the terminal ends, but for those that are laid out already."""

    def say_within(line: str) -> None:
        for part in [line] if line.startswith(("[", "\n")) else fitting_lines([line]):
            say(part)

    return say_within


def _run(rehearsal: Rehearsal) -> bool:
    """Play it; False where Ctrl-C ended it early."""
    from mixclock.watch.running import SignalFlag, told_by_signal

    stop = SignalFlag()
    rehearsal.stopped = stop.is_set
    with told_by_signal(stop):
        rehearsal.daemon.start()
        try:
            rehearsal.play()
        finally:
            rehearsal.daemon.stop()
    return not stop.is_set()


def _finish(rehearsal: Rehearsal, folder: Path, made_up: bool, say: Say, may_open: bool = False) -> None:
    """What became of it: the finding and its cause, the channels, the record and the owner's sheet."""
    from mixclock.cli.record import record_of
    from mixclock.cli.rehearseboard import open_in_browser
    from mixclock.job.statements import FinishedStatement
    from mixclock.outside.atomicfile import write_atomically
    from mixclock.words.record import owner_page, record_page

    house, narrator = rehearsal.house, rehearsal.narrator
    if made_up:
        _look_why(house, narrator, say)
    house.state(FinishedStatement())
    say("\n[100 %] The job is finished.")
    say(_channels_said(rehearsal))
    made = record_of(house, None, None)
    for name, page, what in (("record", record_page, "The record"), ("owner", owner_page, "The sheet for the owner")):
        path = folder / f"{name}.html"
        write_atomically(path, page(made))
        opened = may_open and open_in_browser(path.as_uri())
        say(f"{what}, ready to print{', opened in your browser' if opened else ''}: {path}")
    say(f"The book of this rehearsal: {house.book.path}; delete the folder when you have seen it.")


def _channels_said(rehearsal: Rehearsal) -> str:
    """Who was reached by what on this machine, in one line."""
    from mixclock.outside.channels.message import Outcome
    from mixclock.words.enumeration import list_words

    told = rehearsal.daemon.delivery.told_by
    here = [name for name, receipt in sorted(told.items()) if receipt.outcome is Outcome.SENT]
    away = [
        name for name in sorted(told) if name not in (*here, "board")
    ]  # a page that nobody opened does not count as missing
    missing = (
        f" Not on this machine yet: {list_words(away)}; `mixclock selfcheck` says how to have them." if away else ""
    )
    return f"Called out by: {list_words(here)}.{missing}"


def _look_why(house: House, narrator: Narrator, say: Say) -> None:
    """Weeks later somebody asks about the bay that was poured late."""
    from mixclock.decide.why import Case, diagnose
    from mixclock.job.statements import FoundStatement
    from mixclock.watch.rehearsing.pottery import LATE_BAY
    from mixclock.words.whytext import why_lines

    house.state(FoundStatement(LATE_BAY, "dull", "batch-edge"))
    narrator.tell(f"Somebody finds {LATE_BAY} dull up to the edge of its batch. `mixclock why {LATE_BAY}` answers:")
    case = Case(house.standing(), house.clock.now(), house.bucket_model)
    for line in why_lines(diagnose(case, LATE_BAY), case.units):
        say(f"   {line}")

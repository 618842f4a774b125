"""Files, statements, taps and names that nobody can have meant."""

from __future__ import annotations

import contextlib
import dataclasses
import random
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from pathlib import Path

from mixclock.board import taps
from mixclock.board.house import RefusedError
from mixclock.decide.alerting import alerts
from mixclock.job.entry import Combined, Facts, JobMended, Poured, ProfileUsed
from mixclock.job.mistakes import Mistakes
from mixclock.job.profilereading import read_profile
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.sitereading import read_site
from mixclock.job.statements import VERBS
from mixclock.outside.book import Book, BookError
from mixclock.outside.bookfile import _sealed
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobexchange import export_job, import_job
from mixclock.units import UnitError, amount, clock_time, span_s, temp_c
from mixclock.words.alerting import alert_words
from tests.days.shed import BASE, TOP, site
from tests.decide.worlds import Log, instant
from tests.faults.damage import JOB as SHED
from tests.faults.damage import MORNING
from tests.faults.jobdays import dice
from tests.faults.starving import Stopwatch
from tests.faults.table import Counted, each

NAMED = (Mistakes, UnitError, CannotTellError, RefusedError, BookError)
HANGS_S = 5.0
"""A reader that takes longer hangs."""

ENDS = ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00")
FOLLOWED = 0.05
"""The share of what was taken that is followed to its windows and calls."""
ODD = (
    "",
    "\x00",
    "\u2028",
    "\ud800",
    "nan",
    "inf",
    "-1",
    "1e400",
    "'; DROP TABLE entries",
    "🪣",
    "\u202e",
    "=1+1",
    "|",
    "\n",
)


@contextlib.contextmanager
def no_named_errors(broken: bool) -> Iterator[None]:
    """The deliberate break: a tap's instant is read without a thought for the ends of the calendar."""
    honest = taps._instant
    if broken:
        from datetime import UTC, datetime

        taps._instant = lambda text: None if text is None else datetime.fromisoformat(str(text)).astimezone(UTC)
    try:
        yield
    finally:
        taps._instant = honest


def fuzzed(trials: int, broken: bool) -> Counted:
    """A right answer, or an error that says what is wrong: never a traceback, never a hang."""
    counted = Counted()
    throw = dice(4)
    readers = (_tap,) if broken else (_profile, _job_file, _typed, _tap, _hostile_name, _import, _statement)
    with tempfile.TemporaryDirectory(prefix="faults-") as made, no_named_errors(broken):
        exported = _exported(Path(made))
        for trial in each(trials):
            read = readers[trial % len(readers)]
            watch = Stopwatch()
            counted.trials += 1
            try:
                read(throw, exported)
            except NAMED:
                pass
            except Exception as error:  # what escapes is what is looked for
                counted.fail(f"{read.__name__} {trial}: {type(error).__name__}: {str(error)[:60]!r}")
            counted.judge(watch.took(), HANGS_S, f"{read.__name__} {trial}")
    return counted


def mangled(text: str, throw: random.Random) -> str:
    """A text with a few things wrong."""
    said = list(text)
    for _ in range(throw.randrange(1, 6)):
        at = throw.randrange(len(said) + 1)
        kind = throw.randrange(4)
        if kind == 0:
            said[at:at] = throw.choice(ODD)
        elif kind == 1:
            del said[at : at + throw.randrange(1, 12)]
        elif kind == 2:
            said[at:at] = chr(throw.choice((throw.randrange(32, 127), throw.randrange(0x80, 0x3000))))
        else:
            start = throw.randrange(len(said) + 1)
            said[at:at] = said[start : start + throw.randrange(1, 40)]
    return "".join(said)


def _profile(throw: random.Random, _: Path) -> None:
    text = mangled(throw.choice((BASE, TOP)), throw)
    profile = read_profile(text)
    no_nan(profile)
    if throw.random() < FOLLOWED:
        _follow([ProfileUsed("Shed base", text), Combined(profile.name, ("bay 1",), volume_l=4.0), Poured(1)])


def _job_file(throw: random.Random, _: Path) -> None:
    text = mangled(site(), throw)
    no_nan(read_site(text))
    if throw.random() < FOLLOWED:
        _follow([JobMended(text), Combined("Shed base", ("bay 1",), volume_l=4.0), Poured(1)])


def _typed(throw: random.Random, _: Path) -> None:
    text = mangled(throw.choice(("72 °F", "1 h 30 min", "1,5 L", "10:42", "6 gal", "2 lb 4 oz")), throw)
    no_nan(throw.choice((temp_c, span_s, amount, clock_time))(text))


def _tap(throw: random.Random, _: Path) -> None:
    odd = [
        None,
        True,
        1e308,
        float("nan"),
        -5,
        [],
        {},
        "x" * 500,
        *ODD,
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
    ]
    body = {
        "key": throw.choice(("0123456789ab", "0123456789ab", "0123456789ab", throw.choice(odd))),
        "at": throw.choice(("2026-04-13T10:42:00Z", *ENDS, throw.choice(odd))),
        "ago_s": throw.choice((0, 5.0, 60, throw.choice(odd))),
        "by": throw.choice((None, "mixer", "roller", throw.choice(odd))),
        "statement": throw.choice(
            (
                {"verb": "noted", "text": "x"},
                {"verb": "noted", "text": "y"},
                {"verb": throw.choice(("mixing", "noted", "poured", *map(str, odd))), "batch": throw.choice(odd)},
                *odd,
            )
        ),
    }
    tap = taps.read_tap(body)
    no_nan(tap)
    taps.happened_at(tap, MORNING)


def _statement(throw: random.Random, _: Path) -> None:
    """A statement of any verb with fields of any kind, on a job with a batch in its bucket and one on the floor."""
    verb = throw.choice(list(VERBS))
    likely = (1, 2, 3, 0.5, 20.0, "bay 1", "bay 2", "base", "Shed base", "roll", "dull", "hot", "foot", ["bay 1"], True)
    told: dict[str, object] = {}
    for name, field in VERBS[verb].of_fields().items():
        for key in field.kind.keys(name):
            if throw.random() < 0.6:
                told[key] = throw.choice((*likely, float("nan"), -5, 1e308, [], {}, None, *ODD))
    log = Log()
    for facts in (Combined("Shed base", ("bay 1",), volume_l=4.0), Poured(1), Combined("Shed base", ("bay 2",), 4.0)):
        log.add(float(len(log.entries)), facts)
    said = Attribution(log.entries[-1].happened + timedelta(minutes=3), None, None, None)
    drafts = tuple(VERBS[verb].told(told).drafts(log.standing(), said))
    no_nan(drafts)
    if throw.random() < 2 * FOLLOWED:
        _follow([draft.facts for draft in drafts], log)


def _follow(facts: Sequence[Facts], log: Log | None = None) -> None:
    """What follows from entries that were taken: their windows and the calls of an hour and of a week later."""
    log = log or Log()
    for place, fact in enumerate(facts):
        log.add(20.0 + place, fact)
    standing, found = log.standing(), log.tracks()
    for minutes in (60.0, 7 * 24 * 60.0):
        for alert in alerts(standing, found, instant(minutes)):
            no_nan(alert)
            if "nan" in (said := alert_words(alert, standing, instant(minutes)).body).split():
                raise ArithmeticError(f"a crew is told {said!r}")


def no_nan(found: object) -> None:
    """Refuse a number that is none, anywhere inside."""
    if isinstance(found, float):
        if found != found:
            raise ArithmeticError("nan came out")
    elif isinstance(found, Mapping):
        no_nan(list(found.values()))
    elif isinstance(found, list | tuple | set | frozenset):
        for one in found:
            no_nan(one)
    elif dataclasses.is_dataclass(found) and not isinstance(found, type):
        for field in dataclasses.fields(found):
            no_nan(getattr(found, field.name))


def _hostile_name(throw: random.Random, _: Path) -> None:
    name = mangled(throw.choice(("Boat shed", "base", "bay 1")), throw).replace('"', "'").replace("\\", "/")
    read_site(site().replace('"Boat shed"', f'"{name}"').replace('"bay 1"', f'"{name}"'))


def _exported(folder: Path) -> Path:
    from mixclock.job.entry import Combined, JobStarted, Noted, Withdrawn

    with Book(folder / "site.sqlite3", FakeClock(MORNING)) as book:
        book.append(SHED, JobStarted(SHED, site()))
        book.append(SHED, Combined("Shed base", ("bay 1",), volume_l=4.0))
        wrong = book.append(SHED, Noted("heater lit"))
        book.append(SHED, Withdrawn(wrong.number))
        export_job(book, SHED, folder / "job.mixclock")
    return folder / "job.mixclock"


def _import(throw: random.Random, exported: Path) -> None:
    """A file whose seals are right, with something wrong inside."""
    import gzip
    import json

    lines = [json.loads(text) for text in gzip.decompress(exported.read_bytes()).decode().splitlines()]
    for line in lines:
        line.pop("seal")
    line = throw.choice(lines)
    key = throw.choice(list(line))
    line[key] = throw.choice((None, -1, 1.5, "", [], {}, "x", True, 10**30, {"entry": 99}))
    path = exported.with_name("wrong.mixclock")
    try:
        path.write_text("\n".join(_sealed(lines)) + "\n")
    except (TypeError, KeyError):
        return  # no file can be made of that
    with Book(exported.with_name(f"office-{throw.random()}.sqlite3"), FakeClock(MORNING)) as office:
        import_job(office, path)

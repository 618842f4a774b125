"""Twenty sheets of our own making: the sheet's figure beside what a crew is told.

    python -m tests.twentysheets

Told at the sheet's own conditions, 10 °C colder and 8 °C warmer, where the place is read by contact within two hours
all along: what is left is the law. A closing edge is told at its early time, an opening at its late one. Each figure is
invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import Bucket
from mixclock.decide.edges import edge_of
from mixclock.decide.weather import steady
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile
from mixclock.job.steps import POUR_OUT
from mixclock.units import write_span

START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
MODEL = bucket_model()
TWO_PARTS = "[mix]\nratio_by_volume = [2, 1]\n"


@dataclass(frozen=True)
class Sheet:
    """One sheet with one figure of interest; `own_c` is the temperature whose figure is quoted, `kg` the bucket."""

    family: str
    window: str
    edge: str
    figure: str
    own_c: float
    kg: float = 0.0
    more: str = ""


SHEETS = (
    Sheet("epoxy", POUR_OUT, "closes", '{ "25 °C" = "30 min" }', 25.0, 0.15, 'mass = "150 g"\nend = "gel"'),
    Sheet("epoxy", POUR_OUT, "closes", '{ "25 °C" = "30 min" }', 25.0, 9.0, 'mass = "150 g"\nend = "gel"'),
    Sheet("epoxy", POUR_OUT, "closes", '"30 min"', 20.0, 8.0, 'mass = "150 g"'),
    Sheet("epoxy", POUR_OUT, "closes", '{ "20 °C" = "25 min" }', 20.0, 10.0, 'mass = "10 kg"\nend = "40 °C"'),
    Sheet("epoxy", POUR_OUT, "closes", '{ "10 °C" = "70 min", "20 °C" = "40 min", "30 °C" = "20 min" }', 20.0, 4.0,
          'mass = "1 kg"\nend = "gel"'),
    Sheet("waterborne epoxy", POUR_OUT, "closes", '{ "15 °C" = "120 min", "25 °C" = "60 min" }', 25.0, 5.0,
          'mass = "1 kg"\nend = "workable"'),
    Sheet("polyaspartic", POUR_OUT, "closes", '{ "20 °C" = "30 min" }', 20.0, 2.0, 'mass = "1 kg"\nend = "workable"'),
    Sheet("epoxy", "back-roll", "closes", '{ "20 °C" = "22 min", "30 °C" = "13 min" }', 20.0),
    Sheet("epoxy", "back-roll", "closes", '"20 min"', 20.0),
    Sheet("polyaspartic", "back-roll", "closes", '{ "20 °C, 50 %" = "20 min", "20 °C, 80 %" = "14 min" }', 20.0),
    Sheet("waterborne epoxy", "wet-edge", "closes", '{ "25 °C" = "18 min" }', 25.0),
    Sheet("epoxy", "broadcast", "closes", '{ "20 °C" = "40 min", "30 °C" = "22 min" }', 20.0),
    Sheet("epoxy", "tack-free", "opens", '{ "25 °C" = "6 h" }', 25.0),
    Sheet("epoxy", "recoat", "opens", '{ "10 °C" = "24 h", "20 °C" = "12 h", "30 °C" = "8 h" }', 20.0),
    Sheet("epoxy", "recoat", "closes", '{ "25 °C" = "7 d" }', 25.0),
    Sheet("polyurethane", "recoat", "closes", '{ "18 °C" = "48 h", "24 °C" = "40 h", "30 °C" = "30 h" }', 24.0),
    Sheet("epoxy", "foot-traffic", "opens", '"24 h"', 25.0),
    Sheet("polyurethane", "vehicle-traffic", "opens", '{ "20 °C" = "72 h" }', 20.0),
    Sheet("epoxy", "full-cure", "opens", '{ "25 °C" = "7 d" }', 25.0),
    Sheet("acrylic", "recoat", "opens", '{ "20 °C" = "1 h" }', 20.0),
)  # fmt: skip


def profile_of(sheet: Sheet) -> Profile:
    """The sheet as a profile."""
    head = f'name = "Sheet"\nfamily = "{sheet.family}"\nsource = "invented"\n{TWO_PARTS}'
    if sheet.window == POUR_OUT:
        return read_profile(f"{head}[pot-life]\n{sheet.more}\nat = {sheet.figure}\n")
    return read_profile(f"{head}[windows.{sheet.window}]\n{sheet.edge} = {sheet.figure}\n")


def told_s(sheet: Sheet, temp_c: float) -> float:
    """What a crew is told at a temperature of slab, air and pails [s]."""
    profile, conditions = profile_of(sheet), steady(temp_c, rh_pct=50.0)
    if sheet.window == POUR_OUT:
        answer = MODEL(Bucket(profile, sheet.kg, 0.28 if sheet.kg > 1.0 else None, temp_c, conditions.air, START))
        assert answer is not None
        starts = START + timedelta(seconds=Bucket(profile, 1.0, None, 20.0, conditions.air, START).mixing_takes_s)
        since = starts if profile.pot_life is not None and profile.pot_life.measured_hot else START
        return (answer.edge.early - since).total_seconds()
    rule = profile.windows[0]
    span = rule.closes if sheet.edge == "closes" else rule.opens
    assert span is not None
    edge = edge_of(sheet.window, span, profile, conditions, START, closing=sheet.edge == "closes").edge
    return ((edge.early if sheet.edge == "closes" else edge.safe_open) - START).total_seconds()


def rows() -> Iterator[tuple[str, str, str, str, str, str]]:
    """Family and window, the sheet's figure, and what is told at its own, 10 colder and 8 warmer."""
    for sheet in SHEETS:
        bucket = f" of {sheet.kg:g} kg" if sheet.kg else ""
        figure = sheet.figure.strip("{} ").replace('"', "").replace(" = ", ": ")
        end = f" ({', '.join(line.split(' = ')[1] for line in sheet.more.splitlines())})" if sheet.more else ""
        told = [write_span(told_s(sheet, sheet.own_c + off_k)) for off_k in (0.0, -10.0, 8.0)]
        yield (
            f"{sheet.family}, {sheet.window}{bucket} {sheet.edge}",
            figure + end.replace('"', ""),
            f"{sheet.own_c:g}",
            *told,
        )  # type: ignore[misc]


def main() -> None:
    """Print the table."""
    head = ("sheet", "its figure", "°C", "told there", "10 °C colder", "8 °C warmer")
    table = [head, *rows()]
    widths = [max(len(row[column]) for row in table) for column in range(len(head))]
    for row in table:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


if __name__ == "__main__":
    main()

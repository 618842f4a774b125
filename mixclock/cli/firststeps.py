"""`mixclock` alone: what to do next, as things stand."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import typer

from mixclock.cli.answering import say_lines

if TYPE_CHECKING:
    from mixclock.wiring import House


def say_first_steps() -> None:
    """Say what to do next."""
    from mixclock.cli.mistaken import one_line_errors
    from mixclock.wiring import house_if_any

    with one_line_errors(), house_if_any(os.environ.get("MIXCLOCK_JOB")) as house:
        say_lines(next_lines(house))
    typer.echo("`mixclock --help` lists every command, `mixclock COMMAND --help` shows one with an example.")


def next_lines(house: House | None) -> list[str]:
    """What to do next, in the order in which it is done."""
    if house is None or house.which.asked() is None:
        return _before_a_job()
    job = house.job()
    standing = house.standing(job)
    if standing.finished is not None:
        return [
            f"Job '{job}' is finished. `mixclock record` writes it down, `mixclock why AREA` explains a fault;",
            "`mixclock job start FILE` begins the next one.",
        ]
    answer = house.snapshot(house.clock.now())
    waiting = [line for batch in answer["batches"] for line in _next_of(batch)]
    if waiting:
        return [f"Job '{job}' is under way. State what happens, the moment it does:", *waiting, *_calling(house)]
    return _between(job, house, bool(standing.batches))


def _before_a_job() -> list[str]:
    from mixclock.outside.profilefiles import listed

    own = any(found.own for found in listed())
    steps = ["See it work, in two minutes:    mixclock rehearse"]
    if not own:
        steps.append("Type in your data sheet:        mixclock profile write")
    steps += [
        "Write a job file:               mixclock job write",
        "See what to buy, who does what: mixclock plan shed.toml",
        "Begin the job:                  mixclock job start shed.toml",
    ]
    return ["No job is under way yet.", *(f"  {place}. {step}" for place, step in enumerate(steps, start=1))]


def _next_of(batch: Mapping[str, Any]) -> list[str]:
    """The statements that come next for each batch in a bucket."""
    where = " and ".join(batch["areas"])
    if batch["stage"] == "mixed":
        return [
            f"  batch {batch['id']} ({where}):  mixclock mixed {batch['id']}   then   mixclock poured {batch['id']}"
        ]
    if batch["stage"] == "standing":
        return [f"  batch {batch['id']} ({where}):  mixclock poured {batch['id']}"]
    return []


def _between(job: str, house: House, begun: bool) -> list[str]:
    site = house.site(job)
    coat, area = site.coats[0], site.areas[0]
    mixing = f'mixclock mixing "{coat.product}" "6 L" --on "{area.name}"'
    first: Sequence[str] = (
        () if begun else ("  read the slab:            mixclock reading --slab '16 °C' --air '18 °C' --rh 60",)
    )
    return [
        f"Job '{job}': nothing is in a bucket.",
        *first,
        f"  when part B goes in:      {mixing}",
        "  how everything stands:    mixclock now",
        *_calling(house),
    ]


def _calling(house: House) -> list[str]:
    from mixclock.watch.oneonly import is_watched

    return [] if is_watched(house.home) else ["Nothing is called out yet: start `mixclock watch` in a second window."]

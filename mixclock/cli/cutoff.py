"""What follows when the process of a command dies before it gives its exit code: nothing is ever stated twice."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.cli import COMMANDS, STATING


def after_a_cut(words: Sequence[str], since_boot_s: float) -> int | None:
    """None where the command is to be run anew: it only asked, or the book has nothing new; else what is known is said.

    Whoever ran it is dead, and the book takes an entry whole or not at all. So what is not in it by now never will be.
    """
    from mixclock.cli.mistaken import at_house
    from mixclock.cli.streams import tell
    from mixclock.job.entry import TOLD_BY_MACHINE

    if COMMANDS[words[0]].module != STATING:
        return None
    with at_house() as house:
        boot = house.clock.boot_id()
        written = [
            entry for line in house.book.all_jobs() for entry in house.book.entries(line.name, skip=TOLD_BY_MACHINE)
        ]
    new = [entry for entry in written if entry.boot_id == boot and (entry.boot_s or 0.0) >= since_boot_s]
    if not new:
        return None
    tell("The answer was cut off. This has come into the book meanwhile; say again only what is missing:", err=True)
    for entry in new:
        tell(f"  {entry.job}, entry {entry.number}: {entry.facts.kind}", err=True)
    return 1

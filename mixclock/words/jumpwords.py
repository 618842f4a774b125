"""The question beside a reading that jumped."""

from __future__ import annotations

from mixclock.job.entry import Entry
from mixclock.job.jumps import Jump, open_jumps
from mixclock.job.progress import Standing
from mixclock.units import write_span


def asked_of(jump: Jump, standing: Standing) -> str:
    """The question, how to answer it, and which reading counts until then."""
    units, place = standing.site.units, f" on {jump.after.area}" if jump.after.area else ""
    was, is_now = units.write_temp(jump.before.value), units.write_temp(jump.after.value)
    passed = write_span(max(60.0, (jump.after.at - jump.before.at).total_seconds()))
    warmer, colder = (is_now, was) if jump.after.value > jump.before.value else (was, is_now)
    answers = "Read it again to confirm it" if not jump.alone else "The next reading went back"
    dew = warmer if jump.what == "air" else colder
    return (
        f"{jump.what}{place} from {was} to {is_now} in {passed}: is that right? {answers}; if it was misread, "
        f"`withdraw {jump.after.entry}`. Until then what closes goes by {warmer}, what opens by {colder}, "
        f"the dew margin by {dew}"
    )


def asked_by(entry: Entry, standing: Standing) -> tuple[str, ...]:
    """What is asked of a reading that was just stated."""
    return tuple(asked_of(jump, standing) for jump in open_jumps(standing) if jump.after.entry == entry.number)

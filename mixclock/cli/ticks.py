"""The trade facts that can be ticked."""

from __future__ import annotations

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.options import AsJson


def ticks(as_json: AsJson = False) -> None:
    """List the facts to tick with `noted`. Only these count in `why` and in a claim."""
    from mixclock.words.ticklist import tick_lines, tick_rows

    if as_json:
        print_json(tick_rows())
    else:
        say_lines(tick_lines())

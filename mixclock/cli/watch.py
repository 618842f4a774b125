"""`mixclock watch`: the alarm clock, in the foreground."""

from __future__ import annotations

from typing import Annotated

import typer

Quiet = Annotated[
    str | None, typer.Option("--quiet", metavar="HOURS", help="No sound in these hours, such as 22:00-06:00.")
]
NoSound = Annotated[bool, typer.Option("--no-sound", help="Neither sound nor voice.")]


def watch(
    quiet: Quiet = None,
    no_sound: NoSound = False,
    plain: Annotated[bool, typer.Option("--plain", help="Lines instead of a board that redraws itself.")] = False,
) -> None:
    """Watch the job: call out every deadline until it is stated, heard or lost. Ctrl-C ends it."""
    from mixclock.cli.mistaken import one_line_errors
    from mixclock.watch.running import run
    from mixclock.watch.screen import say, screen_for
    from mixclock.watch.setup import daemon_for, wanted_channels
    from mixclock.wiring import open_house

    with one_line_errors(), open_house() as house:
        wanted = wanted_channels(house, quiet, sound=not no_sound)
        daemon = daemon_for(house, wanted, say)
        screen = screen_for(plain, house.clock)

        def begun() -> None:
            for line in greeting(house.book.current_job(), wanted.quiet is not None, daemon.awake_words):
                say(line)

        run(daemon, house.home, screen, begun)
    say("mixclock has stopped watching: nothing is called out any more.")


def greeting(job: str | None, is_quiet: bool, awake_words: str) -> list[str]:
    """What the daemon says when it has begun."""
    lines = [f"mixclock watches '{job}'." if job else "mixclock watches; no job is under way yet."]
    if is_quiet:
        lines.append("In quiet hours only a bucket that runs hot sounds; everything else is shown and not heard.")
    if awake_words:
        lines.append(f"{awake_words[:1].upper()}{awake_words[1:]}.")
    return lines

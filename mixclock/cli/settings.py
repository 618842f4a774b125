"""What holds on this machine for every job."""

from __future__ import annotations

from typing import Any

import typer

from mixclock.cli.answering import print_json
from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import AsJson


def settings(as_json: AsJson = False) -> None:
    """Make the settings file, or check it and show which settings are in force. Every line in it is optional."""
    from mixclock.outside.home import home
    from mixclock.outside.settings import KEYS, NAME, make_settings, read_settings

    with one_line_errors():
        path = home() / NAME
        made = make_settings(home())
        found = read_settings(home())
        if as_json:
            values = {key.place: {"value": found.get(key.place), "chosen": key.place in found.found} for key in KEYS}
            print_json({"file": str(path), "made": made, "settings": values})
            return
        typer.echo(f"Settings: {path}" + ("  (made now: take the # away from the lines that you want)" if made else ""))
        for key in KEYS:
            chosen = key.place in found.found
            held = _shown(found.get(key.place)) if chosen else f"{key.usual_says}  (not set)"
            typer.echo(f"{key.place + ':':<20}{held}")
        typer.echo("Settings of the crew hold for jobs that begin from now on. The others hold from the next watch on.")


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        # an address of a phone holds its password
        return ", ".join(name if "://" in str(each) else f"{name} {each}" for name, each in value.items())
    return ", ".join(value) if isinstance(value, tuple) else str(value)

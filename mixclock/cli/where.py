"""Where the files are."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer

from mixclock.cli.answering import print_json
from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import AsJson


def where(as_json: AsJson = False) -> None:
    """List every folder and file that mixclock uses, and how to take it off this machine."""

    with one_line_errors():
        places = _places()
        if as_json:
            print_json({name: {"path": str(path), "there": path.exists()} for name, path, _ in places})
            return
        for name, path, says in places:
            typer.echo(f"{name + ':':<10}{path}{'' if path.exists() else '  (not there yet)'}")
            typer.echo(f"{'':<10}{says}")
        typer.echo("To take mixclock off this machine: `mixclock watch --uninstall` if it is a service, then")
        typer.echo("`pip uninstall mixclock`, then delete the home. The book is your record: keep a copy of it.")


def _places() -> list[tuple[str, Path, str]]:
    from mixclock.outside.foldedlogs import folds_folder
    from mixclock.outside.home import HOME_VARIABLE, home, profiles_home
    from mixclock.outside.profilefiles import shipped_folder
    from mixclock.outside.service import here
    from mixclock.outside.settings import NAME
    from mixclock.wiring import BOOK_NAME

    service: Any = here(home())
    return [
        ("home", home(), f"everything of yours; {HOME_VARIABLE} names another folder"),
        ("book", home() / BOOK_NAME, "all jobs with every statement; its -wal and -shm files belong to it"),
        ("folds", folds_folder(home() / BOOK_NAME), "what long jobs came to, for a quick answer; may be deleted"),
        ("profiles", profiles_home(), "your products, one file each; half-written ones in drafts"),
        ("shipped", shipped_folder(), "products that come with mixclock; their figures are invented, for trying out"),
        (
            "settings",
            home() / NAME,
            "units, crew, channels, phones; `mixclock settings` makes and checks it",
        ),
        ("service", service.file, "only where `mixclock watch --install` made it"),
    ]

"""The manual: a page for each command and one for `man`, made of the commands themselves, so that no page is stale."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from mixclock.cli.answering import say_lines, write_file
from mixclock.cli.mistaken import one_line_errors
from mixclock.values import dataclass

SHAPES_PAGE, OFFICE_PAGE = "json", "office"


@dataclass(frozen=True)
class ManualPage:
    """What a page tells of one command."""

    name: str
    moment: str
    says: str
    usage: str
    arguments: tuple[tuple[str, str], ...]
    options: tuple[tuple[str, str], ...]
    example: str


def manual(
    command: Annotated[
        list[str] | None, typer.Argument(metavar="[COMMAND]", help="The command, such as plan or job start.")
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="Write every page there, and mixclock.1 for man.")
    ] = None,
) -> None:
    """Show the manual page of a command, or list the pages. With --to it writes all of them as files."""
    from mixclock.job.mistakes import did_you_mean
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.bookviews import office_page

    with one_line_errors():
        pages = {page.name: page for page in manual_pages()}
        if to is not None:
            _write(to, pages.values())
            return
        if not command:
            typer.echo(f"{SHAPES_PAGE:<22}What every answer in JSON holds, by its keys.")
            typer.echo(f"{OFFICE_PAGE:<22}An office's five questions worked out in SQL, and what the columns mean.")
            for page in pages.values():
                typer.echo(f"{page.name:<22}{page.says.partition('. ')[0].removesuffix('.')}.")
            return
        name = " ".join(command)
        if name == SHAPES_PAGE:
            say_lines(shape_lines())
            return
        if name == OFFICE_PAGE:
            say_lines(office_page().splitlines())
            return
        if name not in pages:
            raise CannotTellError(f"there is no page '{name}'; {did_you_mean(name, (*pages, OFFICE_PAGE))}")
        typer.echo(as_markdown(pages[name]))


def shape_lines() -> list[str]:
    """What every answer in JSON holds: a line for each key, `[]` for each of a list, `{name}` for a name of yours."""
    import json
    from importlib import resources

    told = json.loads((resources.files("mixclock.words") / "jsonshapes.json").read_text(encoding="utf-8"))
    lines = [
        f"Version {told['version']}: it goes up when a key goes or changes its meaning. New keys may come any time."
    ]
    for command, shape in told["shapes"].items():
        lines += ["", f"{command}:", *(f"  {place}: {kind}" for place, kind in shape.items())]
    return lines


def manual_pages() -> tuple[ManualPage, ...]:
    """A page for every command, in the order of a job."""
    from mixclock.cli import COMMANDS, GROUPS, MOMENTS
    from mixclock.cli.bytyper import all_commands

    entries = {**COMMANDS, **GROUPS}
    found = dict(all_commands())
    ordered = sorted(entries, key=lambda name: MOMENTS.index(entries[name].moment))
    return tuple(
        _page(path, command, entries[name].moment, entries[name].example)
        for name in ordered
        for path, command in _leaves(name, found[name])
    )


def _leaves(name: str, command: Any) -> Iterator[tuple[str, Any]]:
    below = getattr(command, "commands", None)
    if below is None:
        yield name, command
        return
    for part, each in below.items():
        yield from _leaves(f"{name} {part}", each)


def _page(name: str, command: Any, moment: str, example: str) -> ManualPage:
    context = command.context_class(command, info_name=f"mixclock {name}")
    arguments, options = [], []
    for parameter in command.get_params(context):
        told = parameter.get_help_record(context)
        if told is not None and parameter.param_type_name == "argument":
            arguments.append(_plain(told))
        elif told is not None:
            options.append(_plain(told))
        elif parameter.param_type_name == "argument":
            arguments.append(_plain((parameter.make_metavar(context), getattr(parameter, "help", "") or "")))
    usage = " ".join(command.get_usage(context).removeprefix("Usage:").split())
    own = example if example.split()[: len(name.split())] == name.split() else ""
    return ManualPage(
        name, moment, " ".join((command.help or "").split()), usage, tuple(arguments), tuple(options), own
    )


def _plain(told: tuple[str, str]) -> tuple[str, str]:
    return " ".join(told[0].split()), " ".join(told[1].split())


def as_markdown(page: ManualPage) -> str:
    """A page as Markdown."""
    lines = [f"# mixclock {page.name}", "", page.says, "", "```", page.usage, "```"]
    for title, rows in (("Arguments", page.arguments), ("Options", page.options)):
        if rows:
            lines += ["", f"## {title}", "", *(f"- `{name}`: {says}" for name, says in rows)]
    if page.example:
        lines += ["", "## For example", "", "```", f"mixclock {page.example}", "```"]
    return "\n".join([*lines, "", f"When: {page.moment.lower()}."])


def as_man(pages: Iterable[ManualPage], version: str) -> str:
    """All pages as one for `man` (man(7))."""
    lines = [
        f'.TH MIXCLOCK 1 "" "mixclock {version}" "User commands"',
        ".SH NAME",
        r"mixclock \- deadlines that are true for this bucket and this slab",
        ".SH SYNOPSIS",
        ".B mixclock",
        ".I COMMAND",
        "[\\fIarguments\\fR]",
        ".SH DESCRIPTION",
        r"Without a command, \fBmixclock\fR says what to do next.",
        ".SH COMMANDS",
    ]
    for page in pages:
        lines += [f".SS {_roff(page.name)}", f"\\fB{_roff(page.usage)}\\fR", ".PP", _roff(page.says)]
        for name, says in (*page.arguments, *page.options):
            lines += [".TP", f"\\fB{_roff(name)}\\fR", _roff(says)]
        if page.example:
            lines += [".PP", "For example:", ".PP", f"\\fBmixclock {_roff(page.example)}\\fR"]
    lines += [
        ".SH ENVIRONMENT",
        ".TP",
        ".B MIXCLOCK_HOME",
        "The folder of the book, the profiles and the settings.",
        ".TP",
        ".B MIXCLOCK_JOB",
        "The job that is meant where several are under way.",
        ".SH EXIT STATUS",
        "0: done. 1: the answer is no. 2: the input is wrong, and nothing was changed. 130: stopped by Ctrl-C.",
    ]
    return "\n".join(lines) + "\n"


def _roff(text: str) -> str:
    """A text in which `man` takes no letter for a command of its own."""
    plain = text.replace("\\", r"\(rs").replace("-", r"\-").replace("'", r"\(aq")
    return rf"\&{plain}" if plain.startswith(".") else plain


def _write(folder: Path, pages: Iterable[ManualPage]) -> None:
    from mixclock import __version__
    from mixclock.outside.bookviews import office_page

    pages = tuple(pages)
    texts = {f"{page.name.replace(' ', '-')}.md": as_markdown(page) + "\n" for page in pages}
    for name, text in {
        **texts,
        f"{OFFICE_PAGE}.md": office_page() + "\n",
        "mixclock.1": as_man(pages, __version__),
    }.items():
        write_file(folder / name, text, "name another folder with --to")
    typer.echo(f"{folder}: {len(pages)} pages, and mixclock.1 (`man {folder / 'mixclock.1'}`)")

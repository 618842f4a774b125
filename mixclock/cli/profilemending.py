"""A finished product, opened again for one figure; and the line that every talk about a sheet is typed on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from mixclock.cli.answering import say_lines

if TYPE_CHECKING:
    from mixclock.job.profile import Profile
    from mixclock.outside.profiledrafts import ProfileDraft
    from mixclock.outside.profilefiles import FoundProfile
    from mixclock.words.sheettalk import Talk

T = TypeVar("T")
Prompt = Callable[[T], Iterable[str]]
Hear = Callable[[T, str], tuple[T, Iterable[str]]]

NOT_TEXT = "That could not be read as text; type it again."
KEPT = (
    "Kept as {path}. A job that has not mixed this product yet goes by it; one that has mixed it keeps its old sheet."
)


def finished_product(name: str) -> FoundProfile | None:
    """The product of that name where it is written already, and no draft of that name waits to be gone on with."""
    from mixclock.job.mistakes import plain_name
    from mixclock.outside.profiledrafts import drafts
    from mixclock.outside.profilefiles import find, names

    wanted = plain_name(name)
    begun = wanted in (draft.name.casefold() for draft in drafts())
    return None if begun or wanted not in map(str.casefold, names()) else find(name)


def mend(found: FoundProfile) -> None:
    """Ask which figure of a finished product, put the new one in its place, and keep all else as it was written."""
    from mixclock.outside.profilefiles import own_path, save
    from mixclock.words.mendtalk import MendTalk, hear_mending, mend_prompt
    from mixclock.words.sheettalk import TalkState

    name = found.profile.name
    typer.echo(f"{name} is finished: {found.origin}")
    if own_path(name) is None:
        typer.echo("It came with mixclock: your change makes a product of your own with the same name.")
    talk = MendTalk(found.text)
    while talk.state is TalkState.ASKING:
        talk = asked_once(talk, mend_prompt, hear_mending)
    if talk.state is TalkState.LEFT or not talk.mended:
        typer.echo("Left as it was.")
        return
    path = save(talk.text)
    typer.echo(KEPT.format(path=path))
    say_what_is_left_out(path)


def asked_once(talk: T, prompt: Prompt[T], hear: Hear[T]) -> T:
    """Ask, hear what is typed, and say what came of it. A line that is no text leaves the talk as it was."""
    from mixclock.words.sheettalk import LATER

    say_lines(prompt(talk))
    typed = typed_line(LATER)
    after, said = (talk, (NOT_TEXT,)) if typed is None else hear(talk, typed)
    say_lines(said)
    return after


def one_answer(
    talk: Talk, draft: ProfileDraft | None, prompt: Prompt[Talk], hear: Hear[Talk], path_for: Callable[[str], Path]
) -> tuple[Talk, ProfileDraft | None]:
    """Ask, hear, and keep what was heard before the next question; `path_for` says where, by the name so far."""
    from mixclock.outside.profiledrafts import ProfileDraft, keep

    after = asked_once(talk, prompt, hear)
    if after.answers and (after.answers != talk.answers or after.at != talk.at):
        draft = ProfileDraft(draft.path if draft else path_for(after.answers.get("name", "")), after.answers, after.at)
        keep(draft)
    return after, draft


def draft_meant(kept: Sequence[ProfileDraft], is_named: bool, names: Iterable[str], how: str) -> ProfileDraft | None:
    """The draft to go on with: the named one, or the only one. Where there are several, it says their `names`."""
    if kept and (is_named or len(kept) == 1):
        typer.echo(f"Going on with {kept[0].name}, {_answers(kept[0])} so far.")
        return kept[0]
    if kept:
        typer.echo("Drafts: " + "; ".join(names))
        typer.echo(f"`{how}` goes on with one of them. This begins a new one.")
    return None


def say_goodbye(draft: ProfileDraft | None, how: str) -> None:
    """Say what is kept of a talk that somebody left."""
    if draft is None:
        typer.echo("Nothing was answered, nothing is kept.")
        return
    kept = "is" if len(draft.answers) == 1 else "are"
    typer.echo(f"Left; {_answers(draft)} {kept} kept. `{how}` goes on.")


def _answers(draft: ProfileDraft) -> str:
    return "1 answer" if len(draft.answers) == 1 else f"{len(draft.answers)} answers"


def typed_line(at_the_end: str) -> str | None:
    """A line as it was typed; None where it cannot be read as text, `at_the_end` where nobody types any more."""
    try:
        return input("> ")
    except (EOFError, KeyboardInterrupt):
        typer.echo("")
        return at_the_end
    except UnicodeDecodeError:
        return None


def say_what_is_left_out(path: Path) -> None:
    """What the profile leaves to be assumed, what it does not answer, and what in it is doubtful."""
    from mixclock.outside.profilefiles import read

    profile = read(path).profile
    say_lines(left_out_lines(left_out(profile)))


def left_out(profile: Profile) -> dict[str, list[str]]:
    """What is assumed where a sheet says nothing, what cannot be answered then, and what is doubtful."""
    from mixclock.job.assumptions import assumptions, doubts, not_answered

    return {"assumed": assumptions(profile), "not_answered": not_answered(profile), "doubtful": doubts(profile)}


def left_out_lines(told: Mapping[str, Sequence[str]]) -> list[str]:
    """Each heading with its lines under it; nothing where there are none."""
    headed = ((name.replace("_", " ").capitalize(), lines) for name, lines in told.items() if lines)
    return [line for heading, lines in headed for line in (f"{heading}:", *(f"  {each}" for each in lines))]

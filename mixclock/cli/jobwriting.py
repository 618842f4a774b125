"""`mixclock job write`: a job file question by question; it can be left, gone on with, and opened for one answer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from mixclock.cli.answering import write_file

if TYPE_CHECKING:
    from mixclock.outside.profiledrafts import ProfileDraft
    from mixclock.words.sheettalk import Talk

HELLO = "It asks question by question. Enter leaves one out; back, later and ? always work."


def write_job(file: Path | None) -> None:
    """Write a job file, go on with a draft of one, or open a written one for one answer."""
    if file is not None and file.exists():
        _mend(file)
        return
    from mixclock.cli.profilemending import one_answer, say_goodbye
    from mixclock.job.jobquestions import job_text
    from mixclock.outside.profiledrafts import drop, job_drafts_home
    from mixclock.outside.profilefiles import stem_of
    from mixclock.words.jobtalk import job_prompt
    from mixclock.words.sheettalk import TalkState

    def path_for(name: str) -> Path:
        return job_drafts_home() / f"{stem_of(file.stem if file is not None else name, 'job')}.json"

    talk, draft = _begun(file)
    typer.echo(HELLO)
    while talk.state is TalkState.ASKING:
        talk, draft = one_answer(talk, draft, job_prompt, _heard, path_for)
    if talk.state is TalkState.LEFT:
        say_goodbye(draft, f"mixclock job write {draft.path.stem if draft else ''}.toml")
        return
    path = file or _free_path(talk.answers["name"])
    write_file(path, job_text(talk.answers))
    if draft is not None:
        drop(draft)
    typer.echo(f"Kept as {path}.")
    _say_next(path)


def _heard(talk: Talk, line: str) -> tuple[Talk, list[str]]:
    """The talk after a line was typed. A product without a sheet is reported at once and kept: its sheet may follow."""
    from mixclock.outside.jobs import products_missing
    from mixclock.words.jobtalk import hear_job

    heard, said = hear_job(talk, line)
    named = [
        answer
        for path, answer in heard.answers.items()
        if path.endswith(".product") and talk.answers.get(path) != answer
    ]
    return heard, [*said, *(f"Look out: {missing}" for missing in products_missing(named))]


def _free_path(name: str) -> Path:
    """A new file in the current folder; its number goes up, so that no file is overwritten."""
    from mixclock.outside.profilefiles import stem_of

    stem = stem_of(name, "job")
    paths = (Path(f"{stem}{f'-{number}' if number > 1 else ''}.toml") for number in range(1, 1000))
    return next(path for path in paths if not path.exists())


def _begun(file: Path | None) -> tuple[Talk, ProfileDraft | None]:
    """The talk as it was left, or a new one."""
    from mixclock.cli.profilemending import draft_meant
    from mixclock.outside.profiledrafts import drafts, job_drafts_home
    from mixclock.outside.profilefiles import stem_of
    from mixclock.words.sheettalk import Talk

    kept = drafts(job_drafts_home())
    wanted = [draft for draft in kept if file is None or draft.path.stem == stem_of(file.stem, "job")]
    names = [f"{draft.name} ({draft.path.stem}.toml)" for draft in wanted]
    draft = draft_meant(wanted, file is not None, names, "mixclock job write FILE")
    return (Talk(draft.answers, draft.at) if draft else Talk()), draft


def _mend(file: Path) -> None:
    """Open a written job file for one answer after another."""
    from mixclock.cli.profilemending import asked_once
    from mixclock.job.jobquestions import answers_of, check_job
    from mixclock.outside.profilefiles import text_of
    from mixclock.words.jobtalk import JobMending, hear_job_mending, mending_prompt
    from mixclock.words.sheettalk import TalkState

    text = text_of(file)
    check_job(text)
    talk = JobMending(text, answers_of(text))
    while talk.state is TalkState.ASKING:
        talk = asked_once(talk, mending_prompt, hear_job_mending)
    if not talk.mended:
        typer.echo("Left as it was.")
        return
    write_file(file, talk.text)
    typer.echo(f"Kept as {file}. A job that has begun goes by it after `mixclock job mend {file}`.")
    _say_next(file)


def _say_next(file: Path) -> None:
    """What the crew can do next with the written job file."""
    from mixclock.job.sitereading import read_site
    from mixclock.outside.jobs import products_missing
    from mixclock.outside.jobtexts import job_text_of

    site = read_site(job_text_of(file))
    typer.echo("Next:")
    for line in products_missing(site.products):
        typer.echo(f"  {line}")
    if not site.forecast:
        typer.echo("  the weather that is expected:  mixclock forecast, once the job has begun")
    typer.echo(f"  what to buy, who does what:    mixclock plan {file}")
    typer.echo(f"  on the day:                    mixclock job start {file}")
    typer.echo(f"  another answer:                mixclock job write {file}")

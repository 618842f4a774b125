"""The talk in which a job file is typed in: what is asked, and what follows from each line that is answered.

It is a pure step from one state to the next, so it can be left after any line and gone on with later.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from mixclock.job.jobquestions import (
    JobQuestion,
    check_job,
    job_text,
    mistakes_about,
    mistakes_in,
    place_of,
    question_at,
    questions,
    with_another,
    with_answer,
)
from mixclock.job.mistakes import Mistake, Mistakes
from mixclock.values import dataclass, field, replace
from mixclock.words import sheettalk
from mixclock.words.sheettalk import BACK, CLEAR, KEEP, LATER, Step, Talk, TalkState

WHICH = "Which one? A word of it or its number; list shows them; enter when all is right."
SHOW_ALL = frozenset(
    {"list", "show", "all", "show all", "list all", "show list", "the list", "everything", "?", "help"}
)
SHOW_OPEN = frozenset({"left", "open", "missing", "not answered", "unanswered", "what is left", "what is missing"})
"""Words with which somebody asks to see all questions, or those without an answer."""

HOW = "Type what it says, with its unit. back: one question back; later: leave, it is kept; - takes an answer out."


def job_prompt(talk: Talk) -> list[str]:
    """What is shown before an answer is awaited."""
    if talk.at == KEEP:
        return [sheettalk.EVERYTHING]
    question = question_at(talk.at, talk.answers)
    lines = [question.asks, f"    {question.helps}"]
    now = talk.answers.get(question.path)
    return [*lines, sheettalk.NOW.format(now)] if now else lines


def hear_job(talk: Talk, line: str) -> Step:
    """The talk after a line was typed, and what is said to it."""
    return sheettalk.heard(talk, line, HOW, _back, _keep, _answered)


def _answered(talk: Talk, typed: str) -> Step:
    question = question_at(talk.at, talk.answers)
    now = talk.answers.get(question.path, "")
    answers = {key: answer for key, answer in talk.answers.items() if key != question.path}
    if typed != CLEAR and (typed or now):
        answers[question.path] = typed or now
        wrong = mistakes_in(question, answers)
        if wrong:
            return talk, wrong
    elif question.required:
        return talk, [f"This is needed, for example: {question.helps}."]
    elif question.ends_its_group:
        answers = _without_rest(question, answers)
    return _next(replace(talk, answers=answers), question), []


def _without_rest(question: JobQuestion, answers: Mapping[str, str]) -> dict[str, str]:
    """The answers without those that stand after the end of a group."""
    gone = f"{question.table}."
    return {
        key: answer
        for key, answer in answers.items()
        if not (key.startswith(gone) and key.count(".") == 2 and int(key.split(".")[1]) >= question.number)
    }


def _next(talk: Talk, question: JobQuestion) -> Talk:
    paths = [each.path for each in questions(talk.answers)]
    place = paths.index(question.path) + 1
    return replace(talk, at=paths[place] if place < len(paths) else KEEP)


def _back(talk: Talk) -> Step:
    paths = [each.path for each in questions(talk.answers)]
    place = len(paths) if talk.at == KEEP else paths.index(question_at(talk.at, talk.answers).path)
    return sheettalk.back_to(talk, paths[:place])


def _keep(talk: Talk, typed: str) -> Step:
    meant: Callable[[Mistake], str | None] = lambda mistake: _path_of(mistake.where, talk.answers)  # noqa: E731
    return sheettalk.kept(talk, typed, lambda: check_job(job_text(talk.answers)), meant)


def _path_of(where: str, answers: Mapping[str, str]) -> str | None:
    """The question that a mistake of the whole file is about."""
    for each in questions(answers):
        if where in (each.path, place_of(each, answers)) or (each.table == where and each.number == 1):
            return each.path
    return None


@dataclass(frozen=True)
class JobMending:
    """A written job file that is opened for one answer after another; `asking` is the one that is awaited, `adding`
    what is said of one area, person, vessel or coat more."""

    text: str
    answers: Mapping[str, str]
    asking: JobQuestion | None = None
    mended: bool = False
    state: TalkState = TalkState.ASKING
    adding: Mapping[str, str] = field(default_factory=dict)
    shown: tuple[int, ...] = ()
    """The numbers of the answers that somebody asked to see."""


def mending_prompt(talk: JobMending) -> list[str]:
    """How many answers there are and which one is meant, after those that somebody asked to see; or the one
    question."""
    if talk.asking is not None:
        now = talk.answers.get(talk.asking.path, "not said")
        return [talk.asking.asks, f"    {talk.asking.helps}", f"    now: {now}"]
    every = questions(talk.answers)
    rows = ((number, every[number - 1]) for number in talk.shown)
    open_ones = len(_not_answered(talk))
    left = f", {open_ones} of them not answered" if open_ones else ""
    return [
        *(f"{number:>3}  {each.asks}  {talk.answers.get(each.path, '-')}" for number, each in rows),
        f"{len(every)} questions{left}. {WHICH}",
    ]


def _not_answered(talk: JobMending) -> tuple[int, ...]:
    """The numbers of the questions that the file leaves open; one area or person more is none of them."""
    every = enumerate(questions(talk.answers), start=1)
    return tuple(number for number, each in every if each.path not in talk.answers and not each.ends_its_group)


def hear_job_mending(talk: JobMending, line: str) -> tuple[JobMending, list[str]]:
    """The talk after a line was typed, and what is said to it."""
    typed = line.strip()
    if talk.asking is not None:
        another = talk.adding or (talk.asking.ends_its_group and talk.asking.path not in talk.answers)
        return (_added if another else _mended)(talk, talk.asking, typed)
    if not typed or typed.casefold() == LATER:
        return replace(talk, state=TalkState.DONE), []
    return _chosen(replace(talk, shown=()), typed)


def _chosen(talk: JobMending, typed: str) -> tuple[JobMending, list[str]]:
    """The question that a number or some words mean; the list of those that they may mean, or of all."""
    every, plain = questions(talk.answers), typed.casefold()
    if typed.isdecimal():
        if not 1 <= int(typed) <= len(every):
            return talk, [f"Type a number from 1 to {len(every)}, a word, list, or enter to leave."]
        return replace(talk, asking=every[int(typed) - 1]), []
    found = _meant(talk, every, plain)
    if not found:
        return talk, [f"Nothing here goes by '{typed}'; list shows all."]
    if len(found) == 1 and plain not in SHOW_OPEN:
        return replace(talk, asking=every[found[0] - 1]), []
    return replace(talk, shown=found), []


def _meant(talk: JobMending, every: Sequence[JobQuestion], plain: str) -> tuple[int, ...]:
    """The numbers of the questions that some words ask to see, or that have every one of these words."""
    if plain in SHOW_ALL:
        return tuple(range(1, len(every) + 1))
    if plain in SHOW_OPEN:
        return _not_answered(talk)
    words = plain.replace("-", " ").split()
    return tuple(number for number, each in enumerate(every, 1) if all(word in _spoken(talk, each) for word in words))


def _spoken(talk: JobMending, question: JobQuestion) -> str:
    said = f"{question.asks} {question.key} {talk.answers.get(question.path, '')}"
    return said.casefold().replace("-", " ").replace("_", " ")


def _added(talk: JobMending, question: JobQuestion, typed: str) -> tuple[JobMending, list[str]]:
    """One of a group more: all that is asked of it, one question after the other, and then the file with it."""
    if typed.casefold() in (BACK, LATER) or (not typed and question.ends_its_group):
        return replace(talk, asking=None, adding={}), ["Left as it was."]
    if not typed and question.required:
        return talk, [f"This is needed, for example: {question.helps}."]
    adding = {**talk.adding, **({question.path: typed} if typed else {})}
    text = with_another(talk.text, question.table, question.number, adding)
    answers = {**talk.answers, **adding}
    wrong = mistakes_about(question, text, answers) if typed else []
    if wrong:
        return talk, wrong
    asked = [each for each in questions(answers) if (each.table, each.number) == (question.table, question.number)]
    left = asked[[each.path for each in asked].index(question.path) + 1 :]
    if left:
        return replace(talk, adding=adding, asking=left[0]), []
    try:
        check_job(text)
    except Mistakes as mistakes:
        return replace(talk, asking=None, adding={}), [*(str(mistake) for mistake in mistakes.found), "Left as it was."]
    return JobMending(text, answers, None, True), [f"Added: {adding[asked[0].path]}."]


def _mended(talk: JobMending, question: JobQuestion, typed: str) -> tuple[JobMending, list[str]]:
    if not typed or typed.casefold() in (BACK, LATER):
        return replace(talk, asking=None), ["Left as it was."]
    text, answers = with_answer(talk.text, question, typed), {**talk.answers, question.path: typed}
    wrong = mistakes_about(question, text, answers)
    if not wrong:
        try:
            check_job(text)
        except Mistakes as mistakes:
            wrong = [str(mistake) for mistake in mistakes.found]
    if wrong:
        return talk, wrong
    if typed == CLEAR:
        del answers[question.path]
    before, now = (answer.get(question.path, "not said") for answer in (talk.answers, answers))
    return JobMending(text, answers, None, True), [f"Changed: {question.asks} {now} (before: {before})"]

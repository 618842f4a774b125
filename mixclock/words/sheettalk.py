"""The talk in which a profile is typed in: what is asked, and what follows from each line that is answered.

It is a pure step from one state to the next, so it can be left after any line and gone on with later.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType

from mixclock.job.mistakes import Mistake, Mistakes
from mixclock.job.profilereading import read_profile
from mixclock.job.sheetquestions import QUESTIONS, Question, asked, mistakes_in, profile_text, question_for
from mixclock.values import dataclass, field, replace
from mixclock.words.sheetwords import understood

BACK, LATER, HELP, CLEAR = "back", "later", "?", "-"
EVERYTHING = "That is everything. Keep it? yes, back or later"
NOW = "    now: {} (enter keeps it, - takes it out)"
FIRST = QUESTIONS[0].key
KEEP = "keep"
"""Where the talk stands when every question was asked: shall it be kept?"""


class TalkState(StrEnum):
    """Whether the talk goes on."""

    ASKING = "asking"
    LEFT = "left"
    DONE = "done"


@dataclass(frozen=True)
class Talk:
    """The answers so far, and the question that is asked next."""

    answers: Mapping[str, str] = field(default_factory=dict)
    at: str = FIRST
    state: TalkState = TalkState.ASKING


Step = tuple[Talk, list[str]]
"""A talk after a line was typed, and what is said to it."""

_Hear = Callable[[Talk, str], Step]


def prompt(talk: Talk) -> list[str]:
    """What is shown before an answer is awaited."""
    if talk.at == KEEP:
        return [EVERYTHING]
    questions = asked(talk.answers)
    question = _question(talk)
    number = 1 + next((place for place, other in enumerate(questions) if other.key == question.key), 0)
    lines = [f"{number} of {len(questions)}  {question.asks}", f"    {question.helps}"]
    now = talk.answers.get(question.key)
    if now:
        lines.append(NOW.format(now))
    elif not question.required(talk.answers):
        lines.append("    enter if the sheet doesn't say")
    return lines


def hear(talk: Talk, line: str) -> Step:
    """The talk after a line was typed, and what is said to it."""
    how = "Type the figure with its unit. back: one question back; later: leave, it is kept; - takes it out."
    return heard(talk, line, how, _back, _keep, _answered)


def heard(talk: Talk, line: str, how: str, back: Callable[[Talk], Step], keep: _Hear, answered: _Hear) -> Step:
    """What a line means in any talk of questions: leave, help, one back, whether it is kept, or an answer."""
    typed = line.strip()
    if typed.casefold() == LATER:
        return replace(talk, state=TalkState.LEFT), []
    if typed.casefold() == BACK:
        return back(talk)
    if typed == HELP:
        return talk, [how]
    return (keep if talk.at == KEEP else answered)(talk, typed)


def back_to(talk: Talk, before: Sequence[str]) -> Step:
    """The last of the questions before this one."""
    return (replace(talk, at=before[-1]), []) if before else (talk, ["This is the first question."])


def kept(talk: Talk, typed: str, check: Callable[[], object], meant: Callable[[Mistake], str | None]) -> Step:
    """End the talk where all answers agree. Else go back to the first question that a mistake is `meant` for."""
    if typed.casefold() not in ("yes", "y"):
        return talk, ["Say yes to keep it, back to change something, later to leave it as a draft."]
    try:
        check()
    except Mistakes as mistakes:
        at = next((at for mistake in mistakes.found if (at := meant(mistake))), FIRST)
        return replace(talk, at=at), ["Not yet:", *(str(mistake) for mistake in mistakes.found)]
    return replace(talk, state=TalkState.DONE), []


def _answered(talk: Talk, typed: str) -> Step:
    question = _question(talk)
    now = talk.answers.get(question.key, "")
    answers = {key: answer for key, answer in talk.answers.items() if key != question.key}
    if typed != CLEAR and (typed or now):
        answers[question.key] = typed or now
    elif question.required(answers):
        return talk, [f"This is needed: {question.helps}."]
    if question.key not in answers:
        return _next(replace(talk, answers=MappingProxyType(answers))), []
    wrong = mistakes_in(question, answers)
    if wrong:
        return talk, wrong
    said = understood(question, answers[question.key])
    return _next(replace(talk, answers=MappingProxyType(answers))), [f"    understood: {said}"] if said else []


def _next(talk: Talk) -> Talk:
    keys = [question.key for question in QUESTIONS]
    needed = {question.key for question in asked(talk.answers)}
    following = (key for key in keys[keys.index(talk.at) + 1 :] if key in needed)
    return replace(talk, at=next(following, KEEP))


def _back(talk: Talk) -> Step:
    before = [question.key for question in asked(talk.answers)]
    if talk.at != KEEP:
        order = [question.key for question in QUESTIONS]
        before = [key for key in before if order.index(key) < order.index(talk.at)]
    return back_to(talk, before)


def _keep(talk: Talk, typed: str) -> Step:
    def meant(mistake: Mistake) -> str | None:
        question = question_for(mistake.where, talk.answers)
        return question.key if question else None

    return kept(talk, typed, lambda: read_profile(profile_text(talk.answers)), meant)


def _question(talk: Talk) -> Question:
    return next((question for question in QUESTIONS if question.key == talk.at), QUESTIONS[0])

"""The talk in which a profile is typed in: what is asked, and what follows from each line that is answered.

It is a pure step from one state to the next, so it can be left after any line and gone on with later.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from mixclock.job.mistakes import Mistakes
from mixclock.job.profilereading import read_profile
from mixclock.job.sheetquestions import QUESTIONS, Question, asked, mistakes_in, profile_text, question_for
from mixclock.values import dataclass, field, replace
from mixclock.words.sheetwords import understood

BACK, LATER, HELP, CLEAR = "back", "later", "?", "-"
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


def prompt(talk: Talk) -> list[str]:
    """What is shown before an answer is awaited."""
    if talk.at == KEEP:
        return ["That is everything. Keep it? yes, back or later"]
    questions = asked(talk.answers)
    question = _question(talk)
    number = 1 + next((place for place, other in enumerate(questions) if other.key == question.key), 0)
    lines = [f"{number} of {len(questions)}  {question.asks}", f"    {question.helps}"]
    now = talk.answers.get(question.key)
    if now:
        lines.append(f"    now: {now} (enter keeps it, - takes it out)")
    elif not question.required(talk.answers):
        lines.append("    enter if the sheet doesn't say")
    return lines


def hear(talk: Talk, line: str) -> tuple[Talk, list[str]]:
    """The talk after a line was typed, and what is said to it."""
    typed = line.strip()
    if typed.casefold() == LATER:
        return replace(talk, state=TalkState.LEFT), []
    if typed.casefold() == BACK:
        return _back(talk)
    if typed == HELP:
        return talk, [
            "Type the figure with its unit. back: one question back; later: leave, it is kept; - takes it out."
        ]
    if talk.at == KEEP:
        return _keep(talk, typed)
    return _answered(talk, typed)


def _answered(talk: Talk, typed: str) -> tuple[Talk, list[str]]:
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


def _back(talk: Talk) -> tuple[Talk, list[str]]:
    before = [question.key for question in asked(talk.answers)]
    if talk.at != KEEP:
        order = [question.key for question in QUESTIONS]
        before = [key for key in before if order.index(key) < order.index(talk.at)]
    if not before:
        return talk, ["This is the first question."]
    return replace(talk, at=before[-1]), []


def _keep(talk: Talk, typed: str) -> tuple[Talk, list[str]]:
    if typed.casefold() not in ("yes", "y"):
        return talk, ["Say yes to keep it, back to change something, later to leave it as a draft."]
    try:
        read_profile(profile_text(talk.answers))
    except Mistakes as mistakes:
        question = question_for(mistakes.found[0].where, talk.answers)
        lines = [str(mistake) for mistake in mistakes.found]
        return replace(talk, at=question.key if question else FIRST), ["Not yet:", *lines]
    return replace(talk, state=TalkState.DONE), []


def _question(talk: Talk) -> Question:
    return next((question for question in QUESTIONS if question.key == talk.at), QUESTIONS[0])

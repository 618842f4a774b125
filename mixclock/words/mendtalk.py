"""The talk in which a finished profile is opened again for one figure, or a few: which one, what it is now, what next.

It is a pure step from one state to the next. Nothing is kept before the last word, so it can be left after any line.
"""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.sheetediting import figures_in, mistakes_in_text, with_figure
from mixclock.job.sheetquestions import QUESTIONS, Question, asked
from mixclock.values import dataclass, replace
from mixclock.words.sheettalk import BACK, CLEAR, HELP, LATER, TalkState
from mixclock.words.sheetwords import understood

NAME = QUESTIONS[0].key
"""These answers cannot be changed: a product under a new name would be a second product beside this one."""

AGAIN = "another"
"""The talk asks this after each mended figure: another one, or is that all?"""


@dataclass(frozen=True)
class MendTalk:
    """The profile's text as it is by now, the figures to choose from, and the one that is asked for."""

    text: str
    choices: tuple[Question, ...] = ()
    at: str = ""
    mended: tuple[str, ...] = ()
    state: TalkState = TalkState.ASKING


def mend_prompt(talk: MendTalk) -> list[str]:
    """What is shown before an answer is awaited."""
    now = figures_in(talk.text)
    if talk.at == AGAIN:
        return ["Another figure? A word of it; enter keeps the profile as it is now."]
    if talk.at:
        question = _question(talk.at)
        stood = now.get(question.key)
        known = f"    now: {stood} (enter leaves it, - takes it out)" if stood else "    the profile doesn't say so far"
        return [question.asks, f"    {question.helps}", known]
    if talk.choices:
        rows = [f"{each.asks}  {now.get(each.key, 'not stated')}" for each in talk.choices]
        return [*(f"{number:2}  {row}" for number, row in enumerate(rows, start=1)), "Which one? Its number."]
    return ["Which figure? A word of it, such as recoat or density; enter shows all; later leaves it as it is."]


def hear_mending(talk: MendTalk, line: str) -> tuple[MendTalk, list[str]]:
    """The talk after a line was typed, and what is said to it."""
    typed = line.strip()
    if typed.casefold() == LATER:
        return replace(talk, state=TalkState.LEFT), []
    if typed == HELP:
        return talk, ["Name a figure, then type what the sheet says, with its unit. later: leave, nothing is changed."]
    if typed.casefold() == BACK:
        return replace(talk, at="", choices=()), []
    if talk.at == AGAIN and not typed:
        return replace(talk, state=TalkState.DONE), []
    if talk.at in ("", AGAIN):
        return _chosen(talk, typed)
    return _answered(talk, typed)


def _chosen(talk: MendTalk, typed: str) -> tuple[MendTalk, list[str]]:
    if talk.choices and typed.isdecimal():
        if not 1 <= int(typed) <= len(talk.choices):
            return talk, [f"Type a number from 1 to {len(talk.choices)}, or a word of the figure."]
        return replace(talk, at=talk.choices[int(typed) - 1].key, choices=()), []
    found = _called(talk.text, typed)
    if not found:
        return talk, [f"No figure of this product goes by '{typed}'; enter shows all."]
    if len(found) == 1:
        return replace(talk, at=found[0].key, choices=()), []
    return replace(talk, at="", choices=tuple(found)), []


def _called(text: str, typed: str) -> Sequence[Question]:
    """The figures that the words may mean: of this product's own, every word in the question or in its key."""
    words = typed.casefold().replace("-", " ").split()
    mendable = [each for each in asked(figures_in(text)) if each.key != NAME]
    return [each for each in mendable if all(word in _spoken(each) for word in words)]


def _spoken(question: Question) -> str:
    return f"{question.asks} {question.key}".casefold().replace("-", " ").replace(".", " ").replace("_", " ")


def _answered(talk: MendTalk, typed: str) -> tuple[MendTalk, list[str]]:
    question = _question(talk.at)
    again = replace(talk, at=AGAIN)
    if not typed:
        return again, []
    text = with_figure(talk.text, question, "" if typed == CLEAR else typed)
    if wrong := mistakes_in_text(question, text):
        return talk, wrong
    said = "taken out" if typed == CLEAR else understood(question, typed) or typed
    return replace(again, text=text, mended=(*talk.mended, question.key)), [f"    understood: {said}"]


def _question(key: str) -> Question:
    return next(question for question in QUESTIONS if question.key == key)

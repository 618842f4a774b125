"""The statement that somebody will likely make next about a batch, and the others that they may.

Pure: from one batch of `now --json` to the statements that its buttons make.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from mixclock.decide.stages import IN_THE_BUCKET, BatchStage
from mixclock.job.naming import SIGNS
from mixclock.job.statements import VERBS, BeganStatement, DidStatement, MixedStatement, SawStatement
from mixclock.job.steps import POUR_OUT, row_of
from mixclock.words.stepwords import words_of
from mixclock.words.unsurewindows import is_unsure

Json = Mapping[str, Any]


def dump_of(step: str, batch: int | None) -> dict[str, Any] | None:
    """The statement that ends a lost step, if there is one."""
    verb = row_of(step).gone_verb
    return {"verb": verb, "batch": batch} if verb is not None and batch is not None else None


def statement_of(step: str, batch: int | None, areas: Sequence[str] = ()) -> dict[str, Any] | None:
    """The statement that a step is finished; None for a step that nobody states.

    >>> from mixclock.job.steps import BROADCAST, RECOAT, RINSE
    >>> statement_of(BROADCAST, 3, ["bay 1"])
    {'verb': 'flaked', 'batch': 3, 'areas': ['bay 1']}
    >>> statement_of(RINSE, 2)
    {'verb': 'did', 'step': 'rinse', 'batch': 2}
    >>> statement_of(RECOAT, 2) is None
    True
    """
    row = row_of(step)
    if row.verb is None or batch is None:
        return None
    where = tuple(areas) if step != POUR_OUT else ()
    if row.verb == DidStatement.verb:
        return DidStatement(step, batch, where).as_json()
    return VERBS[row.verb].told({"batch": batch, "areas": where}).as_json()


def began_of(step: str, batch: int | None) -> dict[str, Any] | None:
    """The statement that somebody is on a step."""
    if batch is None or statement_of(step, batch) is None:
        return None
    return BeganStatement(step, batch).as_json()


def open_steps(batch: Json) -> list[Json]:
    """The windows of a batch whose step is still to be stated, the one that closes first in front."""
    waiting = [window for window in batch.get("windows", ()) if _is_open_step(window)]
    return sorted(waiting, key=lambda window: closing_time(window) or "9999")


def offered_steps(batch: Json) -> list[Json]:
    """The steps that a button may state now: not one whose window has not opened."""
    return [window for window in open_steps(batch) if window.get("state") != "waiting"]


def closing_time(window: Json) -> str | None:
    """The one time that a crew works to: the early closing edge, or the likely one where the hour is unsure."""
    edge = window.get("closes")
    if not edge:
        return None
    return str(edge["likely"] if is_unsure(window) else edge["early"])


def next_statement(batch: Json) -> dict[str, Any] | None:
    """The likely next statement about a batch, for the button on its card."""
    number = batch["id"]
    if batch.get("stage") in IN_THE_BUCKET:
        words = words_of(POUR_OUT)
        if _is_lost(batch):
            return {"label": words.gone, "step": POUR_OUT, "statement": dump_of(POUR_OUT, number)}
        return {"label": words.done, "step": POUR_OUT, "statement": statement_of(POUR_OUT, number)}
    for window in offered_steps(batch):
        statement = statement_of(window["name"], number)
        if statement is not None:
            return {"label": words_of(window["name"]).done, "step": window["name"], "statement": statement}
    return None


def other_statements(batch: Json) -> list[dict[str, Any]]:
    """What else may be said about a batch: other steps, single areas of a step, and signs."""
    first = next_statement(batch)
    skipped = first["statement"] if first else None
    return [each for each in _all_statements(batch) if each["statement"] != skipped]


def _all_statements(batch: Json) -> Iterator[dict[str, Any]]:
    number = batch["id"]
    if batch.get("stage") == BatchStage.MIXED:
        yield {"label": "Mixing done", "statement": MixedStatement(batch=number).as_json()}
    if batch.get("stage") in IN_THE_BUCKET:
        yield {"label": words_of(POUR_OUT).done, "statement": statement_of(POUR_OUT, number)}
        yield {"label": words_of(POUR_OUT).gone, "statement": dump_of(POUR_OUT, number)}
    yield from _step_statements(batch)
    for sign in SIGNS:
        yield {"label": f"Saw: {sign}", "statement": SawStatement(sign=sign, batch=number).as_json()}


def _step_statements(batch: Json) -> Iterator[dict[str, Any]]:
    seen: set[str] = set()
    steps = [window for window in offered_steps(batch) if window["name"] != POUR_OUT]
    for window in steps:
        name, area = window["name"], window.get("area")
        words, siblings = words_of(name).done, sum(1 for other in steps if other["name"] == name)
        if name not in seen and (whole := statement_of(name, batch["id"])):
            yield {"label": words, "statement": whole}
        if siblings > 1 and area and (part := statement_of(name, batch["id"], [area])):
            yield {"label": f"{words}: {area}", "statement": part}
        seen.add(name)


def _is_lost(batch: Json) -> bool:
    """Whether the bucket stands past its time: then it is dumped, not poured."""
    return any(each["name"] == POUR_OUT and each.get("state") == "missed" for each in batch.get("windows", ()))


def _is_open_step(window: Json) -> bool:
    return row_of(window["name"]).is_stated and window.get("state") != "done"

"""What goes to every phone the moment it is in the book: what was stated, before anything is worked out of it.

A card that was touched says what was done and when. It names no deadline until the new one is worked out, because the
old one may be over; the whole view follows with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from mixclock.board.house import FirstWord, RecentStatement
from mixclock.board.view import card_json
from mixclock.decide.stages import IN_THE_BUCKET, BatchStage, stage_reached
from mixclock.job.entry import Began, Combined, Did, Dumped, Entry, Heard, JobStarted, MixingEnded, Poured, Withdrawn
from mixclock.job.instants import json_text
from mixclock.job.progress import Batch, Standing, is_lost
from mixclock.job.statements import Statement
from mixclock.job.steps import NEXT_BATCH, POUR_OUT
from mixclock.words.answers import batch_of
from mixclock.words.gritwords import grit_of
from mixclock.words.jsonfields import fields_json
from mixclock.words.nowjson import batch_json
from mixclock.words.stepwords import words_of

Json = Mapping[str, Any]

MIXING_DONE = "Mixing done"

UNLISTED = (Heard, JobStarted, Withdrawn)
"""What does not stand in the list of statements from which one is taken back."""


def first_word(statement: Statement, entry: Entry, standing: Standing, said: str, now: datetime) -> FirstWord:
    """What the phones are told of a statement that has just been written."""
    batch = batch_of(entry, standing)
    told = {
        "statement": statement.as_json(),
        "by": entry.by,
        "recent": None if isinstance(entry.facts, UNLISTED) else fields_json(_recent(entry, said)),
        "card": _card(entry, standing, batch, now) if batch is not None else None,
    }
    return FirstWord(entry.job, told)


def _recent(entry: Entry, said: str) -> RecentStatement:
    return RecentStatement(entry.number, said, entry.happened, entry.by)


def _card(entry: Entry, standing: Standing, batch: Batch, now: datetime) -> Json | None:
    if isinstance(entry.facts, Began):
        return {"id": batch.id, "began": {"by": entry.by or "somebody", "at": json_text(entry.happened)}}
    label = _label(entry)
    if label is None:
        return None
    stage = BatchStage.DONE if batch.emptied is not None and is_lost(batch) else stage_reached(standing, batch, now)
    coat = standing.site.coat(batch.coat) if batch.coat else None
    units = standing.site.units
    told = {
        **batch_json(standing, batch, (), now),
        "stage": stage.value,
        "grit": grit_of(coat, batch.volume_l, units),
    }
    in_words = {"label": label, "at": json_text(entry.happened), "by": entry.by}
    return {**card_json(told, units), "told": in_words, "is_new": stage in IN_THE_BUCKET, "areas": list(batch.areas)}


def _label(entry: Entry) -> str | None:
    """A statement in a word or two, as its button has it; None for one that changes no card."""
    facts = entry.facts
    if isinstance(facts, Did):
        return words_of(facts.step).done
    of_others = {
        Combined: words_of(NEXT_BATCH).done,
        Poured: words_of(POUR_OUT).done,
        Dumped: words_of(POUR_OUT).gone,
        MixingEnded: MIXING_DONE,
    }
    return of_others.get(type(facts))

"""One type for each verb: its command, its help and what a phone may send are made of its fields."""

from __future__ import annotations

import inspect
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.board.house import RefusedError
from mixclock.board.taps import read_statement
from mixclock.cli import COMMANDS, STATING
from mixclock.cli.statement import command
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import VERBS, MixedStatement, MixingStatement, PouredStatement, Statement
from mixclock.job.statements.fields import AmountKind, Count, FieldKind, Measure, Names, Room
from mixclock.units import Amount

COMMON = ["at", "ago", "by", "note", "as_json", "job"]


@pytest.mark.parametrize("verb", VERBS)
def test_a_verb_explains_itself_and_every_field_says_what_it_takes(verb: str) -> None:
    kind = VERBS[verb]
    assert kind.verb == verb
    assert kind.__doc__
    assert set(kind.of_fields()) == set(kind.fields), "a field that nobody described cannot be said"
    assert all(field.help for field in kind.of_fields().values() if field.typed)


@pytest.mark.parametrize("verb", [verb for verb, listed in COMMANDS.items() if listed.module == STATING])
def test_a_command_takes_the_fields_of_its_statement_and_what_all_take(verb: str) -> None:
    typed = [name for name, field in VERBS[verb].of_fields().items() if field.typed]
    assert list(inspect.signature(command(verb)).parameters)[: -len(COMMON)] == typed
    assert list(inspect.signature(command(verb)).parameters)[len(typed) :] == COMMON


def test_every_verb_that_is_stated_has_its_command() -> None:
    commands = set(COMMANDS)
    assert set(VERBS) - commands == {"finished"}, "the end of a job is `mixclock job finish`"


def values_of(kind: type[Statement]) -> st.SearchStrategy[dict[str, Any]]:
    """Values for some of the fields of a verb, as JSON has them."""
    text = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=40)
    size = st.floats(0.01, 999.0)
    found: dict[str, st.SearchStrategy[Any]] = {}
    for name, field in kind.of_fields().items():
        if isinstance(field.kind, AmountKind):
            found[name] = st.builds(lambda key, value: {key: value}, st.sampled_from(field.kind.keys(name)), size)
        elif isinstance(field.kind, Measure):
            found[name] = size.map(lambda value, key=name: {key: value})
        elif isinstance(field.kind, Count):
            found[name] = st.integers(1, 999).map(lambda value, key=name: {key: value})
        elif isinstance(field.kind, Names):
            found[name] = st.lists(text, min_size=1, max_size=4).map(lambda value, key=name: {key: value})
        elif type(field.kind) is FieldKind:
            found[name] = text.map(lambda value, key=name: {key: value})
    return st.fixed_dictionaries(found).map(lambda each: {k: v for one in each.values() for k, v in one.items()})


@pytest.mark.parametrize("kind", [kind for kind in VERBS.values() if kind.from_a_phone])
@given(data=st.data())
def test_what_a_phone_sends_is_the_statement_and_comes_back_the_same(kind: type[Statement], data: Any) -> None:
    sent = {"verb": kind.verb, **data.draw(values_of(kind))}
    statement = read_statement(sent)
    assert type(statement) is kind
    assert read_statement(statement.as_json()) == statement
    assert hash(read_statement(dict(reversed(sent.items())))) == hash(statement)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"verb": "poured", "litres": 3}, "has no 'litres'; it takes areas, batch, covered_m2, part_kg, part_l"),
        ({"verb": "poured", "batch": "3"}, "'batch' of 'poured' must be a count within reason"),
        ({"verb": "poured", "batch": True}, "must be a count"),
        ({"verb": "mixing", "product": "base", "volume_l": 2, "mass_kg": 2}, "'amount' of 'mixing' must be a number"),
        ({"verb": "mixing", "product": "base", "volume_l": float("nan")}, "must be a number within reason"),
        ({"verb": "rolled", "areas": "bay 1"}, "must be a list of texts"),
        ({"verb": "noted", "text": "a\nb"}, "must be a text within reason"),
    ],
)
def test_what_makes_no_sense_from_a_phone_is_one_line(sent: dict[str, Any], said: str) -> None:
    with pytest.raises(RefusedError) as refused:
        read_statement(sent)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_wrong_field_is_a_mistake_of_the_program() -> None:
    with pytest.raises(TypeError, match="PouredStatement takes batch, areas, part, covered_m2; got litres"):
        PouredStatement(litres=3)  # type: ignore[call-arg]


def typed(kind: type[Statement], **words: Any) -> Statement:
    return kind.typed({**dict.fromkeys(kind.fields), **words}, Room())


def test_an_amount_is_read_once_and_keeps_its_name() -> None:
    assert typed(MixingStatement, product=["Slow epoxy base", "6 L"]) == MixingStatement("Slow epoxy base", Amount(6.0))
    assert typed(MixingStatement, product=["Slow", "epoxy", "base", "6", "kg"]) == MixingStatement(
        "Slow epoxy base", Amount(mass_kg=6.0)
    )
    assert typed(PouredStatement, part="3 L") == PouredStatement(part=Amount(3.0))


def test_mixed_means_a_batch_or_one_that_is_only_told_now() -> None:
    assert typed(MixedStatement, product=["3"]) == MixedStatement(batch=3)
    assert typed(MixedStatement, product=["batch", "3"]) == MixedStatement(batch=3)
    assert typed(MixedStatement) == MixedStatement()
    assert typed(MixedStatement, product=["base", "6 L"]) == MixedStatement("base", Amount(6.0))


def test_what_only_a_new_batch_has_is_not_lost_on_one_that_was_stated_before() -> None:
    from mixclock.job.saying import Attribution
    from tests.decide.worlds import Log, instant
    from tests.job.test_stating import shed

    log: Log = shed(["bay 1"])
    with pytest.raises(CannotTellError, match="--lot belongs to a new batch"):
        MixedStatement(batch=1, lot="L-17").drafts(log.standing(), Attribution(instant(5)))

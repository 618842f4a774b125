"""A command line in its plain form means what the library reads in it; every other form is left to the library."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.cli import COMMANDS, STATING, bytyper, plain_form, standing, statement
from tests.examples import examples
from tests.running import Ran

STATED = [verb for verb, listed in COMMANDS.items() if listed.module == STATING]

WORDS = st.sampled_from(
    ["3", "bay 1", "6 L", "-", "--", "-h", "--help", "", "18 °C", "-5 C", "--on", "--on=bay 2", "--air", "--slab=16 C",
     "--json", "--json=1", "--at", "9:42", "--job", "--job=", "--by", "Ana", "--note", "--coat", "--a", "--b", "--lot",
     "--batch", "2", "--ago", "--part", "--jso", "--known", "--for", "patch"]
)  # fmt: skip


@cache
def _command(verb: str) -> Any:
    return bytyper.commands_of((verb,))[verb]


def _same(typed: dict[str, Any]) -> dict[str, Any]:
    """A flag that is not set and an option that is not said are one, and so are a list and a tuple."""
    return {name: list(value) if isinstance(value, tuple) and value else value or None for name, value in typed.items()}


def _by_typer(verb: str, words: list[str]) -> dict[str, Any] | None:
    """What the library hands to the command; None where it refuses."""
    taken: list[dict[str, Any]] = []
    command = _command(verb)
    command.callback = lambda **typed: taken.append(typed)
    try:
        command.main(args=words, prog_name="mixclock", standalone_mode=False)
    except (Exception, SystemExit):
        return None
    return taken[0] if taken else None


@examples(100)
@given(verb=st.sampled_from([*STATED, "now"]), words=st.lists(WORDS, max_size=6))
def test_what_is_read_plainly_is_what_the_library_reads(verb: str, words: list[str]) -> None:
    taken: list[dict[str, Any]] = []
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(statement, "run", lambda _, typed: taken.append(typed))
        patched.setattr(standing, "tell_standing", lambda **typed: taken.append(typed))
        plain = plain_form([verb, *words])
        if plain is None:
            return
        plain()
    assert _same(taken[0]) == _same(_by_typer(verb, words) or {"refused": True})


@pytest.mark.parametrize(
    ("words", "plain"),
    [
        (["mixed", "Slow epoxy base", "6 L", "--on", "bay 1", "--on=bay 2", "--json"], True),
        (["poured"], True),
        (["poured", "--job", "studio", "3"], True),
        (["now", "--json"], True),
        (["now", "--at", "9:42", "--known"], True),
        (["now", "3"], False),
        (["mixed"], True),
        (["mixed", "--help"], False),
        (["reading", "--slab", "-5 C"], False),
        (["reading", "--air"], False),
        (["noted", "-5 degrees at the door"], False),
        (["saw", "3"], False),
        (["poured", "--by", "Ana", "--by", "Rui"], False),
    ],
)
def test_a_plain_line_needs_no_library_and_an_odd_one_has_it(words: list[str], plain: bool) -> None:
    assert (plain_form(words) is not None) is plain


def test_the_job_of_the_environment_is_meant_in_both_ways(
    home: Any, studio: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MIXCLOCK_JOB", "no such job")
    plain, odd = studio("now", "--json"), studio("now", "--json", "--job", "no such job", "--job", "no such job")
    assert plain.code == odd.code == 2
    assert json.loads(plain.err) == json.loads(odd.err)


def test_one_answer_in_both_ways(studio: Callable[..., Ran]) -> None:
    odd, plain = studio("noted", "door open", "--by", "x", "--by", "Ana"), studio("noted", "door open", "--by", "Ana")
    assert (odd.code, odd.err, odd.out.replace("entry 2", "entry 3")) == (plain.code, plain.err, plain.out)
    told = [studio("now", "--json", *twice).json for twice in (("--json",), ())]
    assert {**told[0], "at": None} == {**told[1], "at": None}

"""The house's one thread: a long question lets what was stated meanwhile pass, and nothing is asked out of turn."""

from __future__ import annotations

import threading

import pytest

from mixclock.board.keptkit import KeptKit, Shown
from mixclock.board.room import HouseRoom
from mixclock.decide.plan.search.givingway import give_way


def test_a_statement_passes_a_long_question_and_another_long_one_within_it_does_not_give_way() -> None:
    room, begun, told = HouseRoom(), threading.Event(), threading.Event()
    heard: list[str] = []

    def long() -> str:
        begun.set()
        while not told.is_set():
            give_way()
        return "yes"

    def stated(what: str) -> None:
        give_way()
        heard.append(what)

    answer = room.ask_patiently(long)
    assert begun.wait(5)
    first, second = room.ask(lambda: stated("mixing")), room.ask(lambda: stated("poured"))
    first.result(5)
    second.result(5)
    assert heard == ["mixing", "poured"]
    assert not answer.done()
    told.set()
    assert answer.result(5) == "yes"
    room.close()


def test_the_book_is_closed_only_after_the_long_question_is_answered() -> None:
    room, begun, told = HouseRoom(), threading.Event(), threading.Event()
    order: list[str] = []

    def long() -> None:
        begun.set()
        while not told.is_set():
            give_way()
        order.append("answered")

    room.ask_patiently(long)
    assert begun.wait(5)
    closing = threading.Thread(target=lambda: room.close(lambda: order.append("kept"), lambda: order.append("closed")))
    closing.start()
    told.set()
    closing.join(5)
    assert order[-1] == "closed"
    assert "answered" in order[:2]
    with pytest.raises(RuntimeError, match="closed"):
        room.ask(lambda: None)


def test_what_the_house_refuses_is_told_to_whoever_asked() -> None:
    def refuse() -> None:
        raise ValueError("there is no batch 7")

    room = HouseRoom()
    with pytest.raises(ValueError, match="no batch 7"):
        room.ask(refuse).result(5)
    assert room.ask(lambda: 3).result(5) == 3, "the next is answered all the same"
    room.close()


def test_an_answer_from_before_the_last_statement_is_marked_until_it_is_worked_out_again() -> None:
    kept, before, after = KeptKit(), Shown("shed", None, (1,)), Shown("shed", None, (1, 2))
    no = {"answer": "no", "said": "No: tape here", "mix_at": None}
    kept.put(no, before)
    assert kept.told(before) == no
    assert kept.told(after) == {**no, "outdated": True}
    assert kept.told(Shown("porch", None, (1,))) is None
    kept.put(dict(no), after)
    assert kept.told(after) == no

"""One button for a gloved hand, without a page: what a press states, and what a hold says."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mixclock.board.button import OneButton, what_is_next
from mixclock.board.view import ViewParts, build_view
from mixclock.outside.clock import SystemClock
from mixclock.words.spoken import spoken_s
from tests.board.boardfakes import FakeHouse, mixing, studio_plan
from tests.board.stated import verbs

CLOCK = SystemClock()
MIN, SECOND = timedelta(minutes=1), timedelta(seconds=1)


def house(*minutes_ago: float) -> FakeHouse:
    """A bucket mixed so many minutes ago for each bay in turn."""
    now = CLOCK.now()
    made = FakeHouse(planned=studio_plan(now))
    for bay, ago in enumerate(minutes_ago, 1):
        made.state(mixing(f"bay {bay}"), now - ago * MIN, "mixer")
    return made


def test_a_press_states_the_next_step_at_its_own_time_and_says_which_batch_and_when() -> None:
    made, now = house(3), CLOCK.now()
    said = OneButton(made).press(now - SECOND)
    assert said.startswith("Batch 1 poured, ")
    assert verbs(made) == ["mixing", "poured"]
    assert made.entries[-1].at == now - SECOND


def test_a_pedal_that_bounces_states_once() -> None:
    made, now = house(3), CLOCK.now()
    button = OneButton(made)
    assert button.press(now)
    assert button.press(now + 1.4 * SECOND) == ""
    assert verbs(made) == ["mixing", "poured"]
    assert button.press(now + 1.6 * SECOND).startswith("Batch 1 rolled, ")


def test_it_states_no_mixing_and_no_lost_bucket() -> None:
    empty = house()
    assert OneButton(empty).press(CLOCK.now()).startswith("Not by the button: B's in")
    assert empty.entries == []
    made = house(3)
    told = made.snapshot

    def lost(now: object) -> object:
        answer = dict(told(now))  # type: ignore[arg-type]
        window = answer["batches"][0]["windows"][0]
        window["state"] = "missed"
        return answer

    made.snapshot = lost  # type: ignore[method-assign,assignment]
    assert OneButton(made).press(CLOCK.now()).startswith("Not by the button: Dumped, Batch 1")
    assert verbs(made) == ["mixing"]


def test_held_it_says_what_is_next_then_offers_to_take_back_and_only_then_does() -> None:
    made, now = house(3), CLOCK.now()
    button = OneButton(made)
    button.press(now)
    assert button.hold(now + 2 * SECOND).startswith("Next back-roll, batch 1, ")
    assert button.hold(now + 6 * SECOND).startswith("Hold once more to take back: Batch 1 poured, ")
    assert "poured" in verbs(made)
    assert button.hold(now + 10 * SECOND).startswith("Taken back: Batch 1 poured, ")
    assert "poured" not in verbs(made)
    assert button.hold(now + 60 * SECOND).startswith("Next "), "a hold much later begins anew"


def test_a_hold_takes_nothing_back_that_the_button_did_not_state() -> None:
    made, now = house(3), CLOCK.now()
    button = OneButton(made)
    button.hold(now)
    assert button.hold(now + SECOND) == "Nothing was stated by this button."
    assert verbs(made) == ["mixing"]


@pytest.mark.parametrize("batches", [1, 2, 3, 6])
def test_what_is_next_tells_two_deadlines_and_everything_lost_within_eight_seconds(batches: int) -> None:
    made, now = house(*[3.0 + each for each in range(batches)]), CLOCK.now()
    view = build_view(ViewParts(made.snapshot(now), made.job, (), ()), now)
    lost = {
        "id": "x", "rank": "critical", "stage": "lost", "area": None, "by": None, "heard_by": None,
        "do": "Keep it off the floor", "done": None,
    }  # fmt: skip
    view["alerts"] += [{**lost, "id": f"x{number}", "batch": number} for number in (21, 22, 23)]
    said = what_is_next(view, now)
    assert said.startswith("Next ")
    assert ("Then " in said) == (batches > 1)
    assert said.endswith(("Lost: batches 21, 22 and 23.", "3 lost."))
    assert spoken_s(said) <= 8.0


KIT = {"said": "No: tape here", "spoken": "No: tape here. Yes once bay 2 is taped in a straight line."}


def test_held_it_tells_of_the_next_kit_too_and_asked_it_keeps_the_question() -> None:
    made, now = house(3), CLOCK.now()
    made.kit = KIT
    assert "Next kit: No: tape here." in OneButton(made).hold(now)
    idle = house()
    idle.kit = KIT
    assert OneButton(idle).hold(now) == f"Next kit: {KIT['spoken']}"
    assert OneButton(idle).ask(now) == f"Next kit: {KIT['spoken']}"
    assert idle.asked_by == [None]
    idle.kit = None
    assert OneButton(idle).ask(now).startswith("Not known: keep it shut.")


def test_a_next_kit_that_cannot_be_worked_out_takes_no_deadline_from_the_ear() -> None:
    made, now = house(3), CLOCK.now()

    def broken(at: object) -> object:
        raise ZeroDivisionError

    made.next_kit = broken  # type: ignore[method-assign,assignment]
    said = OneButton(made).hold(now)
    assert said.startswith("Next pour it out, batch 1")
    assert "not known" in said

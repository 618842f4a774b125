"""The board on a real book: what it says is durably in the log, and what it shows is what `now --json` answers."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from mixclock.board.button import OneButton
from mixclock.board.cuptaps import read_cup
from mixclock.board.house import RefusedError
from mixclock.board.joining import JoinedHouse
from mixclock.board.taps import Ledger, read_statement, read_tap
from mixclock.board.view import ViewParts, build_view
from mixclock.job.cups import Cup
from mixclock.outside.clock import FakeClock
from mixclock.wiring import House, open_house
from tests.board.boardfakes import mixing
from tests.potteryfloor import JOB, START


def test_a_house_without_a_job_shows_an_empty_board(home: Path, clock: FakeClock) -> None:
    with open_house(home, clock) as empty:
        joined = JoinedHouse(empty)
        assert joined.snapshot(START)["job"] is None
        assert joined.floor().areas == ()
        with pytest.raises(RefusedError, match="no job is under way"):
            joined.state(read_statement(mixing()), START, None)


def test_a_tap_is_in_the_book_and_on_the_board(house: House, joined: JoinedHouse, clock: FakeClock) -> None:
    clock.advance(60)
    before = joined.version()
    answer = joined.state(read_statement(mixing("bay 1")), START + timedelta(seconds=30), "mixer")
    assert (answer.batch, joined.version() == before) == (1, False)
    stored = next(entry for entry in house.entries() if entry.number == answer.entry)
    assert (stored.facts.kind, stored.happened, stored.by) == ("combined", START + timedelta(seconds=30), "mixer")
    told = joined.snapshot(clock.now())
    assert told["batches"] == _with_extras(house.snapshot(clock.now())["batches"], told["batches"])
    assert {"pour-out", "back-roll", "broadcast"} <= {window["name"] for window in told["batches"][0]["windows"]}


def test_what_the_board_keeps_for_itself_has_no_page_reckoned_anew_but_what_others_write_has(
    house: House, joined: JoinedHouse, home: Path, clock: FakeClock
) -> None:
    before = joined.version()
    joined.put_setting("board.taps", "{}")
    assert joined.version() == before
    with open_house(home, clock) as other:
        other.book.drawers.keep("settings", "a line", "by another")
        joined.put_setting("board.taps", '{"one": 1}')
        seen = joined.version()
        assert seen != before
    house.book.drawers.keep("settings", "a line", "by this one")
    assert joined.version() != seen


def _with_extras(plain: list[dict], told: list[dict]) -> list[dict]:
    extras = ("who", "latest_start", "began", "calls")
    return [
        {**one, "grit": None, "windows": [{**window, **{each: more[each] for each in extras}}
                            for window, more in zip(one["windows"], two["windows"], strict=True)]}
        for one, two in zip(plain, told, strict=True)
    ]  # fmt: skip


def test_a_batch_goes_through_its_steps_by_the_buttons_of_the_view(joined: JoinedHouse, clock: FakeClock) -> None:
    clock.advance(60)
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    labels = []
    for _ in range(4):
        clock.advance(120)
        view = _view(joined, clock.now())
        if not view["batches"] or view["batches"][0]["next"] is None:
            break
        labels.append(view["batches"][0]["next"]["label"])
        joined.state(read_statement(view["batches"][0]["next"]["statement"]), clock.now(), "mixer")
    assert labels[:3] == ["Poured", "Rolled", "Flaked"]


def _view(joined: JoinedHouse, now: datetime) -> dict:
    return build_view(
        ViewParts(joined.snapshot(now), joined.floor(), joined.planned_next(now), joined.recent(now)), now
    )


def test_a_claim_says_whose_it_is(joined: JoinedHouse, clock: FakeClock) -> None:
    clock.advance(60)
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    clock.advance(600)
    joined.state(read_statement({"verb": "began", "step": "pour-out", "batch": 1}), clock.now(), "roller")
    window = next(each for each in joined.snapshot(clock.now())["batches"][0]["windows"] if each["name"] == "pour-out")
    assert window["began"]["by"] == "roller"


def test_what_cannot_be_true_is_refused_in_one_line_and_changes_nothing(
    house: House, joined: JoinedHouse, clock: FakeClock
) -> None:
    before = len(house.entries())
    for said in (
        {"verb": "poured", "batch": 7},
        {"verb": "mixing", "product": "Unheard of", "areas": ["bay 1"], "volume_l": 1.0},
        {"verb": "reading", "slab_c": 900.0},
        {"verb": "heard", "alerts": ["b9.pour-out"]},
    ):
        with pytest.raises(RefusedError) as refused:
            joined.state(read_statement(said), clock.now(), None)
        assert "\n" not in str(refused.value)
    assert len(house.entries()) == before


def test_a_tap_whose_answer_was_lost_in_a_crash_is_not_stated_twice(
    house: House, joined: JoinedHouse, clock: FakeClock
) -> None:
    clock.advance(60)
    tap = read_tap({"key": "0123456789ab", "statement": mixing("bay 1"), "ago_s": 4.25})

    class CutOff(JoinedHouse):
        def state(self, *what: object) -> None:  # type: ignore[override]
            super().state(*what)  # type: ignore[arg-type]
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Ledger(CutOff(house)).state(tap, "mixer", clock.now())
    clock.advance(30)
    answer, again = Ledger(JoinedHouse(house)).state(tap, "mixer", clock.now())
    assert (answer.batch, again) == (1, True)
    assert [entry.facts.kind for entry in house.entries()].count("combined") == 1


def test_without_a_plan_the_next_areas_are_offered_with_what_they_take(
    house: House, joined: JoinedHouse, clock: FakeClock
) -> None:
    offered = joined.planned_next(clock.now())
    assert [(each.areas, each.volume_l) for each in offered] == [(("bay 1",), 9.0), (("bay 2",), 9.0)]  # whole kits
    asked = joined.next_kit(clock.now())
    assert asked is not None
    assert (tuple(asked["areas"]), asked["volume_l"]) == (offered[0].areas, offered[0].volume_l), "as `next` says it"
    clock.advance(5)
    joined.state(read_statement(mixing("bay 1")), clock.now(), None)
    assert [each.areas for each in joined.planned_next(clock.now())] == [("bay 2",)]


def test_no_command_is_told_to_a_finger(joined: JoinedHouse, clock: FakeClock) -> None:
    told: list[str] = []
    for said in (
        {"verb": "reading", "slab_c": 15.0, "air_c": 16.0, "rh_pct": 60.0},
        mixing("bay 1"),
        {"verb": "poured", "batch": 1},
        {"verb": "reading", "slab_c": 27.0},
        {"verb": "stopped"},
        {"verb": "dumped", "batch": 1},
    ):
        clock.advance(120)
        answer = joined.state(read_statement(said), clock.now(), "mixer")
        told += [*answer.look_out, *answer.moved, *answer.cautions]
    with pytest.raises(RefusedError) as refused:
        joined.state(read_statement({"verb": "poured", "batch": 1}), clock.now(), "mixer")
    assert any(line.startswith("back-roll on bay 1 closes ") for line in told)
    assert any(line.endswith("the board shows all") for line in told)
    assert [line for line in (*told, str(refused.value)) if "`" in line] == []


def test_a_statement_is_listed_and_can_be_taken_back(joined: JoinedHouse, clock: FakeClock) -> None:
    clock.advance(5)
    answer = joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    assert [(each.entry, each.by, each.withdrawn) for each in joined.recent(clock.now())] == [
        (answer.entry, "mixer", False)
    ]
    joined.withdraw(answer.entry, clock.now(), "mixer")
    assert joined.recent(clock.now())[0].withdrawn
    assert joined.snapshot(clock.now())["batches"] == []


def test_phones_stay_paired_when_the_book_is_opened_again(
    home: Path, house: House, joined: JoinedHouse, clock: FakeClock
) -> None:
    from mixclock.board.phones import Phones

    phones = Phones(joined)
    phone, token = phones.pair(phones.secret(clock.now()), "phone", clock.now())
    with open_house(home, clock) as again:
        assert Phones(JoinedHouse(again)).of_token(token) == phone


def test_a_phone_gets_the_cautions_and_what_to_look_out_for_as_the_terminal_does(
    joined: JoinedHouse, clock: FakeClock
) -> None:
    mixed = joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    assert any("Nitrile gloves" in line for line in mixed.cautions)
    hot = joined.state(read_statement({"verb": "saw", "sign": "smoking", "batch": 1}), clock.now(), "mixer")
    assert hot.look_out == ("batch 1 smokes: leave it, get everybody out",)
    assert hot.cautions[0] == "Don't lift, stir or cap it, and no water into it."


def test_what_a_phone_says_of_a_test_cup_is_kept_with_its_lot_without_a_job(home: Path, clock: FakeClock) -> None:
    with open_house(home, clock) as empty:
        cup = Cup("Slow epoxy base", "7A", 0.15, START, 21.0, 20.0)
        empty.cups.keep((cup,))
        clock.advance(12 * 60)
        joined, now = JoinedHouse(empty), clock.now()
        [running] = build_view(ViewParts(joined.snapshot(now), joined.floor(), (), (), cups=joined.cups(now)), now)[
            "cups"
        ]
        assert running["text"] == "Cup: how warm is it now?"
        said = joined.state_cup(read_cup({"began": running["began"], "temp_c": 31}), now)
        assert said == ("Cup: 31 °C after 12 min.",)
        assert empty.cups.all()[0].read == ((720.0, 31.0),)
        joined.state_cup(read_cup({"began": running["began"], "temp_c": 31}), now)
        assert empty.cups.all()[0].read == ((720.0, 31.0),), "an answer that was lost is sent twice and counts once"
        assert "gel after 12 min" in joined.state_cup(read_cup({"began": running["began"], "sign": "gel"}), now)[0]
        assert joined.cups(now) == []
        with pytest.raises(RefusedError, match="not running any more"):
            joined.state_cup(read_cup({"began": running["began"], "sign": "hot"}), now)


BEGAN = START.isoformat()


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"began": "yesterday", "temp_c": 31},
        {"began": BEGAN},
        {"began": BEGAN, "sign": "dry"},
        {"began": BEGAN, "temp_c": "31"},
        {"began": BEGAN, "temp_c": 31, "sign": "gel"},
    ],
)
def test_what_cannot_be_said_of_a_cup_is_refused(body: dict[str, object]) -> None:
    with pytest.raises(RefusedError):
        read_cup(body)


def test_a_hot_bucket_offers_dumped_and_a_wet_edge_offers_taped_and_the_button_states_neither(
    home: Path, clock: FakeClock
) -> None:
    with open_house(home, clock) as house:
        house.start(JOB.replace('size = "11.5 m2"', 'size = "11.5 m2"\nnext_to = ["bay 2"]'))
        joined, button = JoinedHouse(house), OneButton(JoinedHouse(house))
        clock.advance(60)
        joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
        clock.advance(240)
        joined.state(read_statement({"verb": "saw", "batch": 1, "sign": "hot"}), clock.now(), "mixer")
        hot = next(alert for alert in _view(joined, clock.now())["alerts"] if alert["step"] == "hot")
        assert hot["ends"] == {"label": "Dumped", "statement": {"verb": "dumped", "batch": 1}}
        assert button.press(clock.now()).startswith("Not by the button")
        joined.withdraw(house.entries()[-1].number, clock.now(), "mixer")
        for verb in ("poured", "rolled", "flaked"):
            clock.advance(120)
            joined.state(read_statement({"verb": verb, "batch": 1}), clock.now(), "mixer")
        clock.advance(55 * 60)
        edge = next(alert for alert in _view(joined, clock.now())["alerts"] if alert["step"] == "wet-edge")
        assert edge["ends"]["label"] == "Taped"
        assert "Taped" not in button.press(clock.now())
        joined.state(read_statement(edge["ends"]["statement"]), clock.now(), "mixer")
        assert "wet-edge" not in [alert["step"] for alert in _view(joined, clock.now())["alerts"]]


def test_a_phone_of_one_job_states_there_while_another_is_in_use(house: House, clock: FakeClock) -> None:
    house.start(JOB.replace("Pottery studio floor", "Boat shed"))
    joined = JoinedHouse(house)
    assert set(joined.jobs()) == {"Pottery studio floor", "Boat shed"}
    assert joined.floor().job == "Boat shed"
    studio = joined.of_job("Pottery studio floor")
    studio.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    assert len(studio.snapshot(clock.now())["batches"]) == 1
    assert joined.snapshot(clock.now())["batches"] == []
    with pytest.raises(RefusedError, match="no job"):
        joined.of_job("a barn")

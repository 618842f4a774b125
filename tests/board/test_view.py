"""What the page is told: the next statement of each batch, deadlines by the early edge, openings by the late one."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from mixclock.board.house import ComingBatch
from mixclock.board.nextsteps import next_statement, other_statements
from mixclock.board.view import ViewParts, build_view
from mixclock.job.steps import STEPS, row_of
from tests.board.boardfakes import FakeHouse, iso, mixing

NOW = datetime(2026, 4, 13, 10, 42, tzinfo=UTC)
MIN = timedelta(minutes=1)


def _view(house: FakeHouse, now: datetime = NOW) -> dict[str, Any]:
    return build_view(ViewParts(house.snapshot(now), house.floor(), house.planned_next(now), house.recent(now)), now)


def _window(name: str, closes: datetime | None, *, area: str | None = None, state: str = "open") -> dict[str, Any]:
    edge = None
    if closes is not None:
        edge = {"early": iso(closes), "likely": iso(closes + MIN), "late": iso(closes + 2 * MIN)}
    return {"name": name, "area": area, "opens": None, "closes": edge, "state": state, "ripeness_closes": 0.5}


def _batch(stage: str, *windows: dict[str, Any]) -> dict[str, Any]:
    return {"id": 3, "product": "Slow epoxy base", "amount_l": 9.0, "areas": ["bay 2"], "stage": stage,
            "mixed_at": iso(NOW), "windows": list(windows)}  # fmt: skip


def test_a_bucket_is_poured_before_anything_else_is_offered() -> None:
    batch = _batch("mixed", _window("pour-out", NOW + 20 * MIN), _window("back-roll", NOW + 5 * MIN))
    told = next_statement(batch)
    assert told is not None
    assert (told["label"], told["statement"]) == ("Poured", {"verb": "poured", "batch": 3})


def test_on_the_floor_the_step_that_closes_first_is_offered() -> None:
    batch = _batch("poured", _window("broadcast", NOW + 30 * MIN), _window("back-roll", NOW + 12 * MIN))
    assert next_statement(batch) == {
        "label": "Rolled", "step": "back-roll", "statement": {"verb": "rolled", "batch": 3}
    }  # fmt: skip


def test_what_nobody_states_is_never_offered() -> None:
    batch = _batch(
        "flaked", _window("wet-edge", NOW + MIN), _window("recoat", NOW + 60 * MIN), _window("foot-traffic", None)
    )
    assert next_statement(batch) is None
    assert {each["statement"]["verb"] for each in other_statements(batch)} == {"saw"}


def test_a_step_on_two_areas_can_be_stated_for_one_of_them() -> None:
    batch = _batch(
        "poured", _window("back-roll", NOW + MIN, area="bay 1"), _window("back-roll", NOW + MIN, area="bay 2")
    )
    others = [each["statement"] for each in other_statements(batch)]
    assert {"verb": "rolled", "batch": 3, "areas": ["bay 2"]} in others


def test_a_profiles_own_step_is_offered_by_its_own_name() -> None:
    batch = _batch("poured", _window("second-sanding", NOW + MIN))
    told = next_statement(batch)
    assert told is not None
    assert told["statement"] == {"verb": "did", "step": "second-sanding", "batch": 3}


def test_a_card_tells_the_early_edge_and_nothing_later() -> None:
    house = FakeHouse()
    house.state(mixing(), NOW - 4 * MIN, "mixer")
    [card] = _view(house)["batches"]
    assert card["closes"]["at"] == iso(NOW + 6 * MIN)
    assert card["in_bucket"]


def test_the_page_sounds_by_itself_from_the_latest_start_where_a_step_takes_time() -> None:
    batch = _batch("poured", {**_window("back-roll", NOW + 12 * MIN), "latest_start": iso(NOW + 7 * MIN)})
    house = FakeHouse(extra_batches=[batch])
    [deadline] = _view(house)["deadlines"]
    assert (deadline["at"], deadline["by"]) == (iso(NOW + 7 * MIN), iso(NOW + 12 * MIN))
    assert deadline["text"] == "Batch 3, bay 2: back-roll now."


@pytest.mark.parametrize(
    "step", [row.name for row in STEPS.values() if "closes" in row.edges and row.called and not row.per_area]
)
def test_with_the_laptop_dead_a_phone_calls_a_step_by_the_rank_and_the_words_of_the_table(step: str) -> None:
    [deadline] = _view(FakeHouse(extra_batches=[_batch("poured", _window(step, NOW + 30 * MIN))]))["deadlines"]
    assert deadline["step"] == step
    assert deadline["rank"] == row_of(step).rank.value
    assert deadline["kind"] == row_of(step).about.value
    first = deadline["calls"][0]
    assert {name: deadline[name] for name in ("do", "text", "speech")} == {
        name: first[name] for name in ("do", "text", "speech")
    }


def test_what_is_coming_opens_by_its_late_edge_soonest_first() -> None:
    def opening(name: str, late: datetime | None) -> dict[str, Any]:
        edge = {"early": iso(NOW + MIN), "likely": iso(NOW + 90 * MIN), "late": iso(late) if late else None}
        return {"name": name, "opens": edge, "closes": None, "state": "waiting"}

    snapshot = {"batches": [], "alerts": [], "conditions": {}, "areas": [
        {"name": "bay 1", "coat": "base", "windows": [opening("foot-traffic", None), opening("recoat", NOW + 60 * MIN)]}
    ]}  # fmt: skip
    told = build_view(ViewParts(snapshot, FakeHouse().floor(), (), ()), NOW)
    assert [(each["do"], each["at"]) for each in told["coming"]] == [
        ("Next coat", iso(NOW + 60 * MIN)), ("OK to walk on", iso(NOW + 90 * MIN))
    ]  # fmt: skip


def _edge(early: datetime, likely: datetime, late: datetime) -> dict[str, str]:
    return {"early": iso(early), "likely": iso(likely), "late": iso(late)}


def _told_of(*windows: dict[str, Any], batches: tuple[dict[str, Any], ...] = ()) -> dict[str, Any]:
    areas = [{"name": "bay 1", "coat": "base", "windows": list(windows)}]
    snapshot = {"batches": list(batches), "alerts": [], "conditions": {}, "areas": areas}
    return build_view(ViewParts(snapshot, FakeHouse().floor(), (), ()), NOW)


def _unsure(name: str) -> dict[str, Any]:
    """Likely open from 12:42 to 22:42, while its safe opening lies after its safe closing."""
    opens = _edge(NOW + 60 * MIN, NOW + 120 * MIN, NOW + 700 * MIN)
    closes = _edge(NOW + 600 * MIN, NOW + 720 * MIN, NOW + 900 * MIN)
    return {"name": name, "area": None, "opens": opens, "closes": closes, "state": "waiting", "sure": False}


def test_a_window_without_a_sure_hour_is_told_as_likely_from_and_until_and_never_reversed() -> None:
    [coming] = _told_of(_unsure("recoat"))["coming"]
    assert coming == {"do": "Next coat", "where": "bay 1", "at": iso(NOW + 120 * MIN), "unsure": True,
                      "until": iso(NOW + 720 * MIN)}  # fmt: skip


def test_a_slab_under_its_sheet_gives_no_date_and_stands_after_all_that_has_one() -> None:
    cold = {"name": "foot-traffic", "opens": None, "closes": None, "state": "waiting",
            "because": ["slab 6 °C", "no date until the slab is over 10 °C"]}  # fmt: skip
    dated, undated = _told_of(cold, _unsure("recoat"))["coming"]
    assert dated["do"] == "Next coat"
    assert (undated["at"], undated["no_date"]) == (None, "no date until the slab is over 10 °C")


def test_a_step_without_a_sure_hour_is_worked_to_its_likely_end_and_says_so_on_its_card() -> None:
    [card] = _told_of(batches=(_batch("poured", _unsure("broadcast")),))["batches"]
    assert (card["closes"]["at"], card["closes"]["unsure"]) == (iso(NOW + 720 * MIN), True)
    [window] = card["windows"]
    assert window["unsure"] is True


def test_an_alert_whose_window_has_no_sure_hour_says_so_in_the_panel() -> None:
    batch = _batch("poured", _unsure("broadcast"))
    alert = {"id": f"b{batch['id']}.broadcast", "batch": batch["id"], "step": "broadcast", "stage": "now"}
    snapshot = {"batches": [batch], "alerts": [alert], "conditions": {}, "areas": []}
    [told] = build_view(ViewParts(snapshot, FakeHouse().floor(), (), ()), NOW)["alerts"]
    assert (told["by"], told["unsure"]) == (iso(NOW + 720 * MIN), True)


def test_critical_comes_before_timely_and_late_before_soon() -> None:
    house = FakeHouse()
    house.state(mixing("bay 1"), NOW - 30 * MIN, "mixer")
    house.state({"verb": "poured", "batch": 1}, NOW - 23 * MIN, "mixer")
    house.state(mixing("bay 2"), NOW - 9 * MIN, "mixer")
    house.state(mixing("bay 3"), NOW - 11 * MIN, "mixer")
    told = [(each["rank"], each["stage"], each["batch"]) for each in _view(house)["alerts"]]
    assert told == [("critical", "late", 3), ("critical", "heads-up", 2), ("timely", "late", 1)]


def test_an_alert_names_its_step_and_offers_to_state_it() -> None:
    house = FakeHouse()
    house.state(mixing(), NOW - 11 * MIN, "mixer")
    [alert] = _view(house)["alerts"]
    assert (alert["step"], alert["done"]["statement"]) == ("pour-out", {"verb": "poured", "batch": 1})
    assert alert["on_it"] == {"verb": "began", "step": "pour-out", "batch": 1}


def test_a_planned_batch_is_ready_to_be_stated() -> None:
    house = FakeHouse(planned=[ComingBatch("Slow epoxy base", ("bay 1", "bay 2"), mass_kg=9.5, coat="base", start=NOW)])
    [planned] = _view(house)["planned"]
    assert planned["statement"] == {"verb": "mixing", "product": "Slow epoxy base", "areas": ["bay 1", "bay 2"],
                                    "coat": "base", "mass_kg": 9.5}  # fmt: skip
    assert planned["where"] == "bay 1 and bay 2"


def test_an_empty_snapshot_makes_an_empty_view() -> None:
    told = build_view(ViewParts({}, replace(FakeHouse().floor(), areas=()), (), ()), NOW)
    assert (told["batches"], told["alerts"], told["coming"], told["conditions"]["rows"]) == ([], [], [], [])


def test_without_a_slab_reading_the_board_says_of_the_dew_margin_only_to_read_the_slab() -> None:
    unread = {"batches": [], "alerts": [], "conditions": {"air_c": 20.0, "rh_pct": 50.0, "slab_c": None}, "areas": []}
    told = build_view(ViewParts(unread, FakeHouse().floor(), (), ()), NOW)["conditions"]
    assert {row["label"]: row["words"] for row in told["rows"]}["Dew margin"] == "read the slab in its coldest corner"


def test_a_reading_that_jumped_is_asked_about_without_a_command_for_a_finger() -> None:
    told = ViewParts(
        {"questions": [{"entry": 7, "text": "slab from 20 °C to 36 °C: is that right? if not, `withdraw 7`"}]},
        FakeHouse().floor(),
        (),
        (),
    )
    assert build_view(told, NOW)["questions"] == [
        {"entry": 7, "text": "slab from 20 °C to 36 °C: is that right? if not, take it back"}
    ]


def test_a_window_that_is_called_out_elsewhere_is_no_deadline_of_this_phone() -> None:
    house = FakeHouse()
    house.state(mixing(), NOW - 11 * MIN, "mixer")
    told = dict(house.snapshot(NOW))
    assert build_view(ViewParts(told, house.floor(), (), ()), NOW)["deadlines"]
    told["batches"] = [
        {**each, "windows": [{**window, "calls": []} for window in each["windows"]]} for each in told["batches"]
    ]
    assert build_view(ViewParts(told, house.floor(), (), ()), NOW)["deadlines"] == []

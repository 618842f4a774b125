"""The foreman's page: all jobs under way, only to be looked at."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.office import OFFICE, Foreman
from mixclock.board.officepage import office_lines, office_page
from mixclock.board.routes import KEYS, LOOKING, Board
from mixclock.job.statements import VERBS
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobexchange import export_job, import_job
from mixclock.wiring import House, open_house
from tests.board.conftest import Served
from tests.cli.studio import STUDIO

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
MIXING = {"verb": "mixing", "product": "Slow epoxy base", "coat": "base", "volume_l": 4.0, "areas": ["bay 1"]}


def mix(house: House, job: str) -> None:
    told = {key: value for key, value in MIXING.items() if key != "verb"}
    house.state(VERBS["mixing"].told(told), job=job)


@pytest.fixture
def firm(tmp_path: Path) -> House:
    """The office has a job of its own, and one of a van <one>, both with a bucket."""
    clock = FakeClock(MORNING, boot_id="van")
    with open_house(tmp_path / "van", clock) as van:
        van.start(STUDIO)
        mix(van, "Pottery studio floor")
        export_job(van.book, "Pottery studio floor", tmp_path / "van.mixclock")
    office = open_house(tmp_path / "office", FakeClock(MORNING, boot_id="office"))
    office.start(STUDIO.replace("Pottery studio floor", "Boat <shed>"))
    mix(office, "Boat <shed>")
    import_job(office.book, tmp_path / "van.mixclock")
    return office


def test_every_job_is_there_with_its_bucket_and_what_is_late(firm: House) -> None:
    looks = Foreman(firm).looks(MORNING + timedelta(minutes=90))
    told = [look.told for look in looks]
    assert [job["job"] for job in told] == ["Boat <shed>", "Pottery studio floor"]
    assert [[bucket["batch"] for bucket in job["in_bucket"]] for job in told] == [[1], [1]]
    assert all(any(due["rank"] == "critical" for due in job["due"]) for job in told)
    assert all(due["heard_by"] is None for job in told for due in job["due"])
    lines = list(office_lines(looks, MORNING + timedelta(minutes=90)))
    assert lines[0].startswith("2 jobs, 2 buckets, ")
    assert lines[2] == "Boat <shed>  (10:30; last stated 9:00)"
    assert any(line.startswith("  In a bucket: batch 1, 4 L of Slow epoxy base, bay 1, pour by") for line in lines)
    assert any("nobody heard it yet" in line for line in lines)


def test_which_floor_opens_this_week_is_told(firm: House) -> None:
    firm.clock.advance(600.0)  # type: ignore[attr-defined]
    firm.state(VERBS["poured"].told({"batch": 1}), job="Boat <shed>")
    (shed, vans) = (look.told for look in Foreman(firm).looks(MORNING + timedelta(hours=1)))
    assert {opens["what"] for opens in shed["opens"]} >= {"recoat"}
    assert {opens["poured"] for opens in shed["opens"]} == {True}
    assert {opens["poured"] for opens in vans["opens"]} == {False}


def test_a_floor_that_is_open_says_until_when(firm: House) -> None:
    firm.clock.advance(600.0)  # type: ignore[attr-defined]
    firm.state(VERBS["poured"].told({"batch": 1}), job="Boat <shed>")
    later = MORNING + timedelta(hours=30)
    shed = next(look for look in Foreman(firm).looks(later) if look.told["job"] == "Boat <shed>")
    (floor,) = shed.told["open"]
    assert (floor["area"], floor["what"]) == ("bay 1", "recoat")
    assert floor["from"] <= later.isoformat() <= floor["until"]
    assert any(line.startswith("  Open: bay 1, next coat until ") for line in office_lines([shed], later))


def test_what_is_late_stands_before_what_only_runs(firm: House) -> None:
    firm.clock.advance(60.0)  # type: ignore[attr-defined]
    firm.state(VERBS["dumped"].told({"batch": 1}), job="Boat <shed>")
    looks = Foreman(firm).looks(MORNING + timedelta(minutes=30))
    assert [(look.told["job"], look.is_late) for look in looks] == [
        ("Pottery studio floor", True), ("Boat <shed>", False),
    ]  # fmt: skip


def test_of_another_van_the_office_knows_no_more_than_its_file_tells(firm: House) -> None:
    late = MORNING + timedelta(minutes=90)
    lines = list(office_lines(Foreman(firm).looks(late), late))
    assert any(line.startswith("Pottery studio floor  (10:30; last stated 9:00; book ") for line in lines)
    assert any(line.startswith("  LATE: ") and "'s file of 9:00 has it" in line for line in lines)


def test_a_floor_that_cannot_be_worked_out_hides_no_other(firm: House, monkeypatch: pytest.MonkeyPatch) -> None:
    known = House.standing

    def broken(house: House, job: str) -> Any:
        if job == "Boat <shed>":
            raise ValueError("half a batch")
        return known(house, job)

    monkeypatch.setattr(House, "standing", broken)
    lines = list(office_lines(Foreman(firm).looks(MORNING), MORNING))
    assert "  LOOK OUT: this job can't be worked out: ValueError: half a batch" in lines
    assert any("In a bucket" in line for line in lines)


def test_only_what_was_stated_anew_is_reckoned_again(firm: House, monkeypatch: pytest.MonkeyPatch) -> None:
    foreman, known, asked = Foreman(firm), House.standing, list[str]()
    monkeypatch.setattr(House, "standing", lambda house, job: asked.append(job) or known(house, job))  # type: ignore[func-returns-value]
    foreman.looks(MORNING)
    assert len(asked) == 2
    assert foreman.looks(MORNING + timedelta(seconds=4))[0].told["in_bucket"]
    assert len(asked) == 2
    firm.state(VERBS["dumped"].told({"batch": 1}), job="Boat <shed>")
    (shed,) = (look.told for look in foreman.looks(MORNING + timedelta(seconds=8)) if look.told["job"] == "Boat <shed>")
    assert (asked[2:], shed["in_bucket"]) == (["Boat <shed>"], [])


def test_the_page_can_only_be_read_and_believes_no_name(firm: House) -> None:
    page = office_page(Foreman(firm).looks(MORNING), MORNING, "<b>the disk is full")
    assert "Boat &lt;shed&gt;" in page
    assert "&lt;b&gt;the disk is full" in page
    assert not [tag for tag in ("<button", "<form", "<input", "<shed>") if tag in page]
    assert page.count("<script") == page.count('<script type="module" src="/static/office.js">') == 1


def test_a_finished_job_is_not_there(firm: House) -> None:
    firm.state(VERBS["finished"].told({}), job="Boat <shed>")
    assert [look.told["job"] for look in Foreman(firm).looks(MORNING)] == ["Pottery studio floor"]


POST = """async ([path, body]) => {
    const headers = {'content-type': 'application/json'};
    const told = await fetch(path, {method: 'POST', headers, body: JSON.stringify(body)});
    return [told.status, await told.text()];
}"""


def posts(served: Served) -> set[str]:
    """Every address of the board that takes something."""
    routes: Any = Board(served.server._desk, 0, str, lambda _: None).app()._app
    return {route.path for route in routes.routes if "POST" in route.methods}


@pytest.fixture
def held(serve: Callable[..., Served], phone: Callable[..., Any]) -> tuple[Served, Any]:
    """A board, and a phone that the office holds."""
    served = serve()
    page = phone(served)
    assert page.evaluate(POST, ["/hold", {"holder": OFFICE}])[0] == 200
    return served, page


def test_the_offices_phone_states_nothing_by_any_way(held: tuple[Served, Any]) -> None:
    served, page = held
    routes = posts(served)
    assert routes >= {"/state", "/take-back", "/cup", "/next", "/photo", "/drop"}
    for path in sorted(routes - {*LOOKING, "/pair", "/readings"}):  # a sensor comes with a key of its own
        status, told = page.evaluate(POST, [path, {**MIXING, "entry": 1}])
        assert (status, "only looks" in told) == (403, True), path
    for path in KEYS:
        assert page.evaluate("async (path) => (await fetch(path)).status", path) == 403
    assert page.evaluate(POST, ["/readings", {"air_c": 20.0}])[0] == 401
    assert served.house.entries == []


def test_what_only_the_office_looks_at_has_reached_nobody(held: tuple[Served, Any]) -> None:
    served, page = held
    shown = {"page": "p", "alerts": [{"id": "b1.pour-out", "stage": "now"}]}
    assert page.evaluate(POST, ["/shown", shown])[0] == 200
    assert not served.server._desk.receipts.phones("b1.pour-out", "now")


def test_the_offices_phone_comes_to_its_page_and_sends_nothing(held: tuple[Served, Any]) -> None:
    served, page = held
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method))
    page.goto(served.server.address)
    page.wait_for_url("**/office")
    assert page.locator("h1").inner_text() == "All jobs under way"
    assert page.locator("button, form, input").count() == 0
    page.get_by_role("link", name="Who holds this phone?").click()
    page.wait_for_selector("#sheet:not([hidden])")
    assert "Who holds this phone?" in page.locator("#sheet-title").inner_text()
    assert set(sent) == {"GET"}


def test_the_page_follows_and_says_when_the_laptop_is_silent(
    serve: Callable[..., Served], phone: Callable[..., Any]
) -> None:
    served = serve()
    page = phone(served, own_time=True)
    page.goto(f"{served.server.address.rstrip('/')}/office")
    served.house.office = lambda now, trouble: office_page((), now, "the disk is full")  # type: ignore[method-assign]
    page.clock.run_for(4_100)
    page.wait_for_selector("main .trouble")
    assert page.locator("main .trouble").inner_text() == "the disk is full"
    assert page.locator("#silence").is_hidden()
    served.down()
    page.clock.run_for(20_000)
    page.wait_for_selector("#silence:not([hidden])")
    assert "The laptop has been silent for" in page.locator("#silence").inner_text()
    served.up()
    page.clock.run_for(4_100)
    page.wait_for_selector("#silence", state="hidden")

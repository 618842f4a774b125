"""The foreman's page: all jobs under way, only to be looked at."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.office import jobs_told, office_lines, office_page
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
    told = jobs_told(firm, MORNING + timedelta(minutes=90))
    assert [job["job"] for job in told] == ["Boat <shed>", "Pottery studio floor"]
    assert [[bucket["batch"] for bucket in job["in_bucket"]] for job in told] == [[1], [1]]
    assert all(any(due["rank"] == "critical" for due in job["due"]) for job in told)
    assert all(due["heard_by"] is None for job in told for due in job["due"])
    lines = list(office_lines(told, MORNING + timedelta(minutes=90)))
    assert lines[0].startswith("Boat <shed>  (last entry")
    assert any(line.startswith("  In a bucket: batch 1, Slow epoxy base, bay 1, pour by") for line in lines)
    assert any("nobody heard it yet" in line for line in lines)


def test_which_floor_opens_this_week_is_told(firm: House) -> None:
    firm.clock.advance(600.0)  # type: ignore[attr-defined]
    firm.state(VERBS["poured"].told({"batch": 1}), job="Boat <shed>")
    told = jobs_told(firm, MORNING + timedelta(hours=1))
    assert {opens["what"] for opens in told[0]["opens"]} >= {"recoat"}


def test_the_page_can_only_be_read_and_believes_no_name(firm: House) -> None:
    page = office_page(jobs_told(firm, MORNING), MORNING)
    assert "Boat &lt;shed&gt;" in page
    assert not [tag for tag in ("<script", "<button", "<form", "<input", "<shed>") if tag in page]


def test_a_finished_job_is_not_there(firm: House) -> None:
    firm.state(VERBS["finished"].told({}), job="Boat <shed>")
    assert [job["job"] for job in jobs_told(firm, MORNING)] == ["Pottery studio floor"]


def test_the_offices_phone_shows_the_page_and_states_nothing(
    serve: Callable[..., Served], phone: Callable[..., Any]
) -> None:
    served = serve()
    page = phone(served)
    held = page.evaluate(
        "async () => (await fetch('/hold', {method: 'POST', headers: {'content-type': 'application/json'}, "
        "body: JSON.stringify({holder: 'the office'})})).status"
    )
    assert held == 200
    page.goto(served.server.address.rstrip("/") + "/office")
    assert page.locator("h1").inner_text() == "All jobs under way"
    assert page.locator("button, form, input, script").count() == 0
    told = page.evaluate(
        "async () => { const told = await fetch('/state', {method: 'POST', headers: {'content-type': "
        "'application/json'}, body: '{}'}); return [told.status, await told.text()]; }"
    )
    assert told[0] == 403
    assert "only looks" in told[1]
    assert served.house.entries == []

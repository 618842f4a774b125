"""The weather that is expected goes into the job: from a file, or from a service that was asked for."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from mixclock.outside.clock import SystemClock
from tests.cli.studio import CORNER
from tests.outside.test_weatherservice import Service
from tests.running import Ran

Run = Callable[..., Ran]


@pytest.fixture
def service(monkeypatch: pytest.MonkeyPatch) -> Iterator[Service]:
    """A weather service on this machine."""
    made = Service()
    monkeypatch.setenv("MIXCLOCK_WEATHER", made.base)
    yield made
    made.server.shutdown()
    made.server.server_close()


def hours_ahead(path: Path, air_c: float) -> Path:
    """A day of weather from now on."""
    now = SystemClock().now()
    points = [
        {"at": (now + timedelta(hours=hour)).isoformat(), "air_c": air_c, "rh_pct": 60.0, "slab_c": 14.0}
        for hour in range(25)
    ]
    path.write_text(json.dumps(points))
    return path


def test_a_file_of_weather_counts_for_the_job_until_it_is_withdrawn(studio: Run, tmp_path: Path) -> None:
    taken = studio("forecast", str(hours_ahead(tmp_path / "week.json", 12.0)), "--json")
    assert (taken.code, taken.json["hours"]) == (0, 25), taken.err
    assert "expects the weather of" in studio("forecast", str(hours_ahead(tmp_path / "week.json", 13.0))).out
    rows = studio("record", "--json").json["statements"]
    assert any("week.json" in json.dumps(row) for row in rows)
    assert studio("withdraw", str(taken.json["entry"])).code == 0


def test_a_service_is_asked_only_for_a_place_and_says_where_its_weather_comes_from(
    studio: Run, service: Service
) -> None:
    told = studio("forecast", "--near", "38.722252,-9.139337")
    assert told.code == 0, told.err
    assert "expects the weather of MET Norway, CC BY 4.0, issued" in told.out
    assert service.asked[0][0] == "/?lat=38.7223&lon=-9.1393"
    assert "US National Weather Service" in studio("forecast", "--near", "40.7127,-74.006", "--us").out


def test_no_service_is_asked_unless_a_person_says_so(studio: Run, service: Service, home: Path) -> None:
    (home / "corner.toml").write_text(CORNER)
    for words in (("reading", "--air", "12 °C", "--slab", "11 °C", "--rh", "60"), ("now",)):
        assert studio(*words).code in (0, 1), words  # 1: nothing is live
    assert studio("job", "start", str(home / "corner.toml")).code == 0
    assert studio("plan", "--job", "Pottery corner").code == 0
    assert service.asked == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "say FILE or --near"),
        (("--near", "Lisbon"), "is no place"),
        (("--near", "98,10"), "latitude comes first"),
        (("none.csv",), "is no file"),
    ],
)
def test_what_is_wrong_is_one_line_and_changes_nothing(words: tuple[str, ...], said: str, studio: Run) -> None:
    answer = studio("forecast", *words)
    assert answer.code == 2
    assert said in answer.err
    assert len(answer.err.splitlines()) == 1


def test_all_mistakes_of_a_forecast_are_said_at_once(studio: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.json"
    bad.write_text(
        '[{"at": "2026-04-13T08:00Z", "air_c": 200, "rh_pct": 130}, {"at": "2026-04-13T09:00Z", "air_c": -99}]'
    )
    answer = studio("forecast", str(bad))
    assert answer.code == 2
    assert len(answer.err.splitlines()) == 3

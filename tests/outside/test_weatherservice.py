"""A forecast is asked for as the services ask to be asked: named, rounded, not before the last answer lapsed."""

from __future__ import annotations

import http.server
import json
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from typing import Any

import pytest

from mixclock.outside.weatherservice import Spot, WeatherError, WeatherService

NOW = datetime(2026, 4, 13, 6, 0, tzinfo=UTC)

# laid out after the services' own documentation (see mixclock/job/forecastreading.py); the values are invented
MET = {
    "type": "Feature",
    "properties": {
        "meta": {
            "updated_at": "2026-04-13T05:12:00Z",
            "units": {"air_temperature": "celsius", "relative_humidity": "%"},
        },
        "timeseries": [
            {
                "time": "2026-04-13T08:00:00Z",
                "data": {"instant": {"details": {"air_temperature": 12.4, "relative_humidity": 71.2}}},
            },
            {"time": "2026-04-13T09:00:00Z", "data": {"instant": {"details": {"air_temperature": 14.0}}}},
        ],
    },
}
US = {
    "properties": {
        "units": "us",
        "updateTime": "2026-04-13T05:12:00+00:00",
        "periods": [
            {
                "startTime": "2026-04-13T08:00:00-05:00", "temperature": 61, "temperatureUnit": "F",
                "dewpoint": {"unitCode": "wmoUnit:degC", "value": 10.5},
                "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 58},
            }
        ],
    }
}  # fmt: skip


class Service:
    """A server on this machine that answers as the services do, and remembers how it was asked."""

    def __init__(self) -> None:
        service = self
        self.asked: list[tuple[str, dict[str, str]]] = []
        self.code = 200

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                service.asked.append((self.path, {name.lower(): value for name, value in self.headers.items()}))
                unchanged = "If-Modified-Since" in self.headers
                body = b"" if unchanged else json.dumps(service.answer(self.path)).encode()
                self.send_response(304 if unchanged else service.code)
                self.send_header("Expires", format_datetime(NOW + timedelta(minutes=31), usegmt=True))
                self.send_header("Last-Modified", format_datetime(NOW - timedelta(minutes=48), usegmt=True))
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: Any) -> None:
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.base = f"http://127.0.0.1:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def answer(self, path: str) -> Any:
        """What is said under a path."""
        if path.startswith("/points/"):
            return {"properties": {"forecastHourly": f"{self.base}/gridpoints/XYZ/1,2/forecast/hourly"}}
        return US if path.endswith("/hourly") else MET


@pytest.fixture
def service() -> Iterator[Service]:
    """The server."""
    made = Service()
    yield made
    made.server.shutdown()
    made.server.server_close()


def test_a_forecast_is_read_as_the_service_documents_it(service: Service, tmp_path: Path) -> None:
    told, fetched = WeatherService(tmp_path, lambda: NOW, base=service.base).at(Spot(38.722252, -9.139337))
    assert [(point.at.hour, point.air_c, point.rh_pct) for point in told.points] == [(8, 12.4, 71.2), (9, 14.0, None)]
    assert (told.source, told.issued, fetched) == (
        "MET Norway, CC BY 4.0",
        datetime(2026, 4, 13, 5, 12, tzinfo=UTC),
        NOW,
    )
    path, headers = service.asked[0]
    assert path == "/?lat=38.7223&lon=-9.1393"  # no more than four decimals
    assert headers["user-agent"].startswith("mixclock/")


def test_the_us_service_mixes_fahrenheit_and_celsius_and_is_read_right(service: Service, tmp_path: Path) -> None:
    told, _ = WeatherService(tmp_path, lambda: NOW, us=True, base=service.base).at(Spot(40.7127, -74.006))
    (point,) = told.points
    assert point.at == datetime(2026, 4, 13, 13, 0, tzinfo=UTC)
    assert point.air_c == pytest.approx((61 - 32) * 5 / 9, abs=0.01)
    assert point.rh_pct == 58.0
    assert [path for path, _ in service.asked] == ["/points/40.7127,-74.006", "/gridpoints/XYZ/1,2/forecast/hourly"]


def test_an_answer_is_not_asked_for_again_before_it_lapses_and_then_only_whether_it_changed(
    service: Service, tmp_path: Path
) -> None:
    now = [NOW]
    asking = WeatherService(tmp_path, lambda: now[0], base=service.base)
    first, _ = asking.at(Spot(38.7, -9.1))
    now[0] = NOW + timedelta(minutes=30)
    again, fetched = WeatherService(tmp_path, lambda: now[0], base=service.base).at(Spot(38.7, -9.1))
    assert (len(service.asked), again, fetched) == (1, first, NOW)
    now[0] = NOW + timedelta(minutes=32)
    later, fetched = asking.at(Spot(38.7, -9.1))
    assert (len(service.asked), later, fetched) == (2, first, now[0])
    assert service.asked[1][1]["if-modified-since"] == "Mon, 13 Apr 2026 05:12:00 GMT"


@pytest.mark.parametrize(
    ("code", "said"), [(403, "asked too often"), (404, "no forecast for that place"), (500, "try again later")]
)
def test_a_refusal_is_one_line_that_says_what_to_do(code: int, said: str, service: Service, tmp_path: Path) -> None:
    service.code = code
    with pytest.raises(WeatherError, match=said):
        WeatherService(tmp_path, lambda: NOW, base=service.base).at(Spot(0.0, 0.0))


def test_nonsense_and_silence_are_one_line_each(service: Service, tmp_path: Path) -> None:
    service.answer = lambda _: {"properties": {"timeseries": [{"time": "soon"}]}}  # type: ignore[method-assign]
    with pytest.raises(WeatherError, match="answered what is no forecast"):
        WeatherService(tmp_path, lambda: NOW, base=service.base).at(Spot(0.0, 0.0))
    service.server.shutdown()
    service.server.server_close()
    with pytest.raises(WeatherError, match="no answer"):
        WeatherService(tmp_path, lambda: NOW, base=service.base).at(Spot(1.0, 1.0))

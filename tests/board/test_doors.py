"""The doors beside the page: a calendar to subscribe to, sensors that send readings, pictures from a phone."""

from __future__ import annotations

import base64
import hashlib
import http.client
import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.joining import JoinedHouse
from mixclock.board.server import BoardServer
from mixclock.job.entry import PhotoTaken, Reading
from mixclock.outside.clock import FakeClock
from mixclock.wiring import House, open_house
from tests.board.boardfakes import mixing
from tests.board.conftest import LIKE_A_PHONE
from tests.potteryfloor import JOB

START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)


class Shed:
    """A board on a real book."""

    def __init__(self, home: Path) -> None:
        self.clock = FakeClock(START)
        self.house: House = open_house(home, self.clock)
        self.house.start(JOB)
        self.server = BoardServer(lambda: JoinedHouse(open_house(home, self.clock)), self.clock, port=0)
        self.server.start()
        self.port = int(self.server.address.rstrip("/").rpartition(":")[2])
        self.cookie = self._pair()
        told = json.loads(self.ask("GET", "/doors", cookie=True)[1])
        self.key = told["header"].rpartition(" ")[2]
        self.calendar = told["calendar"].partition(f":{self.port}")[2]

    def ask(
        self, method: str, path: str, body: Any = None, cookie: bool = False, **headers: str
    ) -> tuple[int, bytes, str]:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if body is not None:
            sent["content-type"] = "application/json"
        if cookie:
            sent |= {"cookie": self.cookie, "origin": f"http://127.0.0.1:{self.port}"}
        line.request(method, path, None if body is None else json.dumps(body), sent)
        answer = line.getresponse()
        found = answer.status, answer.read(), answer.getheader("set-cookie", "")
        line.close()
        return found

    def sends(self, **told: Any) -> tuple[int, dict[str, Any]]:
        status, body, _ = self.ask("POST", "/readings", told, authorization=f"Bearer {self.key}")
        return status, json.loads(body)

    def readings(self) -> list[Reading]:
        return [each.facts for each in self.house.entries() if isinstance(each.facts, Reading)]

    def close(self) -> None:
        self.server.stop()
        self.house.close()

    def _pair(self) -> str:
        secret = self.server.pairing_url().partition("#pair=")[2]
        origin = f"http://127.0.0.1:{self.port}"
        _, _, cookie = self.ask("POST", "/pair", {"secret": secret, "device": "test"}, origin=origin)
        return cookie.partition(";")[0]


@pytest.fixture
def shed(home: Path) -> Iterator[Shed]:
    opened = Shed(home)
    yield opened
    opened.close()


def test_a_calendar_is_subscribed_to_by_its_address_and_read_by_another_library(shed: Shed) -> None:
    import vobject

    from mixclock.board.taps import read_statement

    assert shed.ask("GET", "/floor/not-the-key.ics")[0] == 401
    shed.house.state(read_statement(mixing("bay 2")))
    shed.clock.advance(600.0)
    shed.house.state(read_statement({"verb": "poured", "batch": 1}))
    status, body, _ = shed.ask("GET", shed.calendar)
    assert status == 200
    told = list(vobject.readOne(body.decode()).vevent_list)
    assert any("bay 2" in event.summary.value for event in told)
    first = {event.uid.value: event.dtstart.value for event in told}
    shed.house.state(read_statement({"verb": "reading", "slab_c": 14.0}))
    again = vobject.readOne(shed.ask("GET", shed.calendar)[1].decode()).vevent_list
    moved = {event.uid.value: event.dtstart.value for event in again}
    assert first.keys() == moved.keys(), "the same dates"
    assert first != moved, "a colder slab moves them"


def test_a_sensor_s_reading_is_in_the_log_once(shed: Shed) -> None:
    at = "2026-04-13T07:50:00+00:00"
    assert shed.sends(sensor="shed", air_f=68, rh_pct="61", slab_c=15.5, area="Bay 2", at=at)[0] == 200
    status, told = shed.sends(sensor="shed", air_f=68, rh_pct="61", slab_c=15.5, area="Bay 2", at=at)
    assert (status, told["entry"], told["held_back"]) == (200, None, None), "the same instant is known"
    (reading,) = shed.readings()
    assert (reading.air_c, reading.rh_pct, reading.slab_c) == (20.0, 61.0, 15.5)
    assert (reading.area, reading.logger) == ("bay 2", "shed")


def test_what_a_sensor_cannot_mean_is_held_back_and_shown_to_the_crew(shed: Shed) -> None:
    shed.sends(sensor="shed", air_c=18)
    shed.clock.advance(600.0)
    status, told = shed.sends(sensor="shed", air_c=34)
    assert status == 200
    assert told["entry"] is None
    assert "jumps further within two hours" in told["held_back"]
    beat = json.loads(shed.ask("GET", "/view", cookie=True)[1])["beat"]
    assert "sensor shed" in beat["trouble"]
    assert shed.sends(sensor="shed", air_c=18.2)[1]["entry"] is not None
    assert json.loads(shed.ask("GET", "/view", cookie=True)[1])["beat"]["trouble"] is None
    shed.clock.advance(60.0)
    assert "humidity of 104 %" in shed.sends(sensor="shed", rh_pct=104)[1]["held_back"]


def test_a_value_that_never_moves_is_taken_for_a_dead_probe(shed: Shed) -> None:
    for _ in range(26):
        _, told = shed.sends(sensor="shed", air_c=17.25)
        shed.clock.advance(1800.0)
    assert "stuck" in told["held_back"]


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"air_c": 18}, "name the sensor"),
        ({"sensor": "shed"}, "nothing was read"),
        ({"sensor": "shed", "air": 18}, "did you mean"),
        ({"sensor": "shed", "air_c": "warm", "rh_pct": True}, "'warm' is no number"),
        ({"sensor": "shed", "air_c": 18, "air_f": 64}, "say the temperature once"),
        ({"sensor": "shed", "air_c": 18, "at": "8:00"}, "is no instant"),
        ({"sensor": "shed", "air_c": 18, "area": "bay 9"}, "is no area of this job"),
        ({"sensor": "shed", "air_c": 18, "at": "2027-04-13T08:00:00+00:00"}, "mend the sensor's clock"),
        ({"sensor": "shed", "air_c": 1e400}, ""),
    ],
)
def test_a_sensor_is_told_what_is_wrong_and_nothing_is_written(shed: Shed, told: dict[str, Any], says: str) -> None:
    status, answer = shed.sends(**told)
    assert status == 422
    assert says in answer["refused"]
    assert shed.readings() == []


def test_without_the_key_nobody_reads_or_writes_and_guessing_is_stopped(shed: Shed) -> None:
    for _ in range(10):
        status, _, _ = shed.ask("POST", "/readings", {"sensor": "x", "air_c": 1}, authorization="Bearer guess")
        assert status == 401
    assert shed.ask("POST", "/readings", {"sensor": "x", "air_c": 1}, authorization="Bearer guess")[0] == 429
    assert shed.ask("POST", "/readings", {"sensor": "x", "air_c": 1})[0] in (403, 429), "a page elsewhere has no key"
    assert shed.readings() == []


def test_who_drops_a_phone_takes_from_it_the_key_that_it_may_have_seen(shed: Shed) -> None:
    phone = json.loads(shed.ask("GET", "/view", cookie=True)[1])["phone"]
    assert shed.ask("GET", shed.calendar)[0] == 200
    assert shed.ask("POST", "/drop", {"phone": phone}, cookie=True)[0] == 200
    assert shed.ask("GET", shed.calendar)[0] == 401
    assert shed.sends(sensor="shed", air_c=18)[0] == 401


def test_a_picture_from_a_phone_is_kept_small_with_the_hash_of_the_one_on_the_phone(shed: Shed) -> None:
    from PIL import Image

    made = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(made, "JPEG")
    original = hashlib.sha256(b"twelve megapixels").hexdigest()
    told = {"name": "bay2.jpg", "sha256": original, "small": base64.b64encode(made.getvalue()).decode()}
    status, body, _ = shed.ask("POST", "/photo", told | {"area": "bay 2"}, cookie=True)
    assert status == 200, body
    (photo,) = [each.facts for each in shed.house.entries() if isinstance(each.facts, PhotoTaken)]
    assert (photo.area, photo.sha256) == ("bay 2", original)
    kept = shed.house.book.drawers.picture(original)
    assert kept is not None
    assert kept.small == made.getvalue()


@pytest.mark.parametrize(
    "wrong",
    [
        {"sha256": "short"},
        {"small": base64.b64encode(b"GIF89a").decode()},
        {"small": "?"},
        {"area": 3},
        {"batch": True},
        {"small": base64.b64encode(b"\xff\xd8\xff" + bytes(500 * 1024)).decode()},
    ],
)
def test_what_is_no_picture_is_refused_and_nothing_is_written(shed: Shed, wrong: dict[str, Any]) -> None:
    told = {"sha256": "0" * 64, "small": base64.b64encode(b"\xff\xd8\xff0").decode(), **wrong}
    status, _, _ = shed.ask("POST", "/photo", told, cookie=True)
    assert status in (413, 422)
    assert not any(isinstance(each.facts, PhotoTaken) for each in shed.house.entries())


def test_a_phone_takes_a_picture_and_ties_it_to_a_bay(shed: Shed, browser: Any, tmp_path: Path) -> None:
    """Over http on a network a browser has no hash of its own, so ours is asked too."""
    from PIL import Image

    picture = tmp_path / "IMG_1.jpg"
    Image.effect_noise((2000, 1500), 60).convert("RGB").save(picture, "JPEG", quality=92)
    context = browser.new_context(**LIKE_A_PHONE)
    try:
        page = context.new_page()
        page.goto(shed.server.pairing_url())
        page.wait_for_selector("#contact[data-state=ok]")
        page.get_by_role("button", name="More").click()
        page.get_by_role("button", name="A picture").click()
        page.get_by_role("button", name="bay 2").click()
        with page.expect_file_chooser() as chosen:
            page.get_by_role("button", name="Take it").click()
        chosen.value.set_files(picture)
        page.get_by_text("In the book: picture of bay 2").wait_for()
        own = page.evaluate(
            "import('/static/main.js').then((m) => [0, 1, 55, 56, 63, 64, 65, 1000].map((n) => "
            "[...m.sha256(new Uint8Array(n).fill(97))].map((b) => b.toString(16).padStart(2, '0')).join('')))"
        )
    finally:
        context.close()
    assert own == [hashlib.sha256(b"a" * n).hexdigest() for n in (0, 1, 55, 56, 63, 64, 65, 1000)]
    original = hashlib.sha256(picture.read_bytes()).hexdigest()
    (photo,) = [each.facts for each in shed.house.entries() if isinstance(each.facts, PhotoTaken)]
    assert (photo.area, photo.sha256, photo.name) == ("bay 2", original, "IMG_1.jpg")
    kept = shed.house.book.drawers.picture(original)
    assert kept is not None
    with Image.open(io.BytesIO(kept.small)) as small:
        assert max(small.size) <= 1280
    assert len(kept.small) <= 480 * 1024

"""What counts as shown on the board: only what a page says that it has on its glass just now."""

from __future__ import annotations

import threading
from datetime import timedelta
from typing import Any

from mixclock.board.hub import Hub
from mixclock.board.receipts import Receipts
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import POUR_OUT, FakeHouse, mixing, studio_plan

CLOCK = SystemClock()


def test_an_alert_counts_as_shown_only_while_a_page_shows_it() -> None:
    receipts = Receipts()
    assert receipts.wait("b1.pour-out", "now", 0.0) == frozenset()
    receipts.put("phone", "page", [("b1.pour-out", "now", "shed")])
    assert receipts.phones("b1.pour-out", "now") == {"phone"}
    assert receipts.phones("b1.pour-out", "late") == frozenset()
    receipts.put("phone", "page", [])
    assert receipts.phones("b1.pour-out", "now") == frozenset()


def test_a_bucket_of_another_job_that_has_the_same_number_is_not_shown_by_it() -> None:
    receipts = Receipts()
    receipts.put("phone", "page", [("b1.pour-out", "now", "shed")])
    assert receipts.phones("b1.pour-out", "now", "shed") == {"phone"}
    assert receipts.phones("b1.pour-out", "now", "kitchen") == frozenset()


def test_a_page_shows_its_own_job_or_the_one_in_use_and_no_other() -> None:
    hub = Hub()
    assert not hub.shows("shed")
    hub.open("phone", job="kitchen")
    assert (hub.shows("kitchen"), hub.shows("shed")) == (True, False)
    hub.open("laptop")
    assert hub.shows("shed"), "what is in use is not known before the first view"
    hub.show({"job": "barn"})
    assert (hub.shows("barn"), hub.shows("shed"), hub.shows("kitchen")) == (True, False, True)


def test_a_closed_page_no_longer_counts_while_the_phones_other_page_does() -> None:
    receipts = Receipts()
    receipts.put("phone", "one", [("b1.pour-out", "now", "shed")])
    receipts.put("phone", "other", [("b1.pour-out", "now", "shed")])
    receipts.gone("phone", "one")
    assert receipts.phones("b1.pour-out", "now") == {"phone"}
    receipts.gone("phone", "other")
    assert receipts.phones("b1.pour-out", "now") == frozenset()


def test_whoever_waits_for_a_receipt_is_told_as_soon_as_there_is_one() -> None:
    receipts = Receipts()
    threading.Timer(0.1, receipts.put, ("phone", "page", [("b1.pour-out", "now", "shed")])).start()
    assert receipts.wait("b1.pour-out", "now", 5.0) == {"phone"}


def test_a_real_page_gives_a_receipt_and_takes_it_back_when_it_is_closed(serve: Any, phone: Any) -> None:
    house = FakeHouse(planned=studio_plan(CLOCK.now()))
    served = serve(house)
    assert served.server.shown_on("b1.pour-out", "late", span_s=0.1) == frozenset()
    page = phone(served)
    house.state(mixing(), CLOCK.now() - POUR_OUT - timedelta(minutes=1), "mixer")
    assert len(served.server.shown_on("b1.pour-out", "late", span_s=3.0)) == 1
    assert served.server.watched()
    page.close()
    for _ in range(40):
        if not served.server.shown_on("b1.pour-out", "late", span_s=0.0):
            break
        threading.Event().wait(0.05)
    assert served.server.shown_on("b1.pour-out", "late", span_s=0.0) == frozenset()

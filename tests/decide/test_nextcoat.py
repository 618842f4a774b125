"""Once a film was sanded, nobody is told any more to sand it: the calls, the windows, the answers and the rounds agree.

The base's recoat shuts 48 h after its pour at 20 °C by the sheet; here the next coat comes on the fourth day.
"""

from __future__ import annotations

import pytest

from mixclock.decide.alerting import alerts
from mixclock.decide.nextcoat import SANDED_SAID
from mixclock.decide.shapes import Stage, State
from mixclock.decide.tracks import tracks
from mixclock.job.entry import Combined, Did, Noted, Poured, Reading
from mixclock.job.steps import BACK_ROLL, BROADCAST, SCRAPE
from tests.decide.worlds import MODEL, Log, instant
from tests.words.test_objections import answered, top

HOUR = 60.0


def laid(note: Noted | None = None, hours: float = 80.0) -> Log:
    """The base on bay 1, with every step of its first day stated; and perhaps a note."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0))
    log.add(6, Poured(1))
    log.add(15, Did(BACK_ROLL, 1))
    log.add(20, Did(BROADCAST, 1))
    log.add(20 * HOUR, Did(SCRAPE, 1))
    if note is not None:
        log.add(hours * HOUR, note)
    return log


def called(log: Log, hours: float) -> set[Stage]:
    """The stages at which the recoat is called then."""
    standing, at = log.standing(hours * HOUR), instant(hours * HOUR)
    return {alert.stage for alert in alerts(standing, tracks(standing, MODEL), at) if "recoat" in alert.id}


def test_a_film_past_its_recoat_is_called_until_it_was_sanded() -> None:
    assert called(laid(), 81.0) & {Stage.LATE, Stage.LOST}
    assert not called(laid(Noted("abraded: yes", "bay 1")), 81.0) & {Stage.NOW, Stage.LATE, Stage.LOST}
    assert called(laid(Noted("abraded: no", "bay 1")), 81.0) & {Stage.LATE, Stage.LOST}


def test_its_window_stands_open_and_says_why() -> None:
    log = laid(Noted("abraded: yes", "bay 1"))
    assert laid().window("recoat", 81 * HOUR, "bay 1").state is not State.OPEN
    window = log.window("recoat", 81 * HOUR, "bay 1")
    assert window.state is State.OPEN
    assert window.closes is None
    assert SANDED_SAID in window.because


def test_who_mixes_the_next_coat_is_not_told_to_sand_again() -> None:
    assert any("sand it dull" in line for line in answered(laid(), 81 * HOUR, top()).warnings)
    assert answered(laid(Noted("abraded: yes", "bay 1")), 81 * HOUR, top()).warnings == ()


@pytest.mark.parametrize("hours", [0.05, 90.0])
def test_what_was_sanded_before_the_film_or_after_the_next_coat_opens_nothing(hours: float) -> None:
    """Before its own pour it was the floor below; once the next coat lies on it, a late coat stays a late coat."""
    log = laid()
    log.add(85 * HOUR, Combined("Shed top", ("bay 1",), volume_l=2.0, coat="top", material_c=20.0))
    log.add(85 * HOUR + 3, Poured(2))
    log.add(hours * HOUR, Noted("abraded: yes", "bay 1"))
    assert log.window("recoat", 95 * HOUR, "bay 1").closes is not None

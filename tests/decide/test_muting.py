"""Who knows mixing is not led through it; everything that saves a floor or a hand is said all the same."""

from __future__ import annotations

import pytest

from mixclock.decide.alerting.muting import Mute, read_mute
from mixclock.decide.shapes import Alert, Stage
from mixclock.job.entry import Combined
from mixclock.job.steps import STEPS
from tests.decide.worlds import Log, instant


def covered(mute: Mute) -> set[str]:
    """The steps of batch 1, called to the mixer, that a mute leaves out."""
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0))
    standing = log.standing()
    return {
        row.name
        for row in STEPS.values()
        if mute.covers(standing, Alert("x", row.name, row.rank, Stage.NOW, instant(1), 1, who="mixer"))
    }


def test_only_the_steps_inside_mixing_are_ever_left_out() -> None:
    assert covered(Mute()) == {"scrape-sides", "clean-pail"}


@pytest.mark.parametrize(
    ("text", "left_out"),
    [
        ("mixing by mixer", True),
        ("mixing by roller", False),
        ("mixing of shed BASE", True),
        ("mixing of Shed top", False),
    ],
)
def test_it_holds_for_the_person_or_the_product_that_was_named(text: str, left_out: bool) -> None:
    mute = read_mute(text, ["mixer", "roller"], ["Shed base", "Shed top"])
    assert bool(covered(mute)) is left_out


@pytest.mark.parametrize("text", ["hot", "pour-out", "mixing by", "mixing by nobody", "mixing with mixer"])
def test_nothing_else_can_be_muted(text: str) -> None:
    with pytest.raises(ValueError, match=r"only mixing|nobody and nothing"):
        read_mute(text, ["mixer"], ["Shed base"])

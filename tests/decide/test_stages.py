"""How far a batch has come, in the word that the JSON uses."""

from __future__ import annotations

import pytest

from mixclock.decide.stages import stage_of
from mixclock.decide.windows import seen_at
from mixclock.job.entry import Combined, Did, Poured, ProfileUsed, Saw
from mixclock.job.folding import Folding
from tests.decide.worlds import BASE, Log, instant

STANDS = BASE.replace(
    "[windows.back-roll]", '[windows.induction]\nafter = "mixed"\nopens = "20 min"\n[windows.back-roll]'
)


def stage(log: Log, minutes: float) -> str:
    standing = log.standing(minutes)
    seen = [seen_at(track, instant(minutes)) for track in log.tracks(minutes)]
    return stage_of(standing, standing.batches[0], seen, instant(minutes)).value


@pytest.fixture
def log() -> Log:
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0))
    return log


def test_a_batch_goes_from_the_bucket_to_the_flake(log: Log) -> None:
    assert stage(log, 2) == "mixed"
    assert stage(log, 6) == "mixed"
    log.add(7, Poured(1))
    assert stage(log, 8) == "poured"
    log.add(15, Did("back-roll", 1))
    assert stage(log, 16) == "rolled"
    log.add(25, Did("broadcast", 1))
    assert stage(log, 26) == "flaked"


def test_a_batch_with_an_induction_stands_once_it_is_mixed() -> None:
    log = Log()
    log.entries[1] = type(log.entries[1])(2, "shed", instant(-60), instant(-60), ProfileUsed("Shed base", STANDS))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base"))
    assert stage(log, 2) == "mixed"
    assert stage(log, 5) == "standing"


def test_flaked_without_a_word_about_rolling_is_flaked(log: Log) -> None:
    log.add(7, Poured(1))
    log.add(20, Did("broadcast", 1))
    assert stage(log, 21) == "flaked"


def test_a_batch_is_done_when_nothing_of_it_waits(log: Log) -> None:
    log.add(7, Poured(1))
    log.add(15, Did("back-roll", 1))
    log.add(25, Did("broadcast", 1))
    log.add(60 * 20, Saw("hard", 1))
    assert stage(log, 60 * 24 * 6) == "done"


def test_a_step_on_one_bay_says_nothing_of_the_same_coat_on_another(log: Log) -> None:
    log.add(5, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base", material_c=20.0))
    log.add(7, Poured(1))
    log.add(12, Poured(2))
    log.add(15, Did("back-roll", areas=("bay 1",)))
    first, second = log.standing(16).batches
    assert ("back-roll" in first.done, "back-roll" in second.done) == (True, False)
    log.add(17, Did("back-roll", areas=("bay 2",)))
    assert "back-roll" in log.standing(18).batches[1].done


def test_only_a_log_that_is_whole_and_asked_about_as_it_stands_is_followed_piece_by_piece(log: Log) -> None:
    assert Folding("shed", log.entries).goes_on([])
    assert not Folding("shed", log.entries, at=instant(5)).goes_on([])
    assert not Folding("shed", log.entries, known=instant(5)).goes_on([])

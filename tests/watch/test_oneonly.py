"""One watch calls out at a time, also where the home can hold no lock; where none can be had anywhere it is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.outside.clock import SystemClock
from mixclock.outside.home import beside_the_disk
from mixclock.watch.oneonly import LOCK_NAME, AnotherWatchesError, Post, only_one, stop_watch

CLOCK = SystemClock()


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


def test_a_watch_with_all_its_locks_is_alone_and_leaves_none_in_memory(home: Path) -> None:
    with only_one(home, CLOCK) as post:
        assert post == Post(None, True)
        with pytest.raises(AnotherWatchesError, match="a watch runs here already"), only_one(home, CLOCK):
            pass
    assert not beside_the_disk(home, "lock").exists()


def test_where_the_home_can_hold_no_lock_a_second_watch_is_refused_all_the_same(home: Path) -> None:
    (home / LOCK_NAME).mkdir()
    with only_one(home, CLOCK) as post:
        assert post.is_alone
        assert post.trouble is not None
        assert post.trouble.endswith("watching all the same")
        with pytest.raises(AnotherWatchesError, match="a watch runs here already"), only_one(home, CLOCK):
            pass


def test_where_no_lock_can_be_had_at_all_the_watch_says_that_another_may_run(home: Path) -> None:
    (home / LOCK_NAME).mkdir()
    beside_the_disk(home, "lock").mkdir()
    with only_one(home, CLOCK) as one, only_one(home, CLOCK) as other:
        assert not one.is_alone
        assert not other.is_alone
        assert "Another watch may run too" in str(one.trouble)


def test_stopping_where_nothing_watches_is_refused_whatever_stands_in_place_of_the_locks(home: Path) -> None:
    from mixclock.job.saying import CannotTellError

    (home / LOCK_NAME).mkdir()
    beside_the_disk(home, "lock").mkdir()
    with pytest.raises(CannotTellError, match="no watch runs here"):
        stop_watch(home, CLOCK)

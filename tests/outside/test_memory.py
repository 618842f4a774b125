"""How often a program tidies up."""

from __future__ import annotations

import gc

import pytest

from mixclock.outside.memory import SELDOM, tidied_seldom


def test_a_search_is_tidied_seldom_and_everything_after_it_as_before() -> None:
    before = gc.get_threshold()
    with tidied_seldom():
        assert gc.get_threshold() == SELDOM
        assert gc.get_freeze_count() > 0
    assert gc.get_threshold() == before
    assert gc.get_freeze_count() == 0


def test_a_search_that_is_broken_off_leaves_nothing_behind() -> None:
    before = gc.get_threshold()
    with pytest.raises(KeyboardInterrupt), tidied_seldom():
        raise KeyboardInterrupt
    assert gc.get_threshold() == before
    assert gc.get_freeze_count() == 0

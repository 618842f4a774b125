"""The folder of the book and of the user's own profiles: where the person says, else the platform's data folder."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from mixclock.outside.home import drafts_home, home, profiles_home


def test_mixclock_home_names_the_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("MIXCLOCK_HOME", str(tmp_path))
    assert home() == tmp_path
    assert profiles_home() == tmp_path / "profiles"
    assert drafts_home() == tmp_path / "profiles" / "drafts"


def test_without_it_the_platforms_own_data_folder_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MIXCLOCK_HOME", "  ")
    assert home() == Path(platformdirs.user_data_dir("mixclock", appauthor=False))


def test_a_folder_named_from_here_stays_the_same_folder_elsewhere(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MIXCLOCK_HOME", "studio")
    assert home() == tmp_path / "studio"

"""The settings file says what is wrong with it, all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.outside.settings import Settings, SettingsError, read_settings


def test_without_a_file_the_usual_settings_hold(tmp_path: Path) -> None:
    assert read_settings(tmp_path) == Settings()


def test_what_stands_in_the_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text(
        '[phone]\ntimely = true\n[phone.targets]\nmixer = "json://127.0.0.1"\n'
        '[watch]\nquiet = "22:00-06:00"\n[board]\nstep_key = "Enter"\n'
    )
    found = read_settings(tmp_path)
    assert found == Settings({"mixer": "json://127.0.0.1"}, True, "22:00-06:00", "Enter")


def test_every_mistake_is_said_with_its_place_and_the_near_name(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text(
        "[phone]\ntimly = true\n[phone.targets]\nmixer = 3\n[watch]\nquiet = 22\n[loud]\nx = 1\n"
    )
    with pytest.raises(SettingsError) as refused:
        read_settings(tmp_path)
    lines = str(refused.value).splitlines()
    assert len(lines) == 4
    assert all(line.startswith(str(tmp_path / "settings.toml")) for line in lines)
    assert any("did you mean 'timely'" in line for line in lines)


def test_a_file_that_is_no_toml_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text("quiet = = 3")
    with pytest.raises(SettingsError) as refused:
        read_settings(tmp_path)
    assert len(str(refused.value).splitlines()) == 1

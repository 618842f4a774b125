"""The settings file says what is wrong with it, all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.job.sitereading import read_site
from mixclock.outside.jobtexts import with_settings
from mixclock.outside.settings import KEYS, Settings, SettingsError, make_settings, read_settings, settings_text
from tests.boatshed import one_coat


def test_without_a_file_the_usual_settings_hold(tmp_path: Path) -> None:
    assert read_settings(tmp_path) == Settings()


def test_what_stands_in_the_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text(
        '[phone]\ntimely = true\n[phone.targets]\nmixer = "json://127.0.0.1"\n'
        '[watch]\nquiet = "22:00-06:00"\n[board]\nstep_key = "Enter"\n'
    )
    found = read_settings(tmp_path)
    assert dict(found.found) == {
        "phone.targets": {"mixer": "json://127.0.0.1"},
        "phone.timely": True,
        "watch.quiet": "22:00-06:00",
        "board.step_key": "Enter",
    }


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


def test_the_file_that_is_made_sets_nothing_until_somebody_takes_a_sign_away(tmp_path: Path) -> None:
    assert make_settings(tmp_path)
    assert not make_settings(tmp_path), "what somebody wrote is never written over"
    assert read_settings(tmp_path) == Settings()
    assert (tmp_path / "settings.toml").stat().st_mode & 0o077 == 0


def test_every_example_in_the_made_file_can_be_taken_as_it_stands(tmp_path: Path) -> None:
    examples = {line for key in KEYS for line in key.example.splitlines()}
    lines = [line[2:] if line[2:] in examples else line for line in settings_text().splitlines()]
    (tmp_path / "settings.toml").write_text("\n".join(lines))
    assert set(read_settings(tmp_path).found) == {key.place for key in KEYS}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[crew]\nunits = "imperial"', "at 'crew.units': 'imperial', expected 'metric' or 'US'"),
        ('[crew]\nleads = { pour-out = "2 h" }', "outside 30 to 3600 s"),
        ('[crew]\nleads = { pour-owt = "2 min" }', "did you mean 'pour-out'?"),
        ("[crew]\nleads = { pour-out = 5 }", "expected a text in quotes"),
        ('[crew]\npeople = ["mixer", "Mixer"]', "each person once"),
        ('[channels]\ncritical = ["desktop"]', "a call that saves a bucket must be heard"),
        ('[channels]\nnotice = ["pager"]', "channels are: desktop, phone, sound, voice"),
        ('[watch]\nquiet = "late"', "say them as 22:00-06:00"),
    ],
)
def test_a_setting_that_would_harm_or_mean_nothing_is_refused_with_its_place(
    tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "settings.toml").write_text(text)
    with pytest.raises(SettingsError) as refused:
        read_settings(tmp_path)
    assert said in str(refused.value)


def test_what_a_rank_is_sent_to_is_chosen_rank_by_rank(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('[channels]\ntimely = ["sound"]\ncritical = ["sound", "phone"]')
    found = read_settings(tmp_path)
    assert found.ranks_of("sound") == {"critical", "timely"}
    assert found.ranks_of("phone") == {"critical"}
    assert found.ranks_of("voice") == frozenset()
    assert found.ranks_of("desktop") == {"notice"}, "a rank that nobody chose for keeps its usual channels"
    assert Settings().ranks_of("sound") is None


JOB = one_coat(size="20 m2", name="shed", zone="Europe/Lisbon")


def test_a_job_file_takes_its_crew_from_the_settings_where_it_has_none() -> None:
    chosen = Settings({"crew.units": "US", "crew.people": ("mixer", "roller"), "crew.leads": {"pour-out": "4 min"}})
    site = read_site(with_settings(JOB, chosen))
    assert site.units.system == "US"
    assert [person.name for person in site.crew] == ["mixer", "roller"]
    assert site.lead_s("pour-out") == 240.0
    own = 'units = "metric"\nleads = { pour-out = "1 min" }\n' + JOB + '[[crew]]\nname = "helper"\n'
    site = read_site(with_settings(own, chosen))
    assert (site.units.system, [person.name for person in site.crew]) == ("metric", ["helper"])
    assert site.lead_s("pour-out") == 60.0

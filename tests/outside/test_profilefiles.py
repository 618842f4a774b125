"""A product is found by its name: the user's own first, then what comes with mixclock."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from mixclock.outside import profilefiles
from mixclock.outside.profilefiles import ProfileFileError, find, listed, names, path_for, save, shipped_folder

MINE = """
name = "Slow epoxy base"
family = "epoxy"
source = "the sheet on the pail"
[mix]
ratio_by_volume = [2, 1]
[windows.recoat]
after = "poured"
opens = "9 h"
"""


@pytest.fixture
def own(home: Path) -> Path:
    folder = home / "profiles"
    folder.mkdir()
    return folder


def refused(name: str) -> tuple[str, ...]:
    with pytest.raises(ProfileFileError) as error:
        find(name)
    return error.value.lines


def test_the_products_that_come_with_mixclock_are_found_by_name(home: Path) -> None:
    found = find("Slow epoxy base")
    assert found.profile.name == "Slow epoxy base"
    assert found.text.startswith("# Invented figures")
    assert found.origin.endswith("slow-epoxy-base.toml")


def test_capitals_and_spaces_of_a_name_do_not_matter(home: Path) -> None:
    assert find(" polyaspartic  TOP coat").profile.name == "Polyaspartic top coat"


def test_the_users_own_product_comes_before_one_of_the_same_name(own: Path) -> None:
    (own / "mine.toml").write_text(MINE, encoding="utf-8")
    assert find("Slow epoxy base").profile.source == "the sheet on the pail"
    assert [entry.own for entry in listed()].count(True) == 1
    assert names().count("Slow epoxy base") == 1


def test_the_template_is_no_product(home: Path) -> None:
    assert "Template" not in names()
    assert 'name = "Template"' in (shipped_folder() / "template.toml").read_text(encoding="utf-8")


def test_a_template_that_somebody_filled_in_under_its_old_name_is_one(own: Path) -> None:
    (own / "template.toml").write_text(MINE.replace("Slow epoxy base", "Shed base"), encoding="utf-8")
    assert find("Shed base").profile.source == "the sheet on the pail"


def test_a_name_that_is_nearly_right_is_answered_with_the_right_one(home: Path) -> None:
    assert refused("Polyaspartic topcoat") == (
        "no product is named 'Polyaspartic topcoat'; did you mean 'Polyaspartic top coat'?",
    )


def test_a_file_with_mistakes_is_found_by_its_name_and_all_its_mistakes_are_said(own: Path) -> None:
    (own / "mine.toml").write_text(MINE.replace("[2, 1]", "[2, 1, 3]").replace("9 h", "9"), encoding="utf-8")
    lines = refused("slow epoxy base")
    assert len(lines) == 2
    assert all(line.startswith(str(own / "mine.toml")) for line in lines)


def test_two_own_files_with_one_name_are_not_chosen_between_in_silence(own: Path) -> None:
    (own / "a.toml").write_text(MINE, encoding="utf-8")
    (own / "b.toml").write_text(MINE, encoding="utf-8")
    assert "a.toml and b.toml" in refused("Slow epoxy base")[0]


def test_a_file_that_is_no_text_is_said_in_one_line_and_harms_no_other(own: Path) -> None:
    (own / "broken.toml").write_bytes(b"\xff\xfe\x00name")
    assert find("Slow epoxy base").profile.name == "Slow epoxy base"
    assert "is not text in UTF-8" in refused("broken")[0]


def test_a_file_as_large_as_a_film_is_not_read(own: Path) -> None:
    with (own / "film.toml").open("wb") as film:
        film.truncate(profilefiles.SIZE_MAX + 1)
    assert "larger than a megabyte" in refused("film")[0]


def test_a_folder_given_as_a_profile_is_said_in_one_line(home: Path) -> None:
    with pytest.raises(ProfileFileError) as error:
        profilefiles.read(home)
    assert len(error.value.lines) == 1


def test_a_file_in_the_place_of_the_folder_of_profiles_holds_no_products(home: Path) -> None:
    (home / "profiles").write_text("not a folder", encoding="utf-8")
    assert "Slow epoxy base" in names()
    with pytest.raises(ProfileFileError, match="set MIXCLOCK_HOME"):
        save(MINE)


def test_a_product_is_saved_under_its_name_and_again_in_the_same_file(own: Path) -> None:
    path = save(MINE)
    assert path == own / "slow-epoxy-base.toml"
    assert save(MINE.replace("9 h", "10 h")) == path
    assert "10 h" in find("Slow epoxy base").text


def test_names_that_would_share_a_file_get_files_of_their_own(own: Path) -> None:
    save(MINE.replace("Slow epoxy base", "Base/2"))
    assert path_for("Base 2") == own / "base-2-2.toml"
    assert path_for("../../etc/passwd") == own / "etc-passwd.toml"


def test_a_profile_with_mistakes_is_not_saved(own: Path) -> None:
    with pytest.raises(ProfileFileError):
        save(MINE.replace("9 h", "9"))
    assert list(own.iterdir()) == []


def test_an_installed_package_has_its_products_inside(tmp_path: Path) -> None:
    """As setuptools would lay it out: what setup.py maps is what `shipped_folder` looks for."""
    root = Path(profilefiles.__file__).resolve().parents[2]
    code = (
        "import sys; sys.argv = ['setup.py', '--quiet', 'build_py', '--build-lib', sys.argv[1]];"
        "exec(compile(open('setup.py').read(), 'setup.py', 'exec'))"
    )
    pytest.importorskip("setuptools", reason="setuptools is not installed here")
    copy = tmp_path / "source"
    copy.mkdir()
    for name in ("setup.py", "pyproject.toml", "README.md", "LICENSE"):
        (copy / name).write_bytes((root / name).read_bytes())
    for name in ("profiles", "mixclock"):
        (copy / name).symlink_to(root / name)
    subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "built")], cwd=copy, check=True, capture_output=True, timeout=120
    )
    built = {path.name for path in (tmp_path / "built" / "mixclock" / "shippedprofiles").iterdir()}
    assert built == {path.name for path in (root / "profiles").glob("*.toml")}

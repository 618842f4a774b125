"""What is built is what stands in the tree: nothing of an earlier build, nothing left out."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.running import ROOT, Runner

pytest.importorskip("setuptools", reason="setuptools is not installed here")

SOURCES = ("mixclock", "profiles", "tests", ".readme", "pyproject.toml", "setup.py", "MANIFEST.in", "README.md",
           "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", ".importlinter")  # fmt: skip


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sources, in which an earlier build left a module that is gone since."""
    place = tmp_path_factory.mktemp("tree")
    for name in SOURCES:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, place / name)
    stale = place / "build" / "lib" / "mixclock" / "ghost.py"
    stale.parent.mkdir(parents=True)
    stale.write_text("")
    return place


def built(tree: Path, command: str, ending: str) -> Path:
    """What one command of the build backend makes."""
    call = f"import setuptools.build_meta as b; b.{command}('dist')"
    done = subprocess.run([sys.executable, "-c", call], cwd=tree, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return next((tree / "dist").glob(f"*{ending}"))


def test_a_deleted_module_is_not_shipped_again_and_every_module_and_file_of_the_page_is(tree: Path) -> None:
    names = set(zipfile.ZipFile(built(tree, "build_wheel", ".whl")).namelist())
    assert "mixclock/ghost.py" not in names
    here = {path.relative_to(ROOT).as_posix() for path in (ROOT / "mixclock").rglob("*") if path.is_file()}
    wanted = {name for name in here if "__pycache__" not in name}
    assert len(wanted) > 300
    assert wanted <= names, sorted(wanted - names)
    profiles = {f"mixclock/shippedprofiles/{path.name}" for path in (ROOT / "profiles").glob("*.toml")}
    assert len(profiles) > 3
    assert profiles <= names


def test_the_package_s_page_points_to_no_picture_that_is_not_there(tree: Path) -> None:
    packed = zipfile.ZipFile(built(tree, "build_wheel", ".whl"))
    metadata = packed.read(next(name for name in packed.namelist() if name.endswith("METADATA"))).decode()
    assert "## A small job, as it prints" in metadata
    assert "Description-Content-Type: text/markdown" in metadata
    assert "![" not in metadata
    assert ".readme" not in metadata
    assert "the laptop on a normal day" not in metadata, "nor the head of a table without its body"


def test_the_source_package_holds_the_tests_and_the_changes(tree: Path) -> None:
    with tarfile.open(built(tree, "build_sdist", ".tar.gz")) as packed:
        names = {name.partition("/")[2] for name in packed.getnames()}
    assert {"CHANGELOG.md", "DEVELOPERS.md", "LICENSE", "tests/conftest.py", "tests/published/air.toml"} <= names


def test_python_dash_m_mixclock_is_the_command(run_process: Runner) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mixclock", "--version"],
        env=run_process.environment(), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.startswith("mixclock ")


def test_the_gate_says_by_name_what_could_not_be_audited_and_fails_for_what_is_known() -> None:
    sound, bad = {"name": "sound", "version": "1", "vulns": []}, {"name": "bad", "version": "2"}
    lost = {"name": "lost", "skip_reason": "Dependency not found on PyPI and could not be audited: lost (3)"}
    known = {**bad, "vulns": [{"id": "PYSEC-1", "fix_versions": ["4"]}]}
    for read, code, lines in (
        (
            [sound, lost],
            0,
            ["pip-audit looked at 1 of 2 dependencies", "not audited, lost: Dependency not found on PyPI"],
        ),
        ([known, lost], 1, ["bad 2: PYSEC-1, mended in 4", "looked at 1 of 2", "not audited, lost: "]),
        ([lost], 0, ["NOT audited: pip-audit could look up none of 1 dependencies (Dependency not found on PyPI"]),
    ):
        words = [sys.executable, str(ROOT / ".ci" / "audited.py")]
        done = subprocess.run(
            words, input=json.dumps({"dependencies": read}), text=True, capture_output=True, check=False
        )
        said = done.stdout.splitlines()
        assert (done.returncode, len(said)) == (code, len(lines)), done
        assert all(line in told for line, told in zip(lines, said, strict=True)), said

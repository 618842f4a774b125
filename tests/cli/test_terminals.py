"""Whatever terminal, code page or width: every command prints, and errors are JSON where JSON was asked for."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from mixclock.cli import COMMANDS, GROUPS
from mixclock.cli.streams import PLAIN
from tests.cli.jsonshapes import commands
from tests.cli.studio import CORNER, STUDIO
from tests.running import ROOT, Ran, Runner

Run = Callable[..., Ran]

TERMINALS = {
    "a German Windows pipe": {"PYTHONIOENCODING": "cp1252", "LC_ALL": "C.UTF-8", "COLUMNS": "80"},
    "an old DOS window": {"PYTHONIOENCODING": "cp437", "TERM": "dumb", "COLUMNS": "40"},
    "plain ASCII without colour": {"PYTHONIOENCODING": "ascii", "NO_COLOR": "1", "LC_ALL": "C", "COLUMNS": "200"},
}
IN_TURN = [pytest.param(each, marks=[] if "DOS" in each else [pytest.mark.long]) for each in TERMINALS]
"""Every run asks on the narrowest of them, which knows the fewest signs but one."""
READ_AS = {"ascii": "utf-8"}
"""The command line's library writes UTF-8 where a terminal claims to know ASCII alone."""

QUESTIONS = (
    ("now",), ("now", "--json"), ("air", "--air", "18 °C", "--rh", "62", "--slab", "16 °C"), ("why", "bay 1"),
    ("record", "--json"), ("plan", "corner.toml"), ("profile", "list"), ("profile", "show", "Slow epoxy base"),
    ("job", "list"), ("where",), ("noted", "door − open ≥ 2 h"), ("found", "bay 1", "dull"), ("poured", "99"),
    ("--help",),
)  # fmt: skip


ASK_ALL = """
import json, sys
from mixclock.cli import main
for words in map(json.loads, sys.argv[1:]):  # as the terminal's encoding hands them over
    code = main(words)
    sys.stdout.flush()
    sys.stderr.flush()
    sys.stdout.buffer.write(b"\\0%d\\0" % code)
    sys.stdout.buffer.flush()
"""


@pytest.fixture
def at_work(home: Path, run: Run, run_process: Runner) -> Runner:
    """A batch lies on bay 1."""
    (home / "studio.toml").write_text(STUDIO)
    (home / "corner.toml").write_text(CORNER)
    for words in (
        ("job", "start", str(home / "studio.toml")),
        ("reading", "--air", "18 °C", "--rh", "60", "--slab", "16 °C"),
        ("mixed", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--ago", "14 min"),
        ("poured",),
    ):
        assert run(*words).code == 0
    return run_process


@pytest.mark.parametrize("terminal", IN_TURN)
def test_every_question_prints_on_any_terminal(terminal: str, at_work: Runner) -> None:
    asked_on(terminal, at_work, QUESTIONS, ("0", "1", "2"))


@pytest.mark.long
@pytest.mark.parametrize("terminal", TERMINALS)
def test_every_command_of_a_whole_job_prints_on_any_terminal(
    terminal: str, run_process: Runner, tmp_path: Path
) -> None:
    words = commands(tmp_path / "files")
    assert len(words) > 50
    asked_on(terminal, run_process, words, ("0", "1"))


def asked_on(terminal: str, runner: Runner, questions: Sequence[Sequence[str]], codes: Sequence[str]) -> None:
    """Ask one after the other on one terminal: each answers something, and never with a traceback."""
    here = {**TERMINALS[terminal], "PYTHONUTF8": "0"}
    done = subprocess.run(
        [sys.executable, "-c", ASK_ALL, *(json.dumps(words, ensure_ascii=False) for words in questions)],
        env={**runner.environment(), **here}, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=runner.home,
        timeout=240, check=False,
    )  # fmt: skip
    told = done.stdout.decode(READ_AS.get(here["PYTHONIOENCODING"], here["PYTHONIOENCODING"])).split("\0")
    assert len(told) == 2 * len(questions) + 1, told[-1]
    for words, said, code in zip(questions, told[::2], told[1::2], strict=False):
        assert code in codes, (words, said)
        assert "Traceback" not in said, words
        assert said.strip(), words


def test_help_of_every_command_prints_in_an_old_window(run_process: Runner) -> None:
    here = {**run_process.environment(), "PYTHONIOENCODING": "cp437", "PYTHONUTF8": "0", "COLUMNS": "40"}
    script = (
        "import sys\nfrom mixclock.cli import main\n"
        f"for name in {[*COMMANDS, *GROUPS]!r}:\n    code = main([name, '--help'])\n    assert code == 0, name\n"
    )
    done = subprocess.run([sys.executable, "-c", script], env=here, capture_output=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr.decode("cp437")
    assert done.stdout.count(b"Usage: ") == len(COMMANDS) + len(GROUPS)


def test_a_sign_that_can_not_be_written_is_written_plainly(at_work: Runner) -> None:
    here = {**at_work.environment(), "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    words = [sys.executable, "-m", "mixclock", "noted", "door − open ≥ 2 h at 8 °C"]
    done = subprocess.run(words, env=here, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "door - open >= 2 h at 8 °C" in done.stdout.decode("cp1252")
    assert all(plain.isascii() for plain in PLAIN.values())


def test_wrong_input_is_json_where_json_was_asked_for(studio: Run) -> None:
    for words in (("poured", "99"), ("why", "bay 9"), ("air", "--rh", "x"), ("now", "--no-such-option"), ("reading",)):
        plain = studio(*words)
        told = studio(*words, "--json")
        assert (told.code, told.out) == (2, ""), words
        assert json.loads(told.err) == {"errors": plain.err.splitlines(), "exit_code": 2}


def test_ctrl_c_has_an_exit_code_of_its_own_however_early_it_comes(home: Path, run_process: Runner) -> None:
    (home / "studio.toml").write_text(STUDIO)
    assert run_process("job", "start", "studio.toml").code == 0
    slow = home / "slow"
    slow.mkdir()
    (slow / "sitecustomize.py").write_text(
        "import sys, time\n"
        "class Slow:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'mixclock.wiring':\n"
        "            print('loading', flush=True)\n"
        "            time.sleep(30)\n"
        "sys.meta_path.insert(0, Slow())\n"
    )
    here = {**run_process.environment(), "PYTHONPATH": os.pathsep.join((str(slow), str(ROOT)))}
    # who runs the tests in the background has Ctrl-C ignored, and so would what is begun from there
    heeded = (
        "import os, signal, sys; signal.signal(signal.SIGINT, signal.SIG_DFL); os.execv(sys.executable, sys.argv[1:])"
    )
    words = [sys.executable, "-S", "-c", heeded, sys.executable, "-m", "mixclock", "now"]
    with subprocess.Popen(words, env=here, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as early:
        assert early.stdout is not None
        assert early.stdout.readline() == "loading\n"
        early.send_signal(signal.SIGINT)
        _, said = early.communicate(timeout=30)
    assert (early.returncode, said) == (130, "")

"""What `watch` refuses and says; the running daemon is tested in tests/watch."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.cli.watch import greeting
from tests.running import Ran, Runner


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--quiet", "22"), "22:00-06:00"),
        (("--port", "many"), "--port"),
    ],
)
def test_options_that_cannot_be_read_are_refused_in_one_line(
    run: Callable[..., Ran], words: tuple[str, ...], said: str
) -> None:
    ran = run("watch", *words)
    assert ran.code == 2
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("settings", "said", "kept"),
    [
        ("[watch]\nquite = true\nquiet = '22:00-06:00'\n", "did you mean 'quiet'", True),
        ("[watch]\nquiet = '22:00-06:00'\n[board\nstep_key = 'b'\n", "at line 3", True),
        ("[watch]\nquiet = 22:00\n", "at line 2", False),
        ("[watch]\nmute = ['mixing by nobody']\nquiet = '22:00-06:00'\n", "watch.mute in the settings", True),
        ("\ufeff[[[", "mend that line", False),
    ],
)
def test_settings_with_mistakes_stop_no_watch_which_follows_the_others_and_names_what_is_wrong(
    home: Path, settings: str, said: str, kept: bool
) -> None:
    from mixclock.outside.clock import SystemClock
    from mixclock.watch.setup import wanted_of_watch
    from mixclock.wiring import open_house

    (home / "settings.toml").write_text(settings)
    with open_house(home, SystemClock()) as house:
        wanted = wanted_of_watch(house, None, (), True, None)
    assert said in " ".join(wanted.wrong)
    assert (wanted.channels.quiet is not None) is kept


def test_settings_that_are_no_text_are_said_and_the_usual_ones_hold(home: Path) -> None:
    from mixclock.outside.settings import Settings, readable_settings

    (home / "settings.toml").write_bytes(b"\xff\xfe\x00")
    settings, (wrong,) = readable_settings(home)
    assert settings == Settings()
    assert "can't be read as text" in wrong


def test_quiet_hours_say_that_a_hot_bucket_still_sounds() -> None:
    lines = greeting("Boat shed", True, "the machine stays awake; leave the lid open")
    assert lines[0] == "mixclock watches 'Boat shed'."
    assert "only a bucket that runs hot sounds" in lines[1]
    assert lines[2] == "The machine stays awake; leave the lid open."


def test_a_port_that_is_taken_costs_the_board_and_not_the_alarm_clock(run_process: Runner) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        words = ["watch", "--plain", "--no-sound", "--port", str(taken.getsockname()[1])]
        process = subprocess.Popen(
            [sys.executable, "-m", "mixclock.cli", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=run_process.environment(),
        )
        assert process.stdout is not None
        lines = [process.stdout.readline(), process.stdout.readline()]
        process.send_signal(signal.SIGTERM)
        rest, _ = process.communicate(timeout=20)
    assert process.returncode == 0, rest
    said = "".join(lines)
    assert "No board: port" in said
    assert "mixclock watches" in said


def test_the_board_is_served_beside_it_and_ends_with_it(run_process: Runner) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "mixclock.cli", "watch", "--plain", "--no-sound", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=run_process.environment(),
    )
    assert process.stdout is not None
    address = ""
    while not address:
        line = process.stdout.readline()
        assert line, "it ended before it named the board"
        address = line.removeprefix("The board: ").strip() if line.startswith("The board: ") else ""
    host, port = address.removeprefix("http://").rstrip("/").split(":")
    with socket.create_connection((host, int(port)), timeout=5) as wire:
        wire.sendall(f"GET / HTTP/1.1\r\nHost: {host}:{port}\r\nConnection: close\r\n\r\n".encode())
        assert wire.recv(100).startswith(b"HTTP/1.1 ")
    process.send_signal(signal.SIGTERM)
    rest, _ = process.communicate(timeout=20)
    assert process.returncode == 0, rest
    assert "has stopped watching" in rest

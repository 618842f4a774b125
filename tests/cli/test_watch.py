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


def test_settings_with_mistakes_are_refused_before_anything_begins(run: Callable[..., Ran], home: Path) -> None:
    (home / "settings.toml").write_text("[watch]\nquite = true\n")
    ran = run("watch", "--plain")
    assert ran.code == 2
    assert "did you mean 'quiet'" in ran.err


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

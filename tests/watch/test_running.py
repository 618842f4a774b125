"""The watch is told to end: by Ctrl-C, by its service manager, by both at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

from mixclock.watch.running import SignalFlag, told_by_signal
from tests.watch.sheds import ROOT


def test_a_watch_that_is_told_twice_in_one_breath_still_ends() -> None:
    """A service manager and a terminal tell the whole group: the second comes while the first is being heard."""
    stop = SignalFlag()
    with told_by_signal(stop):
        for _ in range(200):
            os.kill(os.getpid(), signal.SIGTERM)
            assert stop.wait(5)
            stop.clear()


def test_signals_that_fall_into_each_other_and_into_the_waiting_hang_nobody() -> None:
    """With an event of the standard library in place of the flag this process waits for itself for good."""
    script = (
        "import os, subprocess\n"
        "from mixclock.watch.running import SignalFlag, told_by_signal\n"
        "stop = SignalFlag()\n"
        "with told_by_signal(stop):\n"
        "    tell = f'for _ in $(seq 2000); do kill -TERM {os.getpid()}; done'\n"
        "    telling = subprocess.Popen(['sh', '-c', tell])\n"
        "    while telling.poll() is None:\n"
        "        for _ in range(50):\n"
        "            stop.set()\n"
        "            stop.wait(1)\n"
        "            stop.clear()\n"
        "print('ended')\n"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True, timeout=60)
    assert done.stdout == "ended\n", done.stderr


def test_whoever_waits_for_a_flag_that_nobody_sets_is_told_so() -> None:
    assert SignalFlag().wait(0.01) is False

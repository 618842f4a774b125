"""Run as a program of its own by the desktop channel: one notification through plyer, with plyer's lies taken out.

plyer returns as if all were well when it is not, has no time limit, and on Windows fails in a thread that nobody sees.
As a program of its own it can be ended if it hangs, and every failure becomes an exit code with a line on stderr.

The Windows balloon lives in a thread of its program for as long as it shows. So two programs share the work: one shows
it and stays, the other ends, and answers, as soon as the first has handed it over without a failure.
"""

import json
import subprocess
import sys
import threading
import warnings
from pathlib import Path
from typing import Any

FAILED, NO_USE = 1, 3
"""Exit codes: it could not be shown; plyer has no way of its own to show anything here."""
SHOWN_S = 10
FAILS_WITHIN_S = 0.5
"""A balloon that cannot be made fails at once, in its thread (judgement)."""
TAKEN = "taken"


def main(note_file: str) -> int:
    """Show the notification in the JSON file. Gives 0 where plyer took it. The program that shows it may run on."""
    showing = subprocess.Popen(
        [sys.executable, "-m", __spec__.name if __spec__ else __name__, "--show", note_file],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
    assert showing.stdout is not None
    if showing.stdout.readline().strip() == TAKEN:
        return 0
    return showing.wait()


def show(note_file: str) -> int:
    """Show it, say "taken" once plyer has it, and stay while it shows."""
    note = json.loads(Path(note_file).read_text(encoding="utf-8"))
    failures: list[str] = []
    threading.excepthook = lambda failure: failures.append(f"{failure.exc_type.__name__}: {failure.exc_value}")
    try:
        notifier = _notifier()
    except ImportError as error:
        return _end(NO_USE, f"has nothing for this system: {error}")
    if type(notifier).__name__ in ("NotifySendNotification", "NotifyDesktopPortals", "Notification"):
        return _end(NO_USE, f"has only its {type(notifier).__name__} here, which can't tell whether it worked")
    try:
        notifier.notify(**note, app_name="mixclock", timeout=SHOWN_S)
    except Exception as error:
        return _end(FAILED, f"{type(error).__name__}: {error}")
    _join_threads(FAILS_WITHIN_S)
    if failures:
        return _end(FAILED, failures[0])
    print(TAKEN, flush=True)
    _join_threads()
    return 0


def _notifier() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # plyer's warning is ignored: the class that it falls back to tells the same
        from plyer.utils import platform

        module = __import__(f"plyer.platforms.{platform}.notification", fromlist=["instance"])
        return module.instance()


def _join_threads(each_s: float | None = None) -> None:
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join(each_s)


def _end(code: int, line: str) -> int:
    print(line, file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(show(sys.argv[2]) if sys.argv[1] == "--show" else main(sys.argv[1]))

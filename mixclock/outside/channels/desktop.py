"""Shows notifications on the desktop: by a checked D-Bus call, else `notify-send`, else plyer, which is never believed.

On macOS plyer comes first and `osascript` next; on Windows there is plyer alone.
"""

import json
import shutil
import sys
import tempfile
import threading
from pathlib import Path

from mixclock.outside.channels import session_bus
from mixclock.outside.channels.message import RANKS, Message, Outcome, Rank, Receipt, marks
from mixclock.outside.channels.plyer_child import NO_USE
from mixclock.outside.channels.running import ProgramEnd, run
from mixclock.outside.channels.session_bus import NoAnswerError, NoBusError, NoServerError, Note, PlacedNotification
from mixclock.outside.channels.text import clipped, escaped, one_line, showable
from mixclock.values import replace

NOTIFY_SEND_S = 5.0
PLYER_S = 12.0
OSASCRIPT_S = 5.0
TITLE_UNITS, BODY_UNITS = 120, 800
WINDOWS_TITLE_UNITS, WINDOWS_BODY_UNITS = 63, 255
"""One more and plyer's Windows part raises in a thread of its own, unseen."""

_URGENCY_WORDS: dict[Rank, str] = {"critical": "critical", "timely": "normal", "notice": "low"}


class DesktopChannel:
    """Shows each alert once: its repeats take the place of the earlier ones, and its withdrawal takes it away."""

    name = "desktop"
    limit_s = 25.0

    def __init__(self, ranks: frozenset[Rank] = frozenset(RANKS), heard_button: bool = False) -> None:
        self.ranks = ranks
        self._heard_button = heard_button
        self._lock = threading.Lock()
        self._shown: dict[str, PlacedNotification] = {}
        self._bus = session_bus.ReadyBus()

    def get_ready(self) -> None:
        """Connect to the desktop ahead of a call, where that is done by a bus."""
        self._bus.get_ready()

    def close(self) -> None:
        """Get ready no more; a call still goes out."""
        self._bus.close()

    @property
    def is_ready(self) -> bool:
        """Whether a call needs no getting ready."""
        return sys.platform in ("win32", "darwin") or self._bus.is_ready

    def send(self, message: Message) -> Receipt:
        """Show it in the first way that gives a truthful answer."""
        if sys.platform == "win32":
            return self._by_plyer(message)
        if sys.platform == "darwin":
            return self._on_a_mac(message)
        try:
            return self._by_bus(message)
        except NoAnswerError as error:
            # Try no other way: the server may be about to show it, and notify-send would hang on it too.
            return Receipt(self.name, Outcome.RETRY, str(error), None)
        except NoServerError as error:
            return self._by_notify_send(message, error)

    def withdraw(self, alert_id: str) -> Receipt:
        """Close the notification of this alert."""
        with self._lock:
            shown = self._shown.pop(alert_id, None)
        if shown is None:
            return Receipt(self.name, Outcome.SENT, "nothing of this alert is known to show", None)
        try:
            with self._bus.connected() as connection:
                gone = session_bus.close(connection, shown)
        except (NoServerError, NoAnswerError) as error:
            return Receipt(self.name, Outcome.RETRY, f"notification {shown.note_id} could not be closed: {error}", None)
        detail = f"closed notification {shown.note_id}" if gone else "the notification was gone already"
        return Receipt(self.name, Outcome.SENT, detail, False)

    def probe(self) -> Receipt:
        """Show a harmless notification."""
        test = Message("probe", "notice", "mixclock", "This is a test: alerts are shown here.", "")
        return self.send(test)

    def alert_of(self, note_id: int, server: str) -> str | None:
        """The alert that a server's notification belongs to."""
        with self._lock:
            return next(
                (alert for alert, shown in self._shown.items() if shown == PlacedNotification(note_id, server)), None
            )

    def _by_bus(self, message: Message) -> Receipt:
        with self._lock:
            earlier = self._shown.get(message.alert_id)
        with self._bus.connected() as connection:
            shown = session_bus.notify(connection, self._note(message, earlier))
            with self._lock:
                self._shown[message.alert_id] = shown
            server = f"notification server {session_bus.server_name(connection)}".rstrip()
            if session_bus.holds_back(connection):
                detail = f"{server} took it as id {shown.note_id} but holds it back: switch off 'do not disturb'"
                return Receipt(self.name, Outcome.RETRY, detail, False)
        return Receipt(self.name, Outcome.SENT, f"{server} answered id {shown.note_id}", True)

    def _note(self, message: Message, earlier: PlacedNotification | None) -> Note:
        title, body = _texts(message, TITLE_UNITS, BODY_UNITS)
        return Note(message.alert_id, message.rank, title, escaped(body), self._heard_button, earlier)

    def _by_notify_send(self, message: Message, before: NoServerError) -> Receipt:
        program = shutil.which("notify-send")
        if program is None:
            return self._by_plyer(message, f"{before}; notify-send is not installed; ", _hopeless(before))
        title, body = _texts(message, TITLE_UNITS, BODY_UNITS)
        expires_ms = max(0, session_bus.EXPIRE_MS[message.rank])
        options = ["--app-name=mixclock", f"--urgency={_URGENCY_WORDS[message.rank]}"]
        options += [f"--expire-time={expires_ms}"] if message.rank != "notice" else []
        ended = run([program, *options, "--", title, escaped(body)], NOTIFY_SEND_S)
        if ended.well:
            return Receipt(self.name, Outcome.SENT, f"{before}; {ended}", True)
        if ended.how == "out of time":
            return Receipt(self.name, Outcome.RETRY, f"{before}; {ended}", None)
        return self._by_plyer(message, f"{before}; {ended}; ", _hopeless(before))

    def _on_a_mac(self, message: Message) -> Receipt:
        by_plyer = self._by_plyer(message)
        if by_plyer.outcome is Outcome.SENT:
            return by_plyer
        program = shutil.which("osascript")
        if program is None:
            return replace(by_plyer, detail=f"{by_plyer.detail}; osascript is not there either")
        ended = run(osascript_command(program, message), OSASCRIPT_S)
        outcome = Outcome.SENT if ended.well else Outcome.RETRY
        return Receipt(self.name, outcome, f"{by_plyer.detail}; {ended}", None if ended.well else False)

    def _by_plyer(self, message: Message, before: str = "", if_useless: Outcome = Outcome.GIVE_UP) -> Receipt:
        title, body = _texts(message, WINDOWS_TITLE_UNITS, WINDOWS_BODY_UNITS)
        note = {"title": title, "message": body, "hints": {"urgency": session_bus.URGENCY[message.rank]}}
        with tempfile.TemporaryDirectory(prefix="mixclock-note-") as folder:
            file = Path(folder) / "note.json"
            file.write_text(json.dumps(note), encoding="utf-8")
            ended = run([sys.executable, "-m", "mixclock.outside.channels.plyer_child", str(file)], PLYER_S)
        return self._plyer_receipt(ended, before, if_useless)

    def _plyer_receipt(self, ended: ProgramEnd, before: str, if_useless: Outcome) -> Receipt:
        if ended.well:
            return Receipt(self.name, Outcome.SENT, f"{before}plyer accepted it, not confirmed", None)
        if ended.code == NO_USE:
            return Receipt(self.name, if_useless, f"{before}plyer {ended.said}", False)
        if ended.how == "ended":
            return Receipt(self.name, Outcome.RETRY, f"{before}plyer failed: {ended.said}", False)
        return Receipt(self.name, Outcome.RETRY, f"{before}plyer {ended.said}", None)


_APPLESCRIPT = "display notification (item 2 of argv) with title (item 1 of argv)"


def osascript_command(program: str, message: Message) -> list[str]:
    """The command that shows a notification on a Mac. The words are arguments, never part of the script."""
    title, body = _texts(message, TITLE_UNITS, BODY_UNITS)
    # an invisible sign goes before each word: one that begins with "-" would be taken for an option
    texts = [f"\u200b{text}" if text.startswith("-") else text for text in (title, body)]
    return [program, "-e", "on run argv", "-e", _APPLESCRIPT, "-e", "end run", *texts]


def _hopeless(before: NoServerError) -> Outcome:
    """Whether trying again soon is useless: without a bus nobody is logged in. A missing server may come back."""
    return Outcome.GIVE_UP if isinstance(before, NoBusError) else Outcome.RETRY


def _texts(message: Message, title_units: int, body_units: int) -> tuple[str, str]:
    said = marks(message)
    title = clipped(one_line(message.title) or "mixclock", title_units)
    body = showable(message.body).strip() + (f" ({said})" if said else "")
    return title, clipped(body, body_units)

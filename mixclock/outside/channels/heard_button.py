"""Listens for the button "Heard" on a desktop notification: whoever presses it has heard that alert."""

import threading
from collections import deque
from collections.abc import Callable
from typing import Any

from jeepney import HeaderFields, MatchRule, message_bus  # type: ignore[import-untyped]
from jeepney.io.blocking import DBusConnection  # type: ignore[import-untyped]

from mixclock.outside.channels.session_bus import SERVER, NoServerError, connected

LOOK_S = 0.5
"""How long one look for a press lasts, and so how long `close` may take."""
AGAIN_S = 5.0
"""How long to wait for a session that is gone before looking for a new one."""


class HeardButton:
    """Listens on the session bus, and on the next one when that goes away, until closed."""

    def __init__(self, alert_of: Callable[[int, str], str | None], on_heard: Callable[[str], None]) -> None:
        """`alert_of` is `DesktopChannel.alert_of`. `on_heard` takes the alert's id, in this listener's own thread."""
        self._alert_of = alert_of
        self._on_heard = on_heard
        self._closed = threading.Event()
        self.listening = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="heard button", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def close(self) -> None:
        """Stop listening."""
        self._closed.set()
        if self._thread.is_alive():
            self._thread.join(AGAIN_S)

    def _listen(self) -> None:
        while not self._closed.is_set():
            try:
                with connected() as connection:
                    self._listen_on(connection)
            except (NoServerError, OSError):
                self.listening.clear()
                self._closed.wait(AGAIN_S)

    def _listen_on(self, connection: DBusConnection) -> None:
        rule = MatchRule(type="signal", interface=SERVER, member="ActionInvoked")
        presses: deque[Any] = deque()
        connection.send_and_get_reply(message_bus.AddMatch(rule), timeout=LOOK_S)
        with connection.filter(rule, queue=presses):
            self.listening.set()
            while not self._closed.is_set():
                try:
                    press = connection.recv_until_filtered(presses, timeout=LOOK_S)
                except TimeoutError:
                    continue
                self._take(press)

    def _take(self, press: Any) -> None:
        if press.header.fields.get(HeaderFields.signature) != "us":
            return
        note_id, button = press.body
        alert_id = self._alert_of(note_id, press.header.fields.get(HeaderFields.sender, ""))
        if button == "heard" and alert_id is not None:
            self._on_heard(alert_id)

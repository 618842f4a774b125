"""Reaches a phone beyond the local network, through apprise (the extra `phone`)."""

import logging
import threading
from collections.abc import Mapping
from typing import Any

from mixclock.outside.channels.message import Message, Outcome, Rank, Receipt, marks
from mixclock.outside.channels.text import clipped, showable

INSTALL = "apprise is not installed: pip install 'mixclock[phone]'"
ANSWER_S = 5.0
"""How long a service may take to be connected to, and again to answer."""
TITLE_UNITS, BODY_UNITS = 120, 900


class PhoneChannel:
    """One target: a phone or a service in apprise's address form. Each has its own receipts and its own retries."""

    limit_s = 2 * ANSWER_S + 5.0

    def __init__(
        self,
        target: str,
        name: str = "phone",
        ranks: frozenset[Rank] = frozenset({"critical"}),
        is_contact: bool = False,
    ) -> None:
        self.name = name
        self.ranks = ranks
        self._target = target
        self.is_contact = is_contact

    def send(self, message: Message) -> Receipt:
        """Hand it to the target's service and say what that answered."""
        said = marks(message)
        body = f"{message.body} ({said})" if said else message.body
        return self._notify(message.title, body, "failure" if message.rank == "critical" else "warning")

    def wants(self, message: Message) -> bool:
        """A contact is told only that somebody who works alone does not answer; everybody else gets the rest."""
        return not self.is_contact or (message.louder and "alone." in message.alert_id)

    def withdraw(self, alert_id: str) -> Receipt:
        """What a phone has received stays there."""
        return Receipt(self.name, Outcome.SENT, f"what the phone has received about {alert_id} stays there", None)

    def probe(self) -> Receipt:
        """Send one line to the phone."""
        return self._notify("mixclock", "This is a test: critical alerts arrive here.", "info")

    def _notify(self, title: str, body: str, kind: str) -> Receipt:
        try:
            import apprise
        except ImportError:
            return Receipt(self.name, Outcome.GIVE_UP, INSTALL, False)
        service = self._service(apprise)
        if service is None:
            # never the address itself: it holds the target's password
            detail = f"apprise does not understand the address of '{self.name}': see its list of services for the form"
            return Receipt(self.name, Outcome.GIVE_UP, detail, False)
        title, body = clipped(showable(title), TITLE_UNITS), clipped(showable(body), BODY_UNITS)
        return self._send(apprise, service, title, body, kind)

    def _service(self, apprise: Any) -> Any:
        asset = apprise.AppriseAsset(async_mode=False, app_id="mixclock", app_desc="deadlines")
        with _LogListener():
            service = apprise.Apprise.instantiate(self._target, asset=asset)
        if service is not None:
            service.socket_connect_timeout = service.socket_read_timeout = ANSWER_S
        return service

    def _send(self, apprise: Any, service: Any, title: str, body: str, kind: str) -> Receipt:
        postman = apprise.Apprise(asset=service.asset)
        postman.add(service)
        where = service.url(privacy=True).split("?")[0]
        with _LogListener() as overheard:
            taken = postman.notify(body=body, title=title, notify_type=kind)
        if taken:
            return Receipt(self.name, Outcome.SENT, f"{where} accepted it; whether it rang is not known", None)
        why = "; ".join(overheard.lines) or "it gave no reason"
        return Receipt(self.name, Outcome.RETRY, f"{where} did not take it: {clipped(why, 300)}", False)


def phone_channels(
    targets: Mapping[str, str], ranks: frozenset[Rank] = frozenset({"critical"}), contact: str | None = None
) -> list[PhoneChannel]:
    """One channel for each named target of the settings. The contact's is told of a silent lone worker only."""
    return [PhoneChannel(target, name, ranks, name == contact) for name, target in targets.items()]


class _LogListener(logging.Handler):
    """Catches the reason of a failure, which apprise writes to its log alone, from this very thread's call."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []
        self._thread = threading.get_ident()
        self._log = logging.getLogger("apprise")

    def emit(self, record: logging.LogRecord) -> None:
        """Keep it, if this thread said it."""
        if record.thread == self._thread:
            self.lines.append(showable(record.getMessage()))

    def __enter__(self) -> "_LogListener":
        self._log.addHandler(self)
        return self

    def __exit__(self, *_: object) -> None:
        self._log.removeHandler(self)

"""Tells the service manager that the watch is ready, alive and ending (sd_notify(3)); silent where none listens."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable


class ServiceManager:
    """The other end of `NOTIFY_SOCKET`."""

    def __init__(self, address: str | None, monotonic_s: Callable[[], float], every_s: float = 5.0) -> None:
        """`address` is a path, or begins with @ for a socket without a file."""
        self._address = f"\0{address[1:]}" if address and address.startswith("@") else address
        self._monotonic_s, self._every_s = monotonic_s, every_s
        self._told_s = float("-inf")

    @classmethod
    def of_this_process(cls, monotonic_s: Callable[[], float]) -> ServiceManager:
        """The manager that the environment names. Signs of life come three times in the watchdog's span."""
        span_us = os.environ.get("WATCHDOG_USEC", "")
        every_s = float(span_us) / 3e6 if span_us.isdecimal() else 5.0
        return cls(os.environ.get("NOTIFY_SOCKET"), monotonic_s, every_s)

    def ready(self) -> None:
        """Tell it that the first look is done."""
        self._tell("READY=1")

    def alive(self) -> None:
        """Tell it now and then that a look was done."""
        if (now_s := self._monotonic_s()) - self._told_s >= self._every_s and self._tell("WATCHDOG=1"):
            self._told_s = now_s

    def stopping(self) -> None:
        """Tell it that the end was asked for."""
        self._tell("STOPPING=1")

    def _tell(self, line: str) -> bool:
        if not self._address or not hasattr(socket, "AF_UNIX"):
            return False
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as there:
                there.settimeout(1.0)
                there.sendto(line.encode(), self._address)
        except OSError:
            return False  # the watch must go on calling out if no manager listens
        return True

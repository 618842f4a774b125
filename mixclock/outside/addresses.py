"""The addresses under which this machine can be reached on its own network."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import struct
from collections.abc import Iterator

_SIOCGIFADDR = 0x8915
_NOBODY = "10.255.255.255"


def lan_address() -> str | None:
    """The address that a phone on the same network would use, or None where there is no network.

    Nothing is sent. A laptop on a phone's hotspot has a private address; that one is preferred over any other.
    """
    found = [*_routed_address(), *_interface_addresses()]
    usable = [each for each in found if not ipaddress.ip_address(each).is_loopback]
    private = [each for each in usable if ipaddress.ip_address(each).is_private]
    return next(iter([*private, *usable]), None)


def _routed_address() -> Iterator[str]:
    """The address from which a packet to a private network would go out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect((_NOBODY, 9))
        yield probe.getsockname()[0]


def _interface_addresses() -> Iterator[str]:
    """The addresses of the interfaces, for a network without a route. Linux only; elsewhere nothing."""
    try:
        import fcntl
    except ImportError:
        return
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _, name in socket.if_nameindex():
            with contextlib.suppress(OSError):
                packed = fcntl.ioctl(probe.fileno(), _SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
                yield socket.inet_ntoa(packed[20:24])

"""Finds the addresses at which phones on the network reach this machine, and names what keeps them out."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import sys
from collections.abc import Iterator, Sequence

_NOBODY = "10.255.255.255"
_WITHIN_THIS_MACHINE = (
    "docker",
    "br-",
    "veth",
    "virbr",
    "vmnet",
    "vboxnet",
    "virtualbox",
    "vmware",
    "vethernet",
    "wsl",
)
"""Name beginnings of the networks between a computer and its virtual machines; no phone is on one."""

NO_NETWORK = (
    "There is no network that a phone could use. Make one: switch on this machine's hotspot, or join a phone's; then "
    "start again."
)


def lan_address(adapters: Sequence[tuple[str, str]] | None = None, routed: Sequence[str] | None = None) -> str | None:
    """The address that a phone on the same network would use, or None where there is no network.

    Nothing is sent. `adapters` are names and IPv4 addresses, `routed` the addresses that packets leave by. Both default
    to this machine's own. `routed` comes first, then a private address such as a hotspot's own.

    >>> lan_address([("lo0", "127.0.0.1"), ("bridge100", "192.168.2.1"), ("docker0", "172.17.0.1")], [])
    '192.168.2.1'
    >>> lan_address([("lo", "127.0.0.1"), ("en0", "169.254.3.9")], [])
    """
    named = _adapters() if adapters is None else adapters
    inner = {address for name, address in named if name.lower().startswith(_WITHIN_THIS_MACHINE)}
    out = list(_routed() if routed is None else routed)
    found = [ipaddress.IPv4Address(each) for each in (*out, *(address for _, address in named))]
    usable = [each for each in found if not (each.is_loopback or each.is_link_local or each.is_unspecified)]
    reached = [each for each in usable if str(each) not in inner]
    private = [each for each in reached if each.is_private]
    return next((str(each) for each in (*private, *reached)), None)


def firewall_words(platform: str = sys.platform) -> str:
    """How this system's firewall may keep phones from the board, and where to let them in; empty without one.

    >>> firewall_words("linux")
    ''
    """
    if platform == "win32":
        return (
            "If a phone gets no answer: let Python through when Windows asks, and set this network to Private "
            "(Settings, Network, Properties). Windows keeps phones out of one that it calls Public."
        )
    if platform == "darwin":
        return "If a phone gets no answer: allow incoming connections for Python (System Settings, Network, Firewall)."
    return ""


def _routed() -> Iterator[str]:
    """The address from which a packet to a private network would go out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect((_NOBODY, 9))
        yield probe.getsockname()[0]


def _adapters() -> list[tuple[str, str]]:
    """The interfaces' IPv4 addresses, also of a network without a route, such as this machine's own hotspot."""
    import ifaddr

    return [
        (adapter.nice_name, address.ip)
        for adapter in ifaddr.get_adapters()
        for address in adapter.ips
        if isinstance(address.ip, str)
    ]

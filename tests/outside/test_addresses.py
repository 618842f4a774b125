"""The address that a phone on the same network would use."""

from __future__ import annotations

import ipaddress

import pytest

from mixclock.outside.addresses import firewall_words, lan_address


def test_the_address_for_phones_is_never_the_machines_own_loop() -> None:
    found = lan_address()
    assert found is None or not ipaddress.ip_address(found).is_loopback


@pytest.mark.parametrize(
    ("adapters", "routed", "wanted"),
    [
        # a Mac that shares its own hotspot: no route leads out of it, the bridge has the address
        ([("lo0", "127.0.0.1"), ("en0", "169.254.8.1"), ("bridge100", "192.168.2.1")], [], "192.168.2.1"),
        # Windows with its mobile hotspot, beside networks of machines inside the machine
        (
            [("vEthernet (WSL)", "172.28.0.1"), ("VirtualBox Host-Only", "192.168.56.1"), ("Wi-Fi", "192.168.137.1")],
            ["172.28.0.1"],
            "192.168.137.1",
        ),
        # on somebody's network, with Docker installed
        ([("docker0", "172.17.0.1"), ("wlan0", "192.168.1.20")], ["192.168.1.20"], "192.168.1.20"),
        ([("lo", "127.0.0.1"), ("docker0", "172.17.0.1")], [], None),
        ([("lo", "127.0.0.1"), ("eth0", "0.0.0.0")], ["0.0.0.0"], None),
        ([], [], None),
    ],
)
def test_the_code_on_the_screen_leads_where_a_phone_can_go(
    adapters: list[tuple[str, str]], routed: list[str], wanted: str | None
) -> None:
    assert lan_address(adapters, routed) == wanted


def test_who_owns_windows_or_a_mac_is_told_what_keeps_a_phone_out() -> None:
    assert "Private" in firewall_words("win32")
    assert "Firewall" in firewall_words("darwin")

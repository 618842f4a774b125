"""The address that a phone on the same network would use."""

from __future__ import annotations

import ipaddress

from mixclock.outside.addresses import lan_address


def test_the_address_for_phones_is_never_the_machines_own_loop() -> None:
    found = lan_address()
    assert found is None or not ipaddress.ip_address(found).is_loopback

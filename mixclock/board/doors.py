"""Doors beside the page: dates to subscribe to, readings that sensors send, and pictures that a phone takes.

A calendar or a sensor can't be paired as a page is. It brings a secret of its own, which every paired page shows under
More. Dropping a phone makes the secret anew, since that phone may have seen it.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import json
import re
import secrets
from collections.abc import Mapping
from typing import Any

from mixclock.board.house import BoardHouse, Photo, RefusedError
from mixclock.outside.pictures import media_of

_SETTING = "board.doors"
SHOWN_BY_BROWSERS = ("image/jpeg", "image/png")
PHOTO_BYTES_AT_MOST = 480 * 1024
PHOTO_BODY_AT_MOST = 700 * 1024
"""A small copy in base64, with its words."""

_HASH = re.compile(r"[0-9a-f]{64}")


def read_photo(told: Mapping[str, Any]) -> Photo:
    """Read the picture that a phone sent. Raises `RefusedError` where it is none."""
    sha256, area, batch = str(told.get("sha256", "")).lower(), told.get("area"), told.get("batch")
    if not _HASH.fullmatch(sha256):
        raise RefusedError("the picture's hash is missing: take it again")
    if not (area is None or isinstance(area, str)) or not (batch is None or type(batch) is int):
        raise RefusedError("say of which area or which batch the picture is")
    try:
        small = base64.b64decode(str(told.get("small", "")), validate=True)
    except (binascii.Error, ValueError):
        small = b""
    if media_of(small) not in SHOWN_BY_BROWSERS:
        raise RefusedError("that is no JPEG or PNG picture: set the phone's camera to JPEG, or take it again")
    if len(small) > PHOTO_BYTES_AT_MOST:
        raise RefusedError(f"the small copy is over {PHOTO_BYTES_AT_MOST // 1024} kB: take it again")
    return Photo(str(told.get("name") or "photo.jpg")[:120], sha256, small, area, batch)


class DoorKey:
    """The secret in the calendar's address and in a sensor's header."""

    def __init__(self, house: BoardHouse) -> None:
        """Take the secret that is kept, or make the first."""
        self._house = house
        stored = house.setting(_SETTING)
        self.value = str(json.loads(stored)) if stored else self.renew()

    def renew(self) -> str:
        """Make a new secret. The old one opens nothing any more."""
        self.value = secrets.token_urlsafe(24)
        self._house.put_setting(_SETTING, json.dumps(self.value))
        return self.value

    def fits(self, said: str) -> bool:
        """Whether somebody brought the right secret."""
        return hmac.compare_digest(said.encode(), self.value.encode())

"""Makes copies of the book's pictures that are small enough for a page. The original's hash stays with them."""

from __future__ import annotations

import io

from mixclock.outside.bookdrawers import Picture
from mixclock.values import dataclass

LONGEST_SIDE_PX = 520
SMALLEST_SIDE_PX = 160
PAGE_BUDGET = 480 * 1024
"""What all pictures of a page may weigh together, so that it stays under 1 MB with its tables and drawings."""

QUALITY = 62


@dataclass(frozen=True)
class PageCopy:
    """A copy for a page. Where none could be made `small` is None, and `why_not` says why."""

    media: str
    small: bytes | None
    why_not: str = ""


def page_copy(picture: Picture, pictures: int) -> PageCopy:
    """A copy of one picture, as large as fits if so many pictures share a page."""
    room = PAGE_BUDGET * 3 // 4 // max(1, pictures)  # base64 turns three bytes into four
    if not picture.whole:
        return PageCopy(picture.media, None, "the small copy in the book is damaged")
    try:
        from PIL import Image
        from pillow_heif import register_heif_opener
    except ImportError:
        return _as_it_is(picture, room)
    register_heif_opener()
    try:
        with Image.open(io.BytesIO(picture.small)) as opened:
            return PageCopy("image/jpeg", _fitted(opened.convert("RGB"), room))
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        return PageCopy(picture.media, None, f"the small copy cannot be read ({error})")


def _as_it_is(picture: Picture, room: int) -> PageCopy:
    if picture.media == "image/heic":
        why = "a HEIC picture, which few browsers show; install mixclock with [photos] to have it shown"
        return PageCopy(picture.media, None, why)
    if len(picture.small) <= room:
        return PageCopy(picture.media, picture.small)
    return PageCopy(
        picture.media, None, "too large for the page; install mixclock with [photos] to have it scaled down"
    )


def _fitted(picture: object, room: int) -> bytes:
    """JPEG bytes that fit the room, with as many pixels as that allows."""
    from PIL import Image

    assert isinstance(picture, Image.Image)
    side = LONGEST_SIDE_PX
    while True:
        copy = picture.copy()
        copy.thumbnail((side, side))
        small = io.BytesIO()
        copy.save(small, "JPEG", quality=QUALITY, optimize=True)
        if small.tell() <= room or side <= SMALLEST_SIDE_PX:
            return small.getvalue()
        side = max(SMALLEST_SIDE_PX, side * 3 // 4)

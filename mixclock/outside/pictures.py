"""Reads a picture from a file: its hash, and a copy that is small enough for the book."""

from __future__ import annotations

import io
from hashlib import sha256
from pathlib import Path

from mixclock.job.saying import CannotTellError
from mixclock.outside.bookdrawers import Picture

LONGEST_SIDE_PX = 1280
LARGEST_ORIGINAL = 64 * 1024 * 1024
LARGEST_KEPT = 12 * 1024 * 1024
"""Without the extra a picture is kept as it is, up to this size: what a phone makes fits."""

_MEDIA = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
"""ISO/IEC 23008-12, the brands of pictures as phones write them; they stand behind `ftyp` (ISO/IEC 14496-12)."""


def take_picture(path: Path) -> Picture:
    """The picture in a file, scaled down if the extra is installed. Anything but JPEG, PNG or HEIC is refused."""
    original = _bytes_of(path)
    media = media_of(original)
    if media is None:
        raise CannotTellError(f"{path}: is no JPEG, PNG or HEIC picture; save it as one of them")
    media, small = _scaled(path, media, original)
    return Picture(sha256(original).hexdigest(), media, small, sha256(small).hexdigest())


def media_of(content: bytes) -> str | None:
    """The kind of picture, by its first bytes; None for anything else.

    >>> media_of(b"\\x00\\x00\\x00\\x18ftypheic\\x00\\x00\\x00\\x00")
    'image/heic'
    """
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        return "image/heic"
    return next((media for start, media in _MEDIA if content.startswith(start)), None)


def _bytes_of(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise CannotTellError(f"{path}: is no file; give the path of a picture")
        with path.open("rb") as file:
            found = file.read(LARGEST_ORIGINAL + 1)  # its stated size may be wrong: some files never end
        if len(found) > LARGEST_ORIGINAL:
            raise CannotTellError(f"{path}: is larger than {LARGEST_ORIGINAL >> 20} MB; give a smaller picture")
        return found
    except OSError as error:
        raise CannotTellError(f"{path}: {error.strerror or error}; give the path of a picture") from error


def _scaled(path: Path, media: str, original: bytes) -> tuple[str, bytes]:
    try:
        from PIL import Image, ImageOps
        from pillow_heif import register_heif_opener
    except ImportError:
        if len(original) <= LARGEST_KEPT:
            return media, original
        raise CannotTellError(
            f"{path}: too large to keep as it is; install mixclock with [photos], or take it with the board's camera"
        ) from None
    register_heif_opener()
    try:
        with Image.open(io.BytesIO(original)) as picture:
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            small = io.BytesIO()
            upright.save(small, "JPEG", quality=80)
            return "image/jpeg", small.getvalue()
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        raise CannotTellError(f"{path}: the picture cannot be read ({error}); save it again") from error

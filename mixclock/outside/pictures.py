"""A picture from a file: its hash, and a copy that is small enough for the book."""

from __future__ import annotations

import io
from hashlib import sha256
from pathlib import Path

from mixclock.job.saying import CannotTellError
from mixclock.outside.bookdrawers import Picture

LONGEST_SIDE_PX = 1280
LARGEST_ORIGINAL = 64 * 1024 * 1024
LARGEST_KEPT = 1024 * 1024
"""Without Pillow a picture is kept as it is, up to this size."""

_MEDIA = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


def take_picture(path: Path) -> Picture:
    """The picture in a file, scaled down where Pillow is installed; refused where it is no JPEG or PNG."""
    original = _bytes_of(path)
    media = next((media for start, media in _MEDIA if original.startswith(start)), None)
    if media is None:
        raise CannotTellError(f"{path}: is no JPEG or PNG picture; save it as one of them")
    media, small = _scaled(path, media, original)
    return Picture(sha256(original).hexdigest(), media, small, sha256(small).hexdigest())


def _bytes_of(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise CannotTellError(f"{path}: is no file; give the path of a picture")
        with path.open("rb") as file:
            found = file.read(LARGEST_ORIGINAL + 1)  # what it says of its size may be wrong: some never end
        if len(found) > LARGEST_ORIGINAL:
            raise CannotTellError(f"{path}: is larger than {LARGEST_ORIGINAL >> 20} MB; give a smaller picture")
        return found
    except OSError as error:
        raise CannotTellError(f"{path}: {error.strerror or error}; give the path of a picture") from error


def _scaled(path: Path, media: str, original: bytes) -> tuple[str, bytes]:
    try:
        from PIL import Image, ImageOps
    except ImportError:
        if len(original) <= LARGEST_KEPT:
            return media, original
        raise CannotTellError(
            f"{path}: too large to keep as it is; install mixclock with [photos], or give one under 1 MB"
        ) from None
    try:
        with Image.open(io.BytesIO(original)) as picture:
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            small = io.BytesIO()
            upright.save(small, "JPEG", quality=80)
            return "image/jpeg", small.getvalue()
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        raise CannotTellError(f"{path}: the picture cannot be read ({error}); save it again") from error

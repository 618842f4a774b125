"""Pictures as phones write them, with the extra and without."""

from __future__ import annotations

import builtins
import io
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from mixclock.job.saying import CannotTellError
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.photos import page_copy
from mixclock.outside.pictures import LONGEST_SIDE_PX, take_picture


@cache
def content_of(name: str) -> bytes:
    """A picture the way a phone writes it, larger than what is kept of it; HEIC is smooth and low: noise takes long."""
    from PIL import Image
    from pillow_heif import register_heif_opener

    register_heif_opener()
    content = io.BytesIO()
    if Path(name).suffix == ".heic":
        blurred = Image.effect_noise((81, 18), 60).resize((1296, 288), Image.Resampling.BICUBIC)
        blurred.convert("RGB").save(content, "HEIF", quality=90)
    else:
        Image.effect_noise((1440, 1080), 60).convert("RGB").save(content, "JPEG", quality=90)
    return content.getvalue()


@pytest.fixture
def written(tmp_path: Path) -> Any:
    """Puts such a picture down."""

    def write(name: str) -> Path:
        path = tmp_path / name
        path.write_bytes(content_of(name))
        return path

    return write


@pytest.fixture
def without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    usual = builtins.__import__

    def refuse(name: str, *more: Any, **named: Any) -> Any:
        if name.split(".")[0] in ("PIL", "pillow_heif"):
            raise ImportError(name)
        return usual(name, *more, **named)

    monkeypatch.setattr(builtins, "__import__", refuse)


@pytest.mark.parametrize("name", ["IMG_1.heic", "IMG_1.jpg"])
def test_a_phone_s_picture_is_scaled_down_and_known_by_the_hash_of_the_original(written: Any, name: str) -> None:
    from PIL import Image

    path = written(name)
    taken = take_picture(path)
    assert taken.sha256 == sha256(path.read_bytes()).hexdigest()
    assert taken.media == "image/jpeg"
    with Image.open(io.BytesIO(taken.small)) as small:
        assert (max(small.size), small.format) == (LONGEST_SIDE_PX, "JPEG")


@pytest.mark.parametrize(("name", "media"), [("IMG_1.heic", "image/heic"), ("IMG_1.jpg", "image/jpeg")])
def test_without_the_extra_it_is_kept_as_it_is_and_the_page_says_why_it_is_not_shown(
    written: Any, name: str, media: str, request: pytest.FixtureRequest
) -> None:
    path = written(name)
    request.getfixturevalue("without_the_extra")
    taken = take_picture(path)
    assert (taken.media, taken.small) == (media, path.read_bytes())
    shown = page_copy(taken, 1)
    assert shown.small is None
    assert "[photos]" in shown.why_not


def test_a_picture_that_was_kept_as_it_is_is_shown_once_the_extra_is_there(written: Any) -> None:
    content = written("IMG_1.heic").read_bytes()
    shown = page_copy(Picture("ab" * 32, "image/heic", content, sha256(content).hexdigest()), 1)
    assert shown.small is not None
    assert shown.media == "image/jpeg"


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"\x00\x00\x00\x18ftypavif\x00\x00", b"\x00\x00\x00\x18ftypmp42"])
def test_what_is_no_picture_of_a_kind_that_is_known_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "picture"
    path.write_bytes(content)
    with pytest.raises(CannotTellError, match="is no JPEG, PNG or HEIC"):
        take_picture(path)


def test_half_a_picture_is_refused(written: Any) -> None:
    path = written("IMG_1.heic")
    path.write_bytes(path.read_bytes()[:4000])
    with pytest.raises(CannotTellError, match="cannot be read"):
        take_picture(path)

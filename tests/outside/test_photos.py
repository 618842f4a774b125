"""Copies of pictures for a page: small, many, damaged, and without Pillow."""

from __future__ import annotations

import builtins
import io
from hashlib import sha256
from typing import Any

import pytest

from mixclock.outside.bookdrawers import Picture
from mixclock.outside.photos import LONGEST_SIDE_PX, PAGE_BUDGET, page_copy


def picture(small: bytes, media: str = "image/jpeg") -> Picture:
    return Picture("ab" * 32, media, small, sha256(small).hexdigest())


@pytest.fixture
def noisy() -> Picture:
    image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    written = io.BytesIO()
    image.effect_noise((1280, 960), 90).convert("RGB").save(written, "JPEG", quality=85)
    return picture(written.getvalue())


@pytest.mark.parametrize("pictures", [1, 10, 40])
def test_all_pictures_of_a_page_together_keep_within_its_budget(noisy: Picture, pictures: int) -> None:
    copy = page_copy(noisy, pictures)
    assert copy.small is not None
    assert len(copy.small) * pictures * 4 / 3 <= PAGE_BUDGET


def test_a_copy_keeps_its_shape_and_is_no_larger_than_it_need_be(noisy: Picture) -> None:
    from PIL import Image

    copy = page_copy(noisy, 1)
    assert copy.small is not None
    with Image.open(io.BytesIO(copy.small)) as opened:
        assert max(opened.size) <= LONGEST_SIDE_PX
        assert opened.size[0] / opened.size[1] == pytest.approx(4 / 3, rel=0.01)


def test_a_damaged_copy_is_not_shown_and_says_so(noisy: Picture) -> None:
    changed = Picture(noisy.sha256, noisy.media, noisy.small[:-1] + b"?", noisy.small_sha256)
    assert page_copy(changed, 1).why_not == "the small copy in the book is damaged"
    assert "cannot be read" in page_copy(picture(b"\xff\xd8\xff no picture"), 1).why_not


def test_without_pillow_a_small_picture_stands_as_it_is_and_a_large_one_says_why_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = builtins.__import__

    def refuse(name: str, *more: Any, **named: Any) -> Any:
        if name.split(".")[0] == "PIL":
            raise ImportError(name)
        return usual(name, *more, **named)

    monkeypatch.setattr(builtins, "__import__", refuse)
    assert page_copy(picture(b"small"), 1).small == b"small"
    large = page_copy(picture(b"x" * PAGE_BUDGET), 1)
    assert large.small is None
    assert "[photos]" in large.why_not

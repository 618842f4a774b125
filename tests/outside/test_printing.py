"""A page is printed by a real browser, or the reason is said in one line."""

from __future__ import annotations

import io

import pytest

from mixclock.outside import printing
from mixclock.outside.printing import NoPrinterError, browser, page_as_pdf
from tests.realparts.parts import missing

pypdf = pytest.importorskip("pypdf", reason="pypdf is missing: pip install pypdf")


def test_a_page_becomes_a_pdf_with_its_words() -> None:
    if browser() is None:
        pytest.skip(missing("chromium") or "no browser that prints was found")
    printed = page_as_pdf("<!doctype html><meta charset=utf-8><title>shed</title><p>Batch 3, bay 2: 21 °C")
    (page,) = pypdf.PdfReader(io.BytesIO(printed)).pages
    assert "Batch 3, bay 2: 21 °C" in page.extract_text()


def test_without_a_browser_it_says_what_to_do_instead(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "IN_FOLDERS", ())
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(NoPrinterError, match=r"write the page as \.html"):
        page_as_pdf("<p>shed")


def test_a_browser_that_prints_nothing_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "browser", lambda: "/bin/true")
    with pytest.raises(NoPrinterError, match="printed nothing"):
        page_as_pdf("<p>shed")

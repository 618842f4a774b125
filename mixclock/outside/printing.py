"""Prints a page to a PDF with whichever browser the machine has."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

ON_PATH = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge", "msedge",
)  # fmt: skip
IN_FOLDERS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"%ProgramFiles%\Google\Chrome\Application\chrome.exe",
    r"%ProgramFiles(x86)%\Microsoft\Edge\Application\msedge.exe",
    r"%ProgramFiles%\Microsoft\Edge\Application\msedge.exe",
)
TIMEOUT_S = 90.0


class NoPrinterError(RuntimeError):
    """Nothing here can print a page to a PDF. The message is one line that says what to do instead."""


def browser() -> str | None:
    """The first browser that can print a page without showing it, or None."""
    return next(_browsers(), None)


def _browsers() -> Iterator[str]:
    for name in ON_PATH:
        if (found := shutil.which(name)) is not None:
            yield found
    for place in IN_FOLDERS:
        if (expanded := Path(os.path.expandvars(place))).is_file():
            yield str(expanded)


def page_as_pdf(html: str) -> bytes:
    """The PDF of a page. Raises `NoPrinterError` where no browser is found or it prints nothing."""
    printer = browser()
    if printer is None:
        raise NoPrinterError(
            "no browser that prints was found; write the page as .html and print it, or install Chromium"
        )
    with tempfile.TemporaryDirectory(prefix="mixclock-print-", ignore_cleanup_errors=True) as folder:
        page, pdf = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        try:
            done = subprocess.run(
                _command(printer, folder, page, pdf), capture_output=True, timeout=TIMEOUT_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise NoPrinterError(
                f"{printer} did not print ({type(error).__name__}); write the page as .html"
            ) from error
        if not pdf.is_file() or not (printed := pdf.read_bytes()).startswith(b"%PDF-"):
            raise NoPrinterError(f"{printer} printed nothing (exit code {done.returncode}); write the page as .html")
    return printed


def _command(printer: str, folder: str, page: Path, pdf: Path) -> list[str]:
    # a browser does not run its sandbox as root; the page is our own and loads nothing
    as_root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    return [
        printer, "--headless", *as_root, "--disable-gpu", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync", "--no-pdf-header-footer",
        f"--user-data-dir={folder}", f"--print-to-pdf={pdf}", page.as_uri(),
    ]  # fmt: skip

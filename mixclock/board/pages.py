"""The files of the page, read once: a name that is not on the list is not there, whatever dots it has."""

from __future__ import annotations

from importlib import resources

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".webm": "video/webm",
    ".mp4": "video/mp4",
}


def load_pages() -> dict[str, tuple[bytes, str]]:
    """Each file of the page with its media type, by name."""
    folder = resources.files("mixclock.board") / "static"
    found = {}
    for each in folder.iterdir():
        kind = _TYPES.get("." + each.name.rpartition(".")[2])
        if each.is_file() and kind is not None:
            found[each.name] = (each.read_bytes(), kind)
    return found

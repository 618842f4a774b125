"""The board's pages as a browser gets them: a document, one sheet of styles, one script.

They are written in small parts. Sent part by part, a page asked for thirty files, each found only by reading another,
and at the far end of a hall each of them is a journey of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from importlib import resources

_TYPES = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "webm": "video/webm",
    "mp4": "video/mp4",
}
_PART = re.compile(r'^(?:import \{[^}]*\} from|@import) "\./(\w+\.(?:css|js))";\n', re.MULTILINE)


def load_pages() -> dict[str, tuple[bytes, str]]:
    """Each file that a browser may ask for with its media type, by name; what is part of another goes with that one.

    >>> sorted(name for name in load_pages() if name.endswith((".css", ".js")))
    ['main.js', 'office.css', 'office.js', 'page.css']
    """
    folder = resources.files("mixclock.board") / "static"
    files = {each.name: each.read_bytes() for each in folder.iterdir() if each.name.rpartition(".")[2] in _TYPES}
    parts = {name: each.decode() for name, each in files.items() if name.endswith((".css", ".js"))}
    whole = parts.keys() - {inner for text in parts.values() for inner in _PART.findall(text)}
    files = {name: each for name, each in files.items() if name not in parts}
    files |= {name: "\n".join(joined(parts, name)).encode() for name in whole}
    return {name: (content, _TYPES[name.rpartition(".")[2]]) for name, content in files.items()}


def joined(parts: Mapping[str, str], name: str) -> Iterator[str]:
    """A file with all that it imports, each once and before who needs it, as a browser would run them.

    The parts share one scope then, so no name may stand at the top of two of them.

    >>> list(joined({"a.js": 'import { b } from "./b.js";\\nb();', "b.js": "export const b = () => 1;"}, "a.js"))
    ['export const b = () => 1;', 'b();']
    """
    seen: set[str] = set()

    def take(part: str) -> Iterator[str]:
        seen.add(part)
        for inner in _PART.findall(parts[part]):
            if inner not in seen:
                yield from take(inner)
        yield _PART.sub("", parts[part])

    return take(name)

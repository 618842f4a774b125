"""Makes text safe for whatever will show it."""

import re

_UNSHOWABLE = re.compile(
    "["
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters: a terminal obeys them
    "\ud800-\udfff"  # halves of a character: they cannot be sent as UTF-8
    "\u202a-\u202e\u2066-\u2069"  # these turn the reading direction of what follows
    "]"
)


def showable(text: str) -> str:
    """The text without signs that no screen can show, or that it would obey. Line ends and tabs stay.

    >>> showable("bay\\x00 2\\ud800\\x1b[2J")
    'bay 2[2J'
    """
    return _UNSHOWABLE.sub("", text.replace("\r\n", "\n"))


def one_line(text: str) -> str:
    """Showable, with every run of blanks and line ends made one blank."""
    return " ".join(showable(text).split())


def clipped(text: str, units: int) -> str:
    """At most `units` UTF-16 units (what Windows counts), with an ellipsis where something was cut.

    >>> clipped("pour it out", 8), clipped("😀😀😀", 4)
    ('pour it…', '😀…')
    """
    if _utf16_units(text) <= units:
        return text
    kept, used = [], 1
    for letter in text:
        used += _utf16_units(letter)
        if used > units:
            break
        kept.append(letter)
    return "".join(kept) + "…"


def escaped(text: str) -> str:
    """For a notification's body, which is read as markup.

    >>> escaped("bay 1 & <b>bay 2</b>")
    'bay 1 &amp; &lt;b&gt;bay 2&lt;/b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _utf16_units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2

"""The one way to refuse a typed quantity."""

from __future__ import annotations

_LONGEST_QUOTE = 40


class UnitError(ValueError):
    """A typed quantity that cannot be read; its message is one line and says how to mend it."""

    def at(self, where: str) -> UnitError:
        """The same complaint with the place in front, such as an option or a key of a file.

        >>> str(UnitError("'5 kg' is a weight").at("--part"))
        "--part: '5 kg' is a weight"
        """
        return UnitError(f"{where}: {self}")


def quoted(text: str) -> str:
    """What was typed, in quotes, on one line and not too long.

    >>> quoted("5 kg\\n")
    "'5 kg'"
    """
    shown = " ".join(text.split())
    if len(shown) > _LONGEST_QUOTE:
        shown = shown[: _LONGEST_QUOTE - 1] + "…"
    printable = "".join(letter if letter.isprintable() else "?" for letter in shown)
    return f"'{printable}'"

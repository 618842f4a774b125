"""Mistakes in a file that a person wrote: one line each that says what, where and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable

from mixclock.values import dataclass

NAMED_AT_MOST = 20
"""So many known names are listed in a line; a book of years holds thousands of jobs."""


@dataclass(frozen=True)
class Mistake:
    """One mistake: the path of the key, what is wrong there, and what was expected."""

    where: str
    what: str
    mend: str

    def __str__(self) -> str:
        """The mistake without the file it is in."""
        place = f"at '{self.where}': " if self.where else ""
        return one_line(f"{place}{self.what}; {self.mend}")

    def line(self, file: str) -> str:
        """The mistake as it is shown: `file: at 'windows.recoat.closes': what is wrong; what was expected`."""
        return f"{one_line(file)}: {self}"


class Mistakes(ValueError):  # noqa: N818 - it carries many, and reads as such
    """Raised with everything that is wrong with a text."""

    def __init__(self, found: Iterable[Mistake]) -> None:
        """Keep the mistakes in the order in which they stand in the file."""
        self.found = tuple(found)
        super().__init__("\n".join(str(mistake) for mistake in self.found))

    def lines(self, file: str) -> list[str]:
        """One line for each mistake, with the name of the file."""
        return [mistake.line(file) for mistake in self.found]


def one_line(text: str) -> str:
    """The text without line breaks and other control characters, so that a message stays one line."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def plain_name(name: str) -> str:
    """The common form of all ways to type one name: without case and extra spaces.

    >>> plain_name("  Lot 7a ") == plain_name("LOT  7A")
    True
    """
    return " ".join(name.casefold().split())


def near(name: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known name that somebody probably meant.

    >>> near("Polyaspartic topcoat", ["Slow epoxy base", "Polyaspartic top coat"])
    'Polyaspartic top coat'
    """
    spelled = {_plain(candidate): candidate for candidate in known}
    import difflib  # only a slip needs it

    close = difflib.get_close_matches(_plain(name), spelled, n=1, cutoff=cutoff)
    return spelled[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str], else_say: str = "known are: ") -> str:
    """What to write instead: the near name, else the list of all, after `else_say`.

    >>> did_you_mean("epoxi", ["epoxy", "acrylic"])
    "did you mean 'epoxy'?"
    >>> did_you_mean("paint", ["epoxy", "acrylic"])
    'known are: epoxy, acrylic'
    >>> did_you_mean("paint", ["Shed, Monday", "Hall"])
    "known are: 'Shed, Monday', 'Hall'"
    >>> did_you_mean("paint", map(str, range(2000)))[-21:]
    '18, 19 and 1,980 more'
    """
    names = list(known)
    close = near(name, names)
    if close is not None:
        return f"did you mean '{close}'?"
    more = f" and {len(names) - NAMED_AT_MOST:,} more" if len(names) > NAMED_AT_MOST else ""
    return f"{else_say}{in_a_row(names[:NAMED_AT_MOST])}{more}" if names else "leave it out"


def in_a_row(names: Iterable[str]) -> str:
    """Names side by side; in quotes where one of them holds a comma, so that it does not read as two.

    >>> in_a_row(["One", "Two"]), in_a_row(["Shed, Monday", "Hall"])
    ('One, Two', "'Shed, Monday', 'Hall'")
    """
    every = list(names)
    return ", ".join(f"'{name}'" for name in every) if any("," in name for name in every) else ", ".join(every)


def first_line(error: Exception) -> str:
    """The first line of an error's message, or its kind if it has none."""
    return str(error).splitlines()[0] if str(error) else type(error).__name__


def quoted(value: object, longest: int = 40) -> str:
    """A value as a message shows it, cut short in case somebody pasted a page."""
    text = value if isinstance(value, str) else repr(value)
    return f"'{one_line(text if len(text) <= longest else text[: longest - 1] + '…')}'"


def _plain(name: str) -> str:
    return name.casefold().replace("_", "-").replace(" ", "-")


def letters_of(name: str) -> str:
    """A name without case, spaces and signs. Names that agree in this are the same to whoever types them.

    >>> letters_of("Fish-eyes"), letters_of("tack free")
    ('fisheyes', 'tackfree')
    """
    return "".join(letter for letter in name.casefold() if letter.isalnum())

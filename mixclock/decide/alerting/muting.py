"""A crew that knows its mixing can mute the led steps. Nobody can mute pour-out, the end of a stand or a hot bucket."""

from __future__ import annotations

from collections.abc import Iterable

from mixclock.decide.shapes import Alert
from mixclock.job.mistakes import in_a_row
from mixclock.job.progress import Standing
from mixclock.job.steps import row_of
from mixclock.values import dataclass

MIXING = "mixing"


@dataclass(frozen=True)
class Mute:
    """The led steps of mixing are not said: to one person, of one product, or to anybody."""

    who: str | None = None
    product: str | None = None

    def covers(self, standing: Standing, alert: Alert) -> bool:
        """Whether this mute silences an alert."""
        if not row_of(alert.step).led or (self.who is not None and alert.who != self.who):
            return False
        batch = standing.batch(alert.batch) if alert.batch is not None else None
        return self.product is None or (batch is not None and batch.product.casefold() == self.product.casefold())


def read_mute(text: str, people: Iterable[str], products: Iterable[str]) -> Mute:
    """What is to be muted: "mixing", "mixing by NAME" or "mixing of PRODUCT"; raises `ValueError` otherwise.

    >>> read_mute("mixing by mixer", ["mixer"], []), read_mute("mixing", [], [])
    (Mute(who='mixer', product=None), Mute(who=None, product=None))
    >>> read_mute("pour-out", [], [])
    Traceback (most recent call last):
    ValueError: only mixing can be muted: write mixing, mixing by NAME or mixing of PRODUCT
    """
    kind, _, rest = " ".join(text.split()).partition(" ")
    how, _, name = rest.partition(" ")
    known = {"by": list(people), "of": list(products)}
    if kind != MIXING or (rest and (how not in known or not name)):
        raise ValueError("only mixing can be muted: write mixing, mixing by NAME or mixing of PRODUCT")
    if not rest:
        return Mute()
    found = next((one for one in known[how] if one.casefold() == name.casefold()), None)
    if found is None:
        raise ValueError(f"nobody and nothing here is called '{name}'; known are: {in_a_row(known[how]) or 'none'}")
    return Mute(who=found) if how == "by" else Mute(product=found)

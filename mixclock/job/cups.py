"""Test cups of a lot. Somebody mixes one the evening before and watches it to its end; mixclock keeps it with the lot.

A cup needs no job. When a batch of its lot is mixed, the job's log takes in what the cup showed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from mixclock.formulas.mix import CUP_KG
from mixclock.job.entry import CupUsed
from mixclock.job.frozen import FrozenRecord
from mixclock.job.profile import Family, Profile
from mixclock.job.saying import CannotTellError

SIGNS = ("stringy", "gel", "hot")
ENDING = ("stringy", "gel")
"""Signs that end a cup. Stringy comes before gel, so counting it as the end errs to the safe side."""

HOW_TO = (
    "Outside or well aired, never in a kitchen or a van.",
    "A tin or a polypropylene cup on concrete: no foam, no glass, no lid.",
    "Gloves, goggles and the mask that the product asks for. Stay with it.",
    "Stir both pails first, weigh to 1 g, and take it from a spare kit.",
    "Every few minutes: mixclock cup reading 31C. At its end: mixclock cup stringy, or mixclock cup gel.",
    "While mixclock watch runs the voice asks for both; a phone on the board answers it.",
)
"""How a cup is made, said when it begins (common practice, no source)."""


PUT_ASIDE_C = 60.0
"""From this warmth on, somebody puts the cup where it can do no harm (judgement: a hand lets go of it)."""

WATCHED_FOR = timedelta(hours=6)
"""A cup that has no end by then is left: slow resin may never gel in so small a mass (judgement)."""

COOLEST_C, HOTTEST_C = -20.0, 300.0


class Cup(FrozenRecord):
    """One cup: what it holds, how warm it began, what was read in it [s from mixing, °C], and how it ended."""

    product: str
    lot: str
    mass_kg: float
    began: datetime
    material_c: float
    air_c: float
    read: tuple[tuple[float, float], ...] = ()
    end: str | None = None
    end_s: float | None = None

    def since_s(self, at: datetime) -> float:
        """How long ago it was mixed."""
        since_s = (at - self.began).total_seconds()
        if since_s <= 0.0:
            raise CannotTellError("that is before the cup was mixed; mend the time")
        return since_s

    def runs(self, now: datetime) -> bool:
        """Whether somebody still watches it: it was mixed, nobody saw its end, and it is not too old."""
        return self.end_s is None and self.began <= now < self.began + WATCHED_FOR

    def with_reading(self, temp_c: float, at: datetime) -> Cup:
        """The cup after somebody read its warmth."""
        if not COOLEST_C <= temp_c <= HOTTEST_C:
            raise CannotTellError("no cup of resin is that cold or that hot; mend the temperature")
        return self.but(read=tuple(sorted({*self.read, (self.since_s(at), temp_c)})))

    def with_end(self, sign: str, at: datetime) -> Cup:
        """The cup after somebody saw how it ended. The first end that anybody saw stays."""
        since_s = self.since_s(at)
        if self.end_s is not None and self.end_s <= since_s:
            return self
        return self.but(end=sign, end_s=since_s)


def lot_named(lot: str | None, lot_a: str | None, lot_b: str | None) -> str:
    """The name of a lot. If the parts have their own lots, it is both.

    >>> lot_named("7A", None, None), lot_named(None, "A1", "B2"), lot_named(None, None, None)
    ('7A', 'A1/B2', '')
    """
    return lot or "/".join(each for each in (lot_a, lot_b) if each)


def meant(cups: Sequence[Cup], now: datetime, lot: str | None = None, number: int | None = None) -> Cup:
    """The cup that a statement is about: the running one, or the last one if none runs.

    Raises `CannotTellError` if there is none, or if several may be meant, which it names.
    """
    if number is not None:
        if not 1 <= number <= len(cups):
            raise CannotTellError(f"there is no cup {number}; `mixclock cup` shows those that there are")
        return cups[number - 1]
    found = [cup for cup in cups if lot is None or cup.lot.casefold() == lot.casefold()]
    if not found:
        of = f" of lot {lot}" if lot else ""
        raise CannotTellError(f"no cup{of} was begun; begin one with `mixclock cup PRODUCT '150 g' --lot LOT`")
    running = [cup for cup in found if cup.runs(now)]
    if len(running) > 1:
        named = [f"--cup {cups.index(cup) + 1} ({cup.product}, lot {cup.lot or 'not named'})" for cup in running]
        raise CannotTellError(f"several cups are running: say which, {' or '.join(named)}")
    return (running or found)[-1]


def refuse(profile: Profile, mass_kg: float) -> None:
    """Raise `CannotTellError` for a cup that can tell nothing."""
    low, high = CUP_KG
    if not low <= mass_kg <= high:
        raise CannotTellError(f"a test cup holds 100 to 200 g, and this one {mass_kg * 1000.0:.0f} g; mend the amount")
    if profile.family is Family.WATERBORNE_EPOXY:
        raise CannotTellError("a cup of a waterborne tells nothing, for nobody sees it end; go by its sheet")
    if profile.pot_life is None:
        raise CannotTellError(f"{profile.name} has no pot life to hold a cup against; add its [pot-life]")


def used(cups: Sequence[Cup]) -> tuple[CupUsed, ...]:
    """The cups of a lot as a job's log holds them. Cups that have shown nothing yet are left out."""
    shown = [cup for cup in cups if cup.end_s is not None or cup.read]
    return tuple(
        CupUsed(
            cup.product,
            cup.lot,
            number,
            round(cup.mass_kg, 4),
            cup.material_c,
            cup.air_c,
            tuple(round(at_s, 1) for at_s, _ in cup.read),
            tuple(temp_c for _, temp_c in cup.read),
            None if cup.end_s is None else round(cup.end_s, 1),
        )
        for number, cup in enumerate(shown, start=1)
    )


def due_in_log(known: Sequence[CupUsed], logged: Sequence[CupUsed]) -> tuple[CupUsed, ...]:
    """What a job's log needs before a batch of a lot is mixed: the lot's cups anew, if they differ from those in the
    log."""
    if tuple(known) == tuple(logged):
        return ()
    if known:
        return tuple(known)
    first = logged[0]
    return (CupUsed(first.product, first.lot, 1, 0.0, first.material_c, first.air_c),)

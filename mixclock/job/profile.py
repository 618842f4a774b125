"""A product's profile: what the user typed from the data sheet, in settled units and with nothing added.

Reading and checking the file's text is `mixclock.job.profilereading`; what a window means is
`mixclock.job.windownames`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from functools import cached_property

from mixclock.formulas.mix import USUAL_DENSITY_KG_L, mixed_density_kg_l, ratio_by_volume
from mixclock.values import dataclass, field, replace


class Family(StrEnum):
    """The families whose defaults mixclock knows."""

    EPOXY = "epoxy"
    WATERBORNE_EPOXY = "waterborne epoxy"
    POLYASPARTIC = "polyaspartic"
    POLYURETHANE = "polyurethane"
    ACRYLIC = "acrylic"
    ACID_ETCH = "acid etch"
    NEUTRALISER = "neutraliser"


EPOXIES = frozenset({Family.EPOXY, Family.WATERBORNE_EPOXY})
"""The families that are cured by an amine."""

WASHED_OFF = (Family.ACID_ETCH, Family.NEUTRALISER)
"""Families that are laid to be rinsed off again: nobody squeegees or rolls them."""


UNDATED_CLOSES_C, UNDATED_OPENS_C = 20.0, 25.0
"""The temperatures at which a figure counts if its sheet names none: the safe side of room temperature, for closing and
for opening."""


@dataclass(frozen=True)
class SheetPoint:
    """One stated time; without a temperature it holds at any temperature."""

    span_s: float
    temp_c: float | None = None
    rh_pct: float | None = None
    printed: str = ""
    """The range that the sheet prints, if it prints one."""


@dataclass(frozen=True)
class SheetSpan:
    """A span of time as the sheet prints it: one figure, one point or a table, coldest first."""

    points: tuple[SheetPoint, ...]
    constant: bool = False
    """Whether it is the same at any temperature: the file says so, or it is a stand that only time ends."""

    @cached_property
    def _hash(self) -> int:
        return hash((self.points, self.constant))

    def __hash__(self) -> int:
        """By its figures, reckoned once: it is looked up at each edge of each batch."""
        return self._hash

    @property
    def depends_on_temperature(self) -> bool:
        """Whether the sheet ties this span to a temperature at all."""
        return self.points[0].temp_c is not None

    @property
    def undated(self) -> bool:
        """Whether the sheet names no temperature, although temperature moves this span."""
        return not self.depends_on_temperature and not self.constant

    def reckoned(self, closing: bool) -> SheetSpan:
        """The span that counts. If the sheet names no temperature, it holds at the safe side of room temperature.

        >>> SheetSpan((SheetPoint(1800.0),)).reckoned(closing=True).points[0].temp_c
        20.0
        """
        if not self.undated:
            return self
        temp_c = UNDATED_CLOSES_C if closing else UNDATED_OPENS_C
        return replace(self, points=tuple(replace(point, temp_c=temp_c) for point in self.points))

    @property
    def depends_on_humidity(self) -> bool:
        """Whether the sheet states this span at more than one humidity."""
        return len({point.rh_pct for point in self.points}) > 1


@dataclass(frozen=True)
class WindowRule:
    """A window as the sheet states it: what starts its clock, when it opens, when it closes."""

    name: str
    after: str
    opens: SheetSpan | None = None
    closes: SheetSpan | None = None
    hottest_hour: bool = False
    after_stated: bool = True
    closes_for: tuple[tuple[str, SheetSpan], ...] = ()
    """Closing spans by the family or the product (casefolded) of the coat that follows."""

    def closing_span(self, following: Iterable[Profile]) -> SheetSpan | None:
        """When it closes for the coats that may follow. If the sheet knows none of these, its shortest figure
        counts."""
        if not self.closes_for:
            return self.closes
        known = dict(self.closes_for)
        found = [
            known.get(each.name.casefold()) or known.get(each.family.value) or self.closes for each in following
        ] or [self.closes, *known.values()]
        spans = [span for span in found if span is not None] or list(known.values())
        return min(spans, key=lambda span: min(point.span_s for point in span.points))


HOT_END = "40 °C"
HOT_END_C = 40.0
"""The end of a pot life as makers of floor kits measure it."""


@dataclass(frozen=True)
class PotLife:
    """Time to a stated end of a stated mass at a stated temperature, in the bucket."""

    span: SheetSpan
    mass_kg: float | None
    end: str
    end_stated: bool = True

    @property
    def measured_hot(self) -> bool:
        """Whether the maker stopped the clock of a whole container at 40 °C, counted from the end of mixing."""
        return self.end == HOT_END


@dataclass(frozen=True)
class MixRule:
    """How the parts go together. One-part products have no ratio."""

    ratio_by_volume: tuple[float, float] | None = None
    ratio_by_mass: tuple[float, float] | None = None
    density_kg_l: tuple[float, ...] | None = None
    time_s: float | None = None

    @property
    def a_to_b(self) -> float | None:
        """Litres of A to one of B; by mass and densities where the sheet states no volumes."""
        if self.ratio_by_volume is not None:
            return self.ratio_by_volume[0] / self.ratio_by_volume[1]
        if self.ratio_by_mass is None or self.density_kg_l is None or len(self.density_kg_l) < 2:
            return None
        return ratio_by_volume(self.ratio_by_mass[0] / self.ratio_by_mass[1], *self.density_kg_l)

    @property
    def mixed_kg_l(self) -> float | None:
        """Density of the mixed parts, before any water; None if the sheet does not settle it."""
        if self.density_kg_l is None or len(self.density_kg_l) == 1:
            return self.density_kg_l[0] if self.density_kg_l else None
        return None if self.a_to_b is None else mixed_density_kg_l(self.a_to_b, *self.density_kg_l)


@dataclass(frozen=True)
class Film:
    """What the sheet says of the film."""

    volume_solids_pct: float | None = None
    wet_um: tuple[float, float] | None = None
    over_flake_m2_l: float | None = None
    """How far a top coat goes over flake, if the sheet says so: flake soaks up resin."""


@dataclass(frozen=True)
class Limits:
    """The conditions in which the sheet allows the product to be laid."""

    slab_c: tuple[float, float] | None = None
    air_c: tuple[float, float] | None = None
    material_c: tuple[float, float] | None = None
    humidity_max_pct: float | None = None
    dew_margin_min_k: float | None = None
    moisture_max_pct: float | None = None
    vapour_max_g_m2_d: float | None = None
    """The limit of moisture by weight, from the calcium chloride test: three pounds on 1000 ft² in a day are 14.6."""


@dataclass(frozen=True)
class Dilution:
    """What the crew thins the product with on site: for etching solution, neutraliser and thinned coats."""

    water_to_product: float | None = None
    spread_m2_l: float | None = None
    acid_pct: float | None = None


@dataclass(frozen=True)
class Profile:
    """One product as its data sheet states it."""

    name: str
    family: Family
    source: str
    mix: MixRule = field(default_factory=MixRule)
    pot_life: PotLife | None = None
    film: Film = field(default_factory=Film)
    limits: Limits = field(default_factory=Limits)
    dilution: Dilution = field(default_factory=Dilution)
    windows: tuple[WindowRule, ...] = ()
    filled: bool | None = None
    cautions: tuple[str, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)

    @property
    def mixed_kg_l(self) -> float:
        """Density of the product with its parts mixed. If the sheet is silent, it is that of an unfilled epoxy."""
        return self.mix.mixed_kg_l or USUAL_DENSITY_KG_L

    @property
    def two_part(self) -> bool:
        """Whether there is a part B to meet."""
        return self.mix.ratio_by_volume is not None or self.mix.ratio_by_mass is not None

    def window(self, name: str) -> WindowRule | None:
        """The rule of that name, if the sheet has one."""
        return next((rule for rule in self.windows if rule.name == name), None)

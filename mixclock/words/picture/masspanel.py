"""Pot life against the mass in the bucket, early, likely and late by every resin that the sheet allows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from mixclock.decide.buckets import Bucket, BucketModel
from mixclock.decide.clocks import NOTHING_LEARNED, LearnedFactor
from mixclock.decide.weather import steady
from mixclock.job.cups import Cup
from mixclock.job.profile import Profile
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass
from mixclock.words.picture.drawing import Drawing
from mixclock.words.picture.scales import Panel, mass_axis, span_axis

MASSES_KG = (0.1, 0.15, 0.22, 0.33, 0.5, 0.75, 1.1, 1.6, 2.4, 3.6, 5.3, 7.5, 8.9, 9.0, 12.0, 18.0, 27.0, 30.0)
TEMPS_C, TEMPS_F = (15.0, 20.0, 25.0), (60.0, 70.0, 80.0)
CUPS_AT_MOST = 3
"""The picture has room for this many panels side by side."""

_ANY_DAY = datetime(2026, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class MassCurve:
    """Early, likely and late pot life [s] of each mass [kg], material and air at one temperature; late may be None."""

    temp_c: float
    at: tuple[tuple[float, float, float, float | None], ...]

    def told(self, units: CrewUnits) -> str:
        """The same in words, for three masses."""
        said = []
        for mass_kg, early_s, likely_s, late_s in (self.at[1], self.at[6], self.at[-4]):
            late = f", late {units.write_span(late_s)}" if late_s is not None else ", no late time may be claimed"
            times = f"early {units.write_span(early_s)}, likely {units.write_span(likely_s)}{late}"
            said.append(f"{units.write_mass(mass_kg)}: {times}")
        return f"Pot life at {units.write_temp(self.temp_c)}. {'; '.join(said)}."


@dataclass(frozen=True)
class DrawnCup:
    """A test cup that was seen to its end, beside what the sheet says of every mass at the cup's own warmth."""

    by_sheet: MassCurve
    mass_kg: float
    end_s: float
    lot: str
    end: str

    def told(self, units: CrewUnits) -> str:
        """The same in words."""
        at = f"{units.write_mass(self.mass_kg)} at {units.write_temp(self.by_sheet.temp_c)}"
        return f"Test cup of lot {self.lot or 'not named'}, {at}: {self.end} after {units.write_span(self.end_s)}."


def cups_drawn(profile: Profile, model: BucketModel, cups: Sequence[Cup]) -> list[DrawnCup]:
    """The last cups of a product that were seen to their end, at most three, each at its own warmth."""
    if profile.pot_life is None or not profile.pot_life.span.depends_on_temperature:
        return []
    own = [cup for cup in cups if cup.product.casefold() == profile.name.casefold()]
    return [
        DrawnCup(
            _curve(profile, model, NOTHING_LEARNED, cup.material_c), cup.mass_kg, cup.end_s, cup.lot, cup.end or "end"
        )
        for cup in own
        if cup.end_s is not None
    ][-CUPS_AT_MOST:]


def mass_curves(
    profile: Profile, model: BucketModel, learned: LearnedFactor = NOTHING_LEARNED, units: CrewUnits = METRIC_CREW
) -> list[MassCurve]:
    """What the model says of the product's buckets; nothing where the sheet gives no pot life that heat changes."""
    if profile.pot_life is None or not profile.pot_life.span.depends_on_temperature:
        return []
    temps = TEMPS_F if units.is_us else TEMPS_C
    return [_curve(profile, model, learned, units.scale("c").back(temp)) for temp in temps]


def _curve(profile: Profile, model: BucketModel, learned: LearnedFactor, temp_c: float) -> MassCurve:
    rows = []
    for mass_kg in MASSES_KG:
        bucket = Bucket(
            profile=profile,
            mass_kg=mass_kg,
            across_m=None,
            material_c=temp_c,
            air=steady(temp_c).air,
            combined=_ANY_DAY,
            learned_factor=learned.factor,
            learned_sigma=learned.sigma,
            observations=learned.observations,
        )
        answer = model(bucket)
        assert answer is not None
        spans = [
            None if at is None else (at - _ANY_DAY).total_seconds()
            for at in (answer.edge.early, answer.edge.likely, answer.edge.late)
        ]
        early_s, likely_s, late_s = spans
        assert early_s is not None
        assert likely_s is not None
        rows.append((mass_kg, early_s, likely_s, late_s))
    return MassCurve(temp_c, tuple(rows))


def draw_masses(
    drawing: Drawing,
    curve: MassCurve,
    sheet: tuple[float, float] | None,
    place: tuple[float, float],
    size: tuple[float, float],
    units: CrewUnits,
    cup: DrawnCup | None = None,
) -> None:
    """Draw one temperature's pot lives; `sheet` is the mass [kg] and pot life [s] that the sheet states there."""
    (x, y), (width, height) = place, size
    left, right, top, bottom = x + 50, x + width - 8, y + 22, y + height - 24
    across, across_marks = mass_axis(MASSES_KG[0], MASSES_KG[-1], left, right, units)
    every = [span_s for row in curve.at for span_s in row[1:] if span_s is not None]
    up, up_marks = span_axis([*every, *([sheet[1]] if sheet else []), *([cup.end_s] if cup else [])], bottom, top)
    panel = Panel(across, up, across_marks, up_marks)
    head = f"cup of lot {cup.lot or 'not named'}" if cup else "pot life"
    drawing.text((left, y + 14), f"{head}, all at {units.write_temp(curve.temp_c)}", "head")
    panel.draw(drawing)
    early = [panel.point(mass_kg, early_s) for mass_kg, early_s, _, _ in curve.at]
    late = [panel.point(mass_kg, late_s) for mass_kg, _, _, late_s in curve.at if late_s is not None]
    if len(late) == len(early):
        drawing.band(late, early, "closing")
    else:
        drawing.path(early, "edge")
        drawing.text((left + 6, top + 14), "colder than the sheet: no late time", "soft")
    drawing.path([panel.point(mass_kg, likely_s) for mass_kg, _, likely_s, _ in curve.at], "likely-closing")
    if sheet is not None:
        drawing.mark(panel.point(*sheet))
    if cup is not None:
        drawing.mark(panel.point(cup.mass_kg, cup.end_s), "cup")

"""What must hold of any sheet: warmer is never later, doubt never shrinks, and where the sheet speaks it rules."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from unittest.mock import patch

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixclock.decide import edges
from mixclock.decide.clocks import NOTHING_LEARNED, EdgeClock, LearnedFactor, clock_of
from mixclock.decide.edges import edge_of, edge_s
from mixclock.decide.weather import steady, weather
from mixclock.formulas.cure import time_of_ripeness
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.rate_law import RateLaw, tau_s
from mixclock.job.entry import Combined, Poured, Reading
from mixclock.job.profile import Family, SheetPoint, SheetSpan
from mixclock.job.profilereading import read_profile
from mixclock.job.steps import WINDOWS
from tests.decide.worlds import BASE, Log
from tests.examples import examples

START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
EPOXY = read_profile(BASE)
LIMITS = ("tack-free", "scrape", "recoat", "foot-traffic", "vehicle-traffic", "full-cure", "dry")
RACED = ("back-roll", "wet-edge", "broadcast", "neutralise", "rinse", "second sanding")


@st.composite
def sheets(draw: st.DrawFn) -> SheetSpan:
    """One to four points, each warmer one no slower than the one before."""
    temps_c = sorted(draw(st.lists(st.integers(5, 38), min_size=1, max_size=4, unique=True)))
    span_s, points = draw(st.floats(600.0, 400_000.0)), []
    for temp_c in temps_c:
        points.append(SheetPoint(span_s, float(temp_c)))
        span_s *= draw(st.floats(0.25, 1.0))
    return SheetSpan(tuple(points))


@examples(150, deadline=None)
@given(
    span=sheets(),
    temp_c=st.floats(-5.0, 45.0),
    warmer_k=st.floats(0.0, 15.0),
    window=st.sampled_from(LIMITS + RACED),
    closing=st.booleans(),
)
def test_on_any_sheet_a_warmer_slab_is_never_later_in_any_edge(
    span: SheetSpan, temp_c: float, warmer_k: float, window: str, closing: bool
) -> None:
    cool, warm = (
        edge_of(window, span, EPOXY, steady(at_c), START, closing=closing).edge for at_c in (temp_c, temp_c + warmer_k)
    )
    slack = timedelta(milliseconds=2)
    assert warm.early <= cool.early + slack
    assert warm.likely <= cool.likely + slack
    assert warm.late is not None
    assert cool.late is not None
    assert warm.late <= cool.late + slack


@examples(100, deadline=None)
@given(span=sheets(), away_k=st.floats(0.0, 20.0), more_k=st.floats(0.0, 20.0), window=st.sampled_from(LIMITS))
def test_the_doubt_of_a_limits_law_is_never_narrower_farther_from_the_sheet(
    span: SheetSpan, away_k: float, more_k: float, window: str
) -> None:
    clock = clock_of(window, span, Family.EPOXY, NOTHING_LEARNED, False)
    cold_c = span.points[0].temp_c
    assert cold_c is not None
    near, far = (
        tau_s(clock.slow, cold_c - away) / tau_s(clock.likely, cold_c - away) for away in (away_k, away_k + more_k)
    )
    assert far >= near * 0.9995


@examples(100, deadline=None)
@given(span=sheets(), which=st.integers(0, 3), window=st.sampled_from(LIMITS), minutes=st.floats(-110.0, 4.0))
def test_with_a_contact_reading_of_the_place_at_a_stated_point_a_limit_is_exactly_the_sheet(
    span: SheetSpan, which: int, window: str, minutes: float
) -> None:
    point = span.points[which % len(span.points)]
    short = SheetSpan(
        tuple(SheetPoint(each.span_s / span.points[0].span_s * 300.0, each.temp_c) for each in span.points)
    )
    stated_s = point.span_s / span.points[0].span_s * 300.0  # minutes: it is over before the reading is two hours old
    log = Log()
    reading = Reading(air_c=point.temp_c, rh_pct=50.0, slab_c=point.temp_c, how="contact", area="bay 1")
    log.add(minutes, reading)
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=2.0))
    log.add(5, Poured(1))
    conditions = weather(log.standing(), "bay 1")
    edges = [edge for edge in ("opens", "closes") if edge in WINDOWS[window].edges]
    for edge in edges:
        found = edge_of(window, short, EPOXY, conditions, START, closing=edge == "closes").edge
        for at in (found.early, found.likely, found.late):
            assert at is not None
            assert abs((at - START).total_seconds() - stated_s) <= 0.01


@examples(60, deadline=None)
@given(
    span_s=st.floats(60.0, 400_000.0),
    slab_c=st.floats(0.0, 40.0),
    window=st.sampled_from(LIMITS + RACED),
    closing=st.booleans(),
)
def test_no_span_without_a_temperature_stands_still_unless_its_file_says_so(
    span_s: float, slab_c: float, window: str, closing: bool
) -> None:
    held = 20.0 if closing else 25.0
    moved = edge_of(window, SheetSpan((SheetPoint(span_s),)), EPOXY, steady(slab_c), START, closing=closing).edge
    dated = SheetSpan((SheetPoint(span_s, held),))
    assert moved == edge_of(window, dated, EPOXY, steady(slab_c), START, closing=closing).edge
    still = SheetSpan((SheetPoint(span_s),), constant=True)
    found = edge_of(window, still, EPOXY, steady(slab_c), START, closing=closing).edge
    assert found.early == found.likely == found.late
    assert abs((found.likely - START).total_seconds() - span_s) <= 0.01


@pytest.mark.parametrize(
    ("slab_c", "is_stated"),
    [((10.0, 19.9), True), ((12.0, 15.0), True), ((4.0, 12.0), False), ((12.0, 24.0), False), (None, False)],
)
def test_a_slab_is_in_a_sheets_range_where_its_coldest_and_its_warmest_hour_are(
    slab_c: tuple[float, float] | None, is_stated: bool
) -> None:
    sheet = SheetSpan((SheetPoint(600.0, 10.0), SheetPoint(300.0, 20.0)))
    assert clock_of("tack-free", sheet, Family.EPOXY, NOTHING_LEARNED, False).is_stated(slab_c) is is_stated


def reached_in_full(
    run: edges._Run, law: RateLaw, history: History, moisture: Moisture | None, factor: float = 1.0
) -> float:
    """When a clock reaches its edge, by the public function and no other."""
    at_s = time_of_ripeness(law, history, run.start_s, 1.0, run.ripe, factor, moisture)
    return min(at_s, run.start_s + edges.FAR_S)


@examples(60, deadline=None)
@given(
    span=sheets(),
    slabs_c=st.lists(st.integers(4, 36), min_size=1, max_size=5),
    window=st.sampled_from(LIMITS + RACED),
    family=st.sampled_from((Family.EPOXY, Family.POLYASPARTIC)),
    learned=st.sampled_from((1.0, 0.8, 1.3)),
    ripe=st.sampled_from((0.0, 0.3, 0.999)),
    closing=st.booleans(),
)
@example(  # the slab is in the sheet's range, and by its doubt it may be warmer or colder than that
    span=SheetSpan((SheetPoint(600.0, 5.0), SheetPoint(300.0, 6.0))),
    slabs_c=[5],
    window="tack-free",
    family=Family.EPOXY,
    learned=1.0,
    ripe=0.0,
    closing=False,
)
@example(
    span=SheetSpan((SheetPoint(600.0, 5.0), SheetPoint(300.0, 6.0))),
    slabs_c=[5],
    window="recoat",
    family=Family.EPOXY,
    learned=1.0,
    ripe=0.0,
    closing=True,
)
def test_an_edge_is_the_same_to_its_last_digit_by_the_shared_tables_and_by_every_law_in_full(
    span: SheetSpan,
    slabs_c: list[int],
    window: str,
    family: Family,
    learned: float,
    ripe: float,
    closing: bool,
) -> None:
    log = Log()
    for hour, slab_c in enumerate(slabs_c):
        log.add(60.0 * hour, Reading(air_c=slab_c + 1.0, rh_pct=55.0, slab_c=float(slab_c)))
    conditions = weather(log.standing(), None)
    clock = clock_of(window, span, family, LearnedFactor(factor=learned), closing)
    asked = clock, conditions, START.timestamp() + 1234.5, ripe
    shared = edge_s(*asked)
    with patch.object(edges._Run, "_reached", reached_in_full), patch.object(EdgeClock, "is_stated", lambda *_: False):
        assert edge_s(*asked) == shared

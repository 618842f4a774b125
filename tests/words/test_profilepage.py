"""A product's page shows what the sheet says and what follows from it at the slab's temperature."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.decide.clocks import LearnedFactor
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile
from mixclock.words.profilepage import EdgeRow, edge_rows, page

PROFILES = Path(__file__).resolve().parents[2] / "profiles"


def product(name: str) -> Profile:
    return read_profile((PROFILES / f"{name}.toml").read_text(encoding="utf-8"))


def row(rows: list[EdgeRow], window: str, edge: str) -> EdgeRow:
    return next(found for found in rows if (found.window, found.edge) == (window, edge))


def test_at_the_sheets_own_temperatures_the_likely_time_is_the_sheets() -> None:
    recoat = row(edge_rows(product("slow-epoxy-base")), "recoat", "opens")
    likely = {at.temp_c: at.likely_s for at in recoat.at}
    assert (likely[10.0], likely[20.0], likely[30.0]) == pytest.approx((86400.0, 43200.0, 28800.0))


def test_early_likely_and_late_keep_their_order_and_warmer_is_never_later() -> None:
    read = [read_profile(path.read_text(encoding="utf-8")) for path in PROFILES.glob("*.toml")]
    rows = [(profile.name, found) for profile in read for found in edge_rows(profile)]
    assert len(rows) > len(read) > 3
    for name, found in rows:
        assert found.at, name
        assert all(at.early_s <= at.likely_s <= at.late_s for at in found.at), found
        likely = [round(at.likely_s, 3) for at in found.at]
        assert likely == sorted(likely, reverse=True), (name, found.window, found.edge)


def test_what_lies_outside_the_sheet_is_marked() -> None:
    rows = edge_rows(product("slow-epoxy-base"))
    outside = {at.temp_c for at in row(rows, "recoat", "opens").at if at.outside_sheet}
    assert outside == {5.0, 35.0}
    assert any("~" in line for line in page(product("slow-epoxy-base"), "here", rows))


def test_what_was_learned_stands_beside_the_sheet_and_moves_the_times() -> None:
    profile = product("slow-epoxy-base")
    plain = row(edge_rows(profile), "recoat", "opens")
    rows = edge_rows(profile, {"recoat": LearnedFactor(1.2, 0.1, 4)})
    slower = row(rows, "recoat", "opens")
    assert slower.stated == plain.stated
    assert slower.at[3].likely_s == pytest.approx(1.2 * plain.at[3].likely_s)
    assert any("recoat from ×1.20" in line for line in page(profile, "here", rows))


@pytest.mark.parametrize("name", sorted(path.stem for path in PROFILES.glob("*.toml")))
def test_every_products_page_has_its_source_and_its_cautions(name: str) -> None:
    profile = product(name)
    lines = page(profile, "here", edge_rows(profile))
    told = " ".join(" ".join(lines).split())
    assert profile.source in told
    assert all(caution in told for caution in profile.cautions)


@pytest.mark.parametrize("name", sorted(path.stem for path in PROFILES.glob("*.toml")))
def test_a_products_page_fits_a_terminal_that_nobody_made_wider(name: str) -> None:
    profile = product(name)
    learned = {"vehicle-traffic": LearnedFactor(1.2, 0.1, 4), "recoat": LearnedFactor(0.8, 0.1, 4)}
    for lessons in ({}, learned):
        lines = page(profile, "here", edge_rows(profile, lessons))
        assert [line for line in lines if len(line) > 80] == []


def test_the_table_never_shows_more_time_than_there_is() -> None:
    told = page(product("slow-epoxy-base"), "here", rows := edge_rows(product("slow-epoxy-base")))
    at_20 = row(rows, "back-roll", "closes").at[3]
    line = next(line for line in told if line.startswith("  back-roll by"))
    assert "56 min" in line
    assert 56 * 60 - 0.001 <= at_20.early_s < 57 * 60  # a thousandth of a second for the arithmetic


def likely_min(name: str, window: str, edge: str, temp_c: float) -> float:
    (at,) = row(edge_rows(product(name), temps_c=[temp_c]), window, edge).at
    return at.likely_s / 60.0


@pytest.mark.parametrize("temp_c", [21.0, 22.5, 24.0])
def test_at_21_to_24_degrees_the_generic_products_say_what_practice_says(temp_c: float) -> None:
    """Common practice, no source: the base is workable for 45 to 60 min, a polyaspartic for 10 to 30; on an epoxy feet
    after 24 to 36 h and vehicles after about a week (5 to 9 days here), on a polyaspartic hours and a day or more."""
    for window in ("back-roll", "wet-edge", "broadcast"):
        assert 45 <= likely_min("fast-epoxy-base", window, "closes", temp_c) <= 60
        assert 10 <= likely_min("polyaspartic-top-coat", window, "closes", temp_c) <= 30
    for base in ("fast-epoxy-base", "slow-epoxy-base"):
        assert 24 <= likely_min(base, "foot-traffic", "opens", temp_c) / 60 <= 36
        assert 5 <= likely_min(base, "vehicle-traffic", "opens", temp_c) / 1440 <= 9
    assert 3 <= likely_min("polyaspartic-top-coat", "foot-traffic", "opens", temp_c) / 60 <= 8
    assert 24 <= likely_min("polyaspartic-top-coat", "vehicle-traffic", "opens", temp_c) / 60 <= 48

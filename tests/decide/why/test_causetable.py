"""The table of causes: complete, with a source for each limit, and in the trade's own words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from mixclock.decide.why import SHAPES, SYMPTOMS
from mixclock.decide.why.causes import CAUSES, Cause
from mixclock.decide.why.causes.cause import POSSIBLE, TYPICAL, UNUSUAL
from mixclock.decide.why.evidence import Evidence, number
from mixclock.decide.why.floortests import TESTS
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.observation import Observation
from mixclock.job.profile import Family
from mixclock.job.tradefacts import OF_CAUSES, PLANE
from mixclock.units import US_CREW

WANTED = """
amine blush, condensation, old batch, late back-roll, late broadcast, lap joint, thin film, thick film, off ratio,
short mixing, no induction, cold cure, rising slab, early recoat, late recoat, early traffic, different lot,
scraped bucket, thirsty slab, prep left behind, poor airflow, unstirred pail, after the job,
dirt between coats, weak slab, cold material, water on the film, moisture foam, whipped-in air
"""
SOURCED = re.compile(
    r"ISO|ASTM|ICRI|UFGS|AMPP|JCT|\.com|\.uk|sheet|judgement|practice|'|definition|thermometer|trade", re.I
)


def test_every_cause_of_the_trade_is_in_the_table() -> None:
    assert {cause.name for cause in CAUSES} == {name.strip() for name in WANTED.split(",")}


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.name)
def test_each_cause_says_how_to_be_sure_what_to_do_and_what_to_mind(cause: Cause) -> None:
    assert all((cause.mechanism, cause.confirm, cause.remedy, cause.caution, cause.source, cause.tests, cause.clues))
    assert set(cause.tests) <= set(TESTS)
    assert set(cause.symptoms) <= set(SYMPTOMS)
    assert set(cause.shapes) <= set(SHAPES)
    assert set(cause.symptoms.values()) <= {TYPICAL, POSSIBLE, UNUSUAL}
    assert TYPICAL in cause.symptoms.values() or cause.name == "different lot"
    assert set(cause.planes) <= set(PLANE.answers)
    assert set(cause.remedies) <= set(PLANE.answers)


_SOURCES = [clue.source for cause in CAUSES for clue in cause.clues]
GAUGES = {source.quantity: source for source in _SOURCES if isinstance(source, Gauge)}


def test_a_quantity_means_one_thing_in_every_cause() -> None:
    sources = [clue.source for cause in CAUSES for clue in cause.clues if isinstance(clue.source, Gauge)]
    assert len({id(source) for source in sources}) == len({source.quantity for source in sources}) > 20


def test_a_weight_or_a_volume_in_evidence_is_told_in_the_crews_own_units() -> None:
    weight = replace(GAUGES["slab_min_c"], quantity="bucket_kg", unit="kg", limit=18.0)
    volume = replace(GAUGES["slab_min_c"], quantity="bucket_l", unit="l", limit=18.0)
    said = [number(Evidence(each, 18.0, 18.0, None, 0.0, 0.0, ""), 18.0, US_CREW) for each in (weight, volume)]
    assert said == ["39.7 lb", "4.8 gal"]  # 18 / 0.45359237, 18 / 3.785411784


def test_every_unit_of_a_gauge_is_one_that_people_are_told() -> None:
    found = {
        number(Evidence(gauge, 3.0, 3.0, None, 0.0, 0.0, ""), 3.0, US_CREW) for gauge in GAUGES.values() if gauge.unit
    }
    assert len(found) >= 5
    assert not [said for said in found if said.replace(".", "").isdigit()], "a bare figure says nothing"


@pytest.mark.parametrize("gauge", GAUGES.values(), ids=lambda gauge: gauge.quantity)
def test_each_limit_step_and_spread_has_a_source_or_the_word_judgement(gauge: Gauge) -> None:
    for words in (gauge.limit_source, gauge.step_reason, gauge.sigma_reason):
        assert SOURCED.search(words) or words.startswith(("ripeness", "3 K", "at 55", "40 °C", "one ", "ICRI")), words
    assert gauge.step > 0.0
    assert gauge.sigma > 0.0


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_each_symptom_has_at_least_two_causes_to_weigh(symptom: str) -> None:
    assert sum(cause.fit(symptom) > 0.0 for cause in CAUSES) >= 2


@pytest.mark.parametrize(
    ("quantity", "limit", "source"),
    [
        ("dew_margin_min_k", 3.0, "ISO 8502-4"),  # ISO 8502-4 and 12944-7: surface at least 3 °C over the dew point
        ("rh_max_pct", 85.0, "ISO 8502-4"),  # the same practice: under 85 %
        ("slab_min_c", 10.0, "below 10 °C"),  # 'Epoxy Floor Curing Times': roughly no cure below 10 °C
        ("dew_margin_wet_k", 0.0, "dew point"),
    ],
)
def test_published_limits_are_the_ones_in_use(quantity: str, limit: float, source: str) -> None:
    assert GAUGES[quantity].limit == limit
    assert source in GAUGES[quantity].limit_source


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.name)
def test_no_cause_names_a_figure_in_units_that_a_crew_may_not_use(cause: Cause) -> None:
    told = " ".join((cause.mechanism, cause.confirm, cause.remedy, cause.caution))
    assert not re.findall(r"\d[\d.]* ?(?:°|K\b|MPa|psi|µm|mil\b|mm\b|m2\b|kg\b|L\b|gal\b)", told)


def test_the_tests_that_cost_least_come_first() -> None:
    names = list(TESTS)
    for cheap, dear in (("wipe and pH", "wash a patch"), ("wash a patch", "thumbnail"), ("thumbnail", "solvent rub"),
                        ("solvent rub", "the kept cup"), ("the kept cup", "pull-off")):  # fmt: skip
        assert names.index(cheap) < names.index(dear)


def test_bubbles_of_an_isocyanate_coat_are_asked_about_damp_air_a_fast_drill_and_cold_resin() -> None:
    names = {
        cause.name
        for cause in CAUSES
        if cause.fit("bubbles") >= POSSIBLE and (not cause.families or Family.POLYASPARTIC in cause.families)
    }
    assert {"moisture foam", "whipped-in air", "cold material"} <= names
    foam = next(cause for cause in CAUSES if cause.name == "moisture foam")
    assert Family.EPOXY not in foam.families


def test_every_fact_that_decides_a_cause_can_be_ticked_in_the_order_of_the_table() -> None:
    asked = [source for cause in CAUSES for source in (*(clue.source for clue in cause.clues), *cause.excused_by)]
    ticks = dict.fromkeys(each.tick for each in asked if isinstance(each, Observation) and each.tick is not None)
    assert tuple(dict.fromkeys((*ticks, PLANE))) == OF_CAUSES

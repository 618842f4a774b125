"""Every number that a crew reads is converted by one table, in Python and on the page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from mixclock.units import METRIC_CREW, US_CREW, degrees_scale
from mixclock.units.scales import METRIC, US
from mixclock.units.uncommon import factor
from tests.test_house import ROOT

PINT = {
    "l": "litre",
    "small_l": "litre",
    "kg": "kilogram",
    "um": "micrometre",
    "m2": "metre ** 2",
    "m": "metre",
    "kg_l": "kilogram / litre",
    "kg_m2": "kilogram / metre ** 2",
    "m2_l": "metre ** 2 / litre",
    "m2_h": "metre ** 2 / hour",
    "m_h": "metre / hour",
}
"""The program's own unit of each key, as pint spells it."""

FACTORS = re.compile(r"\b(?:1\.8\b|9 ?/ ?5|5 ?/ ?9|[-+] ?32\b|3\.785|0?\.4535|2\.204|25\.4\b|0\.0929|10\.76|0\.3048)")
CONVERTERS = {"units/spellings.py", "units/scales.py", "units/uncommon.py", "units/writing.py"}
"""Where a factor of a US unit may stand: the table itself, the scales made of it, pint's definitions, an example."""


@pytest.mark.parametrize("key", PINT)
def test_what_a_us_crew_reads_is_what_pint_makes_of_it(key: str) -> None:
    us = US[key].unit.replace("²", "2").replace("fl oz", "floz")
    assert US[key].shown(1.0) == pytest.approx(1.0 / factor(us, PINT[key]), rel=1e-12)


@pytest.mark.parametrize("units", [METRIC_CREW, US_CREW])
@pytest.mark.parametrize("key", METRIC)
def test_what_is_shown_can_be_typed_back(units: object, key: str) -> None:
    scale = (METRIC if units == METRIC_CREW else US)[key]
    assert scale.back(scale.shown(21.7)) == pytest.approx(21.7)


def test_degrees_are_read_by_the_letter_beside_them_and_a_loggers_fault_stays_one() -> None:
    # 0 °C and 100 °C in °F by definition; -40 is the same on both
    assert [degrees_scale("F").back(value) for value in (32.0, 212.0, -40.0)] == pytest.approx([0.0, 100.0, -40.0])
    assert degrees_scale("C").back(-999.0) == -999.0
    assert degrees_scale("F").back(-999.0) < -500.0


@pytest.mark.parametrize("ending", ["py", "js"])
def test_no_factor_of_a_us_unit_stands_outside_the_units(ending: str) -> None:
    house = ROOT / "mixclock"
    files = sorted(house.rglob(f"*.{ending}"))
    assert len(files) > 15
    found = {
        str(Path(file).relative_to(house))
        for file in files
        if FACTORS.search(_code(file)) and "formulas" not in file.parts
    }
    assert found <= CONVERTERS


def _code(file: Path) -> str:
    return re.sub(r"#.*|//.*", "", file.read_text(encoding="utf-8"))

"""Reading what crews commonly type must not start pint, nor the numpy that pint brings along."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COMMON = """
import sys
from mixclock import units as u
u.amount("6 L"), u.amount("1.5 gal"), u.amount("12 kg"), u.temp_c("72F"), u.temp_c("22 °C"), u.span_s("5 min")
u.span_s("1 h 30 min"), u.film_um("8 mil"), u.film_um("200 µm"), u.area_m2("11.5 m2"), u.area_m2("120 ft²")
u.spread_m2_l("150 ft²/gal"), u.density_kg_l("1.13 kg/L"), u.rate_m2_h("110 m2/h"), u.rate_m_h("35 m/h")
u.pct("62 %"), u.clock_time("9:42"), u.length_m("28 cm"), u.mass_per_area_kg_m2("0.4 kg/m2")
u.US_CREW.write_volume(6.0), u.write_span(720), u.crew_units_for(["120 ft²"])
for wrong in ("5 kg", "6", "1,500 L"):
    try:
        u.volume_l(wrong)
    except u.UnitError:
        pass
    else:
        raise SystemExit(f"{wrong} was taken")
"""
SHOW = "print(*sorted({'pint', 'numpy', 'difflib', 'decimal'} & set(sys.modules)))"


def _modules_after(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{SHOW}"], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_common_spellings_start_neither_pint_nor_numpy() -> None:
    assert _modules_after(COMMON) == ""


def test_an_uncommon_unit_does_start_pint() -> None:
    assert "pint" in _modules_after(f"{COMMON}\nu.volume_l('2 imperial pints')").split()


def test_pint_is_imported_in_one_file_alone() -> None:
    users = [
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "mixclock").rglob("*.py")
        if any(line.strip().startswith(("import pint", "from pint")) for line in path.read_text("utf-8").splitlines())
    ]
    assert users == ["mixclock/units/uncommon.py"]


@pytest.mark.parametrize("call", ["u.amount('6 L')", "u.temp_c('72F')", "u.span_s('5 min')"])
def test_the_three_texts_of_a_cold_command_are_read_without_pint(call: str) -> None:
    assert _modules_after(f"import sys\nfrom mixclock import units as u\n{call}") == ""

"""What a data sheet says is read as it is printed; what it can't say is refused, all mistakes in one go."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.job.mistakes import Mistakes
from mixclock.job.profile import Family, Profile, SheetPoint, SheetSpan
from mixclock.job.profilereading import known_keys, read_profile
from mixclock.job.steps import POUR_OUT, WINDOWS
from tests.examples import examples

PROFILES = Path(__file__).resolve().parents[2] / "profiles"
TEMPLATE = (PROFILES / "template.toml").read_text(encoding="utf-8")
SHIPPED = sorted(path.name for path in PROFILES.glob("*.toml"))

SMALL = """
name = "Boat shed base"
family = "epoxy"
[mix]
ratio_by_volume = [2, 1]
[pot-life]
mass = "1.0 kg"
end = "gel"
at = { "20 °C" = "40 min", "30 °C" = "20 min" }
"""


def whole_template() -> str:
    """The template with the rare keys switched on."""
    return re.sub(r"(?m)^#(?=[\[a-z])", "", TEMPLATE)


def mistakes_of(text: str) -> list[str]:
    with pytest.raises(Mistakes) as refused:
        read_profile(text)
    return [str(mistake) for mistake in refused.value.found]


def only_mistake(text: str) -> str:
    (mistake,) = mistakes_of(text)
    return mistake


def window(name: str, *lines: str) -> str:
    return SMALL + f"[windows.{name}]\nafter = 'poured'\n" + "\n".join(lines)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_profile_that_comes_with_mixclock_is_without_mistakes(name: str) -> None:
    profile = read_profile((PROFILES / name).read_text(encoding="utf-8"))
    assert "invented" in profile.source


def test_profiles_of_every_family_come_with_mixclock() -> None:
    families = {read_profile((PROFILES / name).read_text(encoding="utf-8")).family for name in SHIPPED}
    assert families == set(Family)


def test_the_template_is_also_right_with_its_rare_keys_switched_on() -> None:
    assert read_profile(whole_template()).dilution.water_to_product == 3.0


def test_the_template_explains_every_key_that_the_reader_knows_and_no_other() -> None:
    def paths(values: dict[str, object], before: str = "") -> set[str]:
        found = set()
        for key, value in values.items():
            found.add(f"{before}{key}")
            inside = isinstance(value, dict) and key not in ("at", "opens", "closes", "closes_for", "notes")
            found |= paths(value, f"{before}{key}.") if inside and isinstance(value, dict) else set()
        return found

    written = paths(tomllib.loads(whole_template()))
    known = known_keys()
    windows = {name for name in WINDOWS if name != POUR_OUT}
    assert {path for path in written if not path.startswith("windows.")} == {
        path for path in known if not path.startswith("windows.")
    }
    assert {path.split(".")[1] for path in written if path.startswith("windows.")} == windows
    assert {path.split(".")[2] for path in written if path.count(".") == 2} == {
        path.split(".")[2] for path in known if path.count(".") == 2
    }


def test_a_sheet_of_three_temperatures_is_read_coldest_first() -> None:
    profile = read_profile(window("recoat", 'opens = { "30 °C" = "8 h", "10 °C" = "24 h", "20 °C" = "12 h" }'))
    recoat = profile.window("recoat")
    assert recoat is not None
    assert recoat.opens == SheetSpan((SheetPoint(86400.0, 10.0), SheetPoint(43200.0, 20.0), SheetPoint(28800.0, 30.0)))


def test_a_sheet_in_fahrenheit_and_one_with_humidity_are_read() -> None:
    profile = read_profile(
        window("back-roll", 'closes = { "50 °F, 50 %" = "40 min", "68 °F,50%" = "20 min", "68F, 80 %" = "14 min" }')
    )
    rule = profile.window("back-roll")
    assert rule is not None
    assert rule.closes is not None
    assert [(point.temp_c, point.rh_pct) for point in rule.closes.points] == [
        (pytest.approx(10.0), 50.0),
        (pytest.approx(20.0), 50.0),
        (pytest.approx(20.0), 80.0),
    ]


def test_a_mistake_in_a_sheet_in_fahrenheit_is_told_in_fahrenheit() -> None:
    line = only_mistake(window("tack-free", 'opens = { "68 °F" = "5 h", "86 °F" = "6 h" }'))
    assert "86 °F takes 6 h, longer than 5 h at 68 °F" in line


def test_a_comma_may_be_a_decimal_sign_in_a_sheet_point() -> None:
    profile = read_profile(window("tack-free", 'opens = { "22,5 °C, 50 %" = "1,5 h" }'))
    rule = profile.window("tack-free")
    assert rule is not None
    assert rule.opens == SheetSpan((SheetPoint(5400.0, 22.5, 50.0),))


def test_no_induction_may_be_said_as_none() -> None:
    rule = read_profile(SMALL + "[windows.induction]\nafter='mixed'\nopens='0 min'").window("induction")
    assert rule is not None
    assert rule.opens == SheetSpan((SheetPoint(0.0),), constant=True)


def test_a_ratio_may_be_typed_as_the_pail_prints_it() -> None:
    profile = read_profile(SMALL.replace("[2, 1]", '"100 : 43,5"'))
    assert profile.mix.ratio_by_volume == (100.0, 43.5)


def test_a_product_in_one_pail_needs_no_ratio() -> None:
    profile = read_profile(SMALL.replace("ratio_by_volume = [2, 1]", "parts = 1"))
    assert not profile.two_part


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        (SMALL.replace('name = "Boat shed base"', ""), "name", "is missing"),
        (SMALL.replace('"epoxy"', '"epoxi"'), "family", "did you mean 'epoxy'?"),
        (SMALL.replace("[2, 1]", "[2, 1, 1]"), "mix.ratio_by_volume", "two numbers, here are 3"),
        (SMALL.replace("[2, 1]", "[2, 0]"), "mix.ratio_by_volume", "not a number above zero"),
        (SMALL.replace("[2, 1]", "[nan, 1]"), "mix.ratio_by_volume", "not a number above zero"),
        (SMALL.replace("[2, 1]", "[inf, 1]"), "mix.ratio_by_volume", "not a number above zero"),
        (SMALL.replace("ratio_by_volume = [2, 1]", ""), "mix.ratio_by_volume", "mixed from two parts"),
        (SMALL.replace('"epoxy"', '"acid etch"'), "mix.ratio_by_volume", "acid etch has one part"),
        (
            SMALL.replace("[pot-life]", 'density = ["1 kg/L"]\n[pot-life]'),
            "mix.density",
            "takes two figures, and here are 1",
        ),
        (SMALL.replace('mass = "1.0 kg"', 'mass = "a bucket"'), "pot-life.mass", "not a weight"),
        (SMALL.replace('mass = "1.0 kg"', 'mass = "1,500 g"'), "pot-life.mass", "can be read as"),
        (SMALL.replace('"gel"', '"gell"'), "pot-life.end", "did you mean 'gel'?"),
        (SMALL.replace('"20 °C" =', '"20" ='), "pot-life.at", "20 what?"),
        (SMALL.replace('"20 °C" =', '"30,0 °C" ='), "pot-life.at", "30 °C is stated twice"),
        (SMALL.replace('"20 min"', '"60 min"'), "pot-life.at", "30 °C takes 1 h, longer than 40 min at 20 °C"),
        (SMALL.replace('"20 min"', '"-20 min"'), "pot-life.at.30 °C", "below zero"),
        (SMALL.replace('"20 min"', '"0 min"'), "pot-life.at.30 °C", "is zero"),
        (SMALL.replace('"20 °C" =', '"20 °C, 50 %" ='), "pot-life.at", "some points state a humidity"),
        (SMALL.replace('"20 °C" = "40 min", "30 °C" =', '"20 °C, 50 %" ='), "pot-life.at", "nothing in the bucket"),
        (SMALL.split("[pot-life]")[0], "pot-life", "no window either"),
        (SMALL.replace("[pot-life]", "[potlife]"), "potlife", "did you mean 'pot-life'?"),
        (window("recaot", "opens = '3 h'"), "windows.recaot", "did you mean 'recoat'?"),
        (window("foot_traffic", "opens = '3 h'"), "windows.foot_traffic", "did you mean 'foot-traffic'?"),
        (window("pour-out", "closes = '3 min'"), "windows.pour-out", "[pot-life]: it gives pour-out"),
        (window("recoat"), "windows.recoat", "neither opens nor closes"),
        (window("recoat", "opens = '3 h'", "shuts = '9 h'"), "windows.recoat.shuts", "is no key"),
        (window("foot-traffic", "closes = '3 h'"), "windows.foot-traffic.closes", "only opens"),
        (window("broadcast", "closes = '9 min'", "rule = 'hottest hour'"), "windows.broadcast.rule", "recoat only"),
        (window("recoat", "opens = '9 h'", "rule = 'hottest hour'"), "windows.recoat.rule", "recoat only"),
        (window("recoat", "opens = '9 h'", "rule = 'hotest hour'"), "windows.recoat.rule", "did you mean"),
        (window("recoat", "opens = '9 h'", "closes = '8 h'"), "windows.recoat.closes", "shuts after 8 h"),
        (window("recoat", "opens = 9"), "windows.recoat.opens", "no span of time"),
        (window("recoat", "opens = {}"), "windows.recoat.opens", "no points"),
        (SMALL + "[limits]\ndew_margin_min = '200 °C'", "limits.dew_margin_min", "is outside"),
        (SMALL + "[limits]\nhumidity_max = '140 %'", "limits.humidity_max", "over 100 %"),
        (SMALL + "[film]\nwet = '200 um'", "film.wet", "not a pair"),
        (SMALL + "[film]\nwet = ['8 kg', '400 um']", "film.wet", "weight"),
        (SMALL + "[dilution]\nwater_to_product = -3", "dilution.water_to_product", "no number of parts"),
    ],
)
def test_each_mistake_of_a_sheet_is_said_with_its_place_and_its_mend(text: str, where: str, says: str) -> None:
    lines = [line for line in mistakes_of(text) if line.startswith(f"at '{where}': ")]
    assert any(says in line for line in lines), mistakes_of(text)


@pytest.mark.parametrize("after", ["pored", "recoat"], ids=["a start that nobody states", "the window itself"])
def test_a_window_counts_from_a_statement_or_from_another_step(after: str) -> None:
    line = only_mistake(SMALL + f"[windows.recoat]\nafter = '{after}'\nopens = '3 h'")
    assert "not something that a window can count from" in line


def test_a_drying_time_may_count_from_the_rinse_and_rinsed_means_the_same() -> None:
    text = SMALL + "[windows.rinse]\nopens='1 min'\n[windows.dry]\nafter='rinsed'\nopens='1 d'"
    rule = read_profile(text).window("dry")
    assert rule is not None
    assert rule.after == "rinse"


def test_windows_that_count_from_each_other_are_refused() -> None:
    text = SMALL + "[windows.rinse]\nafter='dry'\nopens='1 min'\n[windows.dry]\nafter='rinse'\nopens='1 d'"
    assert "counts from itself" in only_mistake(text)


def test_a_window_that_shuts_early_at_one_temperature_only_is_seen() -> None:
    text = window(
        "recoat",
        'opens = { "10 °C" = "24 h", "20 °C" = "12 h", "30 °C" = "11 h" }',
        'closes = { "10 °C" = "72 h", "30 °C" = "10 h" }',
    )
    assert "at 30 °C it shuts after 10 h, but opens only after 11 h" in only_mistake(text)


def test_a_window_is_also_seen_to_shut_early_at_a_temperature_that_only_one_edge_states() -> None:
    text = window("recoat", 'opens = "12 h"', 'closes = { "10 °C" = "48 h", "35 °C" = "9 h" }')
    assert "at 35 °C it shuts after 9 h" in only_mistake(text)


def test_densities_that_do_not_fit_the_ratios_are_said_with_how_far_they_are_off() -> None:
    text = SMALL.replace(
        "ratio_by_volume = [2, 1]",
        'ratio_by_volume = [2, 1]\nratio_by_mass = [2, 1]\ndensity = ["1.13 kg/L", "0.98 kg/L"]',
    )
    line = only_mistake(text)
    assert "13 % off" in line  # 2 to 1 against 2 × 1.13 / 0.98 = 2.306 to 1: 1 − 2/2.306 = 13.3 %
    assert "2.31 to 1" in line


def test_a_ratio_by_mass_rounded_as_sheets_round_it_is_no_contradiction() -> None:
    text = SMALL.replace(
        "ratio_by_volume = [2, 1]",
        'ratio_by_volume = [2, 1]\nratio_by_mass = [100, 43]\ndensity = ["1.13 kg/L", "0.98 kg/L"]',
    )
    assert read_profile(text).mix.ratio_by_mass == (100.0, 43.0)


def test_two_ratios_that_would_need_an_impossible_resin_are_refused_without_densities_too() -> None:
    text = SMALL.replace("ratio_by_volume = [2, 1]", "ratio_by_volume = [2, 1]\nratio_by_mass = [10, 1]")
    assert "5 times as much" in only_mistake(text)


def test_all_mistakes_of_a_file_come_at_once() -> None:
    text = """
famly = "epoxy"
[mix]
ratio_by_volume = [2, 1, 3]
time = nan
[pot-life]
mass = "much"
at = { "20 °C" = "20 min", "30 °C" = "40 min" }
[windows.recoat]
opens = "9 h"
closes = "8 h"
"""
    places = {line.split("'")[1] for line in mistakes_of(text)}
    assert places == {
        "name",
        "family",
        "famly",
        "mix.ratio_by_volume",
        "mix.time",
        "pot-life.mass",
        "pot-life.at",
        "windows.recoat.closes",
    }


JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(
        ["20 °C", "30 min", "2 h", "10 min", "1,5 kg", "epoxy", "poured", "gel", "50 %", "1.1 kg/L", "hottest hour"]
    ),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.text(max_size=8) | st.sampled_from(["20 °C", "10 °C, 50 %", "at", "opens"]), inner, max_size=3
        )
    ),
    max_leaves=8,
)


def answer_of(text: str) -> Profile | list[str]:
    """The profile, or a line for each mistake; anything else that is raised ends the test."""
    try:
        return read_profile(text)
    except Mistakes as refused:
        return refused.lines("x.toml")


def toml_of(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(toml_of(part) for part in value)}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml_of(key)} = {toml_of(part)}" for key, part in value.items()) + "}"
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(letter):08X}" for letter in value if not 0xD800 <= ord(letter) < 0xE000) + '"'
    return '""' if value is None else repr(value)


@examples(300, deadline=None)
@given(st.dictionaries(st.sampled_from(sorted(known_keys())), JUNK, min_size=1, max_size=5))
def test_junk_at_any_known_key_is_refused_in_lines_and_never_with_a_traceback(junk: dict[str, object]) -> None:
    lines: dict[str, list[str]] = {}
    for path, value in junk.items():
        table, _, key = path.rpartition(".")
        lines.setdefault(table, []).append(f"{key} = {toml_of(value)}")
    text = "\n".join(lines.pop("", []))
    for table, keys in lines.items():
        text += f"\n[{table}]\n" + "\n".join(keys)
    answer = answer_of(text)
    assert answer
    assert isinstance(answer, Profile) or all(len(line.splitlines()) == 1 for line in answer)


@examples(200, deadline=None)
@given(st.text())
def test_any_text_at_all_is_a_profile_or_a_list_of_mistakes(text: str) -> None:
    assert answer_of(text)


@examples(100, deadline=None)
@given(st.data())
def test_a_sheet_with_one_line_lost_or_doubled_is_still_answered_in_words(data: st.DataObject) -> None:
    lines = whole_template().splitlines()
    at = data.draw(st.integers(0, len(lines) - 1))
    cut = data.draw(st.integers(0, len(lines[at])))
    lines[at] = data.draw(st.sampled_from([lines[at][:cut], lines[at] + "\n" + lines[at], ""]))
    assert answer_of("\n".join(lines))

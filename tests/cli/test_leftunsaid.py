"""What a crew leaves unsaid, through the commands: the only vessel, mixing cut short by the pour, a step on two coats.

The figures are worked out by hand beside each test.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from tests.running import Ran

Run = Callable[..., Ran]

SHED = """
name = "{name}"
zone = "Europe/Lisbon"
[[areas]]
name = "slip"
size = "40 m2"
{vessels}
[[coats]]
name = "primer"
product = "Waterborne epoxy primer"
wet_film = "150 um"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
after = "primer"
"""
TRAY = '[[vessels]]\nname = "tray"\nvolume = "20 L"\nacross = "{across_m} m"\n'


def ok(ran: Ran) -> Ran:
    assert ran.code == 0, ran.err
    return ran


def begin(run: Run, home: Path, name: str = "Boat shed", vessels: str = "") -> None:
    (home / "shed.toml").write_text(SHED.format(name=name, vessels=vessels))
    ok(run("job", "start", str(home / "shed.toml")))
    ok(run("job", "use", name))


def batches(run: Run) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = run("now", "--json").json["batches"]
    return found


def window(batch: dict[str, Any], name: str) -> dict[str, Any]:
    return next(each for each in batch["windows"] if each["name"] == name)


def pour_out_s(run: Run) -> float:
    """Seconds from part B to the likely end in the bucket, of the first batch."""
    batch = batches(run)[0]
    likely = datetime.fromisoformat(window(batch, "pour-out")["closes"]["likely"])
    return (likely - datetime.fromisoformat(batch["mixed_at"])).total_seconds()


def test_the_only_vessel_of_the_job_file_is_the_one_that_a_batch_stands_in(run: Run, home: Path) -> None:
    """8 L as high as they are wide are ∛(4 × 0.008 m³ / π) = 0.2168 m across, which is what is taken of no vessel."""
    as_high_as_wide_m = (4 * 0.008 / math.pi) ** (1 / 3)
    assert round(as_high_as_wide_m, 4) == 0.2168
    took: dict[str, float] = {}
    for name, vessels, said in (
        ("no vessel", "", ()),
        ("just so", TRAY.format(across_m=f"{as_high_as_wide_m:.6f}"), ()),
        ("wide, unsaid", TRAY.format(across_m="0.6"), ()),
        ("wide, said", TRAY.format(across_m="0.6"), ("--vessel", "tray")),
    ):
        begin(run, home, name, vessels)
        ok(run("reading", "--air", "20 °C"))
        ok(run("mixing", "Slow epoxy base", "8 L", "--material", "20 °C", *said, "--ago", "1 min"))
        took[name] = pour_out_s(run)
    assert abs(took["just so"] - took["no vessel"]) <= 1.0
    assert abs(took["wide, unsaid"] - took["wide, said"]) <= 0.01
    # in 0.6 m they stand 8 / (π × 3² dm²) = 0.28 dm high: twice the surface loses heat, and they last longer
    assert took["wide, unsaid"] > took["no vessel"] + 20.0


def test_more_than_the_only_vessel_holds_is_refused_though_nobody_named_it(run: Run, home: Path) -> None:
    begin(run, home, vessels=TRAY.format(across_m="0.6"))
    refused = run("mixing", "Slow epoxy base", "20.5 L")
    assert refused.code == 2
    assert "do not fit into the tray, which holds 20 L" in refused.err


def test_a_bucket_that_is_poured_before_its_mixing_time_ends_was_mixed_until_then(run: Run, home: Path) -> None:
    """The sheet asks for 4 minutes of mixing and 15 of standing: poured after 2, it was to stand from the pour on.

    Part B went in 10 minutes ago and the pour was 8 minutes ago, so the stand would be over 15 min after the pour, not
    15 min after the 4 minutes that the sheet asks for.
    """
    begin(run, home)
    ok(run("mixing", "Waterborne epoxy primer", "4 L", "--ago", "10 min"))
    ok(run("poured", "--ago", "8 min"))
    batch = batches(run)[0]
    part_b = datetime.fromisoformat(batch["mixed_at"])
    stood = datetime.fromisoformat(window(batch, "induction")["opens"]["likely"])
    assert abs(stood - part_b - timedelta(minutes=2 + 15)) < timedelta(seconds=2)


def test_a_step_on_an_area_with_two_coats_is_done_on_the_upper_one_alone(run: Run, home: Path) -> None:
    """Primer poured 14 minutes ago and base 6 minutes ago lie on the slip: who rolls there now rolls the base.

    Neither batch is named, both are on the floor and wait for the roller.
    """
    begin(run, home)
    ok(run("mixed", "Waterborne epoxy primer", "4 L", "--ago", "20 min"))
    ok(run("poured", "--ago", "14 min"))
    ok(run("mixed", "Slow epoxy base", "8 L", "--ago", "12 min"))
    ok(run("poured", "--ago", "6 min"))
    said = ok(run("rolled", "--on", "slip", "--json")).json
    assert said["facts"] == {"step": "back-roll", "areas": ["slip"]}
    primer, base = batches(run)
    assert (primer["stage"], base["stage"]) == ("poured", "rolled")
    assert window(base, "back-roll")["state"] == "done"
    assert window(primer, "back-roll")["state"] != "done"


def test_bare_degrees_are_refused_unless_the_job_file_names_its_units(run: Run, home: Path) -> None:
    begin(run, home)
    refused = run("reading", "--slab", "61")
    assert refused.code == 2
    assert "write 61 °C or 61 °F" in refused.err
    (home / "us.toml").write_text('units = "US"\n' + SHED.format(name="US shed", vessels=""))
    ok(run("job", "start", str(home / "us.toml")))
    ok(run("job", "use", "US shed"))
    slab_c = ok(run("reading", "--slab", "61", "--json")).json["facts"]["slab_c"]
    assert abs(slab_c - (61 - 32) * 5 / 9) < 0.01

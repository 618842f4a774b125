"""What every `--json` answer looks like, gathered from real answers of the real commands.

Run `python -m tests.cli.jsonshapes` after an answer got a key: it writes `mixclock/words/jsonshapes.json`. Where a key
went or changed its type, the version grows, because other programs may have relied on it.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator, Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

from mixclock.outside.clock import SystemClock
from tests.cli.studio import CORNER, STUDIO
from tests.running import A_MORNING, ROOT, Ran, going_on_from, run_here

KEPT = ROOT / "mixclock" / "words" / "jsonshapes.json"
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")
BY_NAME = re.compile(r"^(where|settings\.settings|.*\.film_um|.*\.spread)$")
"""Objects whose keys are names of the user's own; each stands here once, as `{name}`."""

LOGGER = "Timestamp UTC,Temp (°C),RH (%)\n2026-04-13 08:00,16.5,62\n2026-04-13 08:30,99.0,62\n"

SCENARIO = """
where
settings
selfcheck
air --air '18 °C' --rh 62 --slab '16 °C'
profile list
profile check {shipped}
profile show 'Slow epoxy base'
job start {studio}
job mend {mended}
job list
book name 'van 2'
ticks
next
ready moisture '75 %'
reading --air '18 °C' --rh 62 --slab '16 °C'
reading --slab '34 °C'
withdraw 7
measured moisture '75 %' --on 'bay 1'
logger read {logger} --zone UTC
logger follow {folder} --zone UTC
cup 'Slow epoxy base' '150 g' --lot 7A --material '21 °C'
mixed 'Waterborne epoxy primer' '2 L' --on 'bay 1' --ago '30 min'
poured --ago '25 min'
next
mixing 'Slow epoxy base' '4 L' --coat base --on 'bay 1' --lot 7A --ago '20 min'
saw 2 stringy
mixed 2
poured 2 --covered '10 m2'
began back-roll 2
rolled 2
flaked 2 --on 'bay 1'
saw 2 'tack free' --ago '1 min'
profile drop-learned 'Slow epoxy base'
taped 2 --on 'bay 1'
did scrape 2
mixing 'Slow epoxy base' '4 L' --coat base --on 'bay 2'
now
jobs
heard
dumped 3 --share most
spot 'Slow epoxy base' '300 mL' --for patch --on 'bay 1'
stopped telephone
back
noted 'heater: fuel' --on 'bay 2'
photo {photo} --on 'bay 1'
evening barrier yes
morning thumb 'no mark'
traffic 'bay 1' foot
forecast {forecast}
found 'bay 1' dull --shape batch-edge
why 'bay 1'
why
why --all
record
plan {corner}
job export {exported}
book check
book where
book export --parquet {exported}.parquet
book clock-is-right
job finish
visit 'edge has lifted'
fixed 'bay 1' 'cut back and coated again'
job import {exported} --as 'another name'
job take-over --job 'another name'
job finish --job 'another name'
job use 'Pottery studio floor'
job learned
job drop-learned
book restore
"""
"""A job from beginning to end; what a line needs first stands above it. The next kit is a yes first, in strips; then,
with bay 1 poured and not taped, it is a no that tells what would make it a yes."""


def commands(folder: Path) -> list[list[str]]:
    """The words of each command of the job, whose files lie in a folder."""
    places = _files(folder)
    return [shlex.split(line.format(**places)) for line in SCENARIO.strip().splitlines()]


def answers(folder: Path, run: Any) -> Iterator[tuple[str, Ran]]:
    """Each command's path with its answer, on the morning of a working day: in the evening no day is long enough."""
    with patch.object(SystemClock, "now", going_on_from(A_MORNING)):
        for words in commands(folder):
            yield _path(words), run(*words, "--json")


def gathered(folder: Path, run: Any) -> dict[str, dict[str, str]]:
    """The shape of every command's answer: its keys by path, each with what stands there."""
    found: dict[str, dict[str, set[str]]] = {}
    for path, ran in answers(folder, run):
        assert ran.code in (0, 1), f"{path}: {ran.err}"
        shape = found.setdefault(path, {})
        for place, kind in _places(json.loads(ran.out), path, ""):
            shape.setdefault(place, set()).add(kind)
    wrong = run("air", "--air", "warm", "--json")
    found["a wrong input, on stderr"] = {
        place: {kind} for place, kind in _places(json.loads(wrong.err), "a wrong input", "")
    }
    return {
        path: {place: " or ".join(sorted(kinds)) for place, kinds in sorted(shape.items())}
        for path, shape in sorted(found.items())
    }


def _places(value: Any, path: str, place: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        yield from [(place, "object")] if place else []
        named = BY_NAME.match(f"{path}.{place}".rstrip(".") if place else path)
        for key, each in value.items():
            yield from _places(each, path, f"{place}.{{name}}".lstrip(".") if named else f"{place}.{key}".lstrip("."))
    elif isinstance(value, list):
        yield place, "list"
        for each in value:
            yield from _places(each, path, f"{place}[]")
    else:
        yield place, _kind(value)


def _kind(value: Any) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float):
        return "number"
    return "instant" if INSTANT.fullmatch(value) else "text"


def _path(words: list[str]) -> str:
    from mixclock.cli import GROUPS

    return " ".join(words[:2]) if words[0] in GROUPS else words[0]


def _files(folder: Path) -> dict[str, str]:
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    (folder / "exports").mkdir(exist_ok=True)
    Image.new("RGB", (40, 30), "grey").save(folder / "bay.jpg")
    hours = [
        {"at": (A_MORNING + timedelta(hours=hour)).isoformat(), "air_c": 17.0, "rh_pct": 60.0, "slab_c": 14.0}
        for hour in range(25)
    ]
    texts = {
        "studio.toml": STUDIO,
        "mended.toml": STUDIO.replace('size = "12 m2"', 'size = "12.5 m2"'),
        "corner.toml": CORNER,
        "shed.csv": LOGGER,
        "hours.json": json.dumps(hours),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return {
        "studio": str(folder / "studio.toml"),
        "mended": str(folder / "mended.toml"),
        "corner": str(folder / "corner.toml"),
        "logger": str(folder / "shed.csv"),
        "forecast": str(folder / "hours.json"),
        "folder": str(folder / "exports"),
        "photo": str(folder / "bay.jpg"),
        "exported": str(folder / "job.mixclock"),
        "shipped": str(next((ROOT / "profiles").glob("slow*.toml"))),
    }


def kept() -> dict[str, Any]:
    """What stands in the package."""
    found: dict[str, Any] = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {"version": 0}
    return found


def main() -> None:
    """Write what the commands answer now."""
    with tempfile.TemporaryDirectory() as place, patch.dict(os.environ, MIXCLOCK_HOME=f"{place}/home"):
        (Path(place) / "home").mkdir()
        now = gathered(Path(place) / "files", run_here)
    before = kept()
    old = before.get("shapes", {})
    broken = [
        f"{path}: {where or 'the whole'}"
        for path, shape in old.items()
        for where, kind in shape.items()
        if not set(kind.split(" or ")) <= set(now.get(path, {}).get(where, "").split(" or "))
    ]
    version = before["version"] + (1 if broken or not old else 0)
    KEPT.write_text(json.dumps({"version": version, "shapes": now}, ensure_ascii=False, indent=1) + "\n")
    print(f"version {version}: {len(now)} commands, {sum(map(len, now.values()))} places", *broken, sep="\n  ")


if __name__ == "__main__":
    sys.exit(main())

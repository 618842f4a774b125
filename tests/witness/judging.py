"""Makes floors by a seed, has each stated and asked about, and hears the answers."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context

from tests.witness.crew import Crew
from tests.witness.hearing import agree, heard
from tests.witness.ills import ILLS, NOTHING, OUTSIDE
from tests.witness.planting import Case, floor_for
from tests.witness.room import asked
from tests.witness.score import Result

PAIRS = (
    ("short mixing", "off ratio"),
    ("late back-roll", "thin film"),
    ("late broadcast", "thin film"),
    ("off ratio", "cold cure"),
    ("amine blush", "short mixing"),
)


def cases(floors: int, dice: random.Random) -> list[Case]:
    """As many cases as floors are wanted: all causes and strengths in turn, a fifth of them without a fault to show."""
    one_round = [
        Case(ill.name, strength) for ill in ILLS.values() if ill.dosed for strength in ("mild", "clear", "gross")
    ]
    one_round += [Case(ill.name) for ill in ILLS.values() if not ill.dosed]
    one_round += [Case(ill.name, "clear" if ill.dosed else "", missing=True) for ill in ILLS.values() if ill.can_miss]
    one_round += [Case(NOTHING)] * 12 + [Case(OUTSIDE)] * 8
    one_round += [Case(first, "gross", second=second) for first, second in PAIRS]
    chosen: list[Case] = []
    while len(chosen) < floors:
        dice.shuffle(one_round)
        chosen += one_round
    return chosen[:floors]


def judged(task: tuple[Case, str]) -> Result:
    """Make a floor, have it stated, ask, and hear the answer."""
    case, seed = task
    floor = floor_for(case, seed)
    telling = Crew(floor, case, random.Random(f"crew {seed}")).tell()
    answer = asked(telling)
    said = heard(answer.text)
    return Result(
        cause=case.cause,
        strength=case.strength,
        missing=case.missing,
        second=case.second,
        truth=floor.truth,
        whole=floor.whole,
        written=floor.written,
        verdict=said.verdict,
        named=tuple(said.named),
        sentence=answer.text if answer.json["verdict"] == "none" else answer.text.partition("\n")[0],
        fact_named=case.missing and said.names_fact(ILLS[case.cause].fact),
        agreed=agree(said, answer.json),
        weights=tuple((cause["name"], float(cause["score"])) for cause in answer.json["causes"]),
        stated=answer.stated,
        refused=tuple(answer.refused),
    )


def run(seed: str, floors: int, workers: int) -> Iterator[Result]:
    """Judge so many floors, each handed over as it is done; the seed alone decides what they are."""
    tasks = [(case, f"{seed}/{number}") for number, case in enumerate(cases(floors, random.Random(seed)))]
    if workers == 1:
        yield from map(judged, tasks)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_step_back) as pool:
        for done in as_completed([pool.submit(judged, task) for task in tasks]):
            yield done.result()


def _step_back() -> None:
    if hasattr(os, "nice"):
        os.nice(10)

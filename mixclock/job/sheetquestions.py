"""A profile question by question, in the order in which a data sheet is laid out.

An answer is kept as it was typed. The reader of profiles decides what it means and whether it is possible. The answers
so far are put together as a profile's text, and the reader's mistakes about one key are that answer's mistakes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType

from mixclock.job import kinds
from mixclock.job.mistakes import Mistake, Mistakes
from mixclock.job.mixreading import EITHER_FAMILIES, ONE_PART_FAMILIES
from mixclock.job.profile import Family
from mixclock.job.profilereading import POT_LIFE_ENDS, read_profile
from mixclock.job.sheetanswers import Form, answer_as_toml, toml_text
from mixclock.job.steps import row_of
from mixclock.values import dataclass

Answers = Mapping[str, str]
_Needed = Callable[[Answers], bool]


def _always(_: Answers) -> bool:
    return True


def _never(_: Answers) -> bool:
    return False


@dataclass(frozen=True)
class Question:
    """One figure of the data sheet: where it goes, how it is asked, and what helps to find it on the sheet."""

    key: str
    asks: str
    helps: str
    form: Form
    needed: _Needed = _always
    required: _Needed = _never


def family_of(answers: Answers) -> Family | None:
    """The family, if it was answered."""
    word = answers.get("family", "").strip().casefold()
    return next((family for family in Family if family.value == word), None)


def _is_coating(answers: Answers) -> bool:
    return family_of(answers) not in ONE_PART_FAMILIES


def _is_treatment(answers: Answers) -> bool:
    return not _is_coating(answers)


def _is_etch(answers: Answers) -> bool:
    return family_of(answers) is Family.ACID_ETCH


def _may_be_one_part(answers: Answers) -> bool:
    return family_of(answers) in EITHER_FAMILIES | {Family.POLYURETHANE}


def has_two_parts(answers: Answers) -> bool:
    """Whether the product is mixed from two parts."""
    return _is_coating(answers) and answers.get("mix.parts", "2").strip() != "1"


def _has_pot_life(answers: Answers) -> bool:
    return has_two_parts(answers) and bool(answers.get("pot-life.at"))


def _needs_ratio(answers: Answers) -> bool:
    return has_two_parts(answers) and not answers.get("mix.ratio_by_volume")


_TABLE = "20 °C = 40 min; 30 °C = 20 min — or 40 min alone where the sheet names no temperature"

QUESTIONS: Sequence[Question] = (
    Question("name", "What is the product called?", "by this name a job finds it", Form.TEXT, required=_always),
    Question("family", "What is it?", ", ".join(Family), Form.TEXT, required=_always),
    Question("source", "Which data sheet?", "title, revision, page: shown beside every deadline", Form.TEXT),
    Question("mix.parts", "In one pail or two?", "1 or 2", Form.NUMBER, _may_be_one_part),
    Question("mix.ratio_by_volume", "Mix ratio A to B by volume?", "2:1", Form.RATIO, has_two_parts),
    Question("mix.ratio_by_mass", "Mix ratio A to B by weight?", "100:43", Form.RATIO, has_two_parts, _needs_ratio),
    Question("mix.density.a", "Density of part A, or of the product in one pail?", "1.13 kg/L", Form.QUANTITY),
    Question("mix.density.b", "Density of part B?", "0.98 kg/L", Form.QUANTITY, has_two_parts),
    Question("mix.time", "How long is it mixed?", "3 min, the change of pail included", Form.QUANTITY, has_two_parts),
    Question("pot-life.at", "Pot life in the bucket?", _TABLE, Form.SPAN, has_two_parts),
    Question(
        "pot-life.mass", "For what mass is that?", "150 g, 1 kg: see the small print", Form.QUANTITY, _has_pot_life
    ),
    Question("pot-life.end", "What ends it?", " or ".join(POT_LIFE_ENDS), Form.TEXT, _has_pot_life),
    Question("film.volume_solids", "Volume solids?", "100 %", Form.QUANTITY, _is_coating),
    Question("film.wet", "Wet film, thinnest to thickest?", "200 um to 400 um", Form.PAIR, _is_coating),
    Question(
        "film.over_flake",
        "How far does it go over flake?",
        "130 ft2/gal, where the sheet says",
        Form.QUANTITY,
        _is_coating,
    ),
    Question("film.filled", "Is there sand or filler in the mix?", "yes or no", Form.FLAG, has_two_parts),
    Question("limits.slab", "Slab temperature, from … to …?", "10 °C to 30 °C", Form.PAIR),
    Question("limits.air", "Air temperature, from … to …?", "10 °C to 32 °C", Form.PAIR),
    Question("limits.material", "Temperature of the pails, from … to …?", "15 °C to 27 °C", Form.PAIR, _is_coating),
    Question("limits.humidity_max", "Humidity at most?", "85 %", Form.QUANTITY, _is_coating),
    Question(
        "limits.dew_margin_min", "Slab over the dew point by at least?", "3 °C or 5 °F", Form.QUANTITY, _is_coating
    ),
    Question("limits.moisture_max", "Moisture of the slab at most?", "4 %", Form.QUANTITY, _is_coating),
    Question("limits.vapour_max", "Moisture by weight at most?", "3 lb", Form.TEXT, _is_coating),
    Question("dilution.water_to_product", "Parts of water to one of product?", "3", Form.NUMBER, _is_treatment),
    Question("dilution.spread", "How far does the ready solution go?", "1.1 m2/L", Form.QUANTITY, _is_treatment),
    Question("dilution.acid", "Strength of the acid as it comes?", "31 %", Form.QUANTITY, _is_etch),
    Question("windows.induction.opens", "Stand between mixing and use?", "15 min, or 0 min", Form.SPAN, has_two_parts),
    Question("windows.back-roll.closes", "Until when can it be back-rolled?", _TABLE, Form.SPAN, _is_coating),
    Question("windows.wet-edge.closes", "Until when does the next batch join?", _TABLE, Form.SPAN, _is_coating),
    Question("windows.broadcast.closes", "Until when does flake stick?", _TABLE, Form.SPAN, _is_coating),
    Question("windows.tack-free.opens", "Tack free after?", "20 °C = 8 h; 30 °C = 5 h", Form.SPAN, _is_coating),
    Question("windows.scrape.opens", "Flake can be scraped after?", "20 °C = 11 h", Form.SPAN, _is_coating),
    Question("windows.recoat.opens", "Recoat, earliest?", "20 °C = 12 h; 30 °C = 8 h", Form.SPAN, _is_coating),
    Question("windows.recoat.closes", "Recoat, latest?", "20 °C = 48 h; 30 °C = 24 h", Form.SPAN, _is_coating),
    Question("windows.foot-traffic.opens", "Feet after?", "20 °C = 24 h", Form.SPAN, _is_coating),
    Question("windows.vehicle-traffic.opens", "Wheels after?", "20 °C = 5 d", Form.SPAN, _is_coating),
    Question("windows.full-cure.opens", "Fully cured after?", "20 °C = 7 d", Form.SPAN, _is_coating),
    Question("windows.dwell.opens", "It works on the slab for at least?", "5 min", Form.SPAN, _is_treatment),
    Question("windows.dwell.closes", "And at most?", "10 min", Form.SPAN, _is_treatment),
    Question("windows.neutralise.closes", "Neutralise by?", "12 min: it must never dry", Form.SPAN, _is_etch),
    Question("windows.rinse.opens", "Rinse after?", "5 min", Form.SPAN, _is_treatment),
    Question("windows.dry.opens", "Dry enough to coat after?", "20 °C = 48 h", Form.SPAN, _is_treatment),
    Question("cautions", "What does the safety data sheet warn of?", "one after the other, set apart by ;", Form.LIST),
)


def asked(answers: Answers) -> list[Question]:
    """The questions that this product needs, given what was answered so far."""
    return [question for question in QUESTIONS if question.needed(answers)]


def profile_text(answers: Answers) -> str:
    """The text of the profile that the answers give."""
    wanted = [(question, answers[question.key]) for question in asked(answers) if answers.get(question.key, "").strip()]
    tables: dict[str, list[str]] = {}
    densities: list[str] = []
    for question, typed in wanted:
        table, _, key = question.key.rpartition(".")
        if table == "mix.density":
            densities.append(toml_text(typed))
        else:
            tables.setdefault(table, start_of(table, answers)).append(f"{key} = {answer_as_toml(question.form, typed)}")
    if densities:
        tables.setdefault("mix", []).append(f"density = [{', '.join(densities)}]")
    head = tables.pop("", [])
    return "\n".join(["# Typed in question by question.", *head, *_written(tables)]) + "\n"


def start_of(table: str, answers: Answers) -> list[str]:
    """The first lines of a new table of a profile: what starts the window's clock."""
    if not table.startswith("windows."):
        return []
    start = row_of(table.removeprefix("windows.")).counts_from
    stated = start in ("mixed", "poured") or any(answers.get(f"windows.{start}.{edge}") for edge in ("opens", "closes"))
    return [f'after = "{start if stated else "poured"}"']


def _written(tables: Mapping[str, list[str]]) -> list[str]:
    return [line for table, lines in tables.items() for line in ("", f"[{table}]", *lines)]


def mistakes_in(question: Question, answers: Answers) -> list[str]:
    """What is wrong with the answer to one question, seen beside the answers so far."""
    try:
        read_profile(profile_text(answers))
    except Mistakes as mistakes:
        return mistakes_about(question, mistakes.found)
    return []


def mistakes_about(question: Question, found: Iterable[Mistake]) -> list[str]:
    """Those of a profile's mistakes that are about one figure, in words without its key."""
    return [
        f"{mistake.what}; {mistake.mend}"
        for mistake in found
        if _is_about(mistake.where, question) and not _is_only_missing(mistake.what)
    ]


def question_for(where: str, answers: Answers) -> Question | None:
    """The question whose answer a mistake of the whole profile is about."""
    within = [question for question in asked(answers) if _path(question).startswith(f"{where}.")]
    if within:
        return within[0]
    matches = [question for question in asked(answers) if where.startswith(_path(question))]
    return max(matches, key=lambda question: (len(_path(question)), question.key not in answers), default=None)


def _is_about(where: str, question: Question) -> bool:
    """Whether a mistake is about this figure. A contradiction of ratios and densities is told at the ratio by mass,
    whichever came last."""
    path = _path(question)
    return (
        not where
        or where == path
        or where.startswith(f"{path}.")
        or (path == "mix.density" and where == "mix.ratio_by_mass")
    )


def _path(question: Question) -> str:
    return re.sub(r"\.density\.[ab]$", ".density", question.key)


def _is_only_missing(what: str) -> bool:
    """Whether a mistake only says that something is missing. A question not reached yet is no mistake of the present
    one."""
    return what.startswith("is missing") or "and here are" in what


KIND_OF = MappingProxyType(
    {
        "mix.density.a": kinds.DENSITY,
        "mix.density.b": kinds.DENSITY,
        "mix.time": kinds.SPAN,
        "pot-life.mass": kinds.MASS,
        "film.volume_solids": kinds.SHARE_ABOVE_ZERO,
        "film.wet": kinds.FILM,
        "film.over_flake": kinds.SPREAD,
        "limits.slab": kinds.TEMP,
        "limits.air": kinds.TEMP,
        "limits.material": kinds.TEMP,
        "limits.humidity_max": kinds.HUMIDITY,
        "limits.dew_margin_min": kinds.TEMP_DIFFERENCE,
        "limits.moisture_max": kinds.HUMIDITY,
        "dilution.spread": kinds.SPREAD,
        "dilution.acid": kinds.SHARE_ABOVE_ZERO,
    }
)
"""The kind of quantity that a question asks for, if it asks for one."""

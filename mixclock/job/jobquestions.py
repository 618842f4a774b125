"""A job file question by question: the floor, the crew, the coats and the hours, as an applicator would tell them.

An answer is kept as it was typed. The reader of job files decides what it means and whether it is possible. The answers
so far are put together as a job's text, and the reader's mistakes about one key are that answer's mistakes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence

from mixclock.job.mistakes import Mistakes
from mixclock.job.sheetanswers import Form, answer_as_toml, toml_text
from mixclock.job.sitereading import TASKS, try_site
from mixclock.values import dataclass, replace

TAKEN_OUT = "-"
Answers = Mapping[str, str]
GROUPS = ("areas", "crew", "vessels", "coats")


@dataclass(frozen=True)
class JobQuestion:
    """One line of a job file: its table and that table's number, its key, the question, and a hint."""

    table: str
    number: int
    key: str
    asks: str
    helps: str
    form: Form = Form.TEXT
    required: bool = False

    @property
    def path(self) -> str:
        """The answer's own name, such as "areas.2.size"."""
        where = f"{self.table}.{self.number}." if self.number else f"{self.table}." if self.table else ""
        return f"{where}{self.key}"

    @property
    def ends_its_group(self) -> bool:
        """Whether an empty answer means that there are no more of these."""
        return self.number > 0 and self.key == "name"


def _ask(table: str, key: str, asks: str, helps: str, form: Form = Form.TEXT, required: bool = False) -> JobQuestion:
    return JobQuestion(table, 0, key, asks, helps, form, required)


HEAD = (
    _ask("", "name", "What is the job called?", "boat shed, Monday", required=True),
    _ask("", "zone", "In which time zone is it?", "Europe/Lisbon, America/Chicago", required=True),
    _ask("", "units", "Metric or US units?", "metric or US"),
    _ask("", "currency", "In which currency are prices?", "EUR, USD"),
)
OF_GROUP: Mapping[str, Sequence[JobQuestion]] = {
    "areas": (
        _ask("areas", "name", "Which area comes {nth}?", "bay 1; enter when there are no more", required=True),
        _ask("areas", "size", "How large is {name}?", "11.5 m2, 20 ft x 22 ft - 3 ft x 4 ft", required=True),
        _ask(
            "areas",
            "edge",
            "How much of {name} is cut in?",
            "9 m of wall; enter: all round but where areas meet",
        ),
        _ask("areas", "next_to", "What touches {name}?", "bay 2; more of them set apart by ;", Form.LIST),
    ),
    "crew": (
        _ask("crew", "name", "Who is there {nth}?", "mixer, roller: what you call each other; enter: nobody more"),
        _ask("crew", "does", "What does {name} do?", f"{'; '.join(TASKS)}; enter: everything", Form.LIST),
        _ask("crew", "helps", "With what does {name} help as the second of two?", "roll; cut-in", Form.LIST),
        _ask("crew", "squeegee", "How fast does {name} squeegee?", "110 m2/h, 1200 ft2/h; enter: as is usual"),
        _ask("crew", "roll", "How fast does {name} back-roll?", "75 m2/h, 800 ft2/h; enter: as is usual"),
        _ask("crew", "broadcast", "How fast does {name} throw flake?", "60 m2/h, 650 ft2/h; enter: as is usual"),
        _ask("crew", "cut_in", "How fast does {name} cut in?", "35 m/h, 110 ft/h; enter: as is usual"),
    ),
    "vessels": (
        _ask("vessels", "name", "What is it mixed in, {nth}?", "pail, second pail; enter when there are no more"),
        _ask("vessels", "volume", "How much does {name} hold to the brim?", "20 L, 5 gal", required=True),
    ),
    "coats": (
        _ask("coats", "name", "Which coat goes on {nth}?", "primer, base, top; enter when that is all", required=True),
        _ask("coats", "product", "Which product is {name}?", "as `mixclock profile list` names it", required=True),
        _ask("coats", "wet_film", "How thick is {name}, wet?", "300 um, 12 mil", required=True),
        _ask("coats", "flake", "How much flake is thrown into {name}?", "0.4 kg/m2; enter: none"),
        _ask("coats", "kit", "What does one kit of {name} make?", "9 L, 3 gal, 12 kg; enter: not known"),
        _ask("coats", "split", "May a kit of {name} be split by weight?", "yes or no", Form.FLAG),
        _ask("coats", "price", "What does a kit of {name} cost?", "95; enter: not known"),
    ),
}
OF_THE_FLOOR = (
    _ask("", "door", "By which area do you leave?", "bay 2, where the door is: it is done last; enter: not said"),
    _ask("", "mixing_at", "In which area is it mixed?", "bay 1; enter: beside the floor"),
)
"""What is asked of a floor of several areas."""

TAIL = (
    _ask("hours", "days", "On which days is the crew there?", "2026-04-13; 2026-04-14; enter: any day", Form.LIST),
    _ask("hours", "start", "When do they begin?", "07:30; enter: at 7:30"),
    _ask("hours", "end", "And when do they go home?", "17:30; enter: at 17:30"),
    _ask("hours", "set_up", "How long do they set up first?", "20 min; enter: not planned"),
    _ask("hours", "clean_up", "How long is the cleaning of tools?", "10 min; enter: ten minutes"),
    _ask("hours", "breaks", "When are their breaks?", "12:30 for 30 min, more set apart by ;", Form.LIST),
)
_NTH = ("first", "next")


def questions(answers: Answers) -> list[JobQuestion]:
    """The questions that this job needs, given the answers so far. Every group ends with a question that adds
    another."""
    asked = {group: list(_of_group(group, answers)) for group in GROUPS}
    areas = asked.pop("areas")
    floor = OF_THE_FLOOR if answers.get("areas.2.name") else ()
    return [*HEAD, *areas, *floor, *(each for group in asked.values() for each in group), *TAIL]


def _of_group(group: str, answers: Answers) -> Iterator[JobQuestion]:
    number = 1
    while True:
        name = answers.get(f"{group}.{number}.name", "")
        words = {"nth": _NTH[min(number, 2) - 1], "name": name}
        asked = [replace(each, number=number, asks=each.asks.format(**words)) for each in OF_GROUP[group]]
        yield replace(asked[0], required=asked[0].required and number == 1)
        if not name:
            return
        yield from (each for each in asked[1:] if _is_worth_asking(each, answers))
        number += 1


def _is_worth_asking(question: JobQuestion, answers: Answers) -> bool:
    """Whoever does everything needs no naming as a help, nor does anybody who is alone."""
    if (question.table, question.key) != ("crew", "helps"):
        return True
    return bool(answers.get(f"crew.{question.number}.does"))


def question_at(path: str, answers: Answers) -> JobQuestion:
    """The question of that name; the first question if that one is gone."""
    every = questions(answers)
    return next((each for each in every if each.path == path), every[0])


def job_text(answers: Answers) -> str:
    """The job file's text that the answers amount to."""
    lines = ["# Typed in question by question."]
    table = ("", 0)
    for each in sorted(questions(answers), key=lambda each: bool(each.table)):  # keys of no table stand first
        typed = answers.get(each.path, "").strip()
        if not typed:
            continue
        if (each.table, each.number) != table:
            table = (each.table, each.number)
            lines.append(f"[[{each.table}]]" if each.number else f"[{each.table}]")
        lines.append(f"{each.key} = {as_toml(each, typed)}")
    return "\n".join(lines) + "\n"


def as_toml(question: JobQuestion, typed: str) -> str:
    """The value of a line in TOML."""
    return answer_as_toml(question.form, typed) if question.form is not Form.TEXT else toml_text(typed)


def mistakes_in(question: JobQuestion, answers: Answers) -> list[str]:
    """What is wrong with one answer, seen beside the answers so far."""
    return mistakes_about(question, job_text(answers), answers)


def mistakes_about(question: JobQuestion, text: str, answers: Answers) -> list[str]:
    """Those of a job's mistakes that are about one answer, in words without its key."""
    where = place_of(question, answers)
    _, found = try_site(text)
    told = (each for each in found if each.where == where and not each.what.startswith("is missing"))
    return [f"{each.what}; {each.mend}" for each in told if not _comes_later(question, each.what)]


def place_of(question: JobQuestion, answers: Answers) -> str:
    """The place that a mistake in the answer would name. If its row has a name, the place uses that name."""
    if not question.number:
        return question.path
    label = answers.get(f"{question.table}.{question.number}.name", "") or str(question.number)
    return f"{question.table}[{label}].{question.key}"


def _comes_later(question: JobQuestion, what: str) -> bool:
    """An area that is named before its own turn is no mistake yet."""
    return question.key == "next_to" and "no area" in what


def check_job(text: str) -> None:
    """Raises `Mistakes` with everything that is wrong with a whole job file."""
    _, found = try_site(text)
    if found:
        raise Mistakes(found)


def answers_of(text: str) -> dict[str, str]:
    """The answers that a job file gives to the questions asked here."""
    told = tomllib.loads(text)
    found = {each.path: said for each in (*HEAD, *OF_THE_FLOOR) if (said := _said(told.get(each.key)))}
    for group in GROUPS:
        for number, table in enumerate(told.get(group, ()), start=1):
            for each in OF_GROUP[group]:
                if said := _said(table.get(each.key)):
                    found[f"{group}.{number}.{each.key}"] = said
    found.update({each.path: said for each in TAIL if (said := _said(told.get("hours", {}).get(each.key)))})
    return found


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(map(str, value))
    return "" if value is None else str(value)


def with_answer(text: str, question: JobQuestion, typed: str) -> str:
    """The text of a job file with one line in place of another; all else stays as it was written.

    >>> with_answer('name = "shed"\\n[[areas]]\\nname = "bay 1"\\n', replace(OF_GROUP["areas"][1], number=1), "9 m2")
    'name = "shed"\\n[[areas]]\\nname = "bay 1"\\nsize = "9 m2"\\n'
    """
    lines = text.splitlines()
    first, end = _table_at(lines, question)
    line = [] if typed == TAKEN_OUT else [f"{question.key} = {as_toml(question, typed)}"]
    if first is None:
        return "\n".join([*lines, *([f"[{question.table}]", *line] if line else [])]) + "\n"
    at = next((place for place in range(first, end) if re.match(rf"\s*{question.key}\s*=", lines[place])), None)
    if at is None:
        while end > first and not lines[end - 1].strip():
            end -= 1
        lines[end:end] = line
    else:
        lines[at : _end_of_value(lines, at, end)] = line
    return "\n".join(lines) + "\n"


def with_another(text: str, group: str, number: int, answers: Answers) -> str:
    """The text of a job file with one table more behind the others of its kind; all else stays as it was written."""
    asked = (replace(each, number=number) for each in OF_GROUP[group])
    table = [f"{each.key} = {as_toml(each, typed)}" for each in asked if (typed := answers.get(each.path, ""))]
    lines = text.splitlines()
    first, end = _table_at(lines, replace(OF_GROUP[group][0], number=number - 1))
    end = len(lines) if first is None or number == 1 else end
    while end > 0 and not lines[end - 1].strip():
        end -= 1
    lines[end:end] = [f"[[{group}]]", *table]
    return "\n".join(lines) + "\n"


def _table_at(lines: Sequence[str], question: JobQuestion) -> tuple[int | None, int]:
    """From which line to which a table's own keys stand."""
    heads = [place for place, line in enumerate(lines) if re.match(r"\s*\[", line) and "=" not in line.split("#")[0]]
    if not question.table:
        return 0, heads[0] if heads else len(lines)
    wanted = f"[[{question.table}]]" if question.number else f"[{question.table}]"
    mine = [place for place in heads if lines[place].split("#")[0].replace(" ", "").strip() == wanted]
    if len(mine) < max(1, question.number):
        return None, len(lines)
    head = mine[max(0, question.number - 1)]
    return head + 1, next((place for place in heads if place > head), len(lines))


def _end_of_value(lines: Sequence[str], at: int, end: int) -> int:
    """The line behind a value, which may be a list over several lines."""
    for until in range(at + 1, end + 1):
        try:
            tomllib.loads("\n".join(lines[at:until]))
        except tomllib.TOMLDecodeError:
            continue
        return until
    return at + 1

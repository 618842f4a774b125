"""Opens the book to other programs: stable views, a dictionary of their columns, and five questions worked out.

A view is read with any SQLite tool in the book itself (`all_jobs`, `all_batches` …), or from the Parquet files of
`book export --parquet FOLDER`, where it has its plain name and is parted by job and month. Times are ISO 8601 in UTC.
Withdrawn rows are there, and `counts` says so. Two names mean the same person or lot if they differ only in case and
spaces: compare `lower(trim(…))`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib import resources
from types import MappingProxyType

from mixclock.values import dataclass


@dataclass(frozen=True)
class BookView:
    """One view: its query over the log, the time column that parts it by month, and what each column means."""

    query: str
    time: str
    columns: Mapping[str, str]


_COUNTS = (
    "NOT EXISTS (SELECT 1 FROM entries w WHERE w.job = e.job AND w.kind = 'withdrawn' "
    "AND json_extract(w.facts, '$.entry') = e.number AND NOT EXISTS (SELECT 1 FROM entries x WHERE x.job = w.job "
    "AND x.kind = 'withdrawn' AND json_extract(x.facts, '$.entry') = w.number))"
)
_WHO = "e.by_whom AS by_whom, CASE WHEN e.origin LIKE '{%' THEN json_extract(e.origin, '$.van') END AS van"
_ENTRY = {
    "job": "the job's name in this book",
    "entry": "the entry's number in this book",
    "by_whom": "who stated it, as the job file spells the name",
    "van": "the book that it was stated in, where that is another one",
    "counts": "1, or 0 where a later entry withdrew it",
}


def _fact(name: str, as_name: str = "") -> str:
    return f"json_extract(e.facts, '$.{name}') AS {as_name or name}"


def _of_entries(kinds: str, time: str, *facts: str) -> str:
    told = ", ".join(facts)
    return (
        f"SELECT e.job AS job, e.number AS entry, e.happened AS {time}, {told}, {_WHO}, {_COUNTS} AS counts "
        f"FROM entries e WHERE e.kind IN ({kinds})"
    )


_STEP = (
    "CASE e.kind WHEN 'poured' THEN 'pour-out' WHEN 'mixing ended' THEN 'mixing' WHEN 'dumped' THEN 'dumped' "
    "ELSE json_extract(e.facts, '$.step') END"
)


_DUE = "max(replace(json_extract(r.facts, '$.due'), '+00:00', 'Z'))"


def _called(what: str, more: str = "") -> str:
    """The calls for the step of this row."""
    return (
        f"(SELECT {what} FROM entries r WHERE r.job = e.job AND r.kind = 'raised' "
        "AND json_extract(r.facts, '$.batch') = "
        f"json_extract(e.facts, '$.batch') AND json_extract(r.facts, '$.alert') LIKE '%.' || {_STEP}{more})"
    )


_FILE_OF_JOB = (  # the file in force now; for a finished job the one it began with, which is quick to find
    "coalesce((SELECT json_extract(m.facts, '$.text') FROM entries m WHERE m.job = l.job AND m.kind = 'job mended' "
    "ORDER BY m.number DESC LIMIT 1), (SELECT json_extract(f.facts, '$.text') FROM entries f WHERE f.number = l.first))"
)
_ZONE = (  # a key of the file's head: what stands in quotes behind it, without spaces, which no zone has
    "(SELECT substr(told, 2, instr(substr(told, 2), substr(told, 1, 1)) - 1) FROM (SELECT substr(plain, "
    "instr(plain, char(10) || 'zone=') + 6) AS told, plain FROM (SELECT char(10) || replace(replace("
    f"{_FILE_OF_JOB}, ' ', ''), char(9), '') AS plain)) WHERE instr(plain, char(10) || 'zone=') > 0)"
)
_BEGAN = (
    "(SELECT max(b.happened) FROM entries b WHERE b.job = e.job AND b.kind = 'began' AND b.happened <= e.happened "
    "AND json_extract(b.facts, '$.batch') IS json_extract(e.facts, '$.batch') "
    f"AND json_extract(b.facts, '$.step') = {_STEP})"
)
_SETTLED = (
    "FROM entries s WHERE s.job = e.job AND s.kind = 'settled' AND s.number > e.number AND coalesce("
    "json_extract(s.facts, '$.finding') = e.number, json_extract(s.facts, '$.area') = json_extract(e.facts, '$.area'))"
)


VIEWS: Mapping[str, BookView] = MappingProxyType(
    {
        "jobs": BookView(
            "SELECT l.job AS job, l.started AS started, l.finished AS finished, l.last AS last_entry, "
            f"l.entries AS entries, l.own AS stated_here, l.signs AS signs, l.findings AS findings, {_ZONE} AS zone "
            "FROM joblines l",
            "started",
            {
                "job": "the job's name in this book",
                "started": "when it was begun",
                "finished": "when it was finished, null while it is under way",
                "last_entry": "when anything was last written",
                "entries": "how many entries it has",
                "stated_here": "how many of them were written in this book",
                "signs": "how many signs were seen",
                "findings": "how many faults were found",
                "zone": "the zone of its clocks, such as Europe/Lisbon, as its file says",
            },
        ),
        "batches": BookView(
            "SELECT e.job AS job, e.number AS entry, (SELECT count(*) FROM entries c WHERE c.job = e.job "
            "AND c.kind = 'combined' AND c.number <= e.number) AS batch, e.happened AS mixed_at, "
            + ", ".join(
                [
                    *(
                        _fact(name)
                        for name in ("product", "coat", "areas", "volume_l", "mass_kg", "lot", "lot_a", "lot_b")
                    ),
                    *(
                        _fact(name)
                        for name in ("a_l", "a_kg", "b_l", "b_kg", "material_c", "vessel", "mixing_s", "spot")
                    ),
                ]
            )
            + f", {_WHO}, {_COUNTS} AS counts FROM entries e WHERE e.kind = 'combined'",
            "mixed_at",
            {
                **_ENTRY,
                "batch": "its number in the job, in this book",
                "mixed_at": "when part B met part A",
                "product": "what is in the pails",
                "coat": "which coat of the job",
                "areas": "the areas that it is for, as a JSON list",
                "volume_l": "how much, in litres, where it was said so",
                "mass_kg": "how much, in kilograms, where it was said so",
                "lot": "the lot of the kit",
                "lot_a": "the lot of part A",
                "lot_b": "the lot of part B",
                "a_l": "how much of part A, in litres, where it was measured apart",
                "a_kg": "the same in kilograms",
                "b_l": "how much of part B, in litres, where it was measured apart",
                "b_kg": "the same in kilograms",
                "material_c": "how warm the material was, in °C",
                "vessel": "what it was mixed in",
                "mixing_s": "how long it was mixed, in seconds",
                "spot": "what a small mix outside the plan was for, null for a bucket of a coat",
            },
        ),
        "steps": BookView(
            _of_entries(
                "'poured', 'did', 'mixing ended', 'dumped'",
                "done_at",
                f"{_STEP} AS step",
                _fact("batch"),
                _fact("areas"),
                _fact("covered_m2"),
                _fact("part_l"),
                _fact("part_kg"),
                _fact("share", "dumped_share"),
                f"{_BEGAN} AS began_at",
                "e.written AS written_at",
                f"{_called('min(r.happened)')} AS first_called_at",
                _called(_DUE, " AND json_extract(r.facts, '$.stage') = 'now'") + " AS due_at",
                _called(_DUE, " AND json_extract(r.facts, '$.stage') = 'late'") + " AS late_from",
                _called(_DUE, " AND json_extract(r.facts, '$.stage') = 'lost'") + " AS lost_from",
            ),
            "done_at",
            {
                **_ENTRY,
                "done_at": "when it was finished, as stated",
                "step": "pour-out, back-roll, broadcast …",
                "batch": "the batch's number in the job",
                "areas": "where, as a JSON list; empty for the batch's own areas",
                "covered_m2": "how much floor it covered, in m²",
                "part_l": "how much of the batch was poured here, in litres; null for all of it",
                "part_kg": "the same in kilograms, where it was said so",
                "dumped_share": "how much of a dumped batch went: a quarter, half, most, as stated; null for all of it",
                "began_at": "when somebody said that they began it, null where nobody did",
                "written_at": "when it was written down",
                "first_called_at": "when the crew was first called for it",
                "due_at": "by when it had to be done, as it was called out",
                "late_from": "from when it was called late: the early edge of its window",
                "lost_from": "from when it was called lost: the late edge",
            },
        ),
        "readings": BookView(
            _of_entries(
                "'reading'",
                "read_at",
                *(_fact(name) for name in ("air_c", "rh_pct", "slab_c", "bucket_c", "area", "batch", "logger", "how")),
            ),
            "read_at",
            {
                **_ENTRY,
                "read_at": "when it was read",
                "air_c": "air, in °C",
                "rh_pct": "relative humidity, in %",
                "slab_c": "surface of the slab, in °C",
                "bucket_c": "in a bucket, in °C",
                "area": "where, null for the whole floor",
                "batch": "in which batch's bucket",
                "logger": "the logger's name, null where a person read it",
                "how": "with what a slab was read",
            },
        ),
        "alerts": BookView(
            _of_entries(
                "'raised'",
                "raised_at",
                *(_fact(name) for name in ("alert", "stage", "rank", "batch", "area", "who", "text")),
                "replace(json_extract(e.facts, '$.due'), '+00:00', 'Z') AS due_at",
                _fact("repeat", "nth_repeat"),
                "(SELECT count(*) FROM entries d WHERE d.job = e.job AND d.kind = 'delivered' AND "
                "json_extract(d.facts, '$.raised') = e.number AND json_extract(d.facts, '$.outcome') = 'sent') AS sent",
                "(SELECT min(h.happened) FROM entries h WHERE h.job = e.job AND h.kind = 'heard' AND h.happened >= "
                "e.happened AND (coalesce(json_array_length(h.facts, '$.alerts'), 0) = 0 "
                "OR instr(json_extract(h.facts, '$.alerts'), json_extract(e.facts, '$.alert')))) AS heard_at",
            ),
            "raised_at",
            {
                **_ENTRY,
                "raised_at": "when it was raised",
                "alert": "its name, the same at every stage",
                "stage": "heads-up, now, late, lost …",
                "rank": "critical, timely or notice",
                "batch": "about which batch",
                "area": "about which area",
                "who": "whom it was for, null for everybody",
                "text": "what was said",
                "due_at": "when it fell due",
                "nth_repeat": "0 for the first time, then 1, 2 …",
                "sent": "how many channels took it",
                "heard_at": "when somebody next said that it was heard",
            },
        ),
        "findings": BookView(
            _of_entries(
                "'found'",
                "found_at",
                *(_fact(name) for name in ("area", "symptom", "shape")),
                f"(SELECT min(s.happened) {_SETTLED}) AS settled_at",
                f"(SELECT json_extract(s.facts, '$.how') {_SETTLED} ORDER BY s.number LIMIT 1) AS settled_how",
            ),
            "found_at",
            {
                **_ENTRY,
                "found_at": "when it was found",
                "area": "where",
                "symptom": "what is wrong, or sound",
                "shape": "where it can be seen a shape",
                "settled_at": "when it was put right, null while it is open",
                "settled_how": "by what",
            },
        ),
        "lessons": BookView(
            _of_entries(
                "'saw', 'factor used'",
                "seen_at",
                "e.kind AS kind",
                *(_fact(name) for name in ("sign", "batch", "area", "product", "factor", "sigma", "observations")),
                "json_extract(e.facts, '$.window') AS learned_window",
            ),
            "seen_at",
            {
                **_ENTRY,
                "seen_at": "when the sign was seen, or the factor was first used",
                "kind": "saw: a sign that somebody saw; factor used: what had been learned when a batch was mixed",
                "sign": "stringy, tack free, hard …",
                "batch": "on which batch",
                "area": "on which area",
                "product": "of which product the factor is",
                "factor": "how many times the sheet's time it takes, as learned",
                "sigma": "how sure that is: the spread of its logarithm",
                "observations": "how many observations it rests on",
                "learned_window": "of which window",
            },
        ),
    }
)
"""By the plain name; in the book each is called `all_` and this."""


@dataclass(frozen=True)
class OfficeQuestion:
    """A question that an office asks in winter, in the SQL of DuckDB over the exported files."""

    asks: str
    sql: str


PAGE = "officequestions.md"
"""Where the questions stand, once: people read that page, the commands and the tests ask what stands in it."""

_QUESTION = re.compile(r"^## (?P<name>.+)\n\n(?P<asks>.+)\n\n```sql\n(?P<sql>[^`]+)\n```$", re.MULTILINE)


def questions_page() -> str:
    """The page with the five questions, as it lies in the package."""
    return (resources.files("mixclock.outside") / PAGE).read_text(encoding="utf-8")


def office_questions() -> Mapping[str, OfficeQuestion]:
    """The questions of the page by their names.

    >>> office_questions()["late pours by hour"].asks
    'At which hour of the day are buckets poured late?'
    """
    return {
        found["name"].casefold(): OfficeQuestion(found["asks"], found["sql"])
        for found in _QUESTION.finditer(questions_page())
    }


def office_page() -> str:
    """The questions and the dictionary as one page of Markdown."""
    lines = [questions_page(), "## The views and their columns"]
    for name, view in VIEWS.items():
        lines += ["", f"### {name}", "", f"In the book `all_{name}`; parted by the month of `{view.time}`.", ""]
        lines += [f"- `{column}`: {meaning}" for column, meaning in view.columns.items()]
    return "\n".join(lines)


def dictionary_lines() -> list[str]:
    """Every view with its columns, then the questions."""
    lines = []
    for name, view in VIEWS.items():
        lines += ["", f"{name}  (in the book: all_{name}; parted by the month of {view.time})"]
        lines += [f"  {column:<16} {meaning}" for column, meaning in view.columns.items()]
    for name, question in office_questions().items():
        lines += ["", f"{name}: {question.asks}", *(f"  {line}" for line in question.sql.splitlines())]
    return lines[1:]

"""The office's questions, answered by an engine that we did not make, over the exported book."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.job.dayentries import Settled
from mixclock.job.entry import Began, Combined, Did, Dumped, Found, JobMended, JobStarted, Saw
from mixclock.outside.book import Book, BookError
from mixclock.outside.bookparquet import export_parquet
from mixclock.outside.bookviews import VIEWS, dictionary_lines, office_page, office_questions
from mixclock.outside.clock import SystemClock
from tests.bench.longbook import LATE_AT, make_long_book
from tests.outside.duckviews import duckdb_view

duckdb = pytest.importorskip("duckdb", reason="not installed: duckdb")
pytest.importorskip("pyarrow", reason="not installed: pyarrow")


class Office:
    """A firm's book of so many jobs, exported, and a database that reads the files."""

    def __init__(self, folder: Path, jobs: int, entries: int) -> None:
        make_long_book(folder / "book.sqlite3", jobs, entries)
        self.book = Book(folder / "book.sqlite3", SystemClock())
        self.rows = export_parquet(self.book, folder / "files")
        self.database = duckdb.connect()
        for name in VIEWS:
            self.database.execute(duckdb_view(name, str(folder / "files")))

    def ask(self, question: str) -> list[dict[str, Any]]:
        answer = self.database.execute(office_questions()[question].sql)
        names = [column[0] for column in answer.description]
        return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]


@pytest.fixture(
    scope="module",
    params=[pytest.param((12, 6_000), id="short"), pytest.param((1000, 1_000_000), id="whole", marks=pytest.mark.long)],
)
def office(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Office:
    return Office(tmp_path_factory.mktemp("office"), *request.param)


def in_book(office: Office, query: str) -> list[tuple[Any, ...]]:
    return office.book.connection.own().execute(query).fetchall()


def test_every_view_is_exported_whole(office: Office) -> None:
    for name, rows in office.rows.items():
        (counted,) = office.database.execute(f"SELECT count(*) FROM {name}").fetchone()
        assert counted == rows > 0, name
    (jobs,) = in_book(office, "SELECT count(*) FROM all_jobs")[0]
    assert office.rows["jobs"] == jobs
    (batches,) = in_book(office, "SELECT count(*) FROM entries WHERE kind = 'combined'")[0]
    assert office.rows["batches"] == batches


def test_pours_are_late_in_the_hours_in_which_they_were_made_late(office: Office) -> None:
    hours = {row["hour"]: row for row in office.ask("late pours by hour")}
    after = sum(hours[hour]["late"] for hour in LATE_AT if hour in hours)
    rate = after / sum(hours[hour]["pours"] for hour in LATE_AT if hour in hours)
    others = [row for hour, row in hours.items() if hour not in LATE_AT]
    assert sum(row["pours"] for row in hours.values()) == len(
        in_book(office, "SELECT 1 FROM entries WHERE kind = 'poured'")
    )
    assert rate > sum(row["late"] for row in others) / sum(row["pours"] for row in others) or office.rows["jobs"] < 50


def test_each_person_has_a_rate(office: Office) -> None:
    rates = {row["person"]: row for row in office.ask("rates by person")}
    assert set(rates) == {"mixer", "roller"}
    # 11 m² in 14 to 22 minutes, now and then in up to 60
    assert all(20.0 < row["m2_h"] < 48.0 for row in rates.values())


def test_a_lot_is_followed_across_jobs(office: Office) -> None:
    lots = office.ask("a lot across jobs")
    assert all(row["jobs_with_findings"] <= row["jobs"] <= 7 for row in lots)
    assert lots == sorted(lots, key=lambda row: (-row["jobs_with_findings"], row["lot"]))


def test_calls_that_nobody_answered_are_counted_by_stage(office: Office) -> None:
    stages = {row["stage"]: row for row in office.ask("alerts that came to nothing")}
    (raised,) = in_book(office, "SELECT count(*) FROM entries WHERE kind = 'raised'")[0]
    assert sum(row["raised"] for row in stages.values()) == raised
    assert all(row["taken_by_no_channel"] == 0 for row in stages.values())
    assert {"heads-up", "now"} <= set(stages)


def test_a_product_is_told_beside_its_sheet(office: Office) -> None:
    (row,) = office.ask("product against its sheet")
    assert (row["product"], row["learned_window"], row["observations"]) == ("Slow epoxy base", "tack-free", 3)
    assert 1.0 <= row["times_the_sheet"] <= 1.2


def test_every_column_of_a_view_is_in_the_dictionary(office: Office) -> None:
    for name, view in VIEWS.items():
        told = office.book.connection.own().execute(f"SELECT * FROM all_{name} LIMIT 0").description
        extra = {"month"}
        found = {row[0] for row in office.database.execute(f"DESCRIBE {name}").fetchall()}
        assert {column[0] for column in told} == set(view.columns) == found - extra, name
    lines = dictionary_lines()
    questions = office_questions()
    assert len(questions) == 5
    for question in questions.values():
        assert any(question.asks in line for line in lines)
        assert question.sql in office_page()
    for name, view in VIEWS.items():
        assert f"### {name}\n" in office_page()
        assert all(f"- `{column}`: {meaning}" in office_page() for column, meaning in view.columns.items())


def test_a_folder_that_holds_something_is_not_written_over(office: Office, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("x")
    with pytest.raises(BookError, match="not empty; name another folder"):
        export_parquet(office.book, tmp_path)


def test_what_was_withdrawn_says_so(tmp_path: Path) -> None:
    from mixclock.job.entry import JobStarted, Reading, Withdrawn

    with Book(tmp_path / "book.sqlite3", SystemClock()) as book:
        book.append("Shed", JobStarted("Shed", ""))
        wrong = book.append("Shed", Reading(slab_c=40.0))
        gone = book.append("Shed", Withdrawn(wrong.number))
        asked = "SELECT slab_c, counts FROM all_readings"
        assert book.connection.own().execute(asked).fetchall() == [(40.0, 0)]
        book.append("Shed", Withdrawn(gone.number))
        assert book.connection.own().execute(asked).fetchall() == [(40.0, 1)]
        assert sqlite3.sqlite_version_info > (3, 38)


HOSTILE = ("2026", 'Töpferei 1/2 = 100 % "süd"', "陶芸のとても長い名前" * 10)


@pytest.fixture(scope="module")
def winter(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A small book of jobs with odd names, of which one has a bucket that ran hot and a finding that was put right."""
    folder = tmp_path_factory.mktemp("winter")
    with Book(folder / "book.sqlite3", SystemClock()) as book:
        for name in HOSTILE:
            book.append(name, JobStarted(name, f"name = {name!r}\n  zone\t=  'America/Denver'\n"))
        book.append("2026", JobMended('zone = "Europe/Lisbon"'))
        noon = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
        book.append("2026", Combined("Slow epoxy base", ("bay 1",), volume_l=4.0, lot="L1"), happened=noon, by="mixer")
        book.append("2026", Began("back-roll", 1), happened=noon + timedelta(minutes=10), by="mixer")
        book.append("2026", Did("back-roll", 1), happened=noon + timedelta(minutes=40), by="mixer")
        book.append("2026", Saw("hot", 1), happened=noon)
        book.append("2026", Dumped(1, "half"), happened=noon + timedelta(minutes=41))
        found = book.append("2026", Found("bay 1", "dull"))
        book.append("2026", Settled("bay 1", "sanded", found.number))
        export_parquet(book, folder / "files")
    database = duckdb.connect()
    for name in VIEWS:
        database.execute(duckdb_view(name, str(folder / "files")))
    return database, folder


def test_odd_names_of_jobs_come_back_as_they_are_and_every_job_has_its_zone(winter: Any) -> None:
    database, folder = winter
    jobs = dict(database.execute("SELECT job, zone FROM jobs").fetchall())
    assert [jobs[name] for name in HOSTILE[:2]] == ["Europe/Lisbon", "America/Denver"]
    (cut,) = jobs.keys() - set(HOSTILE[:2])
    assert HOSTILE[2].startswith(cut.partition("~")[0])
    assert len({each.name for each in (folder / "files" / "jobs").iterdir()}) == 3
    assert all(len(each.name.encode()) < 255 for each in (folder / "files" / "jobs").iterdir())


def test_a_view_without_rows_can_be_asked_too(winter: Any) -> None:
    database, _ = winter
    assert database.execute("SELECT count(*), count(air_c) FROM readings").fetchall() == [(0, 0)]
    for question in office_questions().values():
        database.execute(question.sql)


WINTER = {
    "which lot ran hot": (
        "SELECT b.lot, count(*) FROM lessons l JOIN batches b USING (job, batch) WHERE l.sign = 'hot' GROUP BY ALL",
        [("L1", 1)],
    ),
    "what was thrown away": (
        "SELECT b.product, sum(b.volume_l * CASE s.dumped_share WHEN 'half' THEN 0.5 ELSE 1 END) FROM steps s "
        "JOIN batches b USING (job, batch) WHERE s.step = 'dumped' AND s.counts GROUP BY 1",
        [("Slow epoxy base", 2.0)],
    ),
    "how long each person worked at a step": (
        "SELECT by_whom, sum(epoch(done_at - began_at)) / 3600 FROM steps WHERE began_at IS NOT NULL GROUP BY 1",
        [("mixer", 0.5)],
    ),
    "at which hour on the wall": (
        "SELECT extract(hour FROM timezone(zone, mixed_at)) FROM batches JOIN jobs USING (job)",
        [(13,)],
    ),
    "what was put right, and how": (
        "SELECT area, settled_how FROM findings WHERE settled_at IS NOT NULL",
        [("bay 1", "sanded")],
    ),
}


@pytest.mark.parametrize("asked", WINTER)
def test_what_else_an_office_asks_in_winter_is_answered_by_the_views_alone(winter: Any, asked: str) -> None:
    question, answer = WINTER[asked]
    assert winter[0].execute(question).fetchall() == answer


def test_times_figures_and_yes_or_no_have_types_that_a_spreadsheet_knows(winter: Any) -> None:
    database, folder = winter
    kinds = {row[0]: row[1] for row in database.execute("DESCRIBE steps").fetchall()}
    assert (kinds["done_at"], kinds["counts"], kinds["batch"], kinds["covered_m2"], kinds["job"]) == (
        "TIMESTAMP WITH TIME ZONE", "BOOLEAN", "BIGINT", "DOUBLE", "VARCHAR",
    )  # fmt: skip
    from pyarrow import dataset

    read = dataset.dataset(folder / "files" / "steps", partitioning="hive").to_table().to_pylist()
    assert {row["done_at"].utcoffset() for row in read} == {timedelta()}


def test_a_book_of_an_earlier_shape_gets_the_new_columns(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, SystemClock()) as book:
        book.append("Shed", JobStarted("Shed", 'zone = "UTC"'))
    with sqlite3.connect(path) as behind:
        behind.executescript("DROP VIEW all_jobs; CREATE VIEW all_jobs AS SELECT job FROM joblines;")
        behind.execute("DELETE FROM _sqlite_migrations WHERE name = 'views_that_tell_more'")
        behind.execute("PRAGMA user_version = 5")
    with Book(path, SystemClock()) as book:
        assert book.connection.own().execute("SELECT job, zone FROM all_jobs").fetchall() == [("Shed", "UTC")]


def test_the_page_of_the_office_makes_its_views_as_they_are_tried_here() -> None:
    assert duckdb_view("steps", "FOLDER") in office_page()

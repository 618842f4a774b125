"""The commands `record` and `why`, as somebody types them after the job."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from mixclock.outside.clock import SystemClock
from tests.running import Ran
from tests.words.record.readers import read_page

Run = Callable[..., Ran]


@pytest.fixture
def worked(studio: Run) -> Run:
    """Two bays primed; bay 2 was poured when its pot life was over."""
    for words in (
        ("reading", "--air", "20 °C", "--rh", "50", "--slab", "19 °C", "--ago", "5 h"),
        ("mixed", "primer", "2 L", "--on", "bay 1", "--ago", "4 h", "--by", "mixer"),
        ("poured", "1", "--ago", "210 min", "--covered", "11.5 m2", "--by", "roller"),
        ("mixed", "primer", "2 L", "--on", "bay 2", "--ago", "240 min", "--by", "mixer"),
        ("poured", "2", "--ago", "60 min", "--covered", "12 m2", "--by", "roller"),
        ("found", "bay 2", "dull", "--shape", "batch-edge", "--ago", "1 min"),
    ):
        done = studio(*words)
        assert done.code == 0, (words, done.err)
    return studio


def test_why_names_the_old_batch_with_its_numbers(worked: Run) -> None:
    done = worked("why", "bay 2")
    assert done.code == 0
    assert done.out.splitlines()[0].startswith("bay 2, dull: the record shows old batch")
    assert "limit 100 %" in done.out
    assert "Next time: pour by" in done.out


def test_why_answers_other_programs(worked: Run) -> None:
    told = worked("why", "bay 2", "--json").json
    assert told["verdict"] == "shown"
    assert told["causes"][0]["name"] == "old batch"
    assert told["causes"][0]["evidence"][0]["not_looked_at"] < 1.0 < told["causes"][0]["evidence"][0]["value"]
    assert told["causes"][0]["evidence"][0]["healthy"] is None
    assert worked("found", "bay 1", "sound").code == 0
    beside = worked("why", "bay 2", "--json").json["causes"][0]["evidence"][0]
    assert beside["healthy"] < 1.0 < beside["value"]
    assert told["next_time"]


def test_why_without_an_area_points_at_the_odd_one(worked: Run) -> None:
    assert worked("why").out.splitlines()[0] == "bay 2 is the odd one."
    assert worked("why", "--json").json["odd"] == "bay 2"


def test_why_answers_from_what_was_known_then(worked: Run) -> None:
    done = worked("why", "bay 2", "--at", _ago(90))
    assert done.code == 0
    assert "old batch" not in done.out.splitlines()[0]
    unknown = worked("why", "bay 2", "--at", _ago(90), "--known")
    assert unknown.code == 2
    assert "the book did not know the job by then" in unknown.err


def _ago(minutes: int) -> str:
    return (SystemClock().now() - timedelta(minutes=minutes)).strftime("%Y-%m-%d %H:%M+00:00")


def test_why_replays_the_job_with_one_change(worked: Run) -> None:
    at = _ago(200)
    done = worked("why", "--had", f"poured 2 at {at}")
    assert done.code == 0, done.err
    assert "2 more windows would have held" in done.out
    rows = worked("why", "--had", f"poured 2 at {at}", "--json").json["windows"]
    assert next(row for row in rows if row["window"] == "pour-out")["would_hold"] is True


def test_why_across_jobs_says_how_little_there_is(worked: Run) -> None:
    done = worked("why", "--all")
    assert done.code == 0
    assert done.out.startswith("1 job, 2 coats laid on areas, 1 with a finding.")
    assert worked("why", "--all", "--json").json["failed"] == 1


@pytest.mark.parametrize(
    ("said", "recorded"),
    [("orange peel", "roller marks"), ("patchy", "dull"), ("bubles", "bubbles"), ("smells of fish", "smells of fish")],
)
def test_a_floor_can_always_be_recorded_as_it_was_found(worked: Run, said: str, recorded: str) -> None:
    done = worked("found", "bay 1", said)
    assert done.code == 0
    assert recorded in done.out
    assert worked("why", "bay 1").out.startswith(f"bay 1, {recorded}: ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("why", "bay 9"), "no area 'bay 9' on this job; did you mean"),
        (("why", "bay 2", "--shape", "edge"), "shape 'edge' is not known"),
        (("why", "--had", "nonsense"), "say it as 'poured 3 at 9:50'"),
        (("why", "--had", "poured 7 at 0:01"), "there is no batch 7"),
        (("why", "--known"), "say which with --at TIME"),
        (("record", "--job", "Nowhere"), "no job 'Nowhere' in the book"),
        (("record", "--to", "/proc/nowhere/r.html"), "/proc/nowhere/r.html:"),
    ],
)  # fmt: skip
def test_what_is_typed_wrong_gets_one_line_and_changes_nothing(worked: Run, words: tuple[str, ...], said: str) -> None:
    done = worked(*words)
    assert done.code == 2
    assert said in done.err
    assert len(done.err.strip().splitlines()) == 1
    assert done.out == ""


def test_the_record_is_written_once_and_not_over_something_else(worked: Run, tmp_path: Path) -> None:
    file = tmp_path / "record.html"
    assert worked("record", "--to", str(file)).code == 0
    page = read_page(file.read_text(encoding="utf-8"))
    assert [row["poured by"] for row in page.tables["table-pouring"]] == ["crew 2", "crew 2"]
    again = worked("record", "--to", str(file))
    assert again.code == 2
    assert "is already there" in again.err
    assert worked("record", "--to", str(file), "--replace").code == 0


def test_the_record_as_csv_json_and_for_the_owner(worked: Run, tmp_path: Path) -> None:
    assert worked("record", "--csv", str(tmp_path / "csv")).code == 0
    assert (tmp_path / "csv" / "pouring.csv").read_text(encoding="utf-8").count("crew 2") == 2
    assert worked("record", "--json").json["pouring"][0]["poured_by"] == "roller"
    assert worked("record", "--names", "--to", str(tmp_path / "named.html")).code == 0
    assert "roller" in (tmp_path / "named.html").read_text(encoding="utf-8")
    assert worked("record", "--claim", "--to", str(tmp_path / "claim.html")).code == 0
    assert worked("why", "bay 2", "--to", str(tmp_path / "reading.html")).code == 0
    assert "no inspection" in (tmp_path / "reading.html").read_text(encoding="utf-8")
    assert worked("record", "--owner", "--to", str(tmp_path / "owner.html")).code == 0
    assert "local rules" in (tmp_path / "owner.html").read_text(encoding="utf-8")


def test_a_picture_stands_scaled_down_where_it_was_taken(worked: Run, tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    import hashlib

    original = tmp_path / "corner.jpg"
    image.effect_noise((2400, 1800), 80).convert("RGB").save(original, quality=95)
    assert worked("photo", str(original), "--on", "bay 2").code == 0
    file = tmp_path / "record.html"
    assert worked("record", "--to", str(file)).code == 0
    text = file.read_text(encoding="utf-8")
    assert hashlib.sha256(original.read_bytes()).hexdigest() in text
    assert "data:image/jpeg;base64," in text
    assert len(text) < 1_000_000
    assert original.stat().st_size > 1_000_000


def test_an_empty_job_is_answered_honestly(studio: Run, tmp_path: Path) -> None:
    assert studio("why").out == "No batch was stated on this job yet: there is nothing to compare.\n"
    assert "the record does not show why" in studio("why", "bay 1").out
    assert studio("record", "--to", str(tmp_path / "r.html")).code == 0


def test_the_record_is_written_as_what_its_name_ends_with_or_refused(studio: Run, tmp_path: Path) -> None:
    assert studio("record", "--to", str(tmp_path / "record.xlsx")).code == 0
    assert (tmp_path / "record.xlsx").read_bytes().startswith(b"PK")
    for wrong in ("record.doc", "record"):
        refused = studio("record", "--to", str(tmp_path / wrong))
        assert refused.code == 2
        assert "name a file that ends with .html, .pdf or .xlsx" in refused.err
    assert studio("record", "--owner", "--to", str(tmp_path / "owner.xlsx")).code == 2
    assert not [path for path in tmp_path.iterdir() if path.name not in ("home", "record.xlsx")]


def test_csv_files_begin_with_the_mark_of_utf8_and_take_a_decimal_comma(studio: Run, tmp_path: Path) -> None:
    assert studio("record", "--csv", str(tmp_path / "tables"), "--decimal", "comma").code == 0
    text = (tmp_path / "tables" / "areas.csv").read_bytes()
    assert text.startswith(b"\xef\xbb\xbf")
    assert b";11,5" in text
    assert studio("record", "--csv", str(tmp_path / "more"), "--decimal", "apostrophe").code == 2


def test_the_dates_of_a_floor_go_to_a_phone_as_a_calendar(studio: Run, tmp_path: Path) -> None:
    studio("reading", "--slab", "20 °C", "--air", "20 °C", "--rh", "50")
    studio("mixed", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--ago", "14 min")
    studio("poured")
    told = studio("calendar", "--to", str(tmp_path / "floor.ics"))
    assert told.code == 0, told.err
    assert "bay 1: next coat by" in told.out
    assert (tmp_path / "floor.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")


def test_a_span_of_mixing_that_was_told_when_it_was_over_is_an_end_of_mixing(studio: Run) -> None:
    def said() -> str:
        told = studio("record", "--json").json
        (row,) = [each for each in told["claim"] if each["item"] == "end of mixing"]
        return str(row["held"])

    studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--mixing", "3 min")
    assert said() == "not recorded"  # what somebody means to do is no fact yet
    studio("withdraw", str(studio("record", "--json").json["statements"][-1]["entry"]))
    studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--mixing", "3 min", "--ago", "9 min")
    assert said() == "recorded"

"""What is learned on one floor and counts on the next, through the house as the commands use it."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from mixclock.decide.clocks import LearnedFactor, prior_sigma
from mixclock.job.entry import Combined, Entry, FactorDropped, FactorUsed, ProfileUsed
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobexchange import export_job, import_job
from mixclock.outside.lessons import DRAWN_AT_ONCE
from mixclock.outside.profilefiles import find
from mixclock.wiring import House, open_house
from mixclock.words.lessons import Lesson, lesson_lines, lessons_of
from tests.boatshed import PAIL, areas_of
from tests.running import Ran
from tests.saying import as_said

MORNING = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
PRODUCT = "Slow epoxy base"
TACK_FREE_S = 8 * 3600.0  # at 20 °C, as its sheet says
AREAS = ('name = "slip"\nsize = "40 m2"', 'name = "ramp"\nsize = "20 m2"')


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(MORNING)


@pytest.fixture
def house(home: Path, clock: FakeClock) -> Iterator[House]:
    with open_house(home, clock) as house:
        begin(house, "Boat shed")
        yield house


def begin(house: House, name: str) -> None:
    house.start(areas_of(*AREAS, name=name, zone="Europe/Lisbon", vessel=PAIL))
    house.book.use(name)
    house.state(as_said("reading", {"air_c": 20.0, "rh_pct": 55.0, "slab_c": 20.0}))


def mix(house: House, area: str = "slip") -> tuple[Entry, ...]:
    what = {"product": PRODUCT, "areas": [area], "volume_l": 4.0, "material_c": 20.0}
    return house.state(as_said("mixing", what)).entries


def teach(house: House, clock: FakeClock, times_the_sheet: float) -> tuple[str, ...]:
    """Lay a batch and see it tack free after so many times what the sheet says; gives what was answered."""
    mix(house)
    number = house.standing().batches[-1].id
    clock.advance(180)
    house.state(as_said("poured", {"batch": number}))
    clock.advance(TACK_FREE_S * times_the_sheet)
    stated = house.state(as_said("saw", {"batch": number, "sign": "tack free"}))
    return house.answer(stated).learned


def lesson(house: House) -> Lesson:
    (found,) = lessons_of(find(PRODUCT).profile, house.lessons.of(find(PRODUCT)))
    return found


def facts_of(entries: tuple[Entry, ...]) -> list[type]:
    return [type(entry.facts) for entry in entries]


def tack_free_h(house: House) -> float:
    """How long the likely clock of the last batch runs on the floor."""
    track = [track for track in house.tracks(house.standing()) if track.name == "tack-free"][-1]
    assert track.opens is not None
    return (track.opens.edge.likely - track.starts).total_seconds() / 3600.0


def test_a_sign_says_what_it_taught_about_the_next_batches(house: House, clock: FakeClock) -> None:
    (said,) = teach(house, clock, 1.3)
    assert said.startswith("Slow epoxy base tack free 3")
    assert "% later than the sheet; next batches count with" in said
    assert said.endswith("% more time")


def test_a_sign_that_teaches_nothing_says_why(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    again = house.answer(house.state(as_said("saw", {"batch": 1, "sign": "skinned"}))).learned
    assert again == ("batch 1 has shown when it was tack free before: nothing more is learned",)
    mix(house)
    early = house.answer(house.state(as_said("saw", {"batch": 2, "sign": "hard"}))).learned
    assert early == ("nobody stated the pour of batch 2: nothing is learned; state it with `--at`",)
    assert house.answer(house.state(as_said("saw", {"batch": 2, "sign": "hot"}))).learned == ()


def test_a_sign_far_from_any_resin_is_taken_for_a_slip(house: House, clock: FakeClock) -> None:
    (said,) = teach(house, clock, 6.5)
    assert "times the time of the sheet is taken for a slip" in said
    assert lesson(house).learned.factor == 1.0
    assert facts_of(mix(house)) == [Combined]


def test_the_next_batch_takes_over_what_was_learned_and_says_so(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    by_the_sheet = tack_free_h(house)
    written = mix(house)
    assert facts_of(written) == [FactorUsed, Combined]
    assert written[1].number == written[0].number + 1
    used = written[0].facts
    assert isinstance(used, FactorUsed)
    clock.advance(180)
    house.state(as_said("poured", {"batch": 2}))
    assert tack_free_h(house) == pytest.approx(by_the_sheet * used.factor, rel=0.02)
    (window,) = [each for each in house.snapshot(clock.now())["batches"][1]["windows"] if each["name"] == "tack-free"]
    assert any("slower than the sheet" in said for said in window["because"])


def test_a_batch_that_learned_nothing_new_logs_nothing_new(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    mix(house)
    assert facts_of(mix(house)) == [Combined]
    before = house.snapshot(clock.now())["batches"][1]["windows"]
    clock.advance(180)
    house.state(as_said("poured", {"batch": 3}))
    clock.advance(TACK_FREE_S * 1.5)
    house.state(as_said("saw", {"batch": 3, "sign": "tack free"}))
    assert facts_of(mix(house)) == [FactorUsed, Combined]
    after = house.snapshot(clock.now())["batches"][1]["windows"]
    assert [each["opens"] for each in after] == [each["opens"] for each in before]


def test_a_floor_learns_from_another_floor_of_the_book(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    clock.advance(86_400)
    begin(house, "Pottery studio")
    written = mix(house)
    assert facts_of(written) == [ProfileUsed, FactorUsed, Combined]
    assert isinstance(written[1].facts, FactorUsed)
    assert written[1].facts.factor == pytest.approx(lesson(house).learned.factor, abs=1e-5)
    teach(house, clock, 1.3)
    assert [seen.job for seen in lesson(house).seen] == ["Boat shed", "Pottery studio"]


def test_what_was_learned_later_does_not_change_the_past_of_a_batch_entered_late(
    house: House, clock: FakeClock
) -> None:
    teach(house, clock, 1.3)
    clock.advance(3600)
    house.state(as_said("mixing", {"product": PRODUCT, "areas": ["ramp"], "volume_l": 4.0}), at=MORNING)
    early = house.standing(at=MORNING).batches
    assert [dict(batch.factors) for batch in early if batch.id == 2] == [dict(house.standing().batches[1].factors)]
    assert house.standing().batches[1].factors["tack-free"].observations == 1


def test_an_exported_job_takes_its_lessons_to_another_book(house: House, clock: FakeClock, tmp_path: Path) -> None:
    teach(house, clock, 1.3)
    taught = lesson(house)
    export_job(house.book, "Boat shed", tmp_path / "shed.jsonl")
    with open_house(tmp_path / "other", clock) as other:
        begin(other, "Pottery studio")
        assert facts_of(mix(other)) == [ProfileUsed, Combined]
        import_job(other.book, tmp_path / "shed.jsonl")
        assert lesson(other).learned == taught.learned
        assert facts_of(mix(other)) == [FactorUsed, Combined]


def test_a_dropped_factor_counts_no_more_here_nor_where_the_job_is_taken(
    house: House, clock: FakeClock, tmp_path: Path
) -> None:
    teach(house, clock, 1.3)
    mix(house)
    kept = house.snapshot(clock.now())["batches"]
    dropped = house.lessons.drop(find(PRODUCT), "tack free")
    assert {window: len(gone) for window, gone in dropped.items()} == {"tack-free": 1}
    assert lesson(house).learned.factor == 1.0
    assert any("(dropped)" in line for line in lesson_lines([lesson(house)]))
    assert house.snapshot(clock.now())["batches"] == kept
    written = mix(house)
    assert facts_of(written) == [FactorUsed, Combined]
    assert written[0].facts == FactorUsed(PRODUCT, "tack-free", 1.0, round(prior_sigma("tack-free"), 6), 0)
    export_job(house.book, "Boat shed", tmp_path / "shed.jsonl")
    with Book(tmp_path / "other.sqlite3", clock) as book:
        import_job(book, tmp_path / "shed.jsonl")
        assert any(isinstance(entry.facts, FactorDropped) for entry in book.entries("Boat shed"))
    with pytest.raises(CannotTellError, match="nothing has been learned"):
        house.lessons.drop(find(PRODUCT), None)


def test_what_is_seen_after_a_drop_teaches_again_alone(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.8)
    house.lessons.drop(find(PRODUCT), None)
    teach(house, clock, 0.8)
    assert [seen.used for seen in lesson(house).seen] == [False, True]
    assert lesson(house).learned.factor < 1.0


def test_a_drop_that_was_a_mistake_is_withdrawn_like_any_statement(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    before = lesson(house).learned
    house.lessons.drop(find(PRODUCT), None)
    dropped = house.entries()[-1]
    with pytest.raises(CannotTellError, match=f"`withdraw {dropped.number}` takes it"):
        house.state(as_said("withdraw"))
    house.state(as_said("withdraw", {"entry": dropped.number}))
    assert lesson(house).learned == before


def test_a_sign_that_is_withdrawn_is_unlearned(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    mix(house)
    sign = next(entry for entry in house.entries() if entry.facts.kind == "saw")
    house.state(as_said("withdraw", {"entry": sign.number}))
    written = mix(house)
    assert isinstance(written[0].facts, FactorUsed)
    assert (written[0].facts.factor, written[0].facts.observations) == (1.0, 0)


def shown(run: Callable[..., Ran], window: str, slab_c: float = 20.0) -> dict[str, float]:
    """The times of a window's first edge on a slab, as `profile show` gives them [s]."""
    rows = run("profile", "show", PRODUCT, "--json").json["windows"]
    row = next(row for row in rows if row["name"] == window)
    return next(at for at in row["at"] if at["slab_c"] == slab_c)


def width(at: dict[str, float]) -> float:
    """How far late lies from early, as a logarithm."""
    return math.log(at["late_s"] / at["early_s"])


def go_stringy(house: House, clock: FakeClock, times_the_sheet: float) -> None:
    """Let a bucket stand until it strings, after so many times what the sheet alone says of it."""
    number = len(house.standing().batches) + 1
    house.state(as_said("reading", {"air_c": 20.0, "rh_pct": 55.0, "slab_c": 20.0}))
    mix(house)
    (bucket,) = [
        track for track in house.tracks(house.standing()) if track.batch.id == number and track.name == "pour-out"
    ]
    assert bucket.closing is not None
    used = house.standing().batches[-1].factors.get("pour-out")
    by_sheet = (bucket.closing.likely - bucket.starts) / (used.factor if used else 1.0)
    clock.advance(by_sheet.total_seconds() * times_the_sheet)
    house.state(as_said("saw", {"batch": number, "sign": "stringy"}))
    clock.advance(600)


def test_ten_buckets_that_agree_narrow_the_band_of_pour_out_that_is_shown(
    house: House, clock: FakeClock, run: Callable[..., Ran]
) -> None:
    before = shown(run, "pour-out")
    for times in (1.28, 1.3, 1.32, 1.29, 1.31, 1.3, 1.27, 1.33, 1.3, 1.3):
        go_stringy(house, clock, times)
    assert [seen.ratio for seen in lesson(house).seen] == pytest.approx([1.3] * 10, rel=0.04)
    assert width(shown(run, "pour-out")) < 0.75 * width(before)
    told = run("profile", "show", PRODUCT).out
    assert "from 10 observations" in told
    assert "pour-out by ×1.2" in told


def test_buckets_that_contradict_each_other_widen_the_band_of_pour_out_that_is_shown(
    house: House, clock: FakeClock, run: Callable[..., Ran]
) -> None:
    before = shown(run, "pour-out")
    for times in (0.6, 1.7, 0.55, 1.8, 0.65, 1.6):
        go_stringy(house, clock, times)
    assert width(shown(run, "pour-out")) > 1.3 * width(before)


def test_ten_floors_that_were_tack_free_late_put_the_shown_time_later_and_never_sooner(
    house: House, clock: FakeClock, run: Callable[..., Ran]
) -> None:
    for times in (1.28, 1.3, 1.32, 1.29, 1.31, 1.3, 1.27, 1.33, 1.3, 1.3):
        teach(house, clock, times)
        house.state(as_said("reading", {"slab_c": 20.0}))
    factor, at = lesson(house).learned.factor, shown(run, "tack-free")
    # a floor of ten observations and a sheet worth two: 1.3 to the power of ten twelfths
    assert factor == pytest.approx(1.3 ** (10.0 / 12.0), rel=0.05)
    assert at["late_s"] == pytest.approx(TACK_FREE_S * factor, rel=0.001)
    assert at["early_s"] == pytest.approx(TACK_FREE_S, rel=0.001)
    told = run("profile", "show", PRODUCT).out
    assert "from 10 observations" in told
    assert "tack-free from ×1.2" in told
    assert "never sooner than the sheet says" in " ".join(told.split())


def test_a_floor_that_was_tack_free_soon_is_shown_by_the_sheet_all_the_same(
    house: House, clock: FakeClock, run: Callable[..., Ran]
) -> None:
    """A maker's limit: what was learned moves likely, and what a crew is shown only later."""
    by_sheet = {slab_c: shown(run, "tack-free", slab_c) for slab_c in (10.0, 15.0, 20.0, 25.0)}
    for times in (0.7, 0.72, 0.68, 0.7):
        said = teach(house, clock, times)
        house.state(as_said("reading", {"slab_c": 20.0}))
    factor = lesson(house).learned.factor
    assert factor < 0.85
    assert said[0].endswith("less time; what is shown stays by the sheet")
    for slab_c, before in by_sheet.items():
        after = shown(run, "tack-free", slab_c)
        assert after["late_s"] == pytest.approx(before["late_s"], rel=0.001)
        assert after["likely_s"] == pytest.approx(before["likely_s"] * factor, rel=0.001)
    assert "tack-free from  " in run("profile", "show", PRODUCT).out


def test_the_file_of_the_profile_stays_as_it_is_written(house: House, clock: FakeClock) -> None:
    file = Path(find(PRODUCT).origin)
    before = file.read_bytes()
    teach(house, clock, 1.3)
    mix(house)
    house.lessons.drop(find(PRODUCT), None)
    assert file.read_bytes() == before


def test_a_sheet_that_is_corrected_is_not_blamed_for_what_it_said_before(
    house: House, clock: FakeClock, home: Path
) -> None:
    teach(house, clock, 1.5)
    assert lesson(house).seen[0].ratio == pytest.approx(1.5, rel=0.08)
    text = find(PRODUCT).text
    typed = 'opens = { "10 °C" = "16 h", "20 °C" = "8 h", "30 °C" = "5 h" }'
    assert typed in text
    (home / "profiles").mkdir()
    (home / "profiles" / "own.toml").write_text(text.replace(typed, 'opens = { "20 °C" = "12 h", "30 °C" = "7 h" }'))
    assert lesson(house).seen[0].ratio == pytest.approx(1.0, rel=0.08)
    assert lesson(house).learned.factor == pytest.approx(1.0, abs=0.03)


def test_a_reading_entered_late_corrects_what_was_learned(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.5)
    blamed = lesson(house).seen[0].ratio
    house.state(as_said("reading", {"slab_c": 14.0}), at=MORNING.replace(hour=9))
    assert lesson(house).seen[0].ratio < 0.8 * blamed


def test_a_cold_batch_reads_no_other_job_again(
    house: House, clock: FakeClock, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    teach(house, clock, 1.3)
    begin(house, "Pottery studio")
    mix(house)
    read: list[str] = []
    real = Book.entries

    def counted(book: Book, job: str, after: int = 0, skip: tuple[str, ...] = ()) -> tuple[Entry, ...]:
        read.append(job)
        return real(book, job, after, skip)

    monkeypatch.setattr(Book, "entries", counted)
    with open_house(home, clock) as cold:
        house.state(as_said("noted", {"text": "door opened"}), job="Boat shed")
        mix(cold)
        assert "Boat shed" not in read
        house.state(as_said("reading", {"slab_c": 20.0}), job="Boat shed")
        mix(cold)
        assert "Boat shed" in read


@pytest.mark.parametrize(
    "damage", ["half a sen", "[]", "{}", json.dumps({"rests_on": "x"}), json.dumps({"rests_on": [], "seen": 3})]
)
def test_lessons_that_were_damaged_in_the_book_are_drawn_again(house: House, clock: FakeClock, damage: str) -> None:
    teach(house, clock, 1.3)
    before = lesson(house)
    house.book.connection.own().execute("UPDATE lessons SET value = ?", (damage,))
    assert lesson(house) == before


def test_a_damaged_job_teaches_nothing_and_keeps_nobody_from_mixing(house: House, clock: FakeClock) -> None:
    teach(house, clock, 1.3)
    begin(house, "Pottery studio")
    own = house.book.connection.own()
    own.execute(
        "INSERT INTO entries SELECT (SELECT max(number) FROM entries) + 1, job, 'unheard of', happened, written, "
        "facts, by_whom, note, boot_id, boot_s, origin, hash FROM entries WHERE kind = 'saw'"
    )
    assert facts_of(mix(house)) == [ProfileUsed, Combined]


def test_dropping_what_was_never_learned_is_one_line(house: House, run: Callable[..., Ran]) -> None:
    ran = run("profile", "drop-learned", PRODUCT)
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert "nothing has been learned" in ran.err


def test_a_window_that_was_never_learned_is_refused_with_those_that_were(
    house: House, clock: FakeClock, run: Callable[..., Ran]
) -> None:
    teach(house, clock, 1.3)
    ran = run("profile", "drop-learned", PRODUCT, "tack fre")
    assert ran.code == 2
    assert "tack-free" in ran.err
    assert run("profile", "drop-learned", PRODUCT, "tack-free", "--json").json == {
        "product": PRODUCT,
        "dropped": {"tack-free": 1},
    }


def test_a_plan_of_a_floor_where_nothing_was_mixed_yet_reckons_with_what_was_learned(
    house: House, clock: FakeClock
) -> None:
    teach(house, clock, 1.3)
    begin(house, "Pottery studio")
    planned = house.lessons.known_to(house.standing(), [find(PRODUCT)])
    assert not house.standing().factors
    assert planned.factors[(PRODUCT.casefold(), "tack-free")].factor == pytest.approx(
        lesson(house).learned.factor, abs=1e-5
    )


def learned_anew(house: House, clock: FakeClock) -> dict[str, LearnedFactor]:
    """What a book learns that keeps nothing of what it ever drew from its jobs."""
    house.book.connection.own().execute("DELETE FROM lessons WHERE key LIKE '%:%'")
    with open_house(Path(house.book.path).parent, clock) as fresh:
        found = find(PRODUCT)
        return fresh.lessons.factors(found.profile, found.text, fresh.standing())


@pytest.mark.parametrize("seed", range(3))
def test_what_is_kept_of_the_lessons_of_three_floors_says_the_same_as_drawing_them_all_anew(
    house: House, clock: FakeClock, seed: int
) -> None:
    floors = ["Boat shed", "Pottery studio", "Kiln room"]
    for name in floors[1:]:
        begin(house, name)
    drawn = Random(seed)
    for _ in range(7):
        house.book.use(drawn.choice(floors))
        match drawn.choice(["teach", "teach", "withdraw", "read late", "drop"]):
            case "teach":
                teach(house, clock, drawn.uniform(0.7, 1.8))
            case "withdraw":
                gone = house.standing().withdrawn
                signs = [each for each in house.entries() if each.facts.kind == "saw" and each.number not in gone]
                if signs:
                    house.state(as_said("withdraw", {"entry": drawn.choice(signs).number}))
            case "read late":
                house.state(as_said("reading", {"slab_c": drawn.uniform(12.0, 24.0)}), at=clock.now())
            case _ if any(seen.used for seen in house.lessons.of(find(PRODUCT))):
                house.lessons.drop(find(PRODUCT), None)
        house.book.use(drawn.choice(floors))
        kept = house.lessons.factors(find(PRODUCT).profile, find(PRODUCT).text, house.standing())
        house.lessons.flush()
        again = house.lessons.factors(find(PRODUCT).profile, find(PRODUCT).text, house.standing())
        assert again == kept
        assert kept == learned_anew(house, clock)


def test_a_statement_in_a_book_that_nobody_ever_asked_draws_from_its_newest_jobs_once_and_a_question_from_the_rest(
    house: House, clock: FakeClock, home: Path
) -> None:
    teach(house, clock, 1.3)
    names = [f"Floor {number}" for number in range(DRAWN_AT_ONCE + 3)]
    for name in names:
        begin(house, name)
        teach(house, clock, 1.3)
    begin(house, "Pottery studio")
    house.book.connection.own().execute("DELETE FROM lessons")
    with open_house(home, clock) as cold:
        written = mix(cold)
        assert isinstance(written[1].facts, FactorUsed)
        assert written[1].facts.observations == DRAWN_AT_ONCE
        assert facts_of(mix(cold)) == [Combined]
        assert lesson(cold).learned.observations == len(names) + 1
    with open_house(home, clock) as later:
        written = mix(later)
        assert isinstance(written[0].facts, FactorUsed)
        assert written[0].facts.observations == len(names) + 1

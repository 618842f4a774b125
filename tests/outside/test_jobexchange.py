"""Vans and an office exchange a job by files, late and in any order, and end with the same job."""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, get_args, get_type_hints

import pytest
from hypothesis import HealthCheck, Phase, given
from hypothesis import strategies as st

from mixclock.decide.alerting import alerts
from mixclock.job.dayentries import Settled
from mixclock.job.entry import KINDS, Entry, Found, Noted, Poured, Raised, Saw, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import VERBS, PhotoStatement
from mixclock.outside.book import Book, BookError
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.bookfile import _sealed
from mixclock.outside.bookidentity import identity_of, name_book
from mixclock.outside.calledhere import take_over
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobexchange import export_job, import_job, state_of
from mixclock.outside.withoutnames import export_for_reading
from mixclock.wiring import House, open_house
from tests.cli.studio import STUDIO
from tests.examples import examples
from tests.outside.verified import verify

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
JOB = "Pottery studio floor"
MIXING: dict[str, Any] = {"product": "Slow epoxy base", "coat": "base", "volume_l": 4.0}


@dataclass
class Van:
    """A laptop with a book and a clock of its own."""

    name: str
    house: House
    clock: FakeClock
    folder: Path
    sent: int = 0

    @property
    def book(self) -> Book:
        return self.house.book

    def say(self, verb: str, **told: Any) -> Entry:
        self.clock.advance(60.0)
        return self.house.state(VERBS[verb].told(told), by="mixer", job=JOB).entry

    def mix(self, area: str = "bay 1") -> int:
        entry = self.say("mixing", areas=[area], **MIXING)
        return next(batch.id for batch in self.house.standing(JOB).batches if batch.combined.entry == entry.number)

    def send(self) -> Path:
        self.sent += 1
        path = self.folder / f"{self.name}-{self.sent}.mixclock"
        export_job(self.book, JOB, path)
        return path

    def take(self, path: Path) -> int:
        return import_job(self.book, path).new


@contextmanager
def vans(folder: Path, *names: str, clocks: tuple[timedelta, ...] = ()) -> Iterator[list[Van]]:
    """So many vans; each clock is off by its own span."""
    off = (*clocks, *[timedelta()] * len(names))
    with ExitStack() as open_books:
        made = []
        for name, by in zip(names, off, strict=False):
            clock = FakeClock(MORNING + by, boot_id=f"boot of {name}")
            house = open_books.enter_context(open_house(folder / name.replace(" ", "-"), clock))
            name_book(house.book, name)
            made.append(Van(name, house, clock, folder))
        yield made


@pytest.fixture
def three(tmp_path: Path) -> Iterator[list[Van]]:
    """The office began the job and mixed nothing; both vans have it."""
    with vans(tmp_path, "office", "van 1", "van 2") as (office, one, two):
        office.house.start(STUDIO)
        office.say("reading", air_c=20.0, rh_pct=55.0, slab_c=18.0)
        began = office.send()
        one.take(began)
        two.take(began)
        yield [office, one, two]


def spoken(house: House) -> dict[str, Any]:
    """The job as it stands, in words that are the same in every book: batches by their van and its number."""
    standing = house.standing(JOB)
    own = identity_of(house.book).id
    marks = {entry.number: entry.mark for entry in standing.entries}
    name = {
        batch.id: (batch.origin.book, batch.origin.batch) if batch.origin else (own, batch.id)
        for batch in standing.batches
    }
    return {
        "site": standing.site,
        "batches": [
            (name[batch.id], batch.product, batch.areas, batch.combined.at, batch.emptied and batch.emptied.at,
             tuple((p.areas, p.poured.at, p.volume_l, tuple((k, v.at) for k, v in p.steps.items()))
                   for p in batch.portions), tuple((s.sign, s.stated.at) for s in batch.signs))
            for batch in standing.batches
        ],
        "order": [marks[entry.number] for entry in standing.entries],
        "gone": {marks[number] for number in standing.withdrawn},
        "finished": standing.finished,
        "put right": {marks[e.facts.finding]: marks[e.number] for e in standing.entries
                      if isinstance(e.facts, Settled) and e.facts.finding is not None},
        "pictures": sorted((each.sha256, each.whole) for each in house.book.drawers.pictures()),
    }  # fmt: skip


def windows(house: House) -> list[tuple[object, ...]]:
    """When everything opens and closes, however its batch is numbered here."""
    found = house.tracks(house.standing(JOB))
    return sorted((str(t.batch.combined.at), t.name, str(t.area), str(t.opening), str(t.closing)) for t in found)


class TestTwoOfflineVans:
    def test_both_have_a_batch_1_and_each_keeps_its_number(self, three: list[Van]) -> None:
        office, one, two = three
        assert (one.mix("bay 1"), two.mix("bay 2")) == (1, 1)
        one.say("poured", batch=1)
        two.say("saw", batch=1, sign="stringy")
        files = [one.send(), two.send()]
        one.take(files[1])
        two.take(files[0])
        for path in files:
            office.take(path)
        assert spoken(one.house) == spoken(two.house) == spoken(office.house)
        assert windows(one.house) == windows(two.house) == windows(office.house)
        assert {state_of(van.book, JOB) for van in three} == {state_of(office.book, JOB)}
        assert {(batch.id, batch.said) for batch in one.house.standing(JOB).batches} == {
            (1, "1"),
            (2, "2 (van 2's 1)"),
        }

    def test_statements_go_to_the_batch_that_they_were_made_about(self, three: list[Van]) -> None:
        _, one, two = three
        one.mix("bay 1")
        two.mix("bay 2")
        two.say("poured", batch=1)
        one.take(two.send())
        own, others = sorted(one.house.standing(JOB).batches, key=lambda batch: batch.id)
        assert not own.portions
        assert others.portions
        (poured,) = [e.facts for e in one.book.entries(JOB) if isinstance(e.facts, Poured)]
        assert poured.batch == 2

    def test_the_next_batch_takes_the_next_free_number_of_its_own_book(self, three: list[Van]) -> None:
        _, one, two = three
        two.mix()
        one.mix()
        one.take(two.send())
        assert one.mix("bay 2") == 3
        two.take(one.send())
        assert two.mix("bay 2") == 4

    def test_only_the_book_that_stated_a_batch_calls_it_out(self, three: list[Van]) -> None:
        office, one, _ = three
        one.mix()
        office.take(one.send())
        late = MORNING + timedelta(minutes=50)
        calling, silent = (v.house.standing(JOB) for v in (one, office))
        assert {alert.batch for alert in alerts(calling, one.house.tracks(calling), late)} == {1}
        assert alerts(silent, office.house.tracks(silent), late) == ()
        assert office.house.snapshot(late, JOB)["batches"][0]["van"] == "van 1"

    def test_a_laptop_may_take_the_place_of_one_that_is_lost(self, three: list[Van]) -> None:
        office, one, _ = three
        one.mix()
        office.take(one.send())
        assert take_over(office.book, office.book.entries(JOB), "van 1") == ["van 1"]
        late = MORNING + timedelta(minutes=50)
        standing = office.house.standing(JOB)
        assert {alert.batch for alert in alerts(standing, office.house.tracks(standing), late)} == {1}

    def test_what_one_van_called_out_is_no_call_of_the_other(self, three: list[Van]) -> None:
        _, one, two = three
        one.mix()
        two.mix()
        raised = two.book.append(JOB, Raised("b1.pour-out", "now", "critical", "Pour it out", "2026-04-13T08:09:00Z"))
        two.say("heard")
        one.take(two.send())
        (taken,) = [e for e in one.book.entries(JOB) if isinstance(e.facts, Raised)]
        assert isinstance(taken.facts, Raised)
        assert (taken.mark, taken.facts.alert) == (raised.mark, "b2.pour-out")
        from mixclock.outside.followedjob import FollowedJob

        followed = FollowedJob(JOB, one.house.tracks)
        followed.refresh(one.book)
        assert followed.standing is not None
        assert followed.standing.raisings == ()

    def test_two_crews_that_began_the_same_job_file_are_on_one_floor(self, tmp_path: Path) -> None:
        with vans(tmp_path, "van 1", "van 2") as (one, two):
            for van in (one, two):
                van.house.start(STUDIO)
                van.mix()
            one.take(two.send())
            two.take(one.send())
            assert spoken(one.house) == spoken(two.house)
            assert len(one.house.standing(JOB).batches) == 2

    def test_another_floor_of_the_same_name_is_not_joined(self, tmp_path: Path) -> None:
        with vans(tmp_path, "van 1", "van 2") as (one, two):
            one.house.start(STUDIO)
            two.house.start(STUDIO.replace("11.5 m2", "30 m2"))
            with pytest.raises(
                BookError, match=r"another job 'Pottery studio floor' is in this book already.*--as NAME"
            ):
                one.take(two.send())


class TestAFileIsEnough:
    def test_a_newer_export_adds_what_is_new_and_an_older_one_nothing(self, three: list[Van]) -> None:
        office, one, _ = three
        older = one.send()
        one.mix()
        newer = one.send()
        assert office.take(newer) == 2  # the sheet that it was mixed by, and the batch
        assert office.take(newer) == office.take(older) == 0
        assert verify(office.book) is None

    def test_what_came_from_a_van_comes_back_too_when_the_book_is_lost(self, three: list[Van]) -> None:
        office, one, _ = three
        one.mix()
        office.take(one.send())
        before, path = list(office.book.rows()), office.book.path
        office.house.close()
        for beside in path.parent.glob(f"{path.name}*"):
            if beside.is_file():
                beside.unlink()
        with open_house(path.parent, office.clock) as house:
            assert list(house.book.rows()) == before

    def test_it_is_the_owners_alone_and_packed(self, three: list[Van]) -> None:
        path = three[0].send()
        assert path.stat().st_mode & 0o777 == 0o600
        content = gzip.decompress(path.read_bytes())
        assert path.stat().st_size < len(content) / 2

    @pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.9, 0.999])
    def test_one_that_was_cut_short_changes_nothing(self, three: list[Van], share: float) -> None:
        office, one, _ = three
        one.mix()
        path = one.send()
        path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
        before = list(office.book.rows())
        with pytest.raises(BookError, match=r"nothing was imported|is no exported job"):
            office.take(path)
        assert list(office.book.rows()) == before

    def test_one_from_a_newer_program_is_refused_by_its_version(self, three: list[Van]) -> None:
        office, one, _ = three
        path = one.send()
        told = gzip.decompress(path.read_bytes())
        path.write_bytes(re.sub(rb'"mixclock_job":\d+', b'"mixclock_job":99', told))
        before = list(office.book.rows())
        with pytest.raises(BookError, match=r"newer mixclock \(format 99\); update mixclock"):
            office.take(path)
        assert list(office.book.rows()) == before

    def test_a_clock_that_is_ahead_is_said_and_loses_nothing(self, tmp_path: Path) -> None:
        with vans(tmp_path, "van 1", "van 2", clocks=(timedelta(), timedelta(hours=3))) as (one, two):
            one.house.start(STUDIO)
            two.take(one.send())
            two.mix()
            two.say("poured", batch=1)
            taken = import_job(one.book, two.send())
            assert taken.ahead > timedelta(hours=2, minutes=55)
            one.say("withdraw", entry=one.book.entries(JOB)[-1].number)
            two.take(one.send())
            assert spoken(one.house) == spoken(two.house)
            assert not one.house.standing(JOB).batches[0].portions

    def test_a_clock_that_is_behind_moves_nobody_elses_times(self, tmp_path: Path) -> None:
        with vans(tmp_path, "van 1", "van 2", clocks=(timedelta(), timedelta(hours=-3))) as (one, two):
            one.house.start(STUDIO)
            one.mix()
            two.take(one.send())
            two.mix("bay 2")
            one.take(two.send())
            assert spoken(one.house) == spoken(two.house)
            own = next(batch for batch in one.house.standing(JOB).batches if batch.origin is None)
            assert own.combined.at == MORNING + timedelta(minutes=1)

    def test_what_was_altered_is_refused_though_its_seals_are_right(self, three: list[Van]) -> None:
        office, one, _ = three
        one.say("noted", text="door opened")
        path = one.send()
        lines = [json.loads(text) for text in gzip.decompress(path.read_bytes()).decode().splitlines()]
        for line in lines:
            line.pop("seal")
        lines[-1]["facts"]["text"] = "door shut"
        path.write_text("\n".join(_sealed(lines)) + "\n")
        with pytest.raises(BookError, match=r"is not what was written: its hash differs\); nothing was imported"):
            office.take(path)

    def test_an_entry_that_this_book_knows_otherwise_is_refused(self, three: list[Van], tmp_path: Path) -> None:
        office, one, _ = three
        one.book.connection.own().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        before = (one.book.path).read_bytes()
        one.say("noted", text="door opened")
        office.take(one.send())
        one.house.close()
        for beside in one.book.path.parent.iterdir():
            if beside.is_file():
                beside.unlink()
            else:
                for each in beside.iterdir():
                    each.unlink()
        one.book.path.write_bytes(before)  # the laptop went back to an older book, by hand
        with open_house(one.book.path.parent, one.clock) as house:
            house.state(VERBS["noted"].told({"text": "door shut"}), job=JOB)
            export_job(house.book, JOB, tmp_path / "again.mixclock")
        with pytest.raises(
            BookError, match=r"of van 1 was altered: this book knows it otherwise; nothing was imported"
        ):
            office.take(tmp_path / "again.mixclock")

    def test_relayed_entries_are_still_held_against_their_own_hash(self, three: list[Van]) -> None:
        office, one, two = three
        one.mix("bay 1")
        two.mix("bay 2")
        two.say("poured", batch=1)
        one.take(two.send())
        office.take(one.send())  # the office hears of van 2 through van 1
        office.take(two.send())
        two.take(office.send())
        one.take(office.send())
        assert spoken(one.house) == spoken(two.house) == spoken(office.house)


class TestForReading:
    def test_names_and_paths_are_gone_and_times_are_the_same(self, three: list[Van], tmp_path: Path) -> None:
        _, one, two = three
        one.mix()
        one.say("noted", text="the mixer went for water")
        path = tmp_path / "reading.mixclock"
        export_for_reading(one.book, JOB, path, None)
        content = gzip.decompress(path.read_bytes()).decode()
        assert "mixer" not in content
        assert "roller" not in content
        taken = import_job(two.book, path)
        assert taken.job == f"{JOB}, without names"
        read = two.house.standing(taken.job)
        assert [batch.combined.at for batch in read.batches] == [b.combined.at for b in one.house.standing(JOB).batches]
        assert {entry.by for entry in read.entries} == {None, "crew 1"}
        assert [person.name for person in read.site.crew] == ["crew 1", "crew 2"]

    def test_it_is_never_joined(self, three: list[Van], tmp_path: Path) -> None:
        office, one, _ = three
        one.mix()
        export_for_reading(one.book, JOB, tmp_path / "reading.mixclock", None)
        import_job(office.book, tmp_path / "reading.mixclock")
        with pytest.raises(BookError, match="for reading only and never joined"):
            import_job(office.book, tmp_path / "reading.mixclock")
        with pytest.raises(BookError, match="for reading only and never joined"):
            import_job(office.book, tmp_path / "reading.mixclock", JOB)
        assert import_job(office.book, one.send()).job == JOB

    def test_a_person_may_go_by_another_name(self, three: list[Van], tmp_path: Path) -> None:
        office, one, _ = three
        one.mix()
        export_for_reading(one.book, JOB, tmp_path / "renamed.mixclock", ["MIXER = the new hand"])
        taken = import_job(office.book, tmp_path / "renamed.mixclock")
        read = office.house.standing(taken.job)
        assert [person.name for person in read.site.crew] == ["the new hand", "roller"]
        assert read.entries[-1].by == "the new hand"
        with pytest.raises(CannotTellError, match="nobody is called 'Anna'"):
            export_for_reading(one.book, JOB, tmp_path / "x.mixclock", ["Anna=B"])


def withdraw_something(van: Van, pick: int) -> None:
    entries = [e for e in van.book.entries(JOB) if not isinstance(e.facts, Withdrawn)]
    van.say("withdraw", entry=entries[pick % len(entries)].number)


def pour_something(van: Van, pick: int) -> None:
    batches = van.house.standing(JOB).batches
    van.say("poured", batch=batches[pick % len(batches)].id)


def see_something(van: Van, pick: int) -> None:
    batches = van.house.standing(JOB).batches
    van.say("saw", batch=batches[pick % len(batches)].id, sign="tack free")


def mend_the_file(van: Van, pick: int) -> None:
    """Another size, and somebody who goes by another name from now on."""
    van.clock.advance(60.0)
    van.house.which.choose(JOB)
    text = STUDIO.replace("11.5 m2", f"{12 + pick % 5} m2").replace('"roller"', f'"hand {pick % 3}"')
    van.house.mend(text, "studio.toml")


def photograph(van: Van, pick: int) -> None:
    small = b"\xff\xd8" + bytes([pick % 4])
    original = sha256(small).hexdigest()
    van.clock.advance(60.0)
    shown = PhotoStatement("bay.jpg", sha256=original, area="bay 1")
    van.house.state(shown, job=JOB, beside=[Picture(original, "image/jpeg", small, original)])


def lose_a_picture(van: Van, _: int) -> None:
    """A picture is lost; what others have of it brings it back."""
    van.book.connection.own().execute("DELETE FROM pictures WHERE sha256 = (SELECT min(sha256) FROM pictures)")


def put_right(van: Van, pick: int) -> None:
    found = [e for e in van.house.standing(JOB).live() if isinstance(e.facts, Found)]
    van.say("fixed", area=found[pick % len(found)].facts.area, how="sanded", finding=found[pick % len(found)].number)


DEEDS: dict[str, Callable[[Van, int], object]] = {
    "mix": lambda van, pick: van.mix(("bay 1", "bay 2")[pick % 2]),
    "pour": pour_something,
    "see": see_something,
    "withdraw": withdraw_something,
    "mend": mend_the_file,
    "find": lambda van, pick: van.say("found", area=("bay 1", "bay 2")[pick % 2], symptom="dull"),
    "put right": put_right,
    "photograph": photograph,
    "lose a picture": lose_a_picture,
    "call the book": lambda van, pick: name_book(van.book, f"van {pick}"),
    "note": lambda van, pick: van.say("noted", text=f"door {pick}"),
    "read": lambda van, pick: van.say("reading", slab_c=15.0 + pick % 5),
}
STEPS = st.lists(
    st.tuples(st.integers(0, 2), st.sampled_from([*DEEDS, "send to 0", "send to 1", "send to 2"]), st.integers(0, 30)),
    min_size=4,
    max_size=14,
)
CLOCKS = st.tuples(*[st.integers(-1500, 1500).map(lambda minutes: timedelta(minutes=minutes))] * 3)
"""Up to a day and an hour off: somebody typed the wrong date."""


@examples(
    20,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
@given(steps=STEPS, clocks=CLOCKS, last=st.permutations([0, 1, 2]))
def test_any_order_of_imports_between_three_books_ends_in_the_same_job(
    steps: list[tuple[int, str, int]], clocks: tuple[timedelta, ...], last: list[int]
) -> None:
    """Statements, mends and withdrawals on all sides, files sent in between and in any order, clocks that differ."""
    with TemporaryDirectory() as folder, vans(Path(folder), "a", "b", "c", clocks=clocks) as three:
        three[0].house.start(STUDIO)
        for van in three[1:]:
            van.take(three[0].send())
        for van, area in zip(three, ("bay 1", "bay 2", "bay 1"), strict=True):  # each has a batch 1 of its own
            van.mix(area)
            van.say("found", area=area, symptom="dull")
        for who, deed, pick in steps:
            _do(three, who, deed, pick)
        first, between, far = last
        for sender, receiver in ((first, between), (between, far), (far, between), (between, first)):
            three[receiver].take(three[sender].send())  # two of them hear of each other by the third alone
        jobs = [spoken(van.house) for van in three]
        assert jobs[0] == jobs[1] == jobs[2]
        assert windows(three[0].house) == windows(three[1].house) == windows(three[2].house)
        assert len({state_of(van.book, JOB) for van in three}) == 1
        assert [verify(van.book) for van in three] == [None] * 3


def _do(three: list[Van], who: int, deed: str, pick: int) -> None:
    from mixclock.outside.profilefiles import ProfileFileError

    if deed.startswith("send to"):
        three[int(deed[-1])].take(three[who].send())
        return
    try:
        DEEDS[deed](three[who], pick)
    except (CannotTellError, ProfileFileError, ZeroDivisionError):
        return  # a van refuses what cannot be; nothing was written


def test_every_number_that_names_an_entry_or_a_batch_is_known_to_the_exchange() -> None:
    """A new kind of entry that names another by its number must follow it into the numbers of another book."""
    counts = {"nth", "repeat", "observations"}
    names = {"entry", "raised", "finding", "batch"}
    for kind, facts in KINDS.items():
        numbers = {name for name, told in get_type_hints(facts).items() if int in (told, *get_args(told))}
        assert numbers <= counts | names, kind


def test_a_finding_that_was_put_right_elsewhere_is_the_same_one_here(three: list[Van]) -> None:
    office, one, two = three
    two.say("noted", text="the numbers of the books differ from here on")
    found = one.say("found", area="bay 1", symptom="dull")
    one.say("fixed", area="bay 1", how="sanded", finding=found.number)
    two.take(one.send())
    (settled,) = [e for e in two.book.entries(JOB) if isinstance(e.facts, Settled)]
    assert isinstance(settled.facts, Settled)
    (known,) = [e for e in two.book.entries(JOB) if e.number == settled.facts.finding]
    assert known.mark == found.mark
    office.take(two.send())
    assert spoken(office.house)["put right"] == spoken(one.house)["put right"] == spoken(two.house)["put right"]


def test_a_sign_counts_once_whatever_its_job_is_called(three: list[Van]) -> None:
    _, one, two = three
    one.mix()
    one.say("saw", batch=1, sign="stringy")
    path = one.send()
    two.take(path)
    for name in ("copy", "second copy"):
        import_job(two.book, path, name)
    from mixclock.outside.profilefiles import find

    seen = two.house.lessons.of(find("Slow epoxy base"))
    assert [each.sign for each in seen] == ["stringy"]
    assert sum(isinstance(e.facts, Saw) for job in (JOB, "copy", "second copy") for e in two.book.entries(job)) == 3


def test_a_sign_that_was_taken_back_counts_in_no_copy_of_its_job(three: list[Van]) -> None:
    _, one, two = three
    one.mix()
    sign = one.say("saw", batch=1, sign="stringy")
    path = one.send()
    for name in (None, "copy", "second copy"):
        import_job(two.book, path, name)
    from mixclock.outside.profilefiles import find

    product = find("Slow epoxy base")
    assert len(two.house.lessons.of(product)) == 1
    one.say("withdraw", entry=sign.number)
    two.take(one.send())  # neither copy hears of it
    assert two.house.lessons.of(product) == two.house.lessons.of(product) == ()
    one.say("withdraw", entry=one.book.entries(JOB)[-1].number)  # it was right after all
    two.take(one.send())
    assert len(two.house.lessons.of(product)) == 1


def test_what_an_older_mixclock_took_over_is_still_read_in_its_order(tmp_path: Path) -> None:
    with vans(tmp_path, "office") as (office,):
        office.house.start(STUDIO)
        office.mix()
        office.say("poured", batch=1)
        whole = office.book.entries(JOB)
        from mixclock.job.wherewritten import Origin

        imported = [replace(each, origin=Origin("unknown", "another book", 0, None)) for each in whole]
        assert [b.emptied for b in fold(JOB, imported).batches] == [b.emptied for b in fold(JOB, whole).batches]
        assert isinstance(Noted("x"), Noted)

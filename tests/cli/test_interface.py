"""The interfaces that other programs rely on: statements, questions, keys of the JSON, exit codes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from mixclock import __version__
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from tests.cli.studio import STUDIO
from tests.running import Ran

Run = Callable[..., Ran]

INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")


def ok(ran: Ran) -> Ran:
    assert ran.code == 0, ran.err
    assert ran.err == ""
    return ran


def wrong(ran: Ran) -> str:
    """A wrong input: code 2, one line on stderr, nothing on stdout."""
    assert ran.code == 2, ran
    assert ran.out == ""
    assert ran.err.count("\n") == 1, ran.err
    assert "Traceback" not in ran.err
    return ran.err.strip()


def entries(home: Path) -> int:
    with Book(home / "book.sqlite3", SystemClock()) as book:
        return sum(line.entries for line in book.all_jobs())


def at_work(studio: Run) -> Run:
    """A batch of base is poured on bay 1, a second one is in the bucket."""
    ok(studio("reading", "--air", "18 °C", "--rh", "60", "--slab", "16 C"))
    ok(studio("mixed", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--ago", "14 min"))
    ok(studio("poured", "--ago", "8 min"))
    ok(studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 2", "--ago", "2 min"))
    return studio


class TestAtTheDoor:
    def test_version_and_help(self, run: Run) -> None:
        assert ok(run("--version")).out.strip() == f"mixclock {__version__}"
        shown = ok(run("--help")).out
        for command in ("mixing", "mixed", "poured", "rolled", "flaked", "did", "began", "reading", "measured"):
            assert f" {command} " in shown
        for command in ("noted", "photo", "traffic", "saw", "found", "heard", "withdraw", "now", "air", "job"):
            assert f" {command} " in shown

    def test_every_command_explains_itself(self, run: Run) -> None:
        from mixclock.cli import COMMANDS, GROUPS

        for command in (*COMMANDS, *GROUPS):
            shown = ok(run(command, "--help")).out
            assert shown.startswith(f"Usage: mixclock {command}"), command

    def test_in_a_terminal_of_80_letters_nothing_that_helps_is_cut(
        self, run: Run, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from mixclock.cli import COMMANDS, GROUPS

        monkeypatch.setenv("COLUMNS", "80")
        jobs = [
            ("job", name)
            for name in ("start", "mend", "list", "use", "finish", "export", "import", "learned", "drop-learned")
        ]
        profiles = [("profile", name) for name in ("check", "list", "show", "write", "drop-learned")]
        for words in ((), *((name,) for name in (*COMMANDS, *GROUPS)), *jobs, *profiles):
            usage, *lines = ok(run(*words, "--help")).out.splitlines()
            assert [line for line in (usage, *lines) if len(line) > 80] == [], words
            assert [line for line in lines if "..." in line or "…" in line] == [], words

    @pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
    def test_shell_completion_can_be_had(self, home: Path, shell: str) -> None:
        from tests.running import Runner

        # typer would look for the shell among the processes above this one, and tests may have none there
        named = {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
        shown = Runner(home, named)("--show-completion", shell)
        assert shown.code == 0
        assert {"bash": "complete -o", "zsh": "#compdef mixclock", "fish": "complete --command"}[shell] in shown.out
        assert "_MIXCLOCK_COMPLETE" in shown.out

    def test_the_shell_is_told_the_commands(self, home: Path) -> None:
        from tests.running import Runner

        asking = {
            "_MIXCLOCK_COMPLETE": "complete_bash",
            "COMP_WORDS": "mixclock po",
            "COMP_CWORD": "1",
        }
        assert Runner(home, asking)().out.split() == ["poured"]

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("paint",), "No such command 'paint'"),
            (("poured", "--frob"), "No such option: --frob"),
            (("saw", "1"), "Missing argument 'SIGN"),
            (("job",), "Missing command"),
            (("watch", "--port", "soon"), "not a valid int"),
        ],
    )
    def test_a_command_that_is_misspelt_is_one_line(self, run: Run, words: tuple[str, ...], said: str) -> None:
        line = wrong(run(*words))
        assert said in line
        assert "--help` shows how" in line

    def test_without_a_job_it_says_how_to_start_one(self, run: Run) -> None:
        for words in (("now",), ("rolled",), ("noted", "door opened"), ("job", "finish")):
            assert wrong(run(*words)) == "no job is under way; start one with `mixclock job start FILE`"


class TestStatements:
    @pytest.mark.parametrize(
        ("words", "kind"),
        [
            (("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1"), "combined"),
            (("mixed", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--on", "bay 2"), "combined"),
            (("mixed", "Polyaspartic top coat", "--on", "bay 1", "--a", "2 L", "--b", "2 L"), "combined"),
            (("mixing", "Slow", "epoxy", "base", "6.5", "kg", "--coat", "base", "--on", "bay 1"), "combined"),
            (("mixed",), "mixing ended"),
            (("mixed", "2"), "mixing ended"),
            (("poured", "2"), "poured"),
            (("poured", "batch", "2", "--on", "bay 2", "--part", "1.5 L", "--covered", "5 m2"), "poured"),
            (("rolled",), "did"),
            (("rolled", "1", "--on", "bay 1"), "did"),
            (("flaked", "--on", "bay 1"), "did"),
            (("did", "scrape", "1"), "did"),
            (("began", "back-roll"), "began"),
            (("reading", "--slab", "15 C", "--on", "bay 1"), "reading"),
            (("reading", "--bucket", "31 C", "--batch", "2"), "reading"),
            (("reading", "--air", "64F"), "reading"),
            (("measured", "wet-film", "12 mil", "--on", "bay 1"), "measured"),
            (("measured", "pH", "7.5"), "measured"),
            (("noted", "heater lit", "--on", "bay 1"), "noted"),
            (("traffic", "bay 1", "foot"), "traffic"),
            (("saw", "1", "tack", "free"), "saw"),
            (("saw", "bay 1", "hard"), "saw"),
            (("saw", "2", "hot"), "saw"),
            (("found", "bay 1", "dull", "--shape", "batch-edge"), "found"),
            (("heard",), "heard"),
            (("withdraw", "2"), "withdrawn"),
            (("job", "finish"), "job finished"),
        ],
    )
    def test_each_statement_is_in_the_book_before_it_answers(
        self, studio: Run, home: Path, words: tuple[str, ...], kind: str
    ) -> None:
        at_work(studio)
        before = entries(home)
        said = ok(studio(*words, "--by", "roller", "--note", "as seen", "--ago", "1 s", "--json")).json
        assert said["kind"] == kind
        assert said["by"] == "roller"
        assert said["note"] == "as seen"
        assert INSTANT.fullmatch(said["happened"])
        assert INSTANT.fullmatch(said["written"])
        assert entries(home) > before
        assert said["entry"] == entries(home)

    @pytest.mark.parametrize(
        ("words", "kept"),
        [
            (("hardness", "80 Shore D"), ("hardness", 80.0)),
            (("hardness", "Shore", "D", "80"), ("hardness", 80.0)),
            (("texture", "CSP3"), ("texture", 3.0)),
            (("csp", "3 CSP"), ("texture", 3.0)),
            (("pH", "pH 7.5"), ("pH", 7.5)),
            (("moisture", "75 % RH"), ("moisture", 75.0)),
            (("moisture", "3,5 % CM"), ("moisture", 3.5)),
        ],
    )
    def test_a_measurement_is_taken_as_the_trade_writes_it(
        self, studio: Run, words: tuple[str, ...], kept: tuple[str, float]
    ) -> None:
        ok(studio("measured", *words, "--on", "bay 1"))
        (told,) = ok(studio("record", "--json")).json["measurements"]
        assert (told["quantity"], told["value"]) == kept

    def test_mixing_answers_with_the_line_for_the_bucket_and_what_comes_next(self, studio: Run) -> None:
        said = ok(studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1")).out
        batch = r"^Batch 1: 4 L of Slow epoxy base for bay 1, coat base, part B in at \d+:\d\d"
        assert re.search(batch, said, re.MULTILINE)
        assert re.search(r"^On the bucket: batch 1 · mixed \d+:\d\d · pour by \d+:\d\d$", said, re.MULTILINE)
        assert re.search(r"^Next: mix until \d+:\d\d$", said, re.MULTILINE)
        assert re.search(r"^Then: pour it all out by \d+:\d\d$", said, re.MULTILINE)
        assert "Caution: " in said

    def test_the_json_of_a_statement_has_its_keys(self, studio: Run) -> None:
        said = ok(studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--json")).json
        assert set(said) == {
            *("entry", "job", "kind", "facts", "happened", "written", "by", "note"),
            *("batch", "said", "bucket", "next", "warnings", "cautions", "learned", "moved", "asks"),
        }
        assert said["batch"] == 1
        assert said["facts"]["volume_l"] == 4.0

    def test_parts_that_miss_the_ratio_are_spoken_of_while_they_can_be_mended(self, studio: Run) -> None:
        said = ok(studio("mixing", "Slow epoxy base", "--coat", "base", "--on", "bay 1", "--a", "5 L", "--b", "2 L"))
        assert "A to B is 2.50 to 1 by volume, the sheet says 2.00 to 1: 25 % too much A" in said.out

    def test_a_hot_bucket_is_answered_with_what_to_do(self, studio: Run) -> None:
        said = ok(at_work(studio)("saw", "2", "hot")).out
        assert "Caution: Still holdable: take it outside" in said
        assert "call the fire service" in said

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("mixing", "Slow epoxy bass", "4 L", "--on", "bay 1"), "did you mean 'Slow epoxy base'?"),
            (("mixing", "Slow epoxy base", "4 L", "--on", "bay 1"), "say --coat base or --coat grout"),
            (("mixing", "primer", "4", "--on", "bay 1"), "AMOUNT: "),
            (("mixing", "primer", "lots", "--on", "bay 1"), "AMOUNT: "),
            (("withdraw", "--by", "roller"), "there is nothing to withdraw that roller stated"),
            (("mixing", "primer", "25 L", "--on", "bay 1"), "do not fit into the pail"),
            (("mixing", "primer", "4 L", "--on", "bay 9"), "no area 'bay 9'"),
            (("mixing", "primer", "4 L", "--on", "bay 1", "--material", "19"), "--material: "),
            (("poured", "7"), "there is no batch 7; there are 1, 2"),
            (("poured", "soon"), "no area 'soon'"),
            (("poured", "--covered", "5 L"), "--covered: "),
            (("poured", "--at", "25:00"), "--at: "),
            (("poured", "--ago", "1:30"), "--ago: "),
            (("poured", "--at", "8:00", "--ago", "5 min"), "give one of them"),
            (("poured", "--ago", "2 h"), "no batch was in a bucket at"),
            (("poured", "--part", "9 L"), "left, not 9 L"),
            (("rolled", "--by", "rolller"), "did you mean 'roller'?"),
            (("did", "dance"), "no step 'dance'"),
            (("reading",), "say at least one of"),
            (("reading", "--rh", "120"), "--rh: "),
            (("measured", "gloss", "80"), "no quantity 'gloss'"),
            (("measured", "hardness", "80 Shore A"), "hardness (Shore D): "),
            (("measured", "texture", "CSP 3-4"), "texture (CSP): '3-4' gives two values"),
            (("photo", "nowhere.jpg"), "No such file"),
            (("traffic", "bay 1", "sledge"), "known are: foot, vehicle"),
            (("saw", "1", "purple"), "no sign 'purple'"),
            (("saw", "bay 7", "hard"), "no area 'bay 7'"),
            (("found", "bay 1", "dull", "--shape", "round"), "shape 'round' is not known"),
            (("heard", "b9.pour-out"), "no alert 'b9.pour-out'"),
            (("withdraw", "99"), "no entry 99"),
            (("withdraw", "abc"), "withdraw: 'abc' is no entry's number; write the number that the statement answered"),
        ],
    )
    def test_a_statement_that_cannot_be_taken_is_one_line_and_changes_nothing(
        self, studio: Run, home: Path, words: tuple[str, ...], said: str
    ) -> None:
        at_work(studio)
        before = entries(home)
        assert said in wrong(studio(*words))
        assert said in wrong(studio(*words, "--json"))
        assert entries(home) == before

    def test_nobody_hears_what_nobody_called_out(self, studio: Run, home: Path) -> None:
        before = entries(home)
        assert "nothing is called out now" in wrong(studio("heard", "--by", "roller"))
        at_work(studio)
        assert "nothing was called out then" in wrong(studio("heard", "--ago", "1 h"))
        assert entries(home) == before + 5

    def test_a_batch_left_out_lists_those_that_can_be_meant(self, studio: Run) -> None:
        at_work(studio)
        ok(studio("mixing", "Slow epoxy base", "3 L", "--coat", "base", "--on", "bay 1"))
        line = wrong(studio("poured"))
        assert re.fullmatch(
            r"2 batches can be meant, say which number: batch 2 \(Slow epoxy base, 4 L, bay 2, mixed \d+:\d\d\); "
            r"batch 3 \(Slow epoxy base, 3 L, bay 1, mixed \d+:\d\d\)",
            line,
        )

    def test_what_was_withdrawn_stays_in_the_log_and_does_not_count(self, studio: Run, home: Path) -> None:
        at_work(studio)
        poured = ok(studio("poured", "2", "--json")).json["entry"]
        asked = wrong(studio("withdraw"))
        assert re.fullmatch(
            rf"the last was entry {poured}, poured batch 2 at \d+:\d\d: `withdraw {poured}` takes it", asked
        )
        said = ok(studio("withdraw", str(poured))).out
        assert said.startswith(f"Entry {poured} does not count any more (Batch 2: poured on bay 2 at ")
        batch = ok(studio("now", "--json")).json["batches"][1]
        assert batch["stage"] == "mixed"
        gone = re.search(r"\(entry (\d+)\)", said)
        assert gone is not None
        back = ok(studio("withdraw", gone[1])).out
        assert back.startswith(f"Entry {poured} counts again (Batch 2: poured on bay 2 at ")
        assert ok(studio("now", "--json")).json["batches"][1]["stage"] == "poured"
        with Book(home / "book.sqlite3", SystemClock()) as book:
            assert poured in [entry.number for entry in book.entries("Pottery studio floor")]


class TestNow:
    def test_its_json_has_the_keys_that_others_rely_on(self, studio: Run) -> None:
        said = ok(at_work(studio)("now", "--json")).json
        assert set(said) == {"at", "job", "conditions", "questions", "batches", "areas", "alerts", "troubles"}
        assert said["job"] == "Pottery studio floor"
        assert INSTANT.fullmatch(said["at"])
        assert said["conditions"]["slab_c"] == 16.0
        assert said["conditions"]["margin_k"] == pytest.approx(5.9, abs=0.1)
        assert [batch["id"] for batch in said["batches"]] == [1, 2]
        for batch in said["batches"]:
            assert set(batch) == {
                *("id", "product", "amount_l", "mass_kg", "areas", "mixed_at", "stage", "windows", "van", "number"),
            }
            assert batch["stage"] in {"mixed", "standing", "poured", "rolled", "flaked", "done"}
            assert batch["windows"]
        assert said["batches"][0]["mass_kg"] == pytest.approx(4.0 * 1.08, abs=0.2)
        assert {"name", "coat", "windows"} == set(said["areas"][0])

    def test_a_slab_read_in_fahrenheit_is_told_without_the_noise_of_the_conversion(self, studio: Run) -> None:
        ok(studio("reading", "--air", "66F", "--rh", "60", "--slab", "61F"))
        told = studio("now", "--json").json["conditions"]
        assert (told["slab_c"], told["air_c"]) == (16.11, 18.89)

    def test_every_window_has_its_keys_and_edges_in_order(self, studio: Run) -> None:
        said = ok(at_work(studio)("now", "--json")).json
        windows = [window for part in (*said["batches"], *said["areas"]) for window in part["windows"]]
        assert {window["name"] for window in windows} >= {"pour-out", "back-roll", "broadcast", "recoat"}
        for window in windows:
            assert set(window) == {
                *("name", "area", "opens", "closes", "state", "ripeness_opens", "ripeness_closes"),
                *("because", "assumed"),
            }
            assert window["state"] in {"waiting", "open", "closing", "closed", "done", "missed"}
            for edge in filter(None, (window["opens"], window["closes"])):
                assert set(edge) == {"early", "likely", "late"}
                times = [time for time in (edge["early"], edge["likely"], edge["late"]) if time is not None]
                assert all(INSTANT.fullmatch(time) for time in times)
                assert times == sorted(times)

    def test_an_alert_that_stands_has_its_keys(self, studio: Run) -> None:
        at_work(studio)
        ok(studio("saw", "2", "hot"))
        alerts = ok(studio("now", "--json")).json["alerts"]
        hot = next(alert for alert in alerts if alert["id"] == "b2.hot")
        assert set(hot) >= {"id", "rank", "stage", "batch", "area", "text", "due", "delivered", "heard_by"}
        assert (hot["rank"], hot["batch"], hot["delivered"], hot["heard_by"]) == ("critical", 2, [], None)
        assert INSTANT.fullmatch(hot["due"])

    def test_nothing_live_is_a_no(self, studio: Run) -> None:
        answer = studio("now")
        assert answer.code == 1
        assert "Nothing is live." in answer.out
        assert studio("now", "--json").code == 1

    def test_the_screen_says_what_runs_and_until_when(self, studio: Run) -> None:
        shown = ok(at_work(studio)("now")).out
        assert re.search(r"Batch 2 · Slow epoxy base · 4 L · bay 2 · mixed (?:yesterday )?\d+:\d\d · mixed", shown)
        assert re.search(r"pour-out +open +by \d+:\d\d · \d+ % used", shown)

    def test_asked_about_the_past_it_answers_from_what_had_happened_by_then(self, studio: Run) -> None:
        mixed_at = datetime.fromisoformat(ok(at_work(studio)("now", "--json")).json["batches"][0]["mixed_at"])
        then = f"{mixed_at + timedelta(minutes=3):%Y-%m-%d %H:%M:%S}Z"
        past = ok(studio("now", "--at", then, "--json")).json
        assert [(batch["id"], batch["stage"]) for batch in past["batches"]] == [(1, "mixed")]
        assert "the book did not know the job by then" in wrong(studio("now", "--at", then, "--known"))

    def test_a_question_about_the_future_or_without_a_time_is_refused(self, studio: Run) -> None:
        for asked in (("now",), ("why",), ("why", "bay 1"), ("record",)):
            assert "still to come" in wrong(studio(*asked, "--at", "2100-01-01 08:00"))
        assert "say which with --at TIME" in wrong(studio("now", "--known"))


class TestAir:
    @pytest.mark.parametrize(
        ("air", "rh", "slab", "verdict", "code"),
        [
            ("20 °C", "50", "16 °C", "go", 0),
            ("20 C", "50 %", "14 C", "caution", 0),
            ("70F", "65", "59F", "no-go", 1),
            ("20 °C", "90 %", "22 °C", "no-go", 1),
        ],
    )
    def test_it_answers_without_a_job(
        self, run: Run, home: Path, air: str, rh: str, slab: str, verdict: str, code: int
    ) -> None:
        answer = run("air", "--air", air, "--rh", rh, "--slab", slab, "--json")
        assert answer.code == code
        assert set(answer.json) == {"dew_point_c", "margin_k", "verdict", "reasons"}
        assert answer.json["verdict"] == verdict
        assert answer.json["reasons"]
        assert list(home.iterdir()) == [], "a question makes no book"
        assert run("air", "--air", air, "--rh", rh, "--slab", slab).out.splitlines()[0] == verdict.upper()

    def test_it_agrees_with_a_printed_example(self, run: Run) -> None:
        # an inspector's example: 16 °C at 71 % gives a dew point of 11 °C; a slab at 13 °C must wait
        answer = run("air", "--air", "16 °C", "--rh", "71", "--slab", "13 °C", "--json")
        assert answer.json["dew_point_c"] == pytest.approx(11.0, abs=0.5)
        assert answer.json["verdict"] == "no-go"

    def test_a_products_own_limits_hold(self, run: Run) -> None:
        warm = run("air", "--air", "30 C", "--rh", "30", "--slab", "34 C", "--product", "slow epoxy base", "--json")
        assert warm.code == 1
        assert any("outside the sheet's" in reason for reason in warm.json["reasons"])

    def test_a_measured_moisture_counts_by_humidity_and_by_weight(self, studio: Run) -> None:
        fine = ("air", "--air", "18 C", "--rh", "50", "--slab", "18 C", "--json")
        assert studio(*fine).json["verdict"] == "go"
        for said in ("85 %", "85 % RH", "3.5 lb", "18 g/m2"):
            wet = studio(*fine, "--moisture", said)
            assert (wet.code, wet.json["verdict"]) == (1, "no-go"), said
            assert wet.json["reasons"][0].startswith("slab moisture"), said
        assert studio(*fine, "--moisture", "2.5 lb").json["verdict"] == "go"
        assert "--moisture" in wrong(studio(*fine[:-1], "--moisture", "damp"))
        studio("measured", "moisture", "3.5 lb")
        assert studio(*fine).json["verdict"] == "no-go", "what was measured on the job counts"

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("--air", "20", "--rh", "50", "--slab", "14 C"), "--air: "),
            (("--air", "20 C", "--rh", "150", "--slab", "14 C"), "--rh: "),
            (("--air", "20 C", "--rh", "50", "--slab", "14 kg"), "--slab: "),
            (("--air", "200 C", "--rh", "50", "--slab", "14 C"), "between -20 and 60"),
            (("--air", "20 C", "--rh", "50", "--slab", "14 C", "--product", "Slow epoxy bass"), "did you mean"),
            (("--air", "20 C", "--slab", "14 C"), "--rh"),
        ],
    )
    def test_a_wrong_value_is_named(self, run: Run, words: tuple[str, ...], said: str) -> None:
        assert said in wrong(run("air", *words))

    def test_without_a_slab_it_is_never_go_and_the_slab_is_asked_for(self, run: Run) -> None:
        told = ok(run("air", "--air", "20 C", "--rh", "50"))
        assert told.out.startswith("CAUTION\n  read the slab in its coldest corner")


class TestJobs:
    def test_start_list_use_finish(self, studio: Run, home: Path) -> None:
        (home / "shed.toml").write_text(STUDIO.replace("Pottery studio floor", "Boat shed"))
        ok(studio("job", "start", str(home / "shed.toml")))
        listed = ok(studio("job", "list", "--json")).json["jobs"]
        assert [(job["name"], job["in_use"]) for job in listed] == [
            ("Pottery studio floor", False),
            ("Boat shed", True),
        ]
        ok(studio("job", "use", "pottery studio floor"))
        assert ok(studio("noted", "door opened", "--json")).json["entry"] == 3
        ok(studio("job", "finish"))
        assert "finished" in ok(studio("job", "list")).out
        assert "is finished already" in wrong(studio("job", "finish"))

    def test_a_job_of_that_name_is_not_started_twice(self, studio: Run, home: Path) -> None:
        assert "is in the book already" in wrong(studio("job", "start", str(home / "studio.toml")))

    def test_all_mistakes_of_a_job_file_are_said_at_once_and_nothing_is_started(self, run: Run, home: Path) -> None:
        bad = STUDIO.replace('"11.5 m2"', '"11.5 kg"').replace('"Europe/Lisbon"', '"Europe/Lisboa"')
        (home / "bad.toml").write_text(bad)
        refused = run("job", "start", str(home / "bad.toml"))
        assert refused.code == 2
        assert len(refused.err.splitlines()) == 2
        assert all(line.startswith(f"{home / 'bad.toml'}: at '") for line in refused.err.splitlines())
        assert ok(run("job", "list", "--json")).json == {"jobs": []}

    def test_a_bay_that_was_mistyped_is_mended_and_everything_goes_by_it(self, studio: Run, home: Path) -> None:
        at_work(studio)
        file = home / "studio.toml"
        file.write_text(STUDIO.replace('"11.5 m2"', '"15 m2"'))
        said = ok(studio("job", "mend", str(file), "--by", "mixer")).out.splitlines()
        assert said[0].startswith("Job 'Pottery studio floor' goes by ")
        assert said[1:] == ["  bay 1: size 15 m² instead of 11.5 m²"]
        told = ok(studio("record", "--json")).json
        assert [area["size_m2"] for area in told["areas"]] == [15.0, 12.0]
        (mended,) = [row for row in told["statements"] if row["kind"] == "job mended"]
        assert mended["what"].endswith("studio.toml: bay 1: size 15 m² instead of 11.5 m²")
        assert mended["by"] == "mixer"
        assert [row["value"] for row in told["job_facts"] if row["what"] == "file mended"] == [mended["at"]]
        last = re.search(r"`withdraw (\d+)`", wrong(studio("withdraw")))
        assert last is not None
        ok(studio("withdraw", last[1]))
        assert ok(studio("record", "--json")).json["areas"][0]["size_m2"] == 11.5

    def test_a_coat_that_is_added_to_the_file_can_be_mixed_from_then_on(self, studio: Run, home: Path) -> None:
        coat = '[[coats]]\nname = "seal"\nproduct = "Acrylic sealer"\nwet_film = "100 um"\nafter = "top"\n'
        (home / "studio.toml").write_text(STUDIO + coat)
        assert "no product 'seal'" in wrong(studio("mixing", "seal", "2 L", "--on", "bay 1"))
        ok(studio("job", "mend", str(home / "studio.toml")))
        assert ok(studio("mixing", "seal", "2 L", "--on", "bay 1", "--json")).json["batch"] == 1

    @pytest.mark.parametrize(
        ("before", "after", "said"),
        [
            ('"bay 1"', '"bay one"', "'bay 1' is gone, but batch 1 is there; put it back as it was"),
            ('"11.5 m2"', '"11.5 kg"', "at 'areas[bay 1].size'"),
            ('"11.5 m2"', '"11.5 m2"', "the job goes by all of this already"),
        ],
    )
    def test_a_file_that_cannot_be_is_one_line_and_changes_nothing(
        self, studio: Run, home: Path, before: str, after: str, said: str
    ) -> None:
        at_work(studio)
        known = entries(home)
        (home / "studio.toml").write_text(STUDIO.replace(before, after))
        assert said in wrong(studio("job", "mend", str(home / "studio.toml")))
        assert entries(home) == known

    def test_a_product_without_a_profile_is_spoken_of_when_the_job_starts(self, run: Run, home: Path) -> None:
        (home / "job.toml").write_text(STUDIO.replace('"Polyaspartic top coat"', '"Unheard of coat"'))
        started = run("job", "start", str(home / "job.toml"))
        assert started.code == 0
        assert "Look out: no product is named 'Unheard of coat'" in started.out

    def test_a_job_travels_as_one_file(self, studio: Run, tmp_path: Path, run_as: Run) -> None:
        at_work(studio)
        ok(studio("job", "export", str(tmp_path / "studio.mixclock")))
        before = ok(studio("now", "--json")).json
        from tests.running import Runner

        office = tmp_path / "office"
        office.mkdir()
        elsewhere = partial(run_as, Runner(office))
        ok(elsewhere("job", "import", str(tmp_path / "studio.mixclock")))
        ok(elsewhere("job", "use", "Pottery studio floor"))
        after = ok(elsewhere("now", "--json")).json
        for batch_before, batch_after in zip(before["batches"], after["batches"], strict=True):
            edges = [
                [(window["name"], window["opens"], window["closes"]) for window in batch["windows"]]
                for batch in (batch_before, batch_after)
            ]
            assert edges[0] == edges[1]
        again = ok(elsewhere("job", "import", str(tmp_path / "studio.mixclock"))).out
        assert "nothing new" in again, "the same file twice doubles nothing"
        batches = ok(elsewhere("now", "--json")).json["batches"]
        assert [batch["mixed_at"] for batch in batches] == [batch["mixed_at"] for batch in after["batches"]]

    def test_a_file_that_is_not_there_is_one_line(self, run: Run, tmp_path: Path) -> None:
        assert "No such file" in wrong(run("job", "start", str(tmp_path / "nowhere.toml")))
        assert "No such file" in wrong(run("job", "import", str(tmp_path / "nowhere.mixclock")))
        assert "no job 'Barn' in the book" in wrong(run("job", "use", "Barn"))


class TestPhotos:
    def test_a_photo_is_kept_small_under_its_originals_hash(self, studio: Run, home: Path, tmp_path: Path) -> None:
        image = pytest.importorskip("PIL.Image", reason="Pillow is not installed: pip install 'mixclock[photos]'")
        image.new("RGB", (3000, 2000), "grey").save(tmp_path / "bay.jpg")
        from hashlib import sha256

        said = ok(studio("photo", str(tmp_path / "bay.jpg"), "--on", "bay 1", "--json")).json
        original = sha256((tmp_path / "bay.jpg").read_bytes()).hexdigest()
        assert said["facts"] == {"name": "bay.jpg", "sha256": original, "area": "bay 1"}
        with Book(home / "book.sqlite3", SystemClock()) as book:
            picture = book.drawers.picture(original)
        assert picture is not None
        assert picture.whole
        assert len(picture.small) < (tmp_path / "bay.jpg").stat().st_size

    def test_what_is_no_picture_is_refused(self, studio: Run, tmp_path: Path) -> None:
        (tmp_path / "bay.jpg").write_text("a shopping list")
        assert "is no JPEG, PNG or HEIC" in wrong(studio("photo", str(tmp_path / "bay.jpg"), "--on", "bay 1"))


def test_the_profile_as_it_stood_when_a_batch_first_used_it_stays(studio: Run, home: Path) -> None:
    (home / "profiles").mkdir()
    own = Path(__file__).parents[2] / "profiles" / "slow-epoxy-base.toml"
    text = own.read_text() if own.exists() else _profile_text("Slow epoxy base")
    (home / "profiles" / "mine.toml").write_text(text)
    at_work(studio)
    before = json.dumps(ok(studio("now", "--json")).json["batches"][0]["windows"][0]["closes"])
    (home / "profiles" / "mine.toml").write_text(re.sub(r'"(\d+) min"', '"2 min"', text))
    after = json.dumps(ok(studio("now", "--json")).json["batches"][0]["windows"][0]["closes"])
    assert after == before


def _profile_text(name: str) -> str:
    from mixclock.outside.profilefiles import find

    return find(name).text

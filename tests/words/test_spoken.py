"""What is said by ear is short enough to be taken in over a grinder: measured with a real voice."""

from __future__ import annotations

import subprocess
import wave
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from mixclock.decide.shapes import Alert, JointBatch
from mixclock.job.profile import Family
from mixclock.job.steps import STEPS, Stage
from mixclock.outside.channels.speech_text import speakable
from mixclock.outside.channels.voice import speech_span_s, voice_here
from mixclock.words.alerting import Wording, alert_words, together
from mixclock.words.cautions import Moment, cautions_for
from mixclock.words.spoken import EAR_CAUTIONS, ear_caution, spoken_s
from mixclock.words.stepwords import STEP_WORDS, Occasion
from tests.decide.worlds import instant
from tests.realparts.parts import missing
from tests.words.test_stepwords import DETAILS, REACHED, a_job

PLACES = ("bay 12", "the left bay beside the door of the office and the stairs")
MOST_S = 5.0


def calls() -> Iterator[Wording]:
    """Every step at every stage, for a short place and a very long one."""
    standing, blank = a_job()
    for step, stage in REACHED:
        for place in PLACES:
            alert = replace(blank, step=step, stage=stage, area=place, who="applicator", detail=DETAILS.get(step))
            yield alert_words(alert, standing, instant(15))
    for stage in STEP_WORDS["wet-edge"].cases[Occasion.BATCH_COMES]:
        alert = replace(blank, step="wet-edge", stage=stage, who="applicator", detail=JointBatch(17))
        yield alert_words(alert, standing, instant(15))


def test_every_call_has_at_most_twelve_words_and_so_has_its_caution() -> None:
    said = list(calls())
    assert len(said) > 2 * len(STEPS)
    for each in said:
        assert len(each.call.split()) <= 12, each.call
        assert len(each.caution.split()) <= 12, each.caution
        assert each.trouble is None


def test_a_call_names_the_batch_or_the_place_and_what_to_do() -> None:
    said = list(calls())
    assert said
    for each in said:
        assert any(name in each.call.casefold() for name in ("batch ", "bay")), each.call
        assert each.do.split()[0].casefold() in each.call.casefold()


@pytest.fixture(scope="module")
def lasts(tmp_path_factory: pytest.TempPathFactory) -> object:
    """How long the machine's own voice takes for a text."""
    if absent := missing("espeak-ng"):
        pytest.skip(absent)
    folder, voice = tmp_path_factory.mktemp("voice"), voice_here()
    assert voice is not None

    def measured(text: str) -> float:
        said, wav = folder / "said.txt", folder / "said.wav"
        said.write_text(speakable(text), encoding="utf-8")
        subprocess.run(voice.command(said, wav), check=True)
        with wave.open(str(wav)) as file:
            whole_s: float = file.getnframes() / file.getframerate()
        assert speech_span_s(Path(wav)) is not None
        return whole_s

    return measured


def test_no_call_and_no_caution_lasts_longer_than_five_seconds(lasts: object) -> None:
    texts = {text for each in calls() for text in (each.call, each.caution) if text}
    spans = {text: lasts(text) for text in texts}  # type: ignore[operator]
    assert {text: span for text, span in spans.items() if span > MOST_S} == {}
    assert min(spans.values()) > 0.8
    assert all(abs(spoken_s(text) - span) < 1.2 for text, span in spans.items())


def test_of_several_the_one_that_can_be_saved_is_said_and_the_others_are_counted() -> None:
    standing, blank = a_job()
    late = alert_words(replace(blank, step="pour-out", stage=Stage.LATE), standing, instant(15))
    lost = alert_words(replace(blank, step="pour-out", stage=Stage.LOST), standing, instant(15))
    assert together((late, lost, lost, lost)).speech == f"{late.call} And 3 more on the board."


@pytest.mark.parametrize("moment", list(EAR_CAUTIONS))
@pytest.mark.parametrize("family", list(Family))
def test_a_caution_is_said_by_ear_where_one_stands_on_the_screen(family: Family, moment: Moment) -> None:
    if not cautions_for(family, moment):
        assert not ear_caution(family, moment)
    else:
        assert ear_caution(family, moment)


def test_a_batch_number_is_never_left_out_where_there_is_one() -> None:
    standing, blank = a_job()
    alert: Alert = replace(blank, step="back-roll", stage=Stage.NOW, area="x " * 40, who="y" * 90)
    assert "batch 1" in alert_words(alert, standing, instant(15)).call.casefold()

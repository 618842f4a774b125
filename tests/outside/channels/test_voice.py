"""What is spoken, captured from the sound device behind a real voice and a real player."""

import re
import subprocess
import time
import wave
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mixclock.outside.channels.message import Message, Outcome
from mixclock.outside.channels.sound import SoundChannel
from mixclock.outside.channels.soundqueue import SoundQueue
from mixclock.outside.channels.tones import PATTERNS
from mixclock.outside.channels.voice import (
    _POWERSHELL,
    Voice,
    VoiceChannel,
    in_powershell_quotes,
    speech_span_s,
    spoken_words,
)
from tests.realparts.alsa import FRAMES_PER_S, Clip, Loudspeaker
from tests.realparts.hearing import band_share, likeness, loudness
from tests.realparts.parts import missing

Writer = Callable[..., Message]


@pytest.fixture
def sound_queue() -> SoundQueue:
    """The loudspeaker of the machine, where there is a voice to use it."""
    if absent := missing("espeak-ng"):
        pytest.skip(absent)
    return SoundQueue()


def spoken_apart(text: str, folder: Path) -> Clip:
    """The same voice saying a text, without anything of ours between: what should be heard, at the device's rate."""
    wav = folder / "apart.wav"
    subprocess.run(["espeak-ng", "-v", "en-gb", "-s", "175", "-a", "180", "-w", wav, text], check=True)
    with wave.open(str(wav)) as file:
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768
        rate = file.getframerate()
    at_s = np.arange(round(len(samples) / rate * FRAMES_PER_S)) / FRAMES_PER_S
    return Clip(np.interp(at_s, np.arange(len(samples)) / rate, samples), 0, 0)


def test_the_alert_is_heard_as_speech_of_a_plausible_length(
    sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer
) -> None:
    receipt = VoiceChannel(sound_queue).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, True)
    assert "espeak-ng" in receipt.detail
    assert "aplay ended with exit code 0" in receipt.detail
    (clip,) = speaker.clips()
    words = len(message().speech.split())
    assert words / 4.0 < clip.span_s < words / 1.5  # people understand 1.5 to 4 words a second
    assert clip.rms > 0.05
    assert band_share(clip, 100, 4000) > 0.8
    level = loudness(clip)
    assert 0.02 < np.mean(level < 0.1 * level.max()) < 0.7  # syllables and pauses, not a tone


def test_what_is_heard_are_the_words_of_the_alert_and_no_others(
    sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer, tmp_path: Path
) -> None:
    VoiceChannel(sound_queue).send(message(speech="Batch 3, bay 2: pour it out by 10:05. Slab 21 °C."))
    (heard,) = speaker.clips()
    said = "Batch 3, bay 2: pour it out by 10 oh 5. Slab 21 degrees."
    assert likeness(heard, spoken_apart(said, tmp_path)) > 0.95
    for other in (
        "Batch 4, bay 2: pour it out by 10 oh 5. Slab 21 degrees.",
        "Batch 3, bay 2: pour it out by 10 42. Slab 21 degrees.",
        "Recoat has opened in bay 2.",
    ):
        assert likeness(heard, spoken_apart(other, tmp_path)) < 0.9


def test_longer_words_take_longer(sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer) -> None:
    for speech in ("Pour it out.", "Pour it out now, all of it, and spread it thin. " * 2):
        VoiceChannel(sound_queue).send(message(speech=speech))
    short, long = speaker.clips()
    assert long.span_s > 3 * short.span_s


def test_what_comes_late_says_so_first(message: Writer) -> None:
    assert spoken_words(message(late_s=130.0, speech="Pour it out.")) == "2 minutes late. Pour it out."
    assert spoken_words(message(late_s=1.5, speech="Pour it out.")) == "Pour it out."


def test_two_voices_never_overlap_on_a_loudspeaker_that_takes_its_time(
    sound_queue: SoundQueue, speaker_at: Callable[[float], Loudspeaker], message: Writer
) -> None:
    speaker = speaker_at(3.0)
    voice, sound = VoiceChannel(sound_queue), SoundChannel(sound_queue)
    alerts = [message(alert_id=f"batch {number}", speech=f"Batch {number}, out.") for number in (1, 2, 3)]
    with ThreadPoolExecutor(6) as pool:
        asked = [pool.submit(channel.send, alert) for alert in alerts for channel in (sound, voice)]
    assert all(receipt.result().outcome is Outcome.SENT for receipt in asked)
    clips = sorted(speaker.clips(), key=lambda clip: clip.began_s)
    assert len(clips) == 4  # one pattern for the three, and three voices
    assert all(later.began_s >= earlier.ended_s for earlier, later in pairwise(clips))
    assert all(clip.ended_s - clip.began_s == pytest.approx(clip.span_s / 3, abs=0.3) for clip in clips)


def test_a_critical_alert_is_heard_within_two_seconds_although_somebody_is_talking(
    sound_queue: SoundQueue, speaker_at: Callable[[float], Loudspeaker], message: Writer
) -> None:
    speaker = speaker_at(1.0)
    voice, sound = VoiceChannel(sound_queue), SoundChannel(sound_queue)
    with ThreadPoolExecutor(2) as pool:
        talk = pool.submit(voice.send, message(rank="timely", alert_id="scrape", speech="Scrape the sides. " * 10))
        while not speaker.clips():
            time.sleep(0.05)  # noqa: TID251 — until it talks
        asked_s = time.monotonic()  # noqa: TID251 — the loudspeaker's clock
        assert sound.send(message()).outcome is Outcome.SENT
        assert talk.result().outcome is Outcome.RETRY
    talked, critical = sorted(speaker.clips(), key=lambda clip: clip.began_s)
    assert critical.began_s - asked_s < 1.0
    assert talked.ended_s <= critical.began_s
    assert critical.span_s >= PATTERNS["critical"].span_s - 0.01


@pytest.mark.parametrize(
    "speech", ["-w /tmp/x --stdin", "[[f'u:]]", "<speak>bay</speak>", "\x00\ud800 bay 2", "é漢字 bay"]
)
def test_words_are_never_taken_for_options_or_commands(
    sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer, speech: str
) -> None:
    assert VoiceChannel(sound_queue).send(message(speech=speech)).outcome is Outcome.SENT
    assert speaker.clips()[0].rms > 0.01


def test_a_name_of_endless_length_does_not_talk_into_the_next_repeat(
    sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer
) -> None:
    VoiceChannel(sound_queue).send(message(speech="Batch 3, bay 2, pour it out. " * 100))
    assert 10 < speaker.clips()[0].span_s < 40


def test_without_a_sound_card_it_is_not_called_spoken(
    sound_queue: SoundQueue, speaker: Loudspeaker, message: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """espeak-ng by itself would end with 0 here."""
    no_card = tmp_path / "no-card.conf"
    no_card.write_text("pcm.!default { type hw card 9 }\n")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(no_card))
    receipt = VoiceChannel(sound_queue).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "aplay ended with exit code 1" in receipt.detail


def test_without_a_voice_it_gives_up_and_says_what_to_install(empty_path: None, message: Writer) -> None:
    receipt = VoiceChannel(SoundQueue()).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)
    assert "install espeak-ng" in receipt.detail


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("exit 2", "ended with exit code 2"),
        ("exit 0", "wrote a file without speech"),
        ("touch $1", "wrote a file without speech"),
        ("head -c 4000 /dev/zero >$1", "wrote a file without speech"),
    ],
)
def test_a_voice_that_writes_nothing_is_not_called_spoken(
    program: Callable[[str, str], Path], message: Writer, script: str, words: str
) -> None:
    voice = Voice("mute", (str(program("mute", script)), "{wav}"))
    receipt = VoiceChannel(SoundQueue(), voice=lambda: voice).send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert words in receipt.detail


def test_a_spoken_file_that_holds_only_silence_counts_as_nothing(tmp_path: Path) -> None:
    for name, level in (("silent.wav", 0), ("spoken.wav", 20_000)):
        with wave.open(str(tmp_path / name), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(22_050)
            file.writeframes(np.full(22_050, level, "<i2").tobytes())
    assert speech_span_s(tmp_path / "silent.wav") is None
    assert speech_span_s(tmp_path / "spoken.wav") == pytest.approx(1.0)


def test_stating_the_step_stops_the_voice_in_the_middle_of_a_word(
    sound_queue: SoundQueue, speaker_at: Callable[[float], Loudspeaker], message: Writer
) -> None:
    speaker = speaker_at(1.0)
    voice = VoiceChannel(sound_queue)
    with ThreadPoolExecutor(1) as pool:
        talk = pool.submit(voice.send, message(speech="Pour it out now. " * 10))
        while not speaker.clips() or speaker.clips()[0].span_s < 0.5:
            time.sleep(0.05)  # noqa: TID251 — until it talks
        assert voice.withdraw("batch 3 pour-out").detail == "stopped 1 sound(s)"
        assert talk.result(timeout=2).outcome is Outcome.GIVE_UP
    assert speaker.clips()[0].span_s < 3


def test_an_alert_without_words_is_not_called_spoken(sound_queue: SoundQueue, message: Writer) -> None:
    receipt = VoiceChannel(sound_queue).send(message(speech=" ", title=" "))
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)


def test_the_probe_speaks(sound_queue: SoundQueue, speaker: Loudspeaker) -> None:
    assert VoiceChannel(sound_queue).probe().outcome is Outcome.SENT
    assert speaker.clips()[0].rms > 0.05


@pytest.mark.parametrize("folder", ["O'Brien", "l’atelier", "it's $(calc) `x`", "plain"])
def test_a_home_with_a_quote_in_its_name_does_not_break_the_windows_voice(folder: str) -> None:
    """Read by the grammar that editors use for PowerShell."""
    import tree_sitter
    import tree_sitter_powershell

    shell = Voice("the Windows voice", ("powershell", "-Command", _POWERSHELL), in_powershell_quotes)
    script = shell.command(Path(f"C:/Users/{folder}/words.txt"), Path(f"C:/Users/{folder}/words.wav"))[-1]
    tree = tree_sitter.Parser(tree_sitter.Language(tree_sitter_powershell.language())).parse(script.encode())
    assert not tree.root_node.has_error
    literals = _powershell_literals(tree.root_node)
    assert [re.sub("(['‘’‚‛])\\1", r"\1", text) for text in literals if "Users" in text] == [
        f"'C:/Users/{folder}/words.wav'",
        f"'C:/Users/{folder}/words.txt'",
    ]


def _powershell_literals(node: Any) -> list[str]:
    here = [node.text.decode()] if node.type == "verbatim_string_characters" else []
    return here + [text for child in node.children for text in _powershell_literals(child)]

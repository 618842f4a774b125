"""Speaks an alert's words: the system's voice writes them to a file, and a checked player plays it."""

import re
import shutil
import sys
import tempfile
from array import array
from collections.abc import Callable
from pathlib import Path

from mixclock.outside.channels.message import LATE_WORTH_SAYING_S, Message, Outcome, Rank, Receipt, span_words
from mixclock.outside.channels.running import run
from mixclock.outside.channels.soundqueue import SoundPiece, SoundQueue
from mixclock.outside.channels.speech_text import speakable
from mixclock.outside.channels.text import clipped
from mixclock.values import dataclass

WRITE_S = 8.0
"""espeak-ng writes 5 s of speech in 35 ms; the Windows voice takes seconds to start."""
LONGEST_UNITS = 400
"""About 25 s of speech: more would still be talking when the next repeat is due."""
FAINTEST = 1000
"""A spoken file whose loudest sample of 32,767 stays below this holds no speech (judgement)."""

INSTALL = "no voice found: install espeak-ng"

# The text goes in as a file, never as an argument, so that no word is taken for an option or for code.
_POWERSHELL = (
    "$ErrorActionPreference='Stop'; Add-Type -AssemblyName System.Speech; "
    "$voice = New-Object System.Speech.Synthesis.SpeechSynthesizer; $voice.SetOutputToWaveFile('{wav}'); "
    "$voice.Speak([IO.File]::ReadAllText('{text}', [Text.Encoding]::UTF8)); $voice.Dispose()"
)


@dataclass(frozen=True)
class Voice:
    """A program that writes speech to a file. `argv` may hold {text} and {wav}, the two files' names."""

    name: str
    argv: tuple[str, ...]
    quoted: Callable[[str], str] = str
    """How a file's name is written where the command puts it: as it is, or within a script's quotes."""

    def command(self, text: Path, wav: Path) -> list[str]:
        """The command that speaks the file `text` into the file `wav`."""
        names = {"{text}": self.quoted(str(text)), "{wav}": self.quoted(str(wav))}
        return [re.sub(r"\{text\}|\{wav\}", lambda found: names[found[0]], part) for part in self.argv]


def in_powershell_quotes(text: str) -> str:
    """The text for between single quotes in PowerShell, which takes curly quotes for quotes too.

    >>> in_powershell_quotes("C:/Users/O'Brien/words.txt")
    "C:/Users/O''Brien/words.txt"
    """
    return re.sub("(['\u2018\u2019\u201a\u201b])", r"\1\1", text)


def voice_here() -> Voice | None:
    """The voice of this machine."""
    if sys.platform == "win32":
        shell = shutil.which("powershell") or shutil.which("pwsh")
        speak = (shell or "", "-NoProfile", "-Command", _POWERSHELL)
        return Voice("the Windows voice", speak, in_powershell_quotes) if shell else None
    if sys.platform == "darwin" and (say := shutil.which("say")):
        return Voice("say", (say, "-o", "{wav}", "--data-format=LEI16@22050", "-f", "{text}"))
    espeak = shutil.which("espeak-ng")
    if espeak is None:
        return None
    # louder than its default of 100, for a fan; slowed-down speech is understood worse in noise (Interspeech 2018)
    loud_at_a_usual_rate = ("-v", "en-gb", "-s", "175", "-a", "180")
    return Voice("espeak-ng", (espeak, *loud_at_a_usual_rate, "-b", "1", "-w", "{wav}", "-f", "{text}"))


class VoiceChannel:
    """Speaks an alert. `sound_queue` is shared with the sound channel, so that one thing is heard at a time."""

    name = "voice"
    limit_s = 75.0

    def __init__(
        self,
        sound_queue: SoundQueue,
        ranks: frozenset[Rank] = frozenset({"critical", "timely"}),
        voice: Callable[[], Voice | None] = voice_here,
    ) -> None:
        self.ranks = ranks
        self._sound_queue = sound_queue
        self._voice = voice

    def send(self, message: Message) -> Receipt:
        """Speak the message's words once, when it is their turn."""
        voice, words = self._voice(), spoken_words(message)
        if voice is None:
            return Receipt(self.name, Outcome.GIVE_UP, INSTALL, False)
        if not words:
            return Receipt(self.name, Outcome.GIVE_UP, "there were no words to say", False)
        with tempfile.TemporaryDirectory(prefix="mixclock-voice-") as folder:
            return self._speak(voice, words, message, Path(folder))

    def withdraw(self, alert_id: str) -> Receipt:
        """Stop talking about this alert."""
        stopped = self._sound_queue.hush(alert_id)
        return Receipt(self.name, Outcome.SENT, f"stopped {stopped} sound(s)" if stopped else "nothing was said", None)

    def probe(self) -> Receipt:
        """Say one sentence."""
        return self.send(Message("probe", "timely", "", "", "This is the voice that calls out your deadlines."))

    def _speak(self, voice: Voice, words: str, message: Message, folder: Path) -> Receipt:
        text, wav = folder / "words.txt", folder / "words.wav"
        text.write_text(words, encoding="utf-8")
        written = run(voice.command(text, wav), WRITE_S)
        span_s = speech_span_s(wav) if written.well else None
        if span_s is None:
            detail = f"{written} and wrote a file without speech" if written.well else str(written)
            return Receipt(self.name, Outcome.RETRY, detail, False)
        said = self._sound_queue.say(SoundPiece(message.alert_id, message.rank, "speech", wav, span_s))
        return Receipt(self.name, said.outcome, f"{voice.name}, {span_s:.1f} s of speech: {said.detail}", said.heard)


def spoken_words(message: Message) -> str:
    """What to say for a message: its speech, else its title. A late one says so first."""
    words = speakable(clipped(message.speech.strip() or message.title, LONGEST_UNITS))
    if words and message.late_s is not None and message.late_s >= LATE_WORTH_SAYING_S:
        return f"{speakable(span_words(message.late_s))} late. {words}"
    return words


def speech_span_s(wav: Path) -> float | None:
    """How long a spoken file plays; None where it is unreadable or silent."""
    import wave

    try:
        with wave.open(str(wav)) as file:
            frames = array("h", file.readframes(file.getnframes()))
            span_s: float = len(frames) / file.getnchannels() / file.getframerate()
    except (OSError, EOFError, ValueError, wave.Error):
        return None
    if not frames or max(max(frames), -min(frames)) < FAINTEST:
        return None
    return span_s

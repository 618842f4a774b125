"""Trade facts to tick: one question each, with answers that mean exactly one thing.

People state a tick with `noted`, as "heater: fuel". Only the whole text counts, never a word in a sentence. Mixclock
quotes free words for a reader, and they decide nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from mixclock.values import dataclass

AT_ANY_TIME = timedelta(days=3650)


@dataclass(frozen=True)
class Tick:
    """One fact: its name, its answers, and in which words to ask for it.

    It counts from `before` the first pour until `after` the film was tack free. `about` is a regular expression for
    free text that a reader may want to see beside it; such text never counts. A tick without answers takes any words
    after its name and a colon, as in its `example`.
    """

    fact: str
    answers: tuple[str, ...]
    ask: str
    find_out: str = "ask the crew"
    before: timedelta = timedelta(hours=3)
    after: timedelta = timedelta()
    about: str = ""
    example: str = ""

    def answered(self, text: str) -> str | None:
        """The answer that a text gives, if it is this tick and nothing else.

        >>> heater = Tick("heater", ("fuel", "electric", "none"), "which heater was lit")
        >>> heater.answered("Heater: fuel."), heater.answered("fuel heater"), heater.answered("the heater ran on fuel")
        ('fuel', 'fuel', None)
        """
        if not self.answers:
            return text.partition(":")[2].strip() or None if self.begun(text) else None
        said = _words(text)
        for answer in self.answers:
            if said in (_words(f"{self.fact} {answer}"), _words(f"{answer} {self.fact}")):
                return answer
        return None

    def begun(self, text: str) -> bool:
        """Whether a text begins like this tick. "heater: feul" does, but it matches no answer."""
        head, colon, _ = text.partition(":")
        return bool(colon) and _words(head) == _words(self.fact)

    @property
    def choices(self) -> tuple[str, ...]:
        """The texts that people may type for it.

        >>> Tick("stirred", ("yes", "no"), "whether the pail was stirred").choices
        ('stirred: yes', 'stirred: no')
        """
        return tuple(f"{self.fact}: {answer}" for answer in self.answers) or (self.example,)


def _words(text: str) -> tuple[str, ...]:
    return tuple("".join(letter if letter.isalnum() else " " for letter in text.casefold()).split())


def tick_of(text: str, ticks: Iterable[Tick]) -> tuple[Tick, str] | None:
    """The tick that a text is, with its answer."""
    for tick in ticks:
        answer = tick.answered(text)
        if answer is not None:
            return tick, answer
    return None

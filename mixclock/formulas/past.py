"""What is still known of readings that are no longer at hand: the answers that clocks were given of them, noted by key.

A floor that is read every minute for months has a hundred thousand readings, and an answer of now rests on a few: those
since the last look, and what every clock had gained before. So a history may begin late and carry its `Past`. Whoever
asks of a time before its first value is given what was noted. What nobody noted is refused, and the whole history is
then read again: nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")


class ForgottenError(BaseException):
    """Something is asked of readings that are not at hand, and nobody noted it: the whole log has to be read.

    No failure of the answer but the call for another way to it: who goes on past what is odd must not pass over it.
    """


class Notes:
    """Answers about readings that are not at hand, by key: floats and pairs of them.

    >>> Notes({"slab/@0.0": 21.5}).told("slab/@0.0", lambda: 0.0)
    21.5
    """

    def __init__(self, answers: dict[str, Any] | None = None) -> None:
        self.answers: dict[str, Any] = dict(answers or {})
        self.asked: dict[str, Any] = {}
        """The answers that were given: what the next notes have to hold."""
        self._wholes: dict[str, Any] = {}

    def told(self, key: str, work: Callable[[], Any]) -> Any:
        """What was noted, else what `work` finds out; it raises `ForgottenError` where nothing whole is at hand."""
        if key not in self.asked:
            self.asked[key] = self.answers[key] if key in self.answers else work()
        return self.asked[key]

    def whole(self, label: str, make: Callable[[], T]) -> T:
        """The whole of what a label stands for, made once: what a clock adds up along it is kept with it."""
        if label not in self._wholes:
            self._wholes[label] = make()
        found: T = self._wholes[label]
        return found

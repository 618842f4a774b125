"""Makes messages of the alerts that one tick raises: those that fall together become one, the critical first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property

from mixclock.decide.alerting import Raise
from mixclock.decide.shapes import Alert, Detail, EarlierStep, Rank, Stage
from mixclock.job.entry import Raised
from mixclock.job.progress import Standing
from mixclock.job.steps import row_of
from mixclock.outside.channels.message import Message
from mixclock.values import dataclass, replace
from mixclock.words.alerting import LONGEST_SHOWN, Wording, alert_words, together, with_passed

ANOTHER_WATCH = "Another watch may be running here: this may come twice."
READ_AT_MOST = 12
"""A notification shows no more sentences than this, whatever it tells (its text is cut off at 800 signs)."""

INTERRUPTED = "Said again after an interruption, perhaps for the second time."


@dataclass(frozen=True)
class Sentence:
    """The alerts that one sentence tells: the same step at the same stage, perhaps on several areas."""

    raises: tuple[Raise, ...]
    said: Wording


@dataclass(frozen=True)
class Bulletin:
    """One message with the alerts that it tells, the most urgent first."""

    job: str
    sentences: tuple[Sentence, ...]
    message: Message

    @cached_property
    def raises(self) -> tuple[Raise, ...]:
        """Every alert that it tells."""
        return tuple(one for sentence in self.sentences for one in sentence.raises)

    @cached_property
    def alerts(self) -> frozenset[str]:
        """The names of those alerts."""
        return frozenset(one.alert.id for one in self.raises)

    @cached_property
    def stages(self) -> frozenset[tuple[str, Stage]]:
        """The same with their stages."""
        return frozenset((one.alert.id, one.alert.stage) for one in self.raises)


def bulletins_of(
    standing: Standing, wanted: Sequence[Raise], now: datetime, prefix: str = "", is_alone: bool = True
) -> list[Bulletin]:
    """The messages for what is raised now. Notices get messages of their own: they are shown, never called out.

    Where another watch may be at work, each message says that it may come twice.
    """
    bulletins = []
    for is_notice in (False, True):
        group = [one for one in wanted if (one.alert.rank is Rank.NOTICE) is is_notice]
        bulletins += [
            bulletin_of(standing, part, prefix) for part in _chunks(_sentences(standing, group, now), is_notice)
        ]
    return bulletins if is_alone else [_perhaps_twice(bulletin) for bulletin in bulletins]


def _perhaps_twice(bulletin: Bulletin) -> Bulletin:
    message = bulletin.message
    return replace(bulletin, message=replace(message, body=f"{message.body} {ANOTHER_WATCH}"))


def bulletin_of(standing: Standing, sentences: Sequence[Sentence], prefix: str = "") -> Bulletin:
    """One message from sentences, the most urgent first."""
    raises = [one for sentence in sentences for one in sentence.raises]
    said = together([sentence.said for sentence in sentences])
    late = [one.late_s for one in raises if one.late_s is not None]
    interrupted = any(one.again_after_crash for one in raises)
    message = Message(
        alert_id=prefix + "+".join(one.alert.id for one in raises),
        rank=raises[0].alert.rank.value,
        title=said.title,
        body=f"{said.body} {INTERRUPTED}" if interrupted else said.body,
        speech=said.speech,
        repeat=raises[0].repeat,
        late_s=max(late, default=None),
        louder=any(one.alert.stage in (Stage.LATE, Stage.LOST) for one in raises),
        kind=row_of(raises[0].alert.step).about,
        job=standing.job,
    )
    return Bulletin(standing.job, tuple(sentences), message)


def reworded(standing: Standing, bulletin: Bulletin, still: Iterable[Alert], now: datetime) -> Bulletin | None:
    """The message anew, in words that fit now, with the alerts that still stand; None where none stands."""
    by_id = {alert.id: alert for alert in still}
    left = [
        Raise(by_id[one.alert.id], one.repeat, one.late_s, one.again_after_crash)
        for one in bulletin.raises
        if one.alert.id in by_id and by_id[one.alert.id].stage is one.alert.stage
    ]
    known = {_names(sentence.raises): sentence.said for sentence in bulletin.sentences}
    return bulletin_of(standing, _sentences(standing, left, now, known)) if left else None


def intents_of(bulletin: Bulletin) -> list[Raised]:
    """What the log is told before anything is sent, one entry for each alert."""
    everyone = [one.alert.id for one in bulletin.raises]
    return [
        _intent(one, sentence.said.body, tuple(other for other in everyone if other != one.alert.id))
        for sentence in bulletin.sentences
        for one in sentence.raises
    ]


def _intent(raised: Raise, text: str, others: tuple[str, ...]) -> Raised:
    alert = raised.alert
    return Raised(
        alert=alert.id,
        stage=alert.stage.value,
        rank=alert.rank.value,
        text=text,
        due=alert.due.isoformat(),
        batch=alert.batch,
        area=alert.area,
        who=alert.who,
        repeat=raised.repeat,
        late_s=raised.late_s,
        together_with=others,
        again_after_crash=raised.again_after_crash,
    )


def _names(raises: Iterable[Raise]) -> tuple[str, ...]:
    return tuple(one.alert.id for one in raises)


def _sentences(
    standing: Standing, wanted: Iterable[Raise], now: datetime, known: Mapping[tuple[str, ...], Wording] | None = None
) -> list[Sentence]:
    """One sentence for the same step of the same batch at the same stage, naming every area.

    A sentence too far down in a message for anybody to read keeps the words by which it is `known`.
    """
    alike: dict[tuple[str, Stage, int | None, str | None, Detail | None], list[Raise]] = {}
    for one in wanted:
        alert = one.alert
        batch = None if alert.stage is Stage.OPENED else alert.batch
        key = (alert.step, alert.stage, batch, alert.who, alert.detail)
        alike.setdefault(key, []).append(one)
    found = []
    for place, group in enumerate(alike.values()):
        kept = known.get(_names(group)) if known and place >= READ_AT_MOST else None
        found.append(Sentence(tuple(group), kept or _said(standing, group, now)))
    return found


def _said(standing: Standing, group: Sequence[Raise], now: datetime) -> Wording:
    first = min(group, key=_closes)
    areas = [one.alert.area for one in group if one.alert.area is not None]
    alert = first.alert
    if len({one.alert.batch for one in group}) > 1:
        alert = replace(alert, batch=None)  # walking and scraping are about the floor, so no batch is named
    said = alert_words(alert, standing, now, tuple(dict.fromkeys(areas)) if len(areas) > 1 else ())
    passed = alert.detail.of if isinstance(alert.detail, EarlierStep) else None
    met = any(raising.may_have_reached for raising in standing.raised(alert.id))
    return said if passed is None or met else with_passed(said, passed, standing)


def _closes(raised: Raise) -> datetime:
    window = raised.alert.window
    return window.closes.early if window and window.closes else raised.alert.due


def _chunks(sentences: Iterable[Sentence], is_notice: bool) -> Iterator[list[Sentence]]:
    """All that is called out goes into one message. Notices are only shown, so each message takes as many as fit."""
    chunk: list[Sentence] = []
    length = 0
    for sentence in sentences:
        if chunk and is_notice and length + len(sentence.said.body) > LONGEST_SHOWN:
            yield chunk
            chunk, length = [], 0
        chunk.append(sentence)
        length += len(sentence.said.body) + 1
    if chunk:
        yield chunk

"""What an alert says: what to do, which batch, where, who and how long. It never needs the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from zoneinfo import ZoneInfo

from mixclock.decide.shapes import Alert, Edge, Stage
from mixclock.job.progress import Standing
from mixclock.units import CrewUnits, say_remaining, write_clock, write_span
from mixclock.words.cautions import Moment, cautions_for
from mixclock.words.times import closes_said, opens_said


@dataclass(frozen=True)
class Said:
    """An alert in words: a title for a notification, a body, and the same for the ear."""

    title: str
    body: str
    speech: str


@dataclass(frozen=True)
class _Told:
    """An alert with what its words need."""

    alert: Alert
    standing: Standing
    now: datetime
    where: str

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.standing.site.zone)

    @property
    def units(self) -> CrewUnits:
        return self.standing.site.units

    @property
    def left(self) -> str:
        """How long is left, until the early edge."""
        edge = self.closes
        left_s = (edge.early - self.now).total_seconds() if edge else 0.0
        return say_remaining(left_s).capitalize() if left_s > 0.0 else "No time"

    @property
    def closes(self) -> Edge | None:
        return self.alert.window.closes if self.alert.window else None

    def by(self, at: datetime | None) -> str:
        """Until when, with the day where it is not today."""
        return closes_said(at, self.now, self.zone) if at else "its time"

    @property
    def early(self) -> str:
        return self.by(self.closes.early if self.closes else None)

    @property
    def start_by(self) -> str:
        """When the step must begin at the latest, in working hours."""
        return self.by(self.alert.window.latest_start if self.alert.window else None)

    @property
    def family(self) -> str:
        window = self.alert.window
        product = window.product if window else None
        if product is None and self.alert.batch is not None:
            batch = self.standing.batch(self.alert.batch)
            product = batch.product if batch else None
        profile = self.standing.profile(product) if product else None
        return profile.family if profile else "epoxy"


def alert_words(alert: Alert, standing: Standing, now: datetime, areas: Sequence[str] = ()) -> Said:
    """The words of one alert; `areas` names more than one place where the same falls due together."""
    where = _where(standing, alert, areas)
    told = _Told(alert, standing, now, where)
    say = _SAYINGS.get(alert.step, _any_step)
    sentence = say(told)
    who = f"{alert.who}: " if alert.who and len(standing.site.crew) > 1 else ""
    guessed = "if it is on the floor, " if alert.window is not None and alert.window.provisional else ""
    words = f"{who}{where}: {guessed}{sentence}"
    return Said(_title(alert, where), words, words)


def together(said: Sequence[Said]) -> Said:
    """Alerts that fall together, said as one, in the order in which they are given."""
    if len(said) == 1:
        return said[0]
    return Said(
        f"{said[0].title} and {len(said) - 1} more",
        "\n".join(one.body for one in said),
        " ".join(one.speech for one in said),
    )


def _title(alert: Alert, where: str) -> str:
    marks = {Stage.LATE: "LATE", Stage.LOST: "LOST", Stage.NOW: "NOW"}
    mark = marks.get(alert.stage)
    name = alert.step.replace("-", " ")
    return f"{mark}: {name}, {where}" if mark else f"{name.capitalize()}, {where}"


def _where(standing: Standing, alert: Alert, areas: Sequence[str]) -> str:
    places = [*areas] if areas else ([alert.area] if alert.area else [])
    if not places and alert.batch is not None:
        batch = standing.batch(alert.batch)
        places = list(batch.areas) if batch else []
    spots = places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}" if places else ""
    parts = [f"batch {alert.batch}" if alert.batch is not None else "", spots]
    text = ", ".join(part for part in parts if part)
    return text[:1].upper() + text[1:] if text else "The job"


def _pour_out(told: _Told) -> str:
    hot = " ".join(cautions_for(told.family, Moment.HOT_BUCKET)[:2])
    return {
        Stage.HEADS_UP: f"pour it out now. {told.left} left.",
        Stage.NOW: "pour it all out now. Its time in the bucket is up.",
        Stage.LATE: "it must be out of the bucket. If it strings or is hot, keep it off the floor.",
        Stage.LOST: f"it is gone, keep it off the floor. {hot}",
    }[told.alert.stage]


def _back_roll(told: _Told) -> str:
    return {
        Stage.HEADS_UP: f"back-roll soon, done by {told.early}.",
        Stage.NOW: f"start back-rolling now, to be done by {told.early}.",
        Stage.LATE: "back-rolling is late. Roll only what still flows.",
        Stage.LOST: "the film has set. Keep the roller off it; sand it before the next coat.",
    }[told.alert.stage]


def _broadcast(told: _Told) -> str:
    return {
        Stage.HEADS_UP: f"flake soon, all thrown by {told.early}.",
        Stage.NOW: f"throw the flake now, to be done by {told.early}.",
        Stage.LATE: "flake is late. Throw only where the film is still wet.",
        Stage.LOST: "too late for flake, it will not anchor. Stop throwing; scrape when hard, sand and coat again.",
    }[told.alert.stage]


def _wet_edge(told: _Told) -> str:
    if told.alert.detail:
        mixed = told.alert.detail
        return {
            Stage.HEADS_UP: f"bring {mixed} to the wet edge by {told.early}.",
            Stage.NOW: f"pour {mixed} to the wet edge now. {told.left} left.",
            Stage.LATE: f"the wet edge is going. Join it with {mixed} at once, or stop at the saw cut and tape it.",
            Stage.LOST: f"the wet edge is gone. Stop {mixed} at the saw cut or a taped line; do not lap onto it.",
        }[told.alert.stage]
    return {
        Stage.HEADS_UP: f"the wet edge lasts until {told.early}. Start the next batch soon, or plan to stop here.",
        Stage.NOW: "last moment to start the batch that joins this wet edge.",
        Stage.LATE: "don't open the next kit. Stop at the saw cut and tape it.",
        Stage.LOST: "the wet edge is gone. Tape a straight line here, and sand the joint before going on.",
    }[told.alert.stage]


def _scrape(told: _Told) -> str:
    if told.alert.stage is Stage.OPENED:
        return "scrape and sweep from now. Dust mask on."
    return f"scrape and sweep by {told.early}."


def _plain(sentence: str) -> Callable[[_Told], str]:
    """Words that are the same whatever stands around."""
    return lambda _: sentence


def _recoat(told: _Told) -> str:
    closes = told.closes
    opens = told.alert.window.opens if told.alert.window else None
    if told.alert.stage is Stage.HEADS_UP and opens is not None and opens.safe_open > told.now:
        start, shut = opens_said(opens.safe_open, told.now, told.zone), told.early
        return f"the next coat may go on from {start} until {shut}, when nobody is at work. After that sand it first."
    if told.alert.stage is Stage.OPENED:
        return f"the next coat may go on from now{f', until {told.by(closes.early)}' if closes else ''}."
    return {
        Stage.HEADS_UP: f"start the next coat by {told.start_by}; from {told.early} on it must be sanded first.",
        Stage.NOW: f"start the next coat now; the window shuts {told.early}.",
        Stage.LATE: "the recoat window may have shut. Sand to a uniform dull and wipe before coating.",
        Stage.LOST: "the recoat window has shut. Sand to a uniform dull and wipe before coating.",
    }[told.alert.stage]


def _dwell(told: _Told) -> str:
    careful = cautions_for(told.family, Moment.ACID)
    caution = f" {careful[0]}" if careful else ""
    if told.alert.stage is Stage.OPENED:
        return "the solution has worked long enough. Neutralise it while it is wet."
    return {
        Stage.HEADS_UP: f"neutralise by {told.early}. Keep it wet.{caution}",
        Stage.NOW: f"neutralise now. It must not dry on the floor.{caution}",
        Stage.LATE: f"it is drying. Wet it with water and neutralise at once.{caution}",
        Stage.LOST: f"it has dried. Wet it, scrub, neutralise and rinse until the pH is that of the tap.{caution}",
    }[told.alert.stage]


def _hot(told: _Told) -> str:
    return "the bucket is running hot. " + " ".join(cautions_for(told.family, Moment.HOT_BUCKET))


def _dew_margin(told: _Told) -> str:
    margin, limit, trend = told.alert.detail.split("|")
    falling = " and falling" if trend == "falling" else ""
    asked = told.units.write_margin(float(limit))
    stands = f"only {told.units.write_margin(float(margin))} over the dew point{falling}, the film needs {asked}"
    if float(margin) <= 0:
        stands = f"the slab is under the dew point, dew falls on the film; it needs {asked} over it"
    return f"{stands}. Shut the door, no fuel heater."


def _stand(told: _Told) -> str:
    batch = told.standing.batch(told.alert.batch) if told.alert.batch is not None else None
    profile = told.standing.profile(batch.product) if batch else None
    rule = profile.window("induction") if profile else None
    span = f" for {write_span(rule.opens.points[0].span_s)}" if rule and rule.opens else ""
    return f"stop mixing and let it stand{span}."


def _next_batch(told: _Told) -> str:
    number, volume_l, coat = told.alert.detail.split("|")
    amount = told.units.write_volume(float(volume_l))
    return f"start batch {number} now, {amount} of the {coat}."


def _short(told: _Told) -> str:
    missing = told.units.write_volume(float(told.alert.detail))
    return f"at this rate you are {missing} short, and run out here. Gauge the film, and fetch more now."


def _any_step(told: _Told) -> str:
    name = told.alert.step.replace("-", " ")
    if told.alert.stage is Stage.OPENED:
        return f"{name} from now."
    return {
        Stage.HEADS_UP: f"{name} by {told.early}.",
        Stage.NOW: f"{name} now, to be done by {told.early}.",
        Stage.LATE: f"{name} is late; it was due by {told.early}.",
        Stage.LOST: f"the window for {name} has shut.",
    }.get(told.alert.stage, told.alert.detail or f"{name}.")


_SAYINGS: Mapping[str, Callable[[_Told], str]] = MappingProxyType(
    {
        "pour-out": _pour_out,
        "back-roll": _back_roll,
        "broadcast": _broadcast,
        "wet-edge": _wet_edge,
        "scrape": _scrape,
        "induction": _plain("the stand is over. Stir once and pour it."),
        "recoat": _recoat,
        "foot-traffic": _plain("feet allowed from now."),
        "vehicle-traffic": _plain("wheels allowed from now."),
        "full-cure": _plain("washing and full load allowed from now."),
        "dry": _plain("the slab has had its drying time. Check it is dry before the first coat."),
        "dwell": _dwell,
        "neutralise": _dwell,
        "hot": _hot,
        "dew-margin": _dew_margin,
        "stand": _stand,
        "next-batch": _next_batch,
        "short": _short,
        "scrape-sides": _plain("scrape the sides and the bottom."),
        "clean-pail": _plain("into the clean pail, and mix it there for half a minute more."),
        "pour-it-all": _plain("pour it all out now, in ribbons."),
    }
)


def bucket_line(number: int, mixed: datetime, pour_by: datetime | None, zone: ZoneInfo) -> str:
    """The line to write on the bucket: "batch 3 · mixed 9:42 · pour by 9:51"."""
    parts = [f"batch {number}", f"mixed {write_clock(mixed, zone)}"]
    if pour_by is not None:
        parts.append(f"pour by {write_clock(pour_by, zone)}")
    return " · ".join(parts)

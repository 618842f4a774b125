"""How a job really went, for the plan of its rest: what a square metre took, and how fast the crew is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from mixclock.decide.hours import local
from mixclock.decide.kitshapes import AS_STATED, WORTH_SAYING, DayPace
from mixclock.decide.plan.days.pace import at_pace, pace_of
from mixclock.decide.plan.floor.coverage import measures
from mixclock.decide.plan.floor.quantities import film_um
from mixclock.job import practice
from mixclock.job.dayentries import PaceDropped
from mixclock.job.profile import WASHED_OFF
from mixclock.job.progress import Standing
from mixclock.job.site import Coat, Person, Site
from mixclock.job.steps import BACK_ROLL
from mixclock.values import dataclass, replace

MOST_WASTE = 0.6
WORTH_TELLING = 0.05
"""A bucket that covers a twentieth more or less than planned is within a hand's tolerance (judgement)."""

PRIOR_BATCHES = 6.0
"""This many buckets must agree before half of what they tell is believed (judgement)."""

FEWEST = 3
IN_WORDS: Mapping[str, str] = {"roll": BACK_ROLL, "broadcast": "throw flake", "cut-in": "cut in"}


@dataclass(frozen=True)
class AsItWent:
    """The job with what was learned on its floor, and the words for it."""

    standing: Standing
    said: tuple[str, ...] = ()
    pace: DayPace = AS_STATED


def as_it_went(standing: Standing, now: datetime, past: DayPace = AS_STATED) -> AsItWent:
    """The job whose rest goes as its last buckets went: as far as they covered and, if the crew was slower than it
    stated, as slowly. Until a bucket of this floor tells how fast its crew is, its `past` jobs do."""
    site, said = standing.site, []
    coats = []
    for coat in site.coats:
        gone = coat_as_it_went(standing, coat)
        coats.append(gone.coat)
        said += [gone.said] if gone.said else []
    learned = replace(standing, site=replace(site, coats=tuple(coats)))
    paced = crew_as_it_went(learned, now, past)
    return AsItWent(paced.standing, (*said, *paced.said))


def crew_as_it_went(standing: Standing, now: datetime, past: DayPace = AS_STATED) -> AsItWent:
    """The job by a crew as slow as it was on this floor, today or on the last day that tells it; else as on its `past`
    jobs."""
    return _as_slow_as_here(standing, now) or at_usual_pace(standing, past)


@dataclass(frozen=True)
class CoatSoFar:
    """A coat with the waste that its buckets showed, and the words for that; no words where it goes as planned."""

    coat: Coat
    said: str = ""


def coat_as_it_went(standing: Standing, coat: Coat) -> CoatSoFar:
    """The coat whose rest goes as far as its last buckets went."""
    went = _went(standing, coat)
    if went is None:
        return CoatSoFar(coat)
    learned = _with_its_waste(coat, went)
    profile = standing.profile(coat.product)
    stays = profile is None or profile.family not in WASHED_OFF
    return CoatSoFar(learned, _film_said(standing.site, coat, learned, went, stays))


def _as_slow_as_here(standing: Standing, now: datetime) -> AsItWent | None:
    """The job by a crew as slow as on this floor, today or on the last day that tells it; None if none does."""
    site = standing.site
    days = {local(site, batch.combined.at).date(): batch.combined.at for batch in standing.batches}
    for at in (now, *reversed(days.values())):
        pace = pace_of(standing, at)
        if pace.batches:
            slower = pace.not_hurried()
            if not slower.worth_saying:
                return AsItWent(standing)
            is_today = local(site, at).date() == local(site, now).date()
            said = tuple(_pace_said("today" if is_today else "on its last day here", is_today, slower, site))
            return AsItWent(replace(standing, site=at_pace(site, slower)), said, slower)
    return None


@dataclass(frozen=True)
class _SoFar:
    """What the buckets of a coat did: what they took in all, and what of it would stay by the film asked for."""

    size_m2: float
    volume_l: float
    net_l: float
    film_um: float

    def planned_m2_l(self, coat: Coat) -> float:
        """How far a litre was to go there."""
        return self.size_m2 * (1.0 - practice.waste_share(coat).value) / self.net_l

    @property
    def went_m2_l(self) -> float:
        """How far a litre went."""
        return self.size_m2 / self.volume_l

    @property
    def waste(self) -> float:
        """The share that stayed elsewhere, if the film is as thick as was asked; below zero it can't be."""
        return 1.0 - self.net_l / self.volume_l

    def lies_um(self, coat: Coat) -> float:
        """The film that stands on the floor, if at least the usual share stayed elsewhere."""
        thinner_l = self.net_l - self.volume_l * (1.0 - least_waste(coat))
        return max(0.0, self.film_um - 1000.0 * max(0.0, thinner_l) / self.size_m2)


def _went(standing: Standing, coat: Coat) -> _SoFar | None:
    """What the buckets of a coat did so far; None if it goes as planned, or nobody can tell."""
    profile, seen = standing.profile(coat.product), list(measures(standing, coat))
    if profile is None or not seen:
        return None
    went = _SoFar(
        size_m2=sum(one.size_m2 for one in seen),
        volume_l=sum(one.volume_l for one in seen),
        net_l=sum(one.net_l for one in seen),
        film_um=film_um(coat, profile),
    )
    return went if abs(went.planned_m2_l(coat) / went.went_m2_l - 1.0) >= WORTH_TELLING else None


def least_waste(coat: Coat) -> float:
    """The share that stays elsewhere at least: what is usual, or less where the job file says so. A bucket that went so
    far that less had stayed was spread thinner."""
    return min(practice.waste_share(coat).value, practice.WASTE_SHARE.value)


def _with_its_waste(coat: Coat, went: _SoFar) -> Coat:
    """The coat with the share that really stays in pails, rollers and the slab. Too thin a film tells nothing of that
    share: what follows is to be as thick as was asked, and no less is bought."""
    return coat if went.waste < least_waste(coat) else replace(coat, waste=min(MOST_WASTE, went.waste))


def _film_said(site: Site, coat: Coat, learned: Coat, went: _SoFar, stays: bool) -> str:
    units = site.units
    was, counted = (units.write_spread(went.planned_m2_l(each)) for each in (coat, learned))
    so_far = f"{coat.name} goes {units.write_spread(went.went_m2_l)} so far, {was} was planned"
    if went.waste < least_waste(coat) and not stays:
        return f"{so_far}: the slab got less than was asked there; the rest is planned as was asked, so pour more of it"
    if went.waste < least_waste(coat):
        thick, lies = (units.write_film(film) for film in (went.film_um, went.lies_um(coat)))
        told = f"it lies thinner than {thick} wet, at about {lies}"
        return f"{so_far}: {told}; the rest is planned as thick as was asked, so pour more of it"
    if went.waste > MOST_WASTE:
        return f"{so_far}: look at the areas and litres that were stated; the rest is counted at {counted}"
    return f"{so_far}: the rest is counted by what the buckets covered"


def _pace_said(when: str, is_today: bool, pace: DayPace, site: Site) -> Iterator[str]:
    """Whose pace was slower, as far as that is known, and that of the others."""
    takes = "takes" if is_today else "took"
    for own in dict.fromkeys((own.who, own.factor, own.batches) for own in pace.people if own.worth_saying):
        kinds = [each.kind for each in pace.people if (each.who, each.factor, each.batches) == own]
        who, factor, batches = own
        stated = "stated" if _states_any(site, who) else "is usual"
        steps = " and ".join(IN_WORDS[kind] for kind in kinds)
        yield f"{when} {who} {takes} {_longer(factor)} than {stated} to {steps} ({_buckets(batches)}): planned so"
    if abs(pace.of_others - 1.0) >= WORTH_SAYING:
        rates, longer = rates_said(site), _longer(pace.of_others)
        if pace.others_factor is None:
            yield f"{when} the crew {takes} {longer} than {rates} ({_buckets(pace.batches)}): planned so"
        else:
            yield f"{when} whatever else was done took {longer} than by {rates_said(site)}: planned so"


def _longer(factor: float) -> str:
    return f"{(factor - 1.0) * 100:.0f} % longer"


def _buckets(count: int) -> str:
    return f"{count} bucket{'s' if count != 1 else ''}"


def _states_any(site: Site, who: str) -> bool:
    return any(person.name == who and _has_rate(person) for person in site.crew)


def _has_rate(person: Person) -> bool:
    rates = (person.squeegee_m2_h, person.roll_m2_h, person.broadcast_m2_h, person.cut_in_m_h)
    return any(rate is not None for rate in rates)


def rates_said(site: Site) -> str:
    """The rates of a crew as they are called: nobody has to have stated any."""
    stated = any(_has_rate(person) for person in site.crew)
    return "its stated rates" if stated else "crews usually do"


def usual_pace(paces: Sequence[DayPace]) -> DayPace:
    """How fast a crew was on its past jobs, beside its stated rates: the mean of the logarithms, shrunk towards the
    rates.

    >>> round(usual_pace([DayPace(1.5, 4), DayPace(1.5, 2)]).factor, 2), usual_pace([DayPace(1.5, 2)]).batches
    (1.22, 0)
    """
    count = sum(pace.batches for pace in paces)
    if count < FEWEST:
        return DayPace()
    mean = sum(pace.batches * math.log(pace.factor) for pace in paces if pace.batches) / count
    return DayPace(math.exp(mean * count / (count + PRIOR_BATCHES)), count)


def at_usual_pace(standing: Standing, pace: DayPace) -> AsItWent:
    """The job by a crew as fast as it was on past jobs. The words beside the stated rates say so."""
    if not pace.worth_saying:
        return AsItWent(standing)
    faster, rates = "longer" if pace.factor > 1.0 else "less", rates_said(standing.site)
    said = (
        f"on its past jobs this crew took {abs(pace.factor - 1.0) * 100:.0f} % {faster} than {rates} "
        f"({pace.batches} buckets, believed in part): planned so"
    )
    return AsItWent(replace(standing, site=at_pace(standing.site, pace)), (said,), pace)


def crew_of_names(standing: Standing) -> frozenset[str]:
    """The names of a crew, by which the same crew is known again."""
    return frozenset(person.name.casefold() for person in standing.site.crew)


@dataclass(frozen=True)
class PastPace:
    """How fast a crew was on the last day of a finished job. If somebody `dropped` it, it is shown and not used."""

    job: str
    pace: DayPace
    dropped: bool = False


def past_pace(standing: Standing) -> PastPace | None:
    """What a finished job tells of its crew; None if none of its buckets tells anything."""
    pace = pace_of(standing, standing.batches[-1].combined.at) if standing.batches else DayPace()
    if not pace.batches:
        return None
    dropped = any(
        isinstance(entry.facts, PaceDropped) and entry.number not in standing.withdrawn for entry in standing.entries
    )
    return PastPace(standing.job, DayPace(pace.factor, pace.batches), dropped)


def believed(past: Sequence[PastPace]) -> DayPace:
    """What a crew's past jobs amount to, without those that somebody dropped."""
    return usual_pace([each.pace for each in past if not each.dropped])

"""Statements of a round: one item of `ready`, `evening` or `morning` answered. They warn, record, and block nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from mixclock.job.dayentries import Answered
from mixclock.job.entry import Facts, Measured, Noted
from mixclock.job.naming import area_named, one_of
from mixclock.job.profile import Limits
from mixclock.job.progress import Standing
from mixclock.job.rounds import ROUNDS, RoundItem, RoundName, Takes
from mixclock.job.saying import Attribution, text
from mixclock.job.site import Coat
from mixclock.job.slabmoisture import BY_WEIGHT, judged_moisture, typed_moisture
from mixclock.job.statements.fields import TEXT, on_area, option, word
from mixclock.job.statements.statement import Statement
from mixclock.units import CrewUnits, UnitError, strength_mpa, temp_c


class RoundStatement(Statement):
    """One item of a round answered."""

    verb: ClassVar[str] = ""
    from_a_phone: ClassVar[bool] = True
    round: ClassVar[RoundName]
    item: str = word(TEXT, "[ITEM]", "Which question you answer. Without it, all are asked in turn.")
    answer: str = word(TEXT, "[ANSWER]", "The answer: yes, no, or in your own words.", many=True)
    area: str | None = on_area(default=None)
    coat: str | None = option(TEXT, "--coat", "NAME", "The coat, if it is not the next one.", default=None)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The answer, and what it says as a measurement or as a fact that counts."""
        known = {item.name: item for item in ROUNDS[self.round]}
        item = known[one_of(self.item, known, "item")]
        area, coat = area_named(standing, self.area), self._coat(standing)
        answer, fine = item.understood(text(self.answer, "the answer"))
        facts: list[Facts] = []
        if item.takes is Takes.MOISTURE:
            answer, fine, measured = _moisture(standing, self.answer, area, coat)
            facts.append(measured)
        elif item.takes is Takes.STRENGTH:
            answer, fine = _strength(self.answer, standing.site.units)
        elif item.takes is Takes.TEMPERATURE:
            answer, fine = _pails(standing, self.answer, coat)
        elif item.takes is Takes.WORDS and fine is None:
            fine = True
        facts += [Noted(tick, area) for ticked, tick in item.ticks if ticked == answer]
        answered = Answered(self.round.value, item.name, answer, fine, area, coat.name if coat else None)
        return (*facts, answered)

    def _coat(self, standing: Standing) -> Coat | None:
        if self.coat is not None:
            named = one_of(self.coat, {coat.name: coat.name for coat in standing.site.coats}, "coat")
            return standing.site.coat(named)
        return coat_to_come(standing)


class ReadyStatement(RoundStatement):
    """Before any kit: what costs floors when it is skipped, one short question after the other. It blocks nothing."""

    verb: ClassVar[str] = "ready"
    round: ClassVar[RoundName] = RoundName.READY


class EveningStatement(RoundStatement):
    """Going home: tack free when, dew until then, doors, heater, leftovers, barrier, tomorrow's pails."""

    verb: ClassVar[str] = "evening"
    round: ClassVar[RoundName] = RoundName.EVENING


class MorningStatement(RoundStatement):
    """Coming back: thumb, grease, scrape, slab and air, and by when to coat."""

    verb: ClassVar[str] = "morning"
    round: ClassVar[RoundName] = RoundName.MORNING


def coat_to_come(standing: Standing) -> Coat | None:
    """The present or next coat: the first that does not lie on all its areas yet."""
    for coat in standing.site.coats:
        areas = [area.name for area in standing.site.areas if coat.goes_on(area.name)]
        if any(coat.name not in standing.pours.get(area, {}) for area in areas):
            return coat
    return None


def item_of(answered: Answered) -> RoundItem | None:
    """The question that an entry answers; None if a newer mixclock asked it."""
    found: Iterator[RoundItem] = (each for each in ROUNDS[RoundName(answered.round)] if each.name == answered.item)
    return next(found, None)


def _limits(standing: Standing, coat: Coat | None) -> Limits | None:
    profile = standing.profile(coat.product) if coat else None
    return profile.limits if profile else None


def _moisture(standing: Standing, said: str, area: str | None, coat: Coat | None) -> tuple[str, bool, Measured]:
    try:
        value, unit = typed_moisture(said)
    except UnitError as error:
        raise error.at("moisture") from None
    name = "moisture by weight" if unit == BY_WEIGHT else "moisture"
    found = judged_moisture(value, unit, _limits(standing, coat), standing.site.units)
    return found.told, not found.over, Measured(name, value, unit, area)


def usual_strength(units: CrewUnits) -> str:
    """What a pull-off test should reach if the sheet is silent, as this crew reads it (usual figures, from memory)."""
    return "200 psi" if units.system == "US" else "1.5 MPa"


def _strength(said: str, units: CrewUnits) -> tuple[str, bool]:
    try:
        mpa = strength_mpa(said)
    except UnitError as error:
        raise error.at("pull-off") from None
    return said.strip(), mpa >= strength_mpa(usual_strength(units))


def _pails(standing: Standing, said: str, coat: Coat | None) -> tuple[str, bool | None]:
    try:
        warm_c = temp_c(said, bare=standing.site.bare_degrees)
    except UnitError as error:
        raise error.at("pails") from None
    allowed = (_limits(standing, coat) or Limits()).material_c
    told = standing.site.units.write_temp(warm_c)
    return told, None if allowed is None else allowed[0] <= warm_c <= allowed[1]

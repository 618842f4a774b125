"""What can still be stopped or mended, said with the statement that shows it.

A statement is a fact and always kept. But a coat that goes on too early, feet on a wet film or a bucket in damp air
are cheapest to stop when they are stated, so the answer says what speaks against them, with the time or the number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.closing import is_alerted
from mixclock.decide.conditions import Conditions, Verdict, judge
from mixclock.decide.slabdoubt import STALE_AFTER
from mixclock.decide.tracks import Track, stands
from mixclock.formulas.mix import ratio_by_mass, ratio_by_volume
from mixclock.job.candidates import where_it_lies
from mixclock.job.entry import Combined, Did, Dumped, Entry, Facts, JobFinished, MixingEnded, Poured, Reading, Traffic
from mixclock.job.jumps import worst_read
from mixclock.job.profile import WASHED_OFF, Limits, MixRule
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Coat
from mixclock.job.slabmoisture import moisture_objection, slab_moisture
from mixclock.job.steps import DRY, INDUCTION, RECOAT, TRAFFIC, row_of
from mixclock.units import write_span
from mixclock.words.cautions import ISOCYANATES
from mixclock.words.stepwords import next_words
from mixclock.words.times import closes_said, day_and_clock, opens_said

OFF_RATIO_SHARE = 0.05
"""Parts that differ by this from the sheet's ratio are spoken of at once, while the bucket can still be mended."""

SHORT_OF_MIXING = 0.9
"""Mixing that ends before this share of the sheet's time is spoken of: the drill can go back in (judgement)."""

STILL_HOT = timedelta(hours=24)
"""After this time a mix is hard, or will never be: it heats itself no more (judgement)."""

FOAMS_FROM_PCT = 75.0
"""Humidity from which an isocyanate coat is spoken of: moisture and isocyanate make gas (judgement)."""

COLD_RESIN_C = 15.0
"""Resin colder than this is too thick to let bubbles go (judgement)."""

AGAINST_FOAM = "drill slowly with the paddle under the surface, lay it thin, roll it out at once"
FAR_OUTSIDE = timedelta(minutes=10)
"""A tap may come three minutes after its step, and a typed time is rounded to five. mixclock asks beyond both."""

READY = (RECOAT, DRY)
"""The windows that must open on a layer before a coat goes over it."""

_TRAFFIC = {"foot": "walk on", "vehicle": "park on"}


def look_out(
    entry: Entry,
    standing: Standing,
    batch: Batch | None,
    own: Sequence[Track],
    under: Sequence[Track],
    now: datetime,
) -> list[str]:
    """What speaks against what was just stated.

    `own` holds the windows of the batch that it is about, `under` those of what lies on its areas already.
    """
    return list(_Watcher(standing, own, under, now).over(entry, batch))


def lies_under(facts: Facts, standing: Standing, batch: Batch | None) -> list[Batch]:
    """The batches whose windows tell whether what was stated came too early or too late."""
    if isinstance(facts, JobFinished):
        return [each for each in standing.batches if each.portions]
    if isinstance(facts, Traffic):
        return [each for each in standing.batches if facts.area in where_it_lies(each)]
    below = _coat_below(standing, batch) if batch is not None and isinstance(facts, Combined) else None
    if batch is None or below is None:
        return []
    return [
        each for each in standing.batches if each.coat == below.name and set(batch.areas) & set(where_it_lies(each))
    ]


class _Watcher:
    def __init__(self, standing: Standing, own: Sequence[Track], under: Sequence[Track], now: datetime) -> None:
        self._standing = standing
        self._own = own
        self._under = under
        self._now = now

    def over(self, entry: Entry, batch: Batch | None) -> Iterator[str]:
        facts = entry.facts
        if isinstance(facts, Combined) and batch is not None:
            yield from self._off_ratio(batch)
            yield from self._too_big(batch)
            yield from self._air_over(batch, entry.happened)
            yield from self._foams(batch, entry.happened)
            yield from self._coat_too_soon(batch, entry.happened)
        elif isinstance(facts, MixingEnded) and batch is not None:
            yield from self._short_mixing(batch)
        elif isinstance(facts, Did):
            yield from self._outside_its_window(facts, entry.happened)
        elif isinstance(facts, Dumped) and batch is not None and facts.share is None:
            yield f"how much of it: a quarter, half, most? say `dumped {batch.id} --share half`"
        elif isinstance(facts, Poured) and batch is not None:
            yield from self._stood_too_short(batch, entry.happened)
        elif isinstance(facts, Reading):
            yield from self._no_go(entry.happened, facts.area, None)
        elif isinstance(facts, JobFinished):
            yield from self._still_in_the_bucket(entry.happened)
            yield from self._still_wet(entry.happened)
        elif isinstance(facts, Traffic):
            yield from self._traffic_too_soon(facts, entry.happened)

    def _off_ratio(self, batch: Batch) -> Iterator[str]:
        profile = self._standing.profile(batch.product)
        measured = _measured_ratio(batch, profile.mix) if profile else None
        if measured is None:
            return
        a_per_b, stated, by = measured
        off = a_per_b / stated - 1.0
        if abs(off) > OFF_RATIO_SHARE:
            yield (
                f"A to B is {a_per_b:.2f} to 1 by {by}, the sheet says {stated:.2f} to 1: "
                f"{abs(off) * 100:.0f} % too much {'A' if off > 0 else 'B'}; do not lay it as it is"
            )

    def _too_big(self, batch: Batch) -> Iterator[str]:
        """A bucket that must be out before it can be mixed and poured."""
        for track in self._own:
            if track.batch.id == batch.id and track.bucket is not None and track.bucket.too_big:
                lasts_s = (track.bucket.edge.early - batch.combined.at).total_seconds()
                yield f"too big for this warmth: split it; this one has {write_span(lasts_s)} in the bucket"

    def _short_mixing(self, batch: Batch) -> Iterator[str]:
        profile = self._standing.profile(batch.product)
        asked_s = profile.mix.time_s if profile else None
        mixed_s = (batch.mixing_ended - batch.combined.at).total_seconds()
        if asked_s and mixed_s < SHORT_OF_MIXING * asked_s:
            yield (
                f"the sheet asks for {write_span(asked_s)} of mixing, that was {write_span(mixed_s)}: "
                "put the drill back in, scrape sides and bottom"
            )

    def _stood_too_short(self, batch: Batch, at: datetime) -> Iterator[str]:
        profile = self._standing.profile(batch.product)
        rule = profile.window(INDUCTION) if profile else None
        if rule is None or not stands(rule):
            return
        over = _latest_opening([track for track in self._own if track.name == INDUCTION])
        if over is None or at >= over:
            return
        rest = "what is left in the bucket stands until then" if batch.emptied is None else "watch how it hardens there"
        yield f"batch {batch.id} was to stand until {self._opens(over)}: {rest}"

    def _outside_its_window(self, did: Did, at: datetime) -> Iterator[str]:
        """Ask about a step stated far outside its window. The statement is kept as it was made."""
        tracks = [track for track in self._own if track.name == did.step and track.starts <= at]
        opens = _latest_opening(tracks)
        shut = max((edge.last for track in tracks if (edge := track.closing) is not None), default=None)
        done = row_of(did.step).past
        if opens is not None and at < opens - FAR_OUTSIDE:
            yield f"its window opens only at {self._opens(opens)}: was it really {done} before? If not, withdraw it"
        elif shut is not None and at > shut + FAR_OUTSIDE:
            again = "Then withdraw it and state it again with --at"
            yield f"its window shut at {self._clock(shut)}: was it {done} earlier? {again}"

    def _still_in_the_bucket(self, at: datetime) -> Iterator[str]:
        """What is left when a crew packs up: nobody is called for it any more."""
        left = [
            batch for batch in self._standing.batches if batch.emptied is None and at - batch.combined.at < STILL_HOT
        ]
        left = [batch for batch in left if _heats_itself(self._standing, batch)]
        if not left:
            return
        units = self._standing.site.units
        which = " and ".join(f"batch {batch.id} ({units.write_volume(batch.left_l)})" for batch in left)
        one = len(left) == 1
        yield (
            f"{which} {'is' if one else 'are'} still in the bucket and {'heats itself' if one else 'heat themselves'}, "
            "and nobody is called for it any more: outside, away from anything that burns, spread thin on sand or "
            "sheeting until hard; never a lid on it"
        )

    def _still_wet(self, at: datetime) -> Iterator[str]:
        """Floor that waits for a step while a crew packs up: nobody is called for it any more."""
        waits: dict[tuple[str, datetime], list[str]] = {}
        for track in self._under:
            edge, row = track.closing, row_of(track.name)
            if edge is None or not row.on_film or not row.is_stated or track.provisional or track.area is None:
                continue
            over = edge.last
            if track.stated is None and track.starts <= at < over and is_alerted(self._standing, track):
                waits.setdefault((track.name, edge.early), []).append(track.area)
        for (name, early), areas in waits.items():
            where = " and ".join(dict.fromkeys(areas))
            yield (
                f"{where} is wet and still waits: {next_words(name)} by {self._closes(early)}; "
                "nobody is called for it any more"
            )

    def _air_over(self, batch: Batch, at: datetime) -> Iterator[str]:
        profile = self._standing.profile(batch.product)
        if profile is None or profile.family in WASHED_OFF:  # it leaves no film that could blush or peel
            return
        yield from dict.fromkeys(line for area in batch.areas for line in self._no_go(at, area, profile.limits))
        if _coat_below(self._standing, batch) is None:
            damp = (slab_moisture(self._standing, area, profile.limits, at) for area in batch.areas)
            yield from dict.fromkeys(f"no-go: {said}" for each in damp if (said := moisture_objection(each)))

    def _foams(self, batch: Batch, at: datetime) -> Iterator[str]:
        """Moisture makes an isocyanate coat foam long before its sheet calls the air a no-go."""
        profile = self._standing.profile(batch.product)
        if profile is None or profile.family not in ISOCYANATES:
            return
        damp = [sample for area in batch.areas for sample in self._standing.readings.humidity(area) if sample.at <= at]
        if damp and at - damp[-1].at <= STALE_AFTER and damp[-1].value >= FOAMS_FROM_PCT:
            yield f"{damp[-1].value:.0f} % humidity: it bubbles and sets fast; {AGAINST_FOAM}"
        elif batch.material_c is not None and batch.material_c < COLD_RESIN_C:
            cold = self._standing.site.units.write_temp(batch.material_c)
            yield f"resin of {cold} is thick and keeps bubbles: warm the pails; {AGAINST_FOAM}"

    def _no_go(self, at: datetime, area: str | None, limits: Limits | None) -> Iterator[str]:
        """What makes the air a no-go by readings that are fresh enough."""
        kept = self._standing.readings
        air_read, slab_read = worst_read(kept, area)
        courses = (air_read, kept.humidity(area), slab_read)
        latest = [[sample for sample in course if sample.at <= at][-1:] for course in courses]
        air, damp, slab = ([sample.value for sample in found if at - sample.at <= STALE_AFTER] for found in latest)
        if not air or not damp:
            return
        conditions = Conditions(air[0], damp[0], slab[0] if slab else None)
        units = self._standing.site.units
        judged = judge(conditions, limits, units=units)
        if judged.verdict is Verdict.NO_GO:
            yield f"no-go: {judged.reasons[0]}"

    def _coat_too_soon(self, batch: Batch, at: datetime) -> Iterator[str]:
        below = _coat_below(self._standing, batch)
        for area in batch.areas if below else ():
            if below is None or (below.areas and area not in below.areas):
                continue
            found = [track for track in self._under if track.name in READY and track.area == area]
            if not any(below.name == each.coat and area in where_it_lies(each) for each in self._standing.batches):
                yield f"no {below.name} was stated on {area}: {batch.coat} goes on over it"
            yield from self._outside_recoat(found, f"the {below.name} on {area}", at)

    def _outside_recoat(self, found: Sequence[Track], what: str, at: datetime) -> Iterator[str]:
        opens = _latest_opening(found)
        shuts = min((track.closes.edge.early for track in found if track.closes), default=None)
        if opens is not None and at < opens:
            yield f"{what} takes a coat from {self._opens(opens)}, not before"
        elif shuts is not None and at > shuts:
            yield f"the recoat window of {what} shut at {self._clock(shuts)}: sand it dull first, as its sheet says"

    def _traffic_too_soon(self, traffic: Traffic, at: datetime) -> Iterator[str]:
        name, what = TRAFFIC[traffic.by_what], _TRAFFIC[traffic.by_what]
        opens = _latest_opening(
            [track for track in self._under if (track.name, track.area) == (name, traffic.area) and track.starts <= at]
        )
        if opens is not None and at < opens:
            yield f"{traffic.area} is OK to {what} from {self._opens(opens)}, not before: keep off until then"

    def _opens(self, at: datetime) -> str:
        return opens_said(at, self._now, self._standing.site.wall)

    def _closes(self, at: datetime) -> str:
        return closes_said(at, self._now, self._standing.site.wall)

    def _clock(self, at: datetime) -> str:
        return day_and_clock(at, self._now, self._standing.site.wall)


def _heats_itself(standing: Standing, batch: Batch) -> bool:
    """Whether a mix must count as having a pot life: it has one, or nobody knows."""
    profile = standing.profile(batch.product)
    return profile is None or profile.pot_life is not None


def _latest_opening(found: Iterable[Track]) -> datetime | None:
    return max((track.opens.edge.safe_open for track in found if track.opens), default=None)


def _coat_below(standing: Standing, batch: Batch) -> Coat | None:
    coat = standing.site.coat(batch.coat) if batch.coat else None
    return standing.site.coat(coat.after) if coat is not None and coat.after else None


def _measured_ratio(batch: Batch, mix: MixRule) -> tuple[float, float, str] | None:
    """A per B as it was measured and as the sheet states it, in the same way of measuring; None where it is unknown."""
    densities = mix.density_kg_l if mix.density_kg_l is not None and len(mix.density_kg_l) == 2 else None
    by_volume, by_mass = (pair[0] / pair[1] if pair else None for pair in (mix.ratio_by_volume, mix.ratio_by_mass))
    if by_mass is None and by_volume is not None and densities is not None:
        by_mass = ratio_by_mass(by_volume, *densities)
    if by_volume is None and by_mass is not None and densities is not None:
        by_volume = ratio_by_volume(by_mass, *densities)
    if batch.a_l is not None and batch.b_l is not None and by_volume is not None:
        return batch.a_l / batch.b_l, by_volume, "volume"
    if batch.a_kg is not None and batch.b_kg is not None and by_mass is not None:
        return batch.a_kg / batch.b_kg, by_mass, "weight"
    return None

"""The edges of film that lies already, which the next batch has to meet: wet, and while flake still sticks on it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.decide.tracks import Track
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch
from mixclock.job.site import Coat
from mixclock.job.steps import BROADCAST, WET_EDGE


def track_of(tracks: Sequence[Track], batch: Batch, portion: int, window: str, area: str) -> Track | None:
    """A window of one portion of a batch on an area."""
    for track in tracks:
        if (track.batch.id, track.portion, track.name, track.area) == (batch.id, portion, window, area):
            return track
    return None


def flake_edge(tracks: Sequence[Track], coat: Coat, area: str) -> datetime | None:
    """Until when flake surely sticks on the film of a coat that lies on an area; None if nobody poured any there, or
    if its sheet does not tell."""
    edges = [
        track.closes.edge.early
        for track in tracks
        if (track.name, track.area, track.batch.coat) == (BROADCAST, area, coat.name)
        and track.closes is not None
        and not track.provisional
    ]
    return max(edges, default=None)


def flaked_by_of(bench: Bench, standpoint: Standpoint, coat: Coat) -> dict[str, datetime]:
    """By area, until when the flake of a coat has to be begun for the film beside it; later by what the bench loosens
    of its windows, nothing if it leaves them out of account."""
    if BROADCAST in bench.ignore:
        return {}
    share = max(1.0, bench.loosened.get(coat.name, 1.0))
    return {
        area: bench.begins + (by - bench.begins) * share
        for (name, area), by in standpoint.flaked_by.items()
        if name == coat.name
    }


def bucketful_of(batch: Batch, poured: datetime) -> Bucketful:
    """What a live bucket holds, and how long it stands by the time that it is poured."""
    return Bucketful(batch.mass_kg, batch.volume_l, max(0.0, (poured - batch.combined.at).total_seconds()))


def asks_wet_edge(coat: Coat, profile: Profile) -> bool:
    """Whether each batch of a coat has to meet a wet edge: as the job file says, else as the sheet does."""
    return coat.wet_edge is True or (coat.wet_edge is None and profile.window(WET_EDGE) is not None)

"""What `now --json` answers: the job as it stands at an instant, in the keys that other programs rely on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any

from mixclock.decide.alerting import PlanSays, alerts
from mixclock.decide.alerting.raising import is_cleared
from mixclock.decide.conditions import Conditions
from mixclock.decide.shapes import Alert, Edge, Window
from mixclock.decide.stages import stage_of
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.entry import Delivered, Raised
from mixclock.job.instants import json_text
from mixclock.job.jumps import open_jumps, worst_read
from mixclock.job.progress import Batch, Raising, Standing
from mixclock.job.readings import Sample
from mixclock.job.steps import row_of
from mixclock.words.alerting import alert_words
from mixclock.words.jsonfields import fields_json, plain_json
from mixclock.words.jumpwords import asked_of


def now_json(
    standing: Standing, found: Sequence[Track], at: datetime, plan: Callable[[], PlanSays] = PlanSays
) -> dict[str, Any]:
    """The job at an instant, from its tracks."""
    seen = tuple(seen_at(track, at) for track in found)
    return {
        "at": json_text(at),
        "job": standing.job,
        "conditions": conditions_json(standing),
        "questions": questions_json(standing),
        "batches": [batch_json(standing, batch, seen, at) for batch in standing.batches],
        "areas": [
            {"name": area, "coat": coat, "windows": [window_json(window) for window in windows]}
            for (area, coat), windows in area_windows(seen, at).items()
        ],
        "alerts": [alert_json(standing, alert, at) for alert in standing_alerts(standing, found, at, plan)],
    }


def standing_alerts(
    standing: Standing, found: Sequence[Track], at: datetime, plan: Callable[[], PlanSays] = PlanSays
) -> tuple[Alert, ...]:
    """The alerts that a person should still see: a lost one goes when somebody has cleared it."""
    every = alerts(standing, found, at, plan)
    return tuple(alert for alert in every if not (alert.standing and is_cleared(standing, alert)))


def is_live(answer: dict[str, Any]) -> bool:
    """Whether anything still runs: a batch that is not done, or an alert."""
    return bool(answer["alerts"]) or any(batch["stage"] != "done" for batch in answer["batches"])


def batch_json(standing: Standing, batch: Batch, seen: Iterable[Window], at: datetime) -> dict[str, Any]:
    """One batch with its windows."""
    own = [window for window in seen if window.batch == batch.id]
    told = [window for window in own if is_told(standing, window.coat, window.name, window.stated is not None)]
    return {
        "id": batch.id,
        "number": batch.origin.batch if batch.origin and batch.origin.batch else batch.id,
        "van": batch.origin.van if batch.origin else None,
        "product": batch.product,
        "amount_l": plain_json(batch.volume_l, 4),
        "mass_kg": plain_json(batch.mass_kg, 4),
        "areas": list(batch.areas),
        "mixed_at": json_text(batch.combined.at),
        "stage": stage_of(standing, batch, own, at).value,
        "windows": [{**window_json(window), **_portion_json(batch, window)} for window in told],
    }


def is_told(standing: Standing, coat_name: str | None, window: str, is_stated: bool) -> bool:
    """Whether a window is shown: one that waits for flake on a coat that gets none calls nobody, so nobody reads it."""
    if is_stated or not row_of(window).of_flake or standing.site.gets_flake(coat_name):
        return True
    return coat_name is None or standing.site.coat(coat_name) is None  # a coat that nobody told may get flake


def _portion_json(batch: Batch, window: Window) -> dict[str, Any]:
    """Which portion of a batch that was poured in parts a window on the floor is about: what tells it apart.

    `poured_at` is null for what is left in the bucket. Nothing is added where the whole batch went out in one.
    """
    in_parts = len(batch.portions) > 1 or (batch.portions and batch.emptied is None)
    if not in_parts or window.area is None:
        return {}
    portion = batch.portion(window.portion)
    if portion is None:
        return {"portion": {"areas": list(batch.areas), "amount_l": plain_json(batch.left_l, 4), "poured_at": None}}
    poured_at = json_text(portion.poured.at)
    return {
        "portion": {"areas": list(portion.areas), "amount_l": plain_json(portion.volume_l, 4), "poured_at": poured_at}
    }


def window_json(window: Window) -> dict[str, Any]:
    """One window."""
    return {
        "name": window.name,
        "area": window.area,
        "opens": edge_json(window.opens),
        "closes": edge_json(window.closes),
        "state": window.state.value,
        "ripeness_opens": plain_json(window.ripeness_opens, 4),
        "ripeness_closes": plain_json(window.ripeness_closes, 4),
        "because": [*window.because, *([window.no_date] if window.no_date else [])],
        "assumed": list(window.assumed),
        **({} if window.sure else {"sure": False}),
    }


def edge_json(edge: Edge | None) -> dict[str, str | None] | None:
    """One edge; `late` is null where no band may be claimed."""
    return fields_json(edge) if edge else None


def alert_json(standing: Standing, alert: Alert, at: datetime) -> dict[str, Any]:
    """One alert, with which channels took it and who heard it."""
    raisings = [raising for raising in standing.raisings if _raised(raising).alert == alert.id]
    at_stage = [raising for raising in raisings if _raised(raising).stage == alert.stage]
    said = alert_words(alert, standing, at)
    return {
        "id": alert.id,
        "rank": alert.rank.value,
        "stage": alert.stage.value,
        "batch": alert.batch,
        "area": alert.area,
        "text": said.body,
        "speech": said.speech,
        "due": json_text(alert.due),
        "delivered": _took_it(at_stage),
        "heard_by": _heard_by(at_stage),
        "step": alert.step,
        "who": alert.who,
        "do": said.do,
        "gone": said.gone,
    }


def conditions_json(standing: Standing) -> dict[str, Any]:
    """The latest readings of the floor, with the dew point and margin where they can be told."""
    readings = standing.readings
    air, damp, slab = (_last(samples) for samples in (readings.air(), readings.humidity(), readings.slab(None)))
    read = [sample.at for sample in (air, damp, slab) if sample is not None]
    answer: dict[str, Any] = {
        "air_c": plain_json(air.value, 2) if air else None,
        "rh_pct": plain_json(damp.value, 2) if damp else None,
        "slab_c": plain_json(slab.value, 2) if slab else None,
        "dew_point_c": None,
        "margin_k": None,
        "read_at": json_text(max(read)) if read else None,
    }
    if air is not None and damp is not None:
        warmest, coldest = (_last(read) for read in worst_read(readings))
        assert warmest is not None
        whole = Conditions(warmest.value, damp.value, coldest.value if coldest else None)
        answer |= {"dew_point_c": plain_json(whole.dew_point_c, 2), "margin_k": plain_json(whole.margin_k, 2)}
    return answer


def questions_json(standing: Standing) -> list[dict[str, Any]]:
    """The questions that make some hours unsure: each reading that jumped, with the words that ask about it."""
    return [
        {
            "entry": jump.after.entry,
            "quantity": jump.what,
            "area": jump.after.area,
            "from_c": plain_json(jump.before.value, 2),
            "to_c": plain_json(jump.after.value, 2),
            "from_at": json_text(jump.before.at),
            "at": json_text(jump.after.at),
            "text": asked_of(jump, standing),
        }
        for jump in open_jumps(standing)
    ]


def _last(samples: Sequence[Sample]) -> Sample | None:
    return samples[-1] if samples else None


def _raised(raising: Raising) -> Raised:
    facts = raising.entry.facts
    assert isinstance(facts, Raised)
    return facts


def _took_it(raisings: Iterable[Raising]) -> list[str]:
    answers = [entry.facts for raising in raisings for entry in raising.deliveries]
    channels = [facts.channel for facts in answers if isinstance(facts, Delivered) and facts.outcome == "sent"]
    return list(dict.fromkeys(channels))


def _heard_by(raisings: Sequence[Raising]) -> str | None:
    heard = [raising.heard for raising in raisings if raising.heard is not None]
    return (heard[-1].by or "somebody") if heard else None

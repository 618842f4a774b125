"""What each quantity is, read from the record of one coat on one area."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from mixclock.decide.why.case import Case, Gathered, Laid
from mixclock.decide.why.gather import inair, inbucket, innotes, onclock, onfloor, onslab

Gatherer = Callable[[Case, Laid], Gathered]

GATHERERS: Mapping[str, Gatherer] = MappingProxyType(
    {
        "dew_margin_min_k": inair.dew_margin,
        "dew_margin_wet_k": inair.dew_margin_wet,
        "rh_max_pct": inair.humidity,
        "slab_min_c": inair.coldest_slab,
        "slab_rise_k": inair.slab_rise,
        "stand_share": onclock.stand,
        "mixing_share": inbucket.mixing,
        "ratio_error_pct": inbucket.ratio_error,
        "lot": inbucket.lot,
        "first of pail": inbucket.first_of_pail,
        "bucket_max_c": inbucket.hottest_bucket,
        "sign:stringy": inbucket.stringy,
        "pour_out_ripeness": onclock.pour_out,
        "back_roll_ripeness": onclock.back_roll,
        "broadcast_ripeness": onclock.broadcast,
        "wet_edge_ripeness": onfloor.wet_edge,
        "cold joint": onfloor.cold_joint,
        "cut_in_ripeness": onfloor.cut_in,
        "recoat_opened_ripeness": onclock.recoat_opened,
        "recoat_closed_ripeness": onclock.recoat_closed,
        "traffic_ripeness": onclock.traffic,
        "film_thin_um": onfloor.film_thin,
        "film_thick_um": onfloor.film_thick,
        "absorbed_pct": onslab.absorbed,
        "volume_excess_pct": onslab.volume_excess,
        "texture_csp": onslab.texture,
        "ph_off": onslab.acidity,
        "moisture_over": onslab.moisture,
        "epoxy on top": onslab.epoxy_on_top,
        **{f"note:{topic}": innotes.gatherer(topic) for topic in innotes.TOPICS},
    }
)


def gather(case: Case, laid: Laid, quantity: str) -> Gathered:
    """One quantity of one coat on one area."""
    return GATHERERS[quantity](case, laid)

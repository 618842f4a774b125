"""How far a volume goes: spread rate, wet and dry film, waste, texture, flake.

One litre spread 1000/film[µm] square metres: 1 L at 100 µm covers 10 m². Thus 1 US gal (231 in³) at 1 mil covers
231/0.144 = 1604.17 ft².
"""

from typing import Literal

from mixclock.formulas.ranges import require_positive, require_within

WasteRule = Literal["of what is mixed", "on top"]


def spread_m2_l(wet_um: float) -> float:
    """Spread rate [m²/L] = 1000 / wet film [µm].

    Args:
        wet_um: wet film thickness [µm], above 0.

    Returns:
        spread rate [m²/L].

    Raises:
        ValueError: not above 0.

    >>> spread_m2_l(100.0)
    10.0

    Source: geometry; 1 US gal = 231 in³ (NIST Handbook 44).
    """
    return 1000.0 / require_positive("wet film", wet_um, "µm")


def wet_um_from_spread(spread_m2_l: float) -> float:
    """Wet film [µm] = 1000 / spread rate [m²/L].

    Args:
        spread_m2_l: spread rate [m²/L], above 0.

    Returns:
        wet film thickness [µm].

    Raises:
        ValueError: not above 0.

    >>> wet_um_from_spread(4.0)
    250.0

    Source: geometry.
    """
    return 1000.0 / require_positive("spread rate", spread_m2_l, "m²/L")


def dry_um(wet_um: float, solids_pct: float) -> float:
    """Dry film [µm] = wet film × volume solids.

    Args:
        wet_um: wet film thickness [µm], above 0.
        solids_pct: volume solids [%], 1 to 100.

    Returns:
        dry film thickness [µm].

    Raises:
        ValueError: outside those ranges.

    >>> dry_um(200.0, 43.0)
    86.0

    Source: definition of volume solids.
    """
    return require_positive("wet film", wet_um, "µm") * require_within("solids", solids_pct, 1.0, 100.0, "%") / 100.0


def wet_um_for_dry(dry_um: float, solids_pct: float) -> float:
    """Wet film [µm] to lay for a wanted dry film = dry film / volume solids.

    Args:
        dry_um: dry film thickness [µm], above 0.
        solids_pct: volume solids [%], 1 to 100.

    Returns:
        wet film thickness [µm].

    Raises:
        ValueError: outside those ranges.

    >>> wet_um_for_dry(86.0, 43.0)
    200.0

    Source: definition of volume solids.
    """
    return require_positive("dry film", dry_um, "µm") / (require_within("solids", solids_pct, 1.0, 100.0, "%") / 100.0)


def texture_l(area_m2: float, depth_um: float) -> float:
    """Volume [L] that fills the valleys of a rough slab before any film stands on its peaks.

    V = area · depth / 1000, the depth being the mean depth of the valleys under a straight edge.

    Args:
        area_m2: area [m²], above 0.
        depth_um: mean depth of the texture [µm], 0 to 10000.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges.

    >>> texture_l(10.0, 50.0)
    0.5

    Source: geometry.
    """
    depth_um = require_within("texture depth", depth_um, 0.0, 10000.0, "µm")
    return require_positive("area", area_m2, "m²") * depth_um / 1000.0


def volume_for_area_l(
    area_m2: float, wet_um: float, waste: float = 0.0, rule: WasteRule = "of what is mixed", texture_um: float = 0.0
) -> float:
    """Volume to mix [L] for an area at a wet film, with the texture filled and the waste allowed for.

    net = area·(wet + texture)/1000; "of what is mixed": net/(1 − waste); "on top": net·(1 + waste). Sheets use both:
    at 20 % they differ by 4 %.

    Args:
        area_m2: area [m²], above 0.
        wet_um: wet film thickness [µm], above 0.
        waste: fraction lost [-], 0 to 0.9.
        rule: which of the two conventions the fraction is meant in.
        texture_um: mean depth of the texture [µm], 0 to 10000.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges, or an unknown rule.

    >>> round(volume_for_area_l(10.0, 300.0, 0.10), 3), round(volume_for_area_l(10.0, 300.0, 0.10, "on top"), 3)
    (3.333, 3.3)

    Source: definition; both conventions occur on data sheets.
    """
    require_positive("wet film", wet_um, "µm")
    net_l = require_positive("area", area_m2, "m²") * wet_um / 1000.0 + texture_l(area_m2, texture_um)
    return with_waste_l(net_l, waste, rule)


def with_waste_l(net_l: float, waste: float, rule: WasteRule = "of what is mixed") -> float:
    """Volume to mix [L] so that `net_l` reaches the floor: net/(1 − waste), or net·(1 + waste) for "on top".

    Args:
        net_l: volume that is to reach the floor [L], above 0.
        waste: fraction lost [-], 0 to 0.9.
        rule: which of the two conventions the fraction is meant in.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges, or an unknown rule.

    >>> with_waste_l(9.0, 0.1)
    10.0

    Source: definition.
    """
    require_positive("volume", net_l, "L")
    require_within("waste", waste, 0.0, 0.9, "(a fraction)")
    if rule == "of what is mixed":
        return net_l / (1.0 - waste)
    if rule == "on top":
        return net_l * (1.0 + waste)
    raise ValueError(f"waste rule is {rule!r}; it must be 'of what is mixed' or 'on top'")


def net_of_waste_l(mixed_l: float, waste: float, rule: WasteRule = "of what is mixed") -> float:
    """Volume [L] that reaches the floor of what was mixed; the inverse of `with_waste_l`.

    Args:
        mixed_l: volume mixed [L], above 0.
        waste: fraction lost [-], 0 to 0.9.
        rule: which of the two conventions the fraction is meant in.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges, or an unknown rule.

    >>> net_of_waste_l(10.0, 0.1)
    9.0

    Source: definition.
    """
    return require_positive("volume", mixed_l, "L") / with_waste_l(1.0, waste, rule)


def wet_um_from(volume_l: float, area_m2: float, texture_um: float = 0.0) -> float:
    """Mean wet film [µm] that a volume left on an area = 1000·V/area − texture, not below 0.

    Args:
        volume_l: volume that reached the floor [L], above 0.
        area_m2: area it covered [m²], above 0.
        texture_um: mean depth of the texture it had to fill first [µm], 0 to 10000.

    Returns:
        wet film thickness over the peaks [µm]; 0 where all of it went into the texture.

    Raises:
        ValueError: outside those ranges.

    >>> wet_um_from(3.0, 10.0)
    300.0

    Source: geometry.
    """
    require_within("texture depth", texture_um, 0.0, 10000.0, "µm")
    mean_um = 1000.0 * require_positive("volume", volume_l, "L") / require_positive("area", area_m2, "m²")
    return max(0.0, mean_um - texture_um)


def area_for_volume_m2(volume_l: float, wet_um: float, texture_um: float = 0.0) -> float:
    """Area [m²] that a volume covers at a wet film = 1000·V/(wet + texture).

    Args:
        volume_l: volume that reaches the floor [L], above 0.
        wet_um: wet film thickness [µm], above 0.
        texture_um: mean depth of the texture [µm], 0 to 10000.

    Returns:
        area [m²].

    Raises:
        ValueError: outside those ranges.

    >>> area_for_volume_m2(9.0, 300.0)
    30.0

    Source: geometry.
    """
    require_within("texture depth", texture_um, 0.0, 10000.0, "µm")
    return (
        1000.0 * require_positive("volume", volume_l, "L") / (require_positive("wet film", wet_um, "µm") + texture_um)
    )


def flake_stuck_kg_m2(thrown_kg: float, swept_kg: float, area_m2: float) -> float:
    """Flake that stayed [kg/m²] = (thrown − swept up) / area.

    Args:
        thrown_kg: flake thrown [kg], above 0.
        swept_kg: flake swept and scraped up again [kg], 0 to thrown_kg.
        area_m2: area [m²], above 0.

    Returns:
        flake in the film [kg/m²].

    Raises:
        ValueError: outside those ranges.

    >>> round(flake_stuck_kg_m2(6.0, 1.4, 11.5), 3)
    0.4

    Source: conservation of mass.
    """
    require_positive("flake thrown", thrown_kg, "kg")
    require_within("flake swept up", swept_kg, 0.0, thrown_kg, "kg")
    return (thrown_kg - swept_kg) / require_positive("area", area_m2, "m²")


def flake_to_throw_kg(stuck_kg_m2: float, area_m2: float, swept_fraction: float = 0.0) -> float:
    """Flake to have ready [kg] = wanted in the film × area / (1 − share that is swept up again).

    Args:
        stuck_kg_m2: flake wanted in the film [kg/m²], above 0.
        area_m2: area [m²], above 0.
        swept_fraction: share of the thrown that does not stick [-], 0 to 0.9.

    Returns:
        flake [kg].

    Raises:
        ValueError: outside those ranges.

    >>> flake_to_throw_kg(0.4, 11.5, 0.2)
    5.75

    Source: conservation of mass.
    """
    require_within("share swept up", swept_fraction, 0.0, 0.9, "(a fraction)")
    wanted_kg = require_positive("flake", stuck_kg_m2, "kg/m²") * require_positive("area", area_m2, "m²")
    return wanted_kg / (1.0 - swept_fraction)

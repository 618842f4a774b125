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

"""How far a volume goes: spread rate, wet and dry film, waste, flake.

One litre spread 1000/film[µm] square metres: 1 L at 100 µm covers 10 m². Thus 1 US gal (231 in³) at 1 mil covers
231/0.144 = 1604.17 ft².
"""

from mixclock.formulas.ranges import require_positive, require_within


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


def volume_for_area_l(area_m2: float, wet_um: float) -> float:
    """Volume [L] that lies on an area at a wet film: area · wet film / 1000.

    Args:
        area_m2: area [m²], above 0.
        wet_um: wet film thickness [µm], above 0.

    Returns:
        volume [L].

    Raises:
        ValueError: not above 0.

    >>> volume_for_area_l(10.0, 300.0)
    3.0

    Source: definition.
    """
    return require_positive("area", area_m2, "m²") * require_positive("wet film", wet_um, "µm") / 1000.0


def with_waste_l(net_l: float, waste: float) -> float:
    """Volume to mix [L] so that `net_l` reaches the floor: net/(1 − waste), the waste being a share of what is mixed.

    Args:
        net_l: volume that is to reach the floor [L], above 0.
        waste: fraction lost [-], 0 to 0.9.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges.

    >>> with_waste_l(9.0, 0.1)
    10.0

    Source: definition.
    """
    return require_positive("volume", net_l, "L") / (1.0 - require_within("waste", waste, 0.0, 0.9, "(a fraction)"))


def net_of_waste_l(mixed_l: float, waste: float) -> float:
    """Volume [L] that reaches the floor of what was mixed; the inverse of `with_waste_l`.

    Args:
        mixed_l: volume mixed [L], above 0.
        waste: fraction lost [-], 0 to 0.9.

    Returns:
        volume [L].

    Raises:
        ValueError: outside those ranges.

    >>> net_of_waste_l(10.0, 0.1)
    9.0

    Source: definition.
    """
    return require_positive("volume", mixed_l, "L") / with_waste_l(1.0, waste)

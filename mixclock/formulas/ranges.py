"""Refuses values that a formula was not made for, in one line that names the range and the unit."""


def require_within(name: str, value: float, low: float, high: float, unit: str) -> float:
    """Return `value` when low ≤ value ≤ high, else raise ValueError naming range and unit.

    >>> require_within("air temperature", 21.0, -20.0, 60.0, "°C")
    21.0
    >>> require_within("air temperature", 75.0, -20.0, 60.0, "°C")
    Traceback (most recent call last):
    ValueError: air temperature is 75 °C; it must lie between -20 and 60 °C
    """
    if not low <= value <= high:  # also refuses nan
        raise ValueError(f"{name} is {value:g} {unit}; it must lie between {low:g} and {high:g} {unit}")
    return value


def require_positive(name: str, value: float, unit: str) -> float:
    """Return `value` when it is finite and above zero, else raise ValueError.

    >>> require_positive("mass", 0.0, "kg")
    Traceback (most recent call last):
    ValueError: mass is 0 kg; it must be above 0 kg and finite
    """
    if not 0.0 < value < float("inf"):
        raise ValueError(f"{name} is {value:g} {unit}; it must be above 0 {unit} and finite")
    return value

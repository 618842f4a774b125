"""mixclock: deadlines that are true for this bucket and this slab."""

__version__ = "0.1.0"

"""How long something took, and how much of that it stood in line for a processor that other work had.

The system keeps that account for each thread (`/proc/PID/task/*/schedstat`: worked, waited, in ns; see sched(7) and
the kernel's sched-stats.rst). Where it keeps none nothing is excused: then the clock on the wall alone judges.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.clock import SystemClock

_CLOCK = SystemClock()
_TASKS = Path("/proc/self/task")
Account = dict[str, tuple[float, float]]
"""Of each thread: what it worked and what it waited for a processor, in seconds."""


@dataclass(frozen=True)
class Took:
    """A span by the clock on the wall, and the part of it that this machine owed to others."""

    span_s: float
    starved_s: float = 0.0

    def starvation_alone_is_over(self, limit_s: float) -> bool:
        """Whether it would have come in time had a processor been free."""
        return self.span_s - self.starved_s <= limit_s < self.span_s


class Stopwatch:
    """Measures this process from now on, or from its birth."""

    def __init__(self, from_birth: bool = False) -> None:
        self._began_s = _CLOCK.monotonic_s()
        self._before: Account = {} if from_birth else account()

    def took(self) -> Took:
        """So far."""
        return Took(_CLOCK.monotonic_s() - self._began_s, starved_s(self._before, account()))


def account() -> Account:
    """What the threads of this process worked and waited so far."""
    try:
        tasks = list(_TASKS.iterdir())
    except OSError:
        return {}
    spent = ((task.name, _spent_s(task)) for task in tasks)
    return {name: one for name, one in spent if one is not None}


def _spent_s(task: Path) -> tuple[float, float] | None:
    try:
        worked, waited, _ = (task / "schedstat").read_text(encoding="ascii").split()
    except (OSError, ValueError):
        return None  # it has just ended, or this system keeps no account, or no handle is left
    return int(worked) / 1e9, int(waited) / 1e9


def starved_s(before: Account, after: Account) -> float:
    """The longest wait of a thread, less what the other threads of the process worked meanwhile: that is no one's fault
    but ours."""
    spent = {
        name: (worked - before.get(name, (0.0, 0.0))[0], waited - before.get(name, (0.0, 0.0))[1])
        for name, (worked, waited) in after.items()
    }
    total_s = sum(worked for worked, _ in spent.values())
    return max((waited - (total_s - worked) for worked, waited in spent.values()), default=0.0)

"""How long a process stood ready while the machine ran others: what a test of seconds may not count against it."""

from __future__ import annotations

from pathlib import Path


def waited_for_core_s(pid: int) -> float:
    """Seconds for which a process's first thread waited for a core since it began; 0 where the kernel keeps no count.

    Linux counts it in nanoseconds, second in the line (https://docs.kernel.org/scheduler/sched-stats.html).
    """
    try:
        return int(Path(f"/proc/{pid}/schedstat").read_text(encoding="ascii").split()[1]) / 1e9
    except (OSError, IndexError):
        return 0.0

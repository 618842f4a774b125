"""The front door: `mixclock` and `python -m mixclock`."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command that was typed. Ctrl-C while it still loads ends it like any other Ctrl-C."""
    try:
        from mixclock.cli import main as run

        return run()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())

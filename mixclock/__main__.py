"""The front door: `mixclock` and `python -m mixclock`."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command that was typed. Ctrl-C while it still loads ends it like any other Ctrl-C."""
    try:
        from mixclock.warmclient import CUT_OFF, answered, boot_s

        begun_s = boot_s()
        code = answered(sys.argv[1:])
        if code == CUT_OFF:
            from mixclock.cli.cutoff import after_a_cut

            code = after_a_cut(sys.argv[1:], begun_s)
        if code is not None:
            return code
        from mixclock.cli import main as run

        return run()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())

"""The front door: `mixclock` and `python -m mixclock`."""

from __future__ import annotations

import os
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
        if code is None:
            from mixclock.cli import is_brief
            from mixclock.cli import main as run

            if not is_brief(sys.argv[1:]):
                return run()
            # a few resins need no threads, and to start them takes as long as to run the resins
            os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
            code = run()
    except KeyboardInterrupt:
        code = 130
    return _gone(code)


def _gone(code: int) -> int:
    """Leave at once: what was stated is on the disk, and to take every module down takes longer than to state it."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            try:
                stream.flush()
            except (OSError, ValueError):
                return code  # Python tells at its end what it could not write
    os._exit(code)


if __name__ == "__main__":
    sys.exit(main())

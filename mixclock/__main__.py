"""`python -m mixclock` is the same as `mixclock`."""

import sys

from mixclock.cli import main

sys.exit(main())

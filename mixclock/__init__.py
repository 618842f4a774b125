"""mixclock: deadlines that are true for this bucket and this slab.

No public Python API is promised: any module, class or function may change with the next version. What other programs
may rely on is the command line with its `--json` answers and exit codes, the profile and job files, and `job export`;
the README describes them.
"""

__version__ = "0.1.0"

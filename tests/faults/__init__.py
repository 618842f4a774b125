"""The promise held against every fault that we could think of. Run `python -m tests.faults` for the table."""

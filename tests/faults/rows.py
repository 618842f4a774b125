"""Every row of the harness: the fault, what must hold, and what breaks it on purpose."""

from __future__ import annotations

from tests.faults.channelfaults import bad_channels
from tests.faults.clocks import lids_and_steps
from tests.faults.damage import flips, whole_files
from tests.faults.fuzz import fuzzed
from tests.faults.killed import random_kills
from tests.faults.locks import first_starts, held_books
from tests.faults.network import hostile_network
from tests.faults.powercut import power_cuts
from tests.faults.soak import soak
from tests.faults.syscalls import kills, refusals
from tests.faults.table import Counted, Row


def held_and_first(trials: int, broken: bool) -> Counted:
    """Half of each; the break is of the first kind."""
    counted = held_books(max(1, trials // 2), broken)
    if not broken:
        other = first_starts(max(1, trials // 2), False)
        counted.trials += other.trials
        counted.lost += other.lost
        counted.wrong += other.wrong
    return counted


def fates(trials: int, broken: bool) -> Counted:
    """Whole files, each kind in turn."""
    return whole_files(trials, broken)


ROWS = (
    Row("kill at a call", "SIGKILL at every write, sync, unlink of a statement and of an alert",
        "0 lost; at most 1 repeat, marked", "a receipt before sending, a yes before the commit", kills, 2, 200),
    Row("random kills", "kills in a compressed 72-h job", "0 missed", "a receipt before sending", random_kills,
        10, 1000),
    Row("power cut", "replay of the recorded writes, cut anywhere", "0 acknowledged lost, 0 corrupt books",
        "no sync", power_cuts, 40, 4000),
    Row("disk refuses", "ENOSPC, EIO at the Nth call, once and lasting", "every alert sounds; refusals in one line",
        "nothing is kept in mind", refusals, 3, 156),
    Row("locks and starts", "foreign lock 60 s; two first starts at once", "alert within 5 s; 0 lost",
        "the daemon waits for the book", held_and_first, 4, 80),
    Row("bit flips", "one bit of the book's file", "0 silently wrong; told within 5 s; restored", "no hash", flips,
        30, 1000),
    Row("whole files", "cut short, zeroed, random, emptied, deleted, log gone, older, newer",
        "told within 5 s; restored", "no copies, no tail", fates, 8, 40),
    Row("clocks", "suspend 1 s to 14 d; wall clock set by 1 s to 10 y; started behind or at 1970",
        "elapsed error within 1 s; within 3 s of waking; memory flat", "the wall clock for elapsed time",
        lids_and_steps, 16, 400),
    Row("channels", "hang, die, answer nonsense, come back; all gone",
        "next channel within 5 s; nothing delivered without a receipt", "silence is a yes", bad_channels, 6, 300),
    Row("fuzz", "hostile names; fuzzed profiles, job files, statements, imports, taps",
        "a named error or a right answer", "an instant read carelessly", fuzzed, 180, 10_000),
    Row("hostile network", "80 addresses, slow sockets, guesses, bent names",
        "a phone within 0.5 s; handles for the channels", "no cap", hostile_network, 10, 200),
    Row("30-day soak", "kills, deaf channels, full disks, day after day", "0 missed; p99 within 2 s and a fault's 1 s",
        "a receipt before sending", soak, 10, 10_000),
)  # fmt: skip

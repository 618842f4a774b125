"""Every row of the harness: the fault, what must hold, and what breaks it on purpose."""

from __future__ import annotations

from tests.faults.channelfaults import bad_channels
from tests.faults.clocks import lids_and_steps
from tests.faults.damage import flips, whole_files
from tests.faults.fuzz import fuzzed
from tests.faults.killed import random_kills
from tests.faults.locks import first_starts, held_books, two_daemons
from tests.faults.network import hostile_network
from tests.faults.powercut import power_cuts
from tests.faults.shutterminal import shut_terminals
from tests.faults.soak import soak
from tests.faults.syscalls import kills, refusals
from tests.faults.table import Counted, Row


def locks(trials: int, broken: bool) -> Counted:
    """A third of each; the break is of the first kind."""
    third = max(1, trials // 3)
    counted = held_books(third, broken)
    if not broken:
        counted.add(two_daemons(third))
        counted.add(first_starts(third, False))
    return counted


def channels(trials: int, broken: bool) -> Counted:
    """The last seventh are terminals that are shut; the break is of the other kinds."""
    counted = bad_channels(max(1, trials * 6 // 7), broken)
    if not broken:
        counted.add(shut_terminals(max(1, trials // 7)))
    return counted


ROWS = (
    Row("kill at a call", "SIGKILL at every write, sync, unlink of a statement and of an alert, in any thread",
        "0 lost; at most 1 repeat, marked; an alert within 3 s of the restart",
        "a receipt before sending, a yes before the commit",
        "a process, its kill and its book are real; it is forked with its imports done, except that in every tenth "
        "Python starts anew and the restart is timed; the channel is a socket; the disk is memory",
        kills, 3, 200),
    Row("random kills", "kills in a compressed 72-h job", "0 missed; at most 1 repeat a kill, marked",
        "a receipt before sending",
        "the inside of the watch is real; a kill is the loss of all it had in mind; clock, channel and book are fakes",
        random_kills, 6, 1000),
    Row("power cut", "replay of the recorded writes, cut anywhere", "0 acknowledged lost, 0 corrupt books", "no sync",
        "the writes were made by a real process and recorded by strace; the book that is left is opened for real; the "
        "disk that loses them is replayed",
        power_cuts, 20, 4000),
    Row("disk refuses", "ENOSPC, EIO at the Nth call, once and lasting; read-only folder",
        "every alert sounds; refusals in one line", "nothing is read or kept in mind",
        "a process, its refused call and its book are real; it is forked with its imports done; the channel is a "
        "socket; the disk is memory",
        refusals, 3, 600),
    Row("locks and starts", "foreign lock 60 s; two daemons; two first starts at once", "alert within 5 s; 0 lost",
        "the daemon waits for the book",
        "the locks, the books and the processes are real, Python's start among what is timed; the minute passes on a "
        "fake clock",
        locks, 3, 120),
    Row("bit flips", "one bit of the book's file", "0 silently wrong; told within 5 s; restored", "no hash",
        "the book, its file and its copies are real", flips, 60, 1000),
    Row("whole files", "cut short, zeroed, random, emptied, deleted, log gone, older, newer",
        "told within 5 s; restored", "no copies, no tail", "the book, its file and its copies are real",
        whole_files, 8, 80),
    Row("clocks", "suspend 1 s to 14 d; wall clock set by 1 s to 10 y; started behind or at 1970",
        "elapsed error within 1 s; within 3 s of waking; memory flat",
        "the wall clock for elapsed time; a trigger with a past",
        "the inside of the watch is real, on fake clocks; the scheduler under steps runs in real time",
        lids_and_steps, 10, 500),
    Row("channels", "hang, die, answer nonsense, come back; all gone; terminal shut",
        "next channel within 5 s; nothing delivered without a receipt", "silence is a yes",
        "time and threads are real, the broken channels are stand-ins; a terminal that is shut is one, and the watch "
        "on it a whole process",
        channels, 7, 350),
    Row("fuzz", "hostile names; fuzzed profiles, job files, statements, imports, taps",
        "a named error or a right answer; no nan", "an instant read carelessly",
        "the readers, and what follows from what they took, are real", fuzzed, 120, 10_000),
    Row("hostile network", "80 addresses, slow sockets, guesses, bent names, codes that were used",
        "alarms untouched; a phone within 0.5 s; handles for the channels", "no cap",
        "the server, its sockets and the addresses are real; strangers are another process; the house behind it is a "
        "fake",
        hostile_network, 10, 200),
    Row("30-day soak", "kills, deaf channels, full disks, set clocks, suspends, bit flips, day after day",
        "0 missed; p99 within 2 s; memory and handles flat", "a receipt before sending",
        "the inside of the watch, its book, its copies and a bit that flips are real, in one process; clocks and "
        "channel are fakes, a kill is the loss of all that was in mind; the disk is memory",
        soak, 10, 10_000),
)  # fmt: skip

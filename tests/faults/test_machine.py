"""Hypothesis states, withdraws, pours, kills, sets clocks, shuts lids, channels and disks at random.

It holds the daemon's inside against a model of the promise that knows nothing of it: a product whose pot life stands
still, and elapsed seconds added up by hand.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from mixclock.job.entry import Combined, Delivered, Entry, Poured, Withdrawn
from mixclock.outside.channels.message import Outcome
from tests.faults.jobdays import MODEL, FusedBook, FusedChannel, JobDay, KilledError, minutes, receipt_before_sending
from tests.watch.sheds import JOB, QUICK

POT_LIFE_S = 1200.0
SHED = QUICK.replace("{mixing}", "1 min").replace("{pot_life}", "20 min")
AWAKE_S, WAKING_S, REOPENED_S = 2.0, 3.0, 21.0
"""How long a call may take: while all is well, after a restart or a sleep, after a channel that was shut came back."""


class Promise:
    """What must hold, in ten lines: each stated bucket is called when its time is over, and not before, nor after it
    was poured or withdrawn. A fault gives the call a little longer."""

    def __init__(self) -> None:
        self.due_s: dict[int, float] = {}
        self.excused_until_s = 0.0

    def stated(self, batch: int, now_s: float) -> None:
        self.due_s[batch] = now_s + POT_LIFE_S

    def ended(self, batch: int) -> None:
        self.due_s.pop(batch, None)

    def fault(self, now_s: float, excuse_s: float) -> None:
        self.excused_until_s = max(self.excused_until_s, now_s + excuse_s)

    def owed(self, now_s: float) -> list[int]:
        return [one for one, due_s in self.due_s.items() if now_s > max(due_s + AWAKE_S, self.excused_until_s)]


class Watch(RuleBasedStateMachine):
    """The daemon's inside on a book in memory, with a desktop that may be shut and a process that may be killed."""

    def __init__(self) -> None:
        super().__init__()
        self.promise = Promise()
        self.day = JobDay(JOB, [SHED], book_of=FusedBook, model=MODEL)
        self.desktop = self.day.desktop = FusedChannel(self.day.clock)
        self.desktop.book = self.book = self.day.book
        self.day.every = (self.desktop,)
        self.day.start()
        self.acknowledged: list[Entry] = []
        self.batches: dict[int, int] = {}
        self.quiet_from: dict[str, int] = {}

    @property
    def now_s(self) -> float:
        return self.day.clock.boot_s()

    @property
    def is_shut(self) -> bool:
        return self.desktop.outcome is not Outcome.SENT

    @initialize(bay=st.integers(1, 2))
    def begin_with_a_bucket(self, bay: int) -> None:
        self.mix(bay)

    @rule(bay=st.integers(1, 2))
    @precondition(lambda self: len(self.batches) < 6)
    def mix(self, bay: int) -> None:
        entry = self._say("mixing", product="Quick base", areas=[f"bay {bay}"], volume_l=1.0)
        self.batches[entry.number] = len(self.batches) + 1
        self.promise.stated(len(self.batches), self.now_s)

    @rule(choice=st.integers(0, 99))
    @precondition(lambda self: self.promise.due_s)
    def pour(self, choice: int) -> None:
        batch = self._one_of_those_that_run(choice)
        self._say("poured", batch=batch)
        self._over(batch)

    @rule(choice=st.integers(0, 99))
    @precondition(lambda self: self.promise.due_s)
    def withdraw(self, choice: int) -> None:
        batch = self._one_of_those_that_run(choice)
        mixed = next(number for number, each in self.batches.items() if each == batch)
        self._say("withdraw", entry=mixed)
        self._over(batch)

    @rule(past_s=st.floats(0.5, 60))
    @precondition(lambda self: self.promise.due_s)
    def time_passes_until_one_is_due(self, past_s: float) -> None:
        self.time_passes(max(past_s, min(self.promise.due_s.values()) + past_s - self.now_s))

    @rule(span_s=st.floats(1, 1500))
    def time_passes(self, span_s: float) -> None:
        end_s = self.now_s + span_s
        while self.now_s < end_s - 0.01:
            ahead = self.day.next_look(self.day.clock.now() + minutes((end_s - self.now_s) / 60))
            self.day.clock.advance(max(0.01, min(end_s - self.now_s, (ahead - self.day.clock.now()).total_seconds())))
            self._look()

    @rule(writes=st.integers(0, 5))
    def the_process_is_about_to_be_killed(self, writes: int) -> None:
        self.book.fuse = writes

    @rule()
    def restart(self) -> None:
        self._start()

    @rule(span_s=st.one_of(st.floats(1, 20), st.floats(20, 3 * 86_400)))
    def sleep(self, span_s: float) -> None:
        self.day.clock.suspend(span_s)
        self.promise.fault(self.now_s, WAKING_S)
        self._look()

    @rule(step_s=st.floats(-3e8, 3e8))
    def set_the_clock(self, step_s: float) -> None:
        self.day.clock.step(step_s)
        self._look()

    @rule(how=st.sampled_from([Outcome.RETRY, Outcome.GIVE_UP]))
    def shut_the_channel(self, how: Outcome) -> None:
        self.desktop.outcome = how

    @rule()
    @precondition(lambda self: self.is_shut)
    def open_the_channel(self) -> None:
        self.desktop.outcome = Outcome.SENT
        self.promise.fault(self.now_s, REOPENED_S)

    @rule(full=st.booleans())
    def fill_the_disk_or_free_it(self, full: bool) -> None:
        self.book.broken = full

    @invariant()
    def every_bucket_whose_time_is_over_was_called(self) -> None:
        if not self.is_shut:
            called = self.desktop.first_s
            missed = [batch for batch in self.promise.owed(self.now_s) if f"b{batch}.pour-out" not in called]
            assert not missed, f"batch {missed} at {self.now_s:.0f} s, due {self.promise.due_s}"

    @invariant()
    def none_was_called_before_its_time(self) -> None:
        early = {
            batch: due_s - self.desktop.first_s[name]
            for batch, due_s in self.promise.due_s.items()
            if (name := f"b{batch}.pour-out") in self.desktop.first_s and self.desktop.first_s[name] < due_s - 1.0
        }
        assert not early

    @invariant()
    def what_cannot_have_been_received_stands(self) -> None:
        stands = {alert.id for alert in self._alerts()}
        over = [batch for batch, due_s in self.promise.due_s.items() if self.now_s > due_s + AWAKE_S]
        assert {f"b{batch}.pour-out" for batch in over} <= stands

    @invariant()
    def who_poured_or_withdrew_is_called_no_more(self) -> None:
        for alert, calls in self.quiet_from.items():
            assert self._calls_of(alert) == calls, alert

    @invariant()
    def nothing_that_was_acknowledged_is_lost(self) -> None:
        kept = [entry for entry in self.book.log if isinstance(entry.facts, Combined | Poured | Withdrawn)]
        assert [entry.number for entry in kept] == [entry.number for entry in self.acknowledged]

    @invariant()
    def nothing_is_delivered_without_a_receipt(self) -> None:
        receipts = [entry for entry in self.book.log if isinstance(entry.facts, Delivered)]
        written = sum(1 for entry in receipts if isinstance(entry.facts, Delivered) and entry.facts.outcome == "sent")
        taken = sum(len(names) for names in self.desktop.taken)
        assert written <= taken, f"{written} receipts for {taken} calls"

    def _alerts(self) -> Any:
        job = self.day.ticker.watched[self.day.job]
        return job.alerts(self.day.now_by_the_log())

    def _one_of_those_that_run(self, choice: int) -> int:
        return sorted(self.promise.due_s)[choice % len(self.promise.due_s)]

    def _over(self, batch: int) -> None:
        self.promise.ended(batch)
        self._look()
        self.quiet_from[f"b{batch}.pour-out"] = self._calls_of(f"b{batch}.pour-out")

    def _calls_of(self, alert: str) -> int:
        """How often it was told; a message that is put right for the others keeps the name of the whole."""
        return sum(alert == name for taking in self.desktop.takings for name, _ in taking.stages)

    def _say(self, verb: str, **what: Any) -> Entry:
        """A person states it until it is acknowledged: the disk has room again, and the process is not killed in it."""
        fuse, broken = self.book.fuse, self.book.broken
        self.book.fuse, self.book.broken = None, False
        entries = self.day.say(verb, **what)
        self.acknowledged += [each for each in entries if isinstance(each.facts, Combined | Poured | Withdrawn)]
        self.book.fuse, self.book.broken = fuse, broken
        self._look()
        return next(each for each in entries if isinstance(each.facts, Combined | Poured | Withdrawn))

    def _look(self) -> None:
        try:
            self.day.look()
        except KilledError:
            self._start()

    def _start(self) -> None:
        self.promise.fault(self.now_s, WAKING_S)
        while True:
            try:
                self.day.start()
                return
            except KilledError:
                continue


FEW = settings(max_examples=12, stateful_step_count=18, deadline=None, suppress_health_check=list(HealthCheck))


def calls_seen(how: settings) -> int:
    """Play histories; how many calls the desktop took in all of them."""
    calls: list[int] = []

    class Played(Watch):
        def teardown(self) -> None:
            calls.append(len(self.desktop.taken))

    run_state_machine_as_test(Played, settings=how)
    return sum(calls)


def test_the_watch_keeps_its_promise_whatever_befalls_it() -> None:
    assert calls_seen(FEW) > 0


@pytest.mark.long
def test_the_watch_keeps_its_promise_through_long_histories() -> None:
    assert calls_seen(settings(FEW, max_examples=300, stateful_step_count=60)) > 1000


def test_a_receipt_before_sending_is_found_out() -> None:
    """The deliberate break: the machine is no use if it does not see this one."""
    with receipt_before_sending(True), pytest.raises(AssertionError, match=r"receipts|batch"):
        calls_seen(settings(FEW, max_examples=100, print_blob=False, phases=(Phase.generate,)))


def test_a_message_that_is_put_right_for_the_others_calls_nobody_who_poured() -> None:
    watch = Watch()
    watch.begin_with_a_bucket(bay=1)  # type: ignore[misc]
    for _ in range(2):
        watch.mix(bay=1)
    watch.sleep(span_s=1260.0)
    for _ in range(2):
        watch.pour(choice=0)
    assert len(watch.desktop.of("b1.pour-out")) > watch._calls_of("b1.pour-out")
    watch.who_poured_or_withdrew_is_called_no_more()

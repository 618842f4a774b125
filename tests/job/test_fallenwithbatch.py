"""What was said of a batch falls with it when its mixing was a mistake, and counts again when that is taken back."""

from __future__ import annotations

from mixclock.job.entry import Combined, MixingEnded, Poured, Reading, Unreadable, Withdrawn
from tests.decide.worlds import Log


def test_the_pour_of_a_batch_that_never_was_stands_in_no_record_as_done() -> None:
    log = Log()
    mixed = log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    ended = log.add(3, MixingEnded(1))
    poured = log.add(5, Poured(1))
    slab = log.add(6, Reading(slab_c=20.0))
    assert log.standing().withdrawn == frozenset()
    taken_back = log.add(8, Withdrawn(mixed.number))
    standing = log.standing()
    assert standing.batches == ()
    assert standing.withdrawn == {mixed.number, ended.number, poured.number}
    assert slab in standing.live()
    assert poured not in standing.live()
    log.add(9, Withdrawn(taken_back.number))
    assert not log.standing().withdrawn & {mixed.number, ended.number, poured.number}
    assert log.standing().batches[0].portions


def test_a_log_of_which_nothing_but_a_bucket_is_left_is_a_floor_of_its_name() -> None:
    log = Log()
    log.entries[:] = []
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
    standing = log.standing()
    assert (standing.site.name, standing.site.zone, len(standing.batches)) == ("shed", "UTC", 1)


def test_a_bucket_that_only_a_newer_program_can_read_keeps_its_number() -> None:
    log = Log()
    log.add(0, Unreadable("combined", "a newer mixclock wrote it"))
    log.add(2, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    log.add(6, Poured(2))
    (batch,) = log.standing().batches
    assert batch.id == 2
    assert batch.portions

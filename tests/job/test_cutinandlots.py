"""The cut-in is stated without a window, and the lots of both parts are kept."""

from __future__ import annotations

from datetime import timedelta

from mixclock.decide.why.layers import Value
from mixclock.decide.why.quantities.joints import CUT_IN_USED
from mixclock.job.saying import Attribution
from mixclock.job.statements import DidStatement, MixedStatement
from tests.words.record.studio import MORNING, PRODUCT, Studio


def test_a_cut_in_is_stated_and_counts_against_the_field_that_came_late() -> None:
    made = Studio()
    for at in range(-30, 600, 60):
        made.air(at, 19.0)
    made.batch(1, "bay 1", 0.0, poured=None, rolled=None, flaked=None)
    at = MORNING + timedelta(minutes=5)
    (draft,) = DidStatement("cut-in", areas=("bay 1",)).drafts(made.record().standing, Attribution(at))
    made.add(5.0, draft.facts, "roller")
    from mixclock.job.entry import Poured

    made.add(150.0, Poured(1, ("bay 1",)), "mixer")
    case = made.record().case
    used = CUT_IN_USED.gather(case, case.layers[("bay 1", "base")])
    assert isinstance(used, Value)
    assert isinstance(used.value, float)
    assert used.value > 1.0


def test_the_lots_of_both_parts_go_into_the_log() -> None:
    from mixclock.units import Amount

    statement = MixedStatement(product=PRODUCT, amount=Amount(volume_l=2.7), areas=("bay 1",), lot_a="A-1", lot_b="B-7")
    (draft, *_) = statement.drafts(Studio().record().standing, Attribution(MORNING + timedelta(hours=1)))
    assert (getattr(draft.facts, "lot_a", None), getattr(draft.facts, "lot_b", None)) == ("A-1", "B-7")

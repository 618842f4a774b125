"""Half a data sheet typed in is not lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.outside.profiledrafts import ProfileDraft, drafts, drop, keep, path_of_draft
from mixclock.outside.profilefiles import ProfileFileError, names


def test_a_draft_comes_back_as_it_was_left(home: Path) -> None:
    draft = ProfileDraft(path_of_draft("Shed base"), {"name": "Shed base", "mix.time": "3 min"}, "pot-life.at")
    keep(draft)
    assert drafts() == [draft]
    drop(draft)
    assert drafts() == []


def test_a_draft_is_no_product_yet(home: Path) -> None:
    keep(ProfileDraft(path_of_draft("Shed base"), {"name": "Shed base"}, "family"))
    assert "Shed base" not in names()


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"answers": 3, "at": "x"}', '{"answers": {"a": 1}, "at": "x"}'])
def test_a_draft_that_was_damaged_is_said_in_one_line(home: Path, text: str) -> None:
    path = path_of_draft("Shed base")
    path.parent.mkdir(parents=True)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileFileError, match="is no draft of a profile; remove it"):
        drafts()


def test_a_name_can_not_lead_a_draft_out_of_its_folder(home: Path) -> None:
    assert path_of_draft("../../../etc/x").parent == path_of_draft("x").parent

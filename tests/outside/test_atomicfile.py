"""A file is the old one or the whole new one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from mixclock.outside.atomicfile import write_atomically


def test_a_file_is_replaced_whole_and_its_folder_made(tmp_path: Path) -> None:
    path = tmp_path / "new" / "base.toml"
    write_atomically(path, "one")
    write_atomically(path, "two µ\n")
    assert path.read_bytes() == "two µ\n".encode()
    assert [entry.name for entry in path.parent.iterdir()] == ["base.toml"]


def test_a_full_disk_leaves_the_old_file_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "base.toml"
    write_atomically(path, "old")

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_atomically(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["base.toml"]

"""The power goes: recorded writes are replayed up to any point; what was not yet synced is in doubt."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.book import Book, BookError
from mixclock.outside.clock import FakeClock
from tests.faults.forking import ROOT, quick_folder
from tests.faults.jobdays import dice
from tests.faults.oneshot import JOB, MORNING, prepare
from tests.faults.table import Counted, each
from tests.outside.verified import verify

NOTES = 40
SECTOR = 512
_CALL = re.compile(r"^(\w+)\((\d+)<([^>]*)>(?:, (.*))?\) += (-?\d+)")
_UNLINK = re.compile(r'^unlink\("((?:\\x..)*)"\) += 0')
_RENAME = re.compile(r'^rename\("((?:\\x..)*)", "((?:\\x..)*)"\) += 0')


@dataclass
class Op:
    """One recorded write, cut, sync, removal or renaming of a file, or an acknowledgement."""

    kind: str
    path: str
    offset: int = 0
    data: bytes = b""


def recorded(home: Path, broken: bool) -> list[Op]:
    """Run some statements under strace; what they did to the files of the home, in order."""
    import os

    trace = home.parent / "trace"
    asked = [sys.executable, "-m", "tests.faults.powercut", str(home)]
    calls = "pwrite64,write,ftruncate,fsync,fdatasync,unlink,rename"
    env = {**os.environ, "PYTHONPATH": str(ROOT), "MIXCLOCK_FAULTS_BREAK": "sync" if broken else ""}
    strace = ["strace", "-qq", "-y", "-xx", "-s", "200000", "-e", f"trace={calls}", "-o", str(trace)]
    subprocess.run([*strace, *asked], env=env, cwd=ROOT, check=True, timeout=120, stdout=subprocess.DEVNULL)
    return [op for line in trace.read_text().splitlines() if (op := _op(line, str(home))) is not None]


def _op(line: str, home: str) -> Op | None:  # noqa: PLR0911  one answer for each kind of line
    if (gone := _UNLINK.match(line)) is not None:
        path = _bytes(gone[1]).decode()
        return Op("unlink", path) if path.startswith(home) else None
    if (moved := _RENAME.match(line)) is not None:
        path = _bytes(moved[1]).decode()
        return Op("rename", path, data=_bytes(moved[2])) if path.startswith(home) else None
    found = _CALL.match(line)
    if found is None or int(found[5]) < 0:
        return None
    call, path, rest = found[1], found[3], found[4] or ""
    path = _bytes(path).decode() if "\\x" in path else path
    if not path.startswith(home):
        data = _bytes(rest.split('"')[1]) if call == "write" and '"' in rest else b""
        return Op("said", "", data=data) if data.startswith(b"said ") else None
    if call in ("fsync", "fdatasync"):
        return Op("sync", path)
    if call == "ftruncate":
        return Op("cut", path, int(rest))
    offset = int(rest.rpartition(",")[2]) if call == "pwrite64" else -1
    return Op("write", path, offset, _bytes(rest.split('"')[1]))


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def power_cuts(trials: int, broken: bool) -> Counted:
    """Cut anywhere: what was synced is there, of the rest any part, in any order, torn at a sector."""
    counted = Counted()
    with tempfile.TemporaryDirectory(prefix="faults-", dir=quick_folder()) as made:
        sound, home = Path(made) / "sound", Path(made) / "home"
        sound.mkdir()
        prepare(sound)
        shutil.copytree(sound, home)
        ops = recorded(home, broken)
        disk = Path(made) / "disk"
        for trial in each(trials):
            throw = dice(trial)
            cut = throw.randrange(1, len(ops) + 1)
            said = _replay(ops[:cut], sound, home, disk, throw)
            counted.trials += 1
            try:
                with Book(disk / "book.sqlite3", FakeClock(MORNING)) as book:
                    notes = {entry.facts.text for entry in book.entries(JOB) if entry.facts.kind == "noted"}  # type: ignore[union-attr]
                    wrong = verify(book)
            except BookError as error:
                counted.fail(f"cut {cut}: {error}")
                continue
            if wrong is not None:
                counted.fail(f"cut {cut}: {wrong}")
            counted.lost += len(said - notes)
        if not any(op.kind == "said" for op in ops):
            counted.fail("nothing was recorded")
    return counted


def _replay(ops: list[Op], sound: Path, home: Path, disk: Path, throw) -> set[str]:  # type: ignore[no-untyped-def]
    shutil.rmtree(disk, ignore_errors=True)
    shutil.copytree(sound, disk)
    files = {str(path): bytearray(path.read_bytes()) for path in sound.rglob("*") if path.is_file()}
    content = {name.replace(str(sound), str(home), 1): data for name, data in files.items()}
    last_sync = {op.path: place for place, op in enumerate(ops) if op.kind == "sync"}
    said: set[str] = set()
    for place, op in enumerate(ops):
        if op.kind == "said":
            said.add(f"note {int(op.data.split()[1])}")
            continue
        in_doubt = place > last_sync.get(op.path, -1)
        if in_doubt and throw.random() < 0.5:
            continue  # it never reached the disk
        _apply(content, op, throw if in_doubt else None)
    for path in disk.rglob("*"):
        if path.is_file():
            path.unlink()
    for name, data in content.items():
        target = Path(name.replace(str(home), str(disk), 1))
        target.parent.mkdir(parents=True, exist_ok=True)
        if not name.endswith("-shm"):
            target.write_bytes(data)
    return said


def _apply(content: dict[str, bytearray], op: Op, throw) -> None:  # type: ignore[no-untyped-def]
    if op.kind == "unlink":
        content.pop(op.path, None)
    elif op.kind == "rename" and op.path in content:
        content[op.data.decode()] = content.pop(op.path)
    elif op.kind == "cut":
        data = content.setdefault(op.path, bytearray())
        del data[op.offset :]
        data.extend(bytes(op.offset - len(data)))
    elif op.kind == "write":
        data = content.setdefault(op.path, bytearray())
        offset = len(data) if op.offset < 0 else op.offset
        kept = op.data
        if throw is not None and len(kept) > SECTOR and throw.random() < 0.3:
            kept = kept[: SECTOR * throw.randrange(len(kept) // SECTOR + 1)]
        data.extend(bytes(max(0, offset + len(kept) - len(data))))
        data[offset : offset + len(kept)] = kept


def main() -> None:
    """State notes, each acknowledged on the standard output once the book has it."""
    import os

    from mixclock.job.entry import Noted

    with Book(Path(sys.argv[1]) / "book.sqlite3", FakeClock(MORNING)) as book:
        if os.environ.get("MIXCLOCK_FAULTS_BREAK") == "sync":
            book.connection.own().execute("PRAGMA synchronous = OFF")
        for number in range(NOTES):
            book.append(JOB, Noted(f"note {number}"))
            os.write(1, b"said %d\n" % number)
            if number == NOTES // 2:
                book.copy()


if __name__ == "__main__":
    main()

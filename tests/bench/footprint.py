"""How much memory and processor the daemon with its board takes while three phones watch a working day.

Run `python -m tests.bench.footprint [SECONDS]`; by default 60. Nothing is installed or kept.
"""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import repeat
from pathlib import Path

from tests.bench.trees import Tree

ROOT = Path(__file__).resolve().parents[2]
PHONES = 3
STATE_EVERY_S = 6.0
SETTLES_S = 4.0
SETTLED_BY_S = 30.0
"""What a start still works out is no idle minute: it is waited for until no view came for some seconds."""

JOB = """
name = "Boat shed floor"
zone = "Europe/Lisbon"
[[areas]]
name = "slip 1"
size = "24 m2"
[[areas]]
name = "slip 2"
size = "24 m2"
next_to = ["slip 1"]
[[areas]]
name = "slip 3"
size = "24 m2"
next_to = ["slip 2"]
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
kit = "9 L"
"""


@contextmanager
def watched(tree: Tree, home: Path) -> Iterator[tuple[int, Iterator[str]]]:
    """`mixclock watch` beside a floor that is measured and where nothing runs: its process, and the next phones' codes.

    It is the command that a service runs, from its own process on.
    """
    job, env = home / "job.toml", dict(tree.env(home))
    job.write_text(JOB, encoding="utf-8")
    command = [sys.executable, "-m", "mixclock"]
    for words in (("job", "start", str(job)), ("reading", "--air", "19 C", "--rh", "58", "--slab", "16.5 C")):
        subprocess.run([*command, *words], env=env, cwd=tree.root, check=True, capture_output=True)
    child = subprocess.Popen([*command, "watch", "--plain", "--no-sound", "--port", "0"], stdin=subprocess.DEVNULL,
                             stdout=subprocess.PIPE, text=True, env=env, cwd=tree.root)  # fmt: skip
    assert child.stdout is not None
    lines = child.stdout
    try:
        yield child.pid, (line.split()[-1] for line in lines if "#pair=" in line)
    finally:
        child.terminate()
        child.wait(20)


class Phone:
    """A phone as the server sees it: a cookie, an event stream that is read to the end, a tap now and then."""

    def __init__(self, url: str) -> None:
        address, _, secret = url.partition("/#pair=")
        self.host = address.removeprefix("http://")
        self.cookie = ""
        _, headers = self.post("/pair", {"secret": secret, "device": "phone"})
        self.cookie = headers["Set-Cookie"].partition(";")[0]
        self.views = self.got_bytes = 0
        self.seen_at: list[float] = []
        threading.Thread(target=self._follow, daemon=True).start()

    def post(self, path: str, body: object) -> tuple[dict, http.client.HTTPMessage]:
        wire = http.client.HTTPConnection(self.host, timeout=10)
        headers = {"Origin": f"http://{self.host}", "Content-Type": "application/json", "Cookie": self.cookie}
        wire.request("POST", path, json.dumps(body), headers)
        answer = wire.getresponse()
        told = json.loads(answer.read())
        wire.close()
        return told, answer.headers

    def await_view(self, shown: bool) -> None:
        """Wait until the page is shown and its next kit is known, where there is a page."""
        ends = time.perf_counter() + SETTLED_BY_S
        while shown and self.views < 1 and time.perf_counter() < ends:
            time.sleep(0.05)  # noqa: TID251
        time.sleep(1.0)  # noqa: TID251

    def _follow(self) -> None:
        wire = http.client.HTTPConnection(self.host, timeout=30)
        wire.request("GET", "/events?page=1", headers={"Cookie": self.cookie})
        answer = wire.getresponse()
        while line := answer.readline():
            self.got_bytes += len(line)
            if line.startswith(b"event: view"):
                self.views += 1
                self.seen_at.append(time.perf_counter())


def measured(pid: int) -> tuple[float, float]:
    """Resident memory in MB and processor seconds so far, from /proc."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    resident_kb = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS"))
    ticks = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return resident_kb / 1024, (int(ticks[11]) + int(ticks[12])) / os.sysconf("SC_CLK_TCK")


def day_of(phones: list[Phone], span_s: float) -> tuple[list[float], list[float]]:
    """The crew at work for a while; how long each tap took to be in the book, and on the other phones, in ms."""
    script = [
        {"verb": "mixing", "product": "Slow epoxy base", "areas": [f"slip {n}"], "volume_l": 9.0} for n in (1, 2, 3)
    ]
    script[1:1] = [{"verb": "poured", "batch": 1}, {"verb": "began", "step": "back-roll", "batch": 1}]
    script += [{"verb": "reading", "slab_c": 16.5 + number / 10} for number in range(1000)]
    took_ms: list[float] = []
    shown_ms: list[float] = []
    ends = time.perf_counter() + span_s
    for number, statement in enumerate(script):
        began = time.perf_counter()
        if began >= ends:
            break
        told, _ = phones[number % PHONES].post("/state", {"key": f"bench-{number:06}", "statement": statement})
        took_ms.append(1000 * (time.perf_counter() - began))
        assert "entry" in told, told
        time.sleep(max(0.0, min(began + STATE_EVERY_S, ends) - time.perf_counter()))  # noqa: TID251  real time is measured
        others = [phone for phone in phones if phone is not phones[number % PHONES]]
        shown_ms += [1000 * (next(at for at in phone.seen_at if at > began) - began) for phone in others]
    return sorted(took_ms), sorted(shown_ms)


def main(span_s: float) -> int:
    """Start the process, let three phones watch, print what it took."""
    with (
        tempfile.TemporaryDirectory() as home,
        watched(Tree(ROOT, Path(home) / "compiled"), Path(home)) as (pid, codes),
    ):
        phones = [Phone(next(codes)) for _ in range(PHONES)]
        _, before_s = measured(pid)
        began = time.perf_counter()
        took_ms, shown_ms = day_of(phones, span_s)
        resident_mb, after_s = measured(pid)
        passed_s = time.perf_counter() - began
    print(f"{PHONES} phones, {passed_s:.0f} s, {len(took_ms)} taps")
    print(f"memory {resident_mb:.0f} MB, processor {100 * (after_s - before_s) / passed_s:.1f} % of a core")
    print(
        f"a tap is in the book after {took_ms[len(took_ms) // 2]:.0f} ms (half of them), {took_ms[-1]:.0f} ms at most"
    )
    print(f"it is on the other phones' line after {shown_ms[len(shown_ms) // 2]:.0f} ms, {shown_ms[-1]:.0f} ms at most")
    print(f"sent to each phone: {phones[0].views} views, {phones[0].got_bytes / 1024 / passed_s:.1f} kB/s")
    return 0


def serve_bare() -> None:
    """Beside it: a bare Starlette event stream that says once in five seconds that it lives."""
    import asyncio
    from collections.abc import AsyncIterator

    import uvicorn
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import StreamingResponse
    from starlette.routing import Route

    async def alive() -> AsyncIterator[str]:
        while True:
            yield "event: alive\ndata: 1\n\n"
            await asyncio.sleep(5.0)

    async def events(_: Request) -> StreamingResponse:
        return StreamingResponse(alive(), media_type="text/event-stream")

    server = uvicorn.Server(uvicorn.Config(Starlette(routes=[Route("/events", events)]), port=0, log_level="error"))
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.02)  # noqa: TID251
    print(f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}", flush=True)
    for _ in sys.stdin:
        pass


class BareListener(Phone):
    """A phone on the bare stream."""

    def __init__(self, url: str) -> None:
        self.host, self.cookie = url.removeprefix("http://"), ""
        self.views = self.got_bytes = 0
        self.seen_at = []
        threading.Thread(target=self._follow, daemon=True).start()


@contextmanager
def streaming(tree: Tree, home: Path) -> Iterator[tuple[int, Iterator[str]]]:
    """The bare stream: its process, and its address for each listener."""
    child = subprocess.Popen([sys.executable, "-m", "tests.bench.footprint", "--bare"], stdin=subprocess.PIPE,
                             stdout=subprocess.PIPE, text=True, cwd=tree.root, env=dict(tree.env(home)))  # fmt: skip
    assert child.stdin is not None
    assert child.stdout is not None
    try:
        yield child.pid, repeat(child.stdout.readline().strip())
    finally:
        child.stdin.close()
        child.wait(20)


def settle(phones: Sequence[Phone]) -> None:
    """Wait until every page was shown all that a start works out."""
    ends = time.perf_counter() + SETTLED_BY_S
    views, since = -1, time.perf_counter()
    while time.perf_counter() < min(ends, since + SETTLES_S):
        if (shown := sum(each.views for each in phones)) != views:
            views, since = shown, time.perf_counter()
        time.sleep(0.05)  # noqa: TID251


def quiet_minute(tree: Tree, span_s: float, *, bare: bool) -> Mapping[str, float]:
    """What it takes while nothing happens: memory, processor, what is sent; `bare` is the stream beside it.

    It is begun once before, so that its modules are compiled: whoever installs a package has them compiled.
    """
    with tempfile.TemporaryDirectory() as home, (streaming if bare else watched)(tree, Path(home)) as (_, codes):
        (BareListener if bare else Phone)(next(codes)).await_view(not bare)
    with tempfile.TemporaryDirectory() as home, (streaming if bare else watched)(tree, Path(home)) as (pid, codes):
        phones = [(BareListener if bare else Phone)(next(codes)) for _ in range(PHONES)]
        settle(phones)
        views, got = sum(each.views for each in phones), phones[0].got_bytes
        _, before_s = measured(pid)
        time.sleep(span_s)  # noqa: TID251
        resident_mb, after_s = measured(pid)
    return {
        "mb": resident_mb,
        "cpu_pct": 100 * (after_s - before_s) / span_s,
        "views": float(sum(each.views for each in phones) - views),
        "bytes_s": (phones[0].got_bytes - got) / span_s,
    }


if __name__ == "__main__":
    if sys.argv[1:2] == ["--bare"]:
        serve_bare()
    else:
        sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0))

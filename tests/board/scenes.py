"""Every state that a board can be in, played on real books: for tests that look at all of them, and for the eye.

`python -m tests.board.scenes FOLDER [WORD]` takes a picture of each scene at the four sizes, in both crews' units; WORD
takes only those whose name holds it.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from mixclock.board.house import BoardHouse
from mixclock.board.joining import JoinedHouse
from mixclock.board.server import BoardServer
from mixclock.job.cups import Cup
from mixclock.outside.clock import FastClock
from mixclock.wiring import House, open_house
from tests.saying import as_said

SIZES = ((390, 844), (844, 390), (768, 1024), (1366, 768))
FIRST_MORNING = datetime(2026, 4, 13, 8, 2, tzinfo=UTC)
DAY_S = 24 * 3600.0

AREAS = (("slip 1", 24.0), ("slip 2", 24.0), ("slip 3", 20.0), ("slip 4", 18.0))
LONG_AREAS = (("Materialannahmestelle Nordwest mit Fußbodenheizungsverteiler", 24.0), ("x" * 120, 24.0))
PAIR = ("mixer", "roller")
LONG_PAIR = ("Fußbodenbeschichtungsfachkraft", "Maximiliane-Friederike von der Bootslagerhalle")
FLOOR_KIT_L = 7.5


@dataclass(frozen=True)
class Crew:
    """Whose board it is: how they write, and where they are."""

    name: str
    head: str
    ft2: bool = False
    behind_h: float = 0.0

    def size(self, m2: float) -> str:
        """An area as they say it."""
        return f"{m2 * 10.7639:.0f} ft2" if self.ft2 else f"{m2:g} m2"

    def either(self, metric: str, american: str) -> str:
        """Their way of two."""
        return american if self.ft2 else metric


METRIC = Crew("metric", 'zone = "Europe/Lisbon"\nunits = "metric"\n')
US = Crew("us", 'zone = "America/Denver"\nunits = "US"\nclock = "12 h"\n', ft2=True, behind_h=7.0)
CREWS = (METRIC, US)


@dataclass
class Stage:
    """Where a scene is played: a book of its own, on a clock that only goes forward."""

    house: House
    clock: FastClock
    crew: Crew

    def wait(self, minutes: float) -> None:
        """Let the job's time pass."""
        self.clock.jump(60.0 * minutes)

    def state(self, verb: str, by: str | None = None, **what: Any) -> None:
        """State something now."""
        self.house.state(as_said(verb, what), by=by)

    def mix(self, area: str = "slip 1", litres: float = FLOOR_KIT_L, **more: Any) -> None:
        """B goes in."""
        self.state("mixing", product="Slow epoxy base", volume_l=litres, areas=[area], coat="base", **more)

    def lay(self, batch: int, area: str) -> None:
        """A bucket through all its steps, in good time."""
        self.mix(area)
        self.wait(4)
        self.state("poured", batch=batch)
        self.wait(9)
        self.state("rolled", batch=batch)
        self.wait(8)
        self.state("flaked", batch=batch)


Play = Callable[[Stage], None]
Touch = Callable[[Any], None]


@dataclass(frozen=True)
class Scene:
    """What is stated, then what is touched on the page."""

    name: str
    play: Play = lambda stage: None
    touch: Touch = lambda page: None
    areas: tuple[tuple[str, float], ...] = AREAS
    people: tuple[str, ...] = PAIR
    etch: bool = False
    silent: bool = False
    job: bool = True


def job_text(scene: Scene, crew: Crew, name: str) -> str:
    """The job file of a scene, in the crew's units."""
    areas = ""
    for number, (area, m2) in enumerate(scene.areas, 1):
        after = "".join(f'"{name}"' for name, _ in scene.areas[number : number + 1])
        areas += f'[[areas]]\nname = "{area}"\nsize = "{crew.size(m2)}"\norder = {number}\nnext_to = [{after}]\n'
    people = "".join(f'[[crew]]\nname = "{person}"\n' for person in scene.people)
    etch = '[[coats]]\nname = "etch"\nproduct = "Etching solution"\n' if scene.etch else ""
    film, top, flake = (
        crew.either(*both) for both in (("300 um", "12 mil"), ("125 um", "5 mil"), ("0.4 kg/m2", "0.08 lb/ft2"))
    )
    pail, across, kit = (crew.either(*both) for both in (("20 L", "5 gal"), ("28 cm", "11 in"), ("9 L", "2.5 gal")))
    return (
        f'name = "{name}"\n{crew.head}{areas}{people}'
        f'[[vessels]]\nname = "pail"\nvolume = "{pail}"\nacross = "{across}"\n{etch}'
        f'[[coats]]\nname = "base"\nproduct = "Slow epoxy base"\nwet_film = "{film}"\nflake = "{flake}"\n'
        f'kit = "{kit}"\nsplit = true\n'
        f'[[coats]]\nname = "top"\nproduct = "Polyaspartic top coat"\nwet_film = "{top}"\nafter = "base"\n'
    )


class ChangingHouse:
    """The house of whichever scene is on; who is paired stays known."""

    def __init__(self) -> None:
        self.settings: dict[str, str] = {}
        self._open: Callable[[], BoardHouse] | None = None
        self._house: BoardHouse | None = None
        self._changes = itertools.count()

    def change(self, to: Callable[[], BoardHouse]) -> None:
        """Another scene; its house is opened by the board's own thread."""
        self._open = to

    def setting(self, name: str) -> str | None:
        """Kept across the scenes."""
        return self.settings.get(name)

    def put_setting(self, name: str, value: str) -> None:
        """Kept across the scenes."""
        self.settings[name] = value

    def version(self) -> int:
        """Always news: scenes are drawn when they are asked for, and their next kits only where a look leaves time."""
        return next(self._changes)

    def is_still(self) -> bool:
        """Never: every look draws."""
        return False

    def close(self) -> None:
        """The last one's book."""
        if self._house is not None:
            self._house.close()

    def __getattr__(self, name: str) -> Any:
        """Everything else is the scene's."""
        if self._open is not None:
            self.close()
            self._house, self._open = self._open(), None
        return getattr(self._house, name)


@dataclass
class Theatre:
    """One board on which one scene after the other is played; a page that looks at it stays paired."""

    folder: Path
    clock: FastClock = field(default_factory=lambda: FastClock(1.0, FIRST_MORNING))
    house: ChangingHouse = field(default_factory=ChangingHouse)
    played: int = 0

    def __post_init__(self) -> None:
        self._silent_s, self._over = 0.0, threading.Event()
        self.house.change(lambda: JoinedHouse(open_house(self.folder / "empty", self.clock)))
        self.server = BoardServer(lambda: self.house, self.clock, port=0)  # type: ignore[arg-type, return-value]
        self.server.start()
        threading.Thread(target=self._tick_on, daemon=True).start()

    def _tick_on(self) -> None:
        while not self._over.wait(0.4):
            self._tick()

    def _tick(self) -> None:
        """The daemon looks, or has not looked for so long."""
        self.server.heartbeat(self.clock.now() - timedelta(seconds=self._silent_s))

    def close(self) -> None:
        """Take it down."""
        self._over.set()
        self.server.stop()

    def pair(self, context: Any) -> Any:
        """A page in this browser profile that looks at every scene to come."""
        page = context.new_page()
        self.server.heartbeat(self.clock.now())
        page.goto(self.server.pairing_url())
        page.wait_for_selector("#contact[data-state=ok]")
        page.evaluate(JOINED)
        return page

    def stage(self, scene: Scene, crew: Crew) -> None:
        """Play a scene's statements into a book of its own, and put it on the board."""
        self.played += 1
        self.home = home = self.folder / f"{crew.name} {self.played}"
        name = f"Boat shed {self.played}"
        if scene.people is LONG_PAIR:
            name = f"Bootslagerhallenbodenbeschichtungsvorhaben im Hafen, Halle {self.played}"
        over_s = (self.clock.now() - FIRST_MORNING - timedelta(hours=crew.behind_h)).total_seconds() % DAY_S
        self.clock.jump(DAY_S - over_s)
        with open_house(home, self.clock) as house:
            if scene.job:
                house.start(job_text(scene, crew, name))
            scene.play(Stage(house, self.clock, crew))
        self.put_on(lambda: JoinedHouse(open_house(home, self.clock)), name if scene.job else None, scene.silent)

    def put_on(self, house: Callable[[], BoardHouse], title: str | None, silent: bool = False) -> None:
        """Show a house on the board from now on."""
        self.house.change(house)
        self._title = title
        self.server._desk.ledger._lately.clear()  # what another house was told is no double
        self._silent_s = 40.0 if silent else 0.0
        self._tick()
        self.server.notify_change()
        self.server._desk.hub.send("beat", self.server._desk.beat())

    def show(self, page: Any, scene: Scene | None = None) -> None:
        """Wait until a page has what is on, and touch what the scene touches."""
        page.evaluate(QUIET)
        page.wait_for_function(SHOWS, arg=self._title)
        page.wait_for_timeout(250)
        if scene is not None:
            scene.touch(page)


QUIET = """() => {
  window.store.heardHere.clear();
  window.queue.forgetDouble();
  document.querySelector('#sheet-close').click();
  document.querySelector('#toast').hidden = true;
  localStorage.removeItem('mixclock.pedal');
  localStorage.setItem('mixclock.checked', String(Date.now()));
}"""
ANSWERED = (
    "() => document.querySelector('#sheet').hidden || document.querySelector('#sheet-title').textContent !== 'More'"
)
JOINED = """async () => {
  window.store = (await import('/static/main.js')).store;
  window.queue = await import('/static/main.js');
}"""
SHOWS = "(job) => window.store?.view && (window.store.view.job ?? null) === job"


@contextmanager
def theatre() -> Iterator[Theatre]:
    """A board for scenes, on books that are gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        opened = Theatre(Path(folder))
        try:
            yield opened
        finally:
            opened.close()


def _press(*names: str) -> Touch:
    """Keys of the page, then buttons by their names."""

    def touch(page: Any) -> None:
        for name in names:
            if name == "...":
                page.wait_for_function(ANSWERED)
            elif len(name) == 1:
                page.keyboard.press(name)
            else:
                buttons = page.locator("#sheet, #shout, #now-first, #notices").get_by_role("button", name=name)
                buttons.first.evaluate("(each) => each.click()")
            page.wait_for_timeout(250)

    return touch


def _bucket(minutes: float) -> Play:
    def play(stage: Stage) -> None:
        stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
        stage.mix()
        stage.wait(minutes)

    return play


def _hot(stage: Stage) -> None:
    _bucket(9)(stage)
    stage.state("saw", batch=1, sign="hot")
    stage.wait(0.5)


def _lost_and_others(stage: Stage) -> None:
    _bucket(60)(stage)
    stage.mix("slip 2")
    stage.wait(12)
    stage.mix("slip 3", 6.0)
    stage.wait(3)


def _wet_edge(stage: Stage) -> None:
    stage.state("reading", air_c=21.0, rh_pct=58.0, slab_c=20.0)
    stage.lay(1, "slip 1")
    stage.wait(48)


def _acid(stage: Stage) -> None:
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    stage.state("mixing", product="Etching solution", volume_l=15.0, areas=["slip 1"], coat="etch")
    stage.wait(2)
    stage.state("poured", batch=1)
    stage.wait(8)


def _fourteen(stage: Stage) -> None:
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    for batch in range(1, 15):
        stage.mix(AREAS[(batch - 1) % 4][0], 6.0)
        stage.wait(4)
        stage.state("poured", batch=batch)
        stage.wait(1)
        if batch <= 12:
            stage.state("rolled", batch=batch)
            stage.wait(2)
        if batch <= 9:
            stage.state("flaked", batch=batch)


def _mixed_up(stage: Stage) -> None:
    """A reading that jumped, and a flake thrown before anybody rolled."""
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    stage.mix()
    stage.wait(5)
    stage.state("poured", batch=1)
    stage.wait(5)
    stage.state("reading", slab_c=36.0)


def _between(stage: Stage) -> None:
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    stage.lay(1, "slip 1")
    stage.wait(2)
    stage.mix("slip 2")
    stage.wait(3)
    stage.state("poured", batch=2)
    stage.wait(2)
    stage.mix("slip 3", 6.0)
    stage.wait(1)


def _days_after(stage: Stage) -> None:
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    for batch, (area, _) in enumerate(AREAS, 1):
        stage.lay(batch, area)
    stage.wait(60 * 11)
    stage.state("reading", air_c=17.0, rh_pct=64.0, slab_c=16.0)


def _dewy(stage: Stage) -> None:
    stage.state("reading", air_c=19.0, rh_pct=58.0, slab_c=17.0)
    stage.lay(1, "slip 1")
    stage.wait(30)
    stage.state("reading", air_c=16.0, rh_pct=86.0, slab_c=14.5)


def _long(stage: Stage) -> None:
    for area, _ in LONG_AREAS:
        stage.mix(area)
        stage.wait(2)
    stage.wait(9)


def _cup(stage: Stage) -> None:
    began = stage.clock.now() - timedelta(minutes=12)
    cup = Cup(product="Slow epoxy base", lot="7A", mass_kg=0.15, began=began, material_c=22.0, air_c=20.0)
    stage.house.cups.keep((cup,))


def _spot(stage: Stage) -> None:
    _between(stage)
    stage.state("spot", product="Slow epoxy base", volume_l=0.5, areas=["slip 4"], coat="base", use="chip by the door")


def _by_pedal(page: Any) -> None:
    page.evaluate("localStorage.setItem('mixclock.pedal', JSON.stringify('F9'))")
    page.wait_for_timeout(600)


def _ask_kit(page: Any) -> None:
    page.keyboard.press("n")
    page.wait_for_selector(".kitanswer")


def _saw_hot(page: Any) -> None:
    page.locator(".number").first.evaluate("(each) => each.click()")
    _press("Saw: hot")(page)


def _sheets(*names: str) -> Iterator[Scene]:
    for name in names:
        yield Scene(f"sheet, {name}", _between, _press("m", name, "..."))


SCENES: tuple[Scene, ...] = (
    Scene("no job", job=False),
    Scene("nothing live"),
    Scene("bucket, mixing", _bucket(1.5)),
    Scene("bucket, young", _bucket(3.5)),
    Scene("bucket, heads-up", _bucket(7.5)),
    Scene("bucket, now", _bucket(11)),
    Scene("bucket, late", _bucket(15)),
    Scene("bucket, lost", _bucket(75)),
    Scene("bucket, hot", _hot),
    Scene("lost, others wait", _lost_and_others),
    Scene("dump asked", _bucket(75), _press("Dumped")),
    Scene("wet edge", _wet_edge),
    Scene("acid on the floor", _acid, etch=True),
    Scene("at work", _between),
    Scene("fourteen batches", _fourteen),
    Scene("days after", _days_after),
    Scene("dew", _dewy),
    Scene("reading that jumped", _mixed_up),
    Scene("reading asked", _mixed_up, _press("slab from")),
    Scene("long names", _long, areas=LONG_AREAS, people=LONG_PAIR),
    Scene("laptop silent", _between, silent=True),
    Scene("cup runs", _cup),
    Scene("cup asked", _cup, _press("Cup")),
    Scene("spot", _spot),
    Scene("more, a critical call", _bucket(18), _press("m")),
    Scene("which batch", _bucket(2), _press("b")),
    Scene("another batch", _bucket(2), _press("b", "Another batch")),
    Scene("whose bucket", _lost_and_others, _press("o")),
    Scene("one batch", _between, lambda page: page.locator(".number").first.evaluate("(each) => each.click()")),
    Scene("who", _between, _press("w")),
    Scene("next kit", _between, _ask_kit),
    Scene("more", _between, _press("m")),
    *_sheets("A reading", "Ready?", "Evening", "Morning", "Called away", "Tick a fact", "Sound check"),
    *_sheets("Small mix", "Back"),
    *_sheets("What was stated", "Phones", "Calendar and sensors", "Foot pedal", "A picture"),
    Scene("fact", _between, _press("m", "Tick a fact", "heater")),
    Scene("just saw hot", _bucket(5), _saw_hot),
    Scene("just mixed", _bucket(5), _press("b", "slip 2")),
    Scene("just poured, late", _bucket(18), _press("o")),
    Scene("pedal", _between, _by_pedal),
    Scene("just poured", _between, _press("o")),
)  # fmt: skip


def main(folder: Path, word: str = "") -> None:
    """Take the pictures."""
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    with theatre() as stage, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = stage.pair(browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True))
        page.locator("body").click(position={"x": 5, "y": 5})
        for crew, scene in itertools.product(CREWS, SCENES):
            if word in f"{crew.name} {scene.name}":
                _shoot(stage, page, scene, crew, folder)
        browser.close()


def _shoot(stage: Theatre, page: Any, scene: Scene, crew: Crew, folder: Path) -> None:
    stage.stage(scene, crew)
    page.set_viewport_size({"width": SIZES[0][0], "height": SIZES[0][1]})
    stage.show(page, scene)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(650)
        page.screenshot(path=str(folder / f"{crew.name} {scene.name} {width}x{height}.png"), animations="disabled")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "scenes"), *sys.argv[2:3])

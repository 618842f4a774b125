"""`mixclock watch`: the alarm clock, in the foreground, with the board beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.mistaken import at_house

if TYPE_CHECKING:
    from mixclock.board.server import BoardServer
    from mixclock.decide.alerting.muting import Mute as Muted
    from mixclock.outside.channels.choosable import ChannelWishes
    from mixclock.watch.channels import BoardChannel
    from mixclock.watch.daemon import Daemon
    from mixclock.watch.screen import PlainScreen
    from mixclock.wiring import House

Quiet = Annotated[
    str | None, typer.Option("--quiet", metavar="HOURS", help="Make no sound in these hours, such as 22:00-06:00.")
]
Mute = Annotated[
    list[str] | None,
    typer.Option(
        "--mute",
        metavar="WHAT",
        help="Stop the calls that lead through mixing: say mixing, mixing by NAME or mixing of PRODUCT.",
    ),
]
Pedal = Annotated[
    str | None, typer.Option("--pedal", metavar="KEY", help="The key that your pedal or shutter types: Enter or b.")
]
NoSound = Annotated[bool, typer.Option("--no-sound", help="Make no sound and do not speak.")]


def watch(
    lan: Annotated[bool, typer.Option("--lan", help="Let phones on this network open the board.")] = False,
    quiet: Quiet = None,
    no_sound: NoSound = False,
    mute: Mute = None,
    plain: Annotated[
        bool, typer.Option("--plain", help="Print lines instead of a screen that redraws itself.")
    ] = False,
    no_board: Annotated[bool, typer.Option("--no-board", help="Serve no page for phones.")] = False,
    pedal: Pedal = None,
    port: Annotated[int | None, typer.Option("--port", metavar="N", help="The port of the board.")] = None,
    install: Annotated[
        bool, typer.Option("--install", help="Run as a service of your account, now and after every log-on.")
    ] = False,
    uninstall: Annotated[bool, typer.Option("--uninstall", help="Remove that service.")] = False,
    status: Annotated[bool, typer.Option("--status", help="Say whether that service runs.")] = False,
    stop: Annotated[bool, typer.Option("--stop", help="End the watch that runs, wherever its terminal is.")] = False,
) -> None:
    """Watch the job: call out every deadline until it is stated, heard or lost. Ctrl-C ends it."""
    if install or uninstall or status:
        from mixclock.cli import watchservice

        (watchservice.install if install else watchservice.uninstall if uninstall else watchservice.status)()
        return
    if stop:
        _stop()
        return
    from mixclock.outside.leanimports import import_lean

    import_lean()  # before anything else imports what it leaves out
    _watch(lan, quiet, no_sound, mute, plain, no_board, pedal, port)


def _watch(
    lan: bool,
    quiet: str | None,
    no_sound: bool,
    mute: Sequence[str] | None,
    plain: bool,
    no_board: bool,
    pedal: str | None,
    port: int | None,
) -> None:
    from contextlib import closing

    from mixclock.outside.home import beside_the_disk, home
    from mixclock.outside.memory import share_one_heap
    from mixclock.outside.unrecorded import UnrecordedEntries
    from mixclock.watch.oneonly import only_one
    from mixclock.watch.running import LAST_LINES_S
    from mixclock.watch.screen import close_quietly, say
    from mixclock.watch.setup import wanted_of_watch
    from mixclock.watch.whichscreen import screen_for
    from mixclock.words.watchtroubles import SETTINGS_WRONG

    share_one_heap()
    unrecorded = UnrecordedEntries(beside_the_disk(home(), "unrecorded"))
    with closing(unrecorded), at_house(unrecorded=unrecorded) as house:
        wanted = wanted_of_watch(house, quiet, mute or (), not no_sound, pedal)
        with only_one(house.home, house.clock) as post:
            screen = screen_for(plain, house.clock)
            board = None if no_board else (lan, port)
            daemon, server = joined(house, wanted.channels, board, screen.printer.say, wanted.mutes, wanted.step_key)
            if wanted.wrong:
                daemon.troubles.stands("settings", SETTINGS_WRONG.format(wrong=" ".join(wanted.wrong)), "timely")
            daemon.ticker.is_alone = post.is_alone
            if post.trouble:
                daemon.faults.tell(post.trouble)
            is_quiet = wanted.channels.quiet is not None
            _watch_on(house, daemon, server, screen, lan=lan, is_quiet=is_quiet, key=wanted.step_key)
            screen.printer.wait(LAST_LINES_S)
    say("mixclock has stopped watching: nothing is called out any more.")
    close_quietly()


def _watch_on(
    house: House,
    daemon: Daemon,
    server: BoardServer | None,
    screen: PlainScreen,
    *,
    lan: bool,
    is_quiet: bool,
    key: str | None,
) -> None:
    """Run the daemon, the board and the pedal until Ctrl-C, and report to the service manager."""
    import threading

    from mixclock.cli.warmbeside import WarmBeside
    from mixclock.cli.watchbutton import LET_GO_S, begin_button
    from mixclock.outside.memory import give_back
    from mixclock.outside.servicemanager import ServiceManager
    from mixclock.watch.folders import FolderThread
    from mixclock.watch.running import run
    from mixclock.watch.screen import say

    manager, over = ServiceManager.of_this_process(house.clock.monotonic_s), threading.Event()
    folders = FolderThread(house.book, house.clock, screen.printer.say, daemon.faults.tell)
    buttons: list[threading.Thread | None] = []
    warm = WarmBeside(house.home)
    daemon.followers.append(lambda _: manager.alive())
    daemon.followers.append(lambda _: warm.tell(daemon.ticker.watched.values()))

    def begun() -> None:
        for line in greeting(daemon.ticker.current, is_quiet, daemon.awake_words):
            say(line)
        for begin in (
            lambda: _begin_board(server, lan),
            lambda: buttons.append(begin_button(house, daemon, key, screen.printer.say, over.is_set)),
            manager.ready,
            folders.start,
            warm.start,
            give_back,
        ):
            _beside(daemon, begin)

    def ended() -> None:
        warm.stop()
        over.set()
        manager.stopping()
        folders.stop()
        for button in filter(None, buttons):
            button.join(LET_GO_S)
        if server is not None:
            server.stop()

    run(daemon, screen, begun, ended)


def _beside(daemon: Daemon, begin: Callable[[], object]) -> None:
    """Start something beside the alarm clock. If it fails, the clock goes on without it."""
    try:
        begin()
    except Exception as error:
        daemon.faults.tell(_in_a_line(error))


def _stop() -> None:
    from mixclock.cli.mistaken import one_line_errors
    from mixclock.outside.clock import SystemClock
    from mixclock.outside.home import home
    from mixclock.watch.oneonly import stop_watch

    with one_line_errors():
        pid = stop_watch(home(), SystemClock())
    typer.echo(f"The watch (process {pid}) has stopped: nothing is called out any more.")


def joined(
    house: House,
    wanted: ChannelWishes,
    board: tuple[bool, int | None] | None,
    say: Callable[[str], None],
    mutes: Sequence[Muted] = (),
    step_key: str | None = None,
) -> tuple[Daemon, BoardServer | None]:
    """A daemon and, where it is wanted and can be had, the board that shows what the daemon raises."""
    from mixclock.watch.setup import daemon_for

    server: BoardServer | None = None
    extra: list[BoardChannel] = []
    holder: list[Daemon] = []
    if board is not None:
        server = _board_of(house, *board, holder, step_key)
        if server is not None:
            extra.append(channel_of(server, holder))
    daemon = daemon_for(house, wanted, say, extra_channels=extra, mutes=mutes)
    holder.append(daemon)
    if server is not None:
        follow(server, daemon)
    return daemon, server


def greeting(job: str | None, is_quiet: bool, awake_words: str) -> list[str]:
    """What the daemon says when it has begun."""
    lines = [f"mixclock watches '{job}'." if job else "mixclock watches; no job is under way yet."]
    if is_quiet:
        lines.append("In quiet hours only a bucket that runs hot sounds; everything else is shown and not heard.")
    if awake_words:
        lines.append(f"{awake_words[:1].upper()}{awake_words[1:]}.")
    return lines


def _board_of(
    house: House, lan: bool, port: int | None, holder: list[Daemon], step_key: str | None
) -> BoardServer | None:
    """The board. If it can't be served, the alarm clock goes on without it and says so."""
    from mixclock.board.desk import Wishes
    from mixclock.board.joining import JoinedHouse
    from mixclock.board.server import PORT, BoardServer
    from mixclock.watch.screen import say
    from mixclock.wiring import open_house

    def sound_check() -> str:
        sound = holder[0].channels.sound
        return sound.volume_test().detail if sound is not None else "sound is off: start without --no-sound"

    def troubles() -> list[str]:
        return holder[0].troubles.lines() if holder else []

    wishes = Wishes(step_key=step_key, sound_check=sound_check, power=_power, troubles=troubles)
    try:
        return BoardServer(
            lambda: JoinedHouse(open_house(house.home, house.clock, house.book.unrecorded)),
            house.clock,
            lan=lan,
            port=PORT if port is None else port,
            wishes=wishes,
        )
    except Exception as error:  # a fault of the board must not stop the alarm clock
        say(f"!  No board: {_in_a_line(error)}")
        return None


def _in_a_line(error: Exception) -> str:
    """An error in one line: as it stands if a person can mend it, else with its class."""
    from mixclock.board.server import BoardError
    from mixclock.outside.bookerrors import BookError

    return str(error) if isinstance(error, BoardError | BookError) else f"{type(error).__name__}: {error}"


def channel_of(server: BoardServer, holder: list[Daemon]) -> BoardChannel:
    """The pages as a channel of the daemon."""
    from mixclock.decide.shapes import Stage
    from mixclock.watch.channels import BoardChannel

    def stages_of(message_id: str) -> frozenset[tuple[str, Stage]]:
        bulletin = holder[0].delivery.bulletin(message_id)
        return bulletin.stages if bulletin is not None else frozenset()

    return BoardChannel(stages_of, server.shown_on, server.watched)


def follow(server: BoardServer, daemon: Daemon) -> None:
    """Let the server know of every tick."""
    from mixclock.watch.tick import TickResult

    def show(ticked: TickResult) -> None:
        server.heartbeat(ticked.at)
        if ticked.changed:
            server.notify_change()

    daemon.followers.append(show)
    daemon.troubles.changed = server.notify_trouble


def _begin_board(server: BoardServer | None, lan: bool) -> None:
    from mixclock.watch.screen import say

    if server is None:
        return
    server.start()
    say(f"The board: {server.address}")
    _show_code(server, lan)
    if not lan:
        say("For phones on the same network or hotspot start `mixclock watch --lan`.")
    server.when_lapsed(lambda: _show_code(server, lan, "That code had lapsed. "))
    server.when_paired(lambda: _show_code(server, lan, "Paired. For the next one: "))


def _show_code(server: BoardServer, lan: bool, before: str = "") -> None:
    """Show the address that pairs one phone, and the code for its camera. Each works once."""
    from mixclock.outside.addresses import NO_NETWORK, firewall_words
    from mixclock.watch.screen import say

    if not server.reachable:
        say(f"!  {NO_NETWORK}")
    elif lan:
        say(f"{before}Point a phone's camera at this code. It pairs one phone:")
        say(server.pairing_code())
        say(server.pairing_url())
        if words := firewall_words():
            say(words)
    else:
        say(f"{before}Open it on this machine: {server.pairing_url()}")


def _power() -> Mapping[str, Any] | None:
    from mixclock.outside.power import read_power

    power = read_power()
    return None if power is None else {"on_battery": power.on_battery, "charge_pct": power.charge_pct}

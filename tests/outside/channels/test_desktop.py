"""What truly reaches a desktop, by a real bus and real servers."""

import json
import os
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from mixclock.outside.channels import desktop
from mixclock.outside.channels.desktop import DesktopChannel
from mixclock.outside.channels.message import Message, Outcome
from tests.realparts.bus import Dunst, RecordingServer, SessionBus, missing_dunst
from tests.realparts.parts import missing

Writer = Callable[..., Message]


@pytest.fixture
def no_bus(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Nobody is logged in to a desktop."""
    monkeypatch.delenv("DBUS_SESSION_BUS_ADDRESS", raising=False)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "nobody"))


@pytest.fixture
def dunst(bus: SessionBus) -> Iterator[Dunst]:
    """dunst under Xvfb."""
    if missing := missing_dunst():
        pytest.skip(missing)
    with Dunst(bus) as running:
        yield running


def test_a_critical_alert_arrives_at_once_with_its_words_and_stays(server: RecordingServer, message: Writer) -> None:
    began = time.monotonic_ns() / 1e9
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, True)
    assert receipt.detail == "notification server recorder 1.0 answered id 7"
    note = server.notes[0]
    assert note.title == "Batch 3, bay 2: pour it out now"
    assert note.body == "Pour it out by 10:42. Two minutes left."
    assert (note.urgency, note.expire_ms, note.alert_id) == (2, 0, "batch 3 pour-out")
    assert note.monotonic_s - began < 1.0


def test_a_call_that_was_near_goes_out_on_a_connection_that_stands(server: RecordingServer, message: Writer) -> None:
    channel = DesktopChannel()
    assert not channel.is_ready
    channel.get_ready()
    assert channel.is_ready
    receipts = [channel.send(message(alert_id=f"batch {batch} pour-out")) for batch in (1, 2)]
    assert [receipt.outcome for receipt in receipts] == [Outcome.SENT] * 2
    assert channel.is_ready, "and the next one too"
    assert len(server.notes) == 2
    channel.close()
    assert not channel.is_ready
    assert channel.send(message()).outcome is Outcome.SENT, "who is not ready connects"


def test_a_connection_whose_session_is_over_is_never_called_on(bus: SessionBus, message: Writer) -> None:
    channel = DesktopChannel()
    with RecordingServer(bus):
        channel.get_ready()
        bus.stop()
    assert not channel.is_ready
    bus.start()
    with RecordingServer(bus) as later:
        receipt = channel.send(message())
        assert (receipt.outcome, receipt.shown) == (Outcome.SENT, True), "the next session is found at once"
        assert len(later.notes) == 1
    channel.close()


def test_urgency_falls_with_the_rank_and_only_critical_never_expires(server: RecordingServer, message: Writer) -> None:
    for rank in ("critical", "timely", "notice"):
        DesktopChannel().send(message(rank=rank))
    assert [(note.urgency, note.expire_ms == 0) for note in server.notes] == [(2, True), (1, False), (0, False)]


def test_a_repeat_takes_the_place_of_the_earlier_one_and_says_that_it_is_one(
    server: RecordingServer, message: Writer
) -> None:
    channel = DesktopChannel()
    channel.send(message())
    channel.send(message(repeat=1, late_s=30.0))
    channel.send(message(alert_id="batch 4 pour-out"))
    assert [note.replaces for note in server.notes] == [0, 7, 0]
    assert server.notes[1].body.endswith("(30 s late, said once before)")


def test_after_the_server_was_restarted_no_foreign_notification_is_replaced_or_closed(
    bus: SessionBus, message: Writer
) -> None:
    channel = DesktopChannel()
    with RecordingServer(bus):
        channel.send(message())
    with RecordingServer(bus) as second:
        assert channel.withdraw("batch 3 pour-out").detail == "the notification was gone already"
        assert second.closed == []
    with RecordingServer(bus):
        channel.send(message())
    with RecordingServer(bus) as fourth:
        channel.send(message())
        assert fourth.notes[0].replaces == 0


def test_the_session_may_end_and_begin_again(bus: SessionBus, message: Writer) -> None:
    channel = DesktopChannel()
    with RecordingServer(bus):
        assert channel.send(message()).outcome is Outcome.SENT
    bus.stop()
    assert channel.send(message()).outcome is not Outcome.SENT
    bus.start()
    with RecordingServer(bus) as server:
        assert channel.send(message()).outcome is Outcome.SENT
        assert len(server.notes) == 1


def test_stating_the_step_takes_the_notification_away(server: RecordingServer, message: Writer) -> None:
    channel = DesktopChannel()
    channel.send(message())
    assert channel.withdraw("batch 3 pour-out").detail == "closed notification 7"
    assert server.closed == [7]
    assert channel.withdraw("batch 3 pour-out").detail == "nothing of this alert is known to show"


def test_a_service_without_an_address_finds_the_bus_of_its_user(
    server: RecordingServer, message: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("DBUS_SESSION_BUS_ADDRESS")
    assert DesktopChannel().send(message()).outcome is Outcome.SENT


def test_an_old_terminal_with_the_address_of_a_dead_bus_finds_the_living_one(
    server: RecordingServer, message: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DBUS_SESSION_BUS_ADDRESS", "unix:path=/nowhere/bus")
    assert DesktopChannel().send(message()).outcome is Outcome.SENT


@pytest.mark.parametrize(
    "address", ["", "nonsense", "unix:", "tcp:host=localhost,port=1", "unix:path=/etc/passwd", ";;"]
)
def test_a_broken_bus_address_becomes_a_receipt(
    no_bus: None, message: Writer, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setenv("DBUS_SESSION_BUS_ADDRESS", address)
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)
    assert "session bus" in receipt.detail


def test_names_with_markup_and_unshowable_letters_arrive_as_text(server: RecordingServer, message: Writer) -> None:
    DesktopChannel().send(message(title="--help\x00 <b>bay</b>\ud83d\x1b[2J", body="<img src=x> & \ud800\x00more"))
    assert server.notes[0].title == "--help <b>bay</b>[2J"
    assert server.notes[0].body == "&lt;img src=x&gt; &amp; more"


def test_endless_names_are_clipped(server: RecordingServer, message: Writer) -> None:
    DesktopChannel().send(message(title="😀" * 500, body="&" * 5000))
    note = server.notes[0]
    assert len(note.title.encode("utf-16-le")) // 2 <= 120
    assert note.body.replace("&amp;", "").strip("…") == ""


def test_a_server_that_does_not_answer_costs_two_seconds_and_counts_as_not_known(
    bus: SessionBus, message: Writer
) -> None:
    with RecordingServer(bus, manner="silent"):
        began = time.perf_counter()
        receipt = DesktopChannel().send(message())
        assert time.perf_counter() - began < 2.0
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, None)
    assert "did not answer" in receipt.detail


def test_a_bus_that_hangs_costs_no_more_than_its_limits(
    server: RecordingServer, message: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desktop, "NOTIFY_SEND_S", 0.5)
    server.bus.freeze()
    began = time.perf_counter()
    receipt = DesktopChannel().send(message())
    assert receipt.outcome is not Outcome.SENT
    assert time.perf_counter() - began < 3.0  # the bus, then notify-send with its limit


def test_an_answer_that_is_no_id_is_not_called_shown(bus: SessionBus, message: Writer) -> None:
    with RecordingServer(bus, manner="nonsense"):
        receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, None)
    assert "('done',) where an id belongs" in receipt.detail


def test_a_server_that_refuses_is_told_with_its_reason(bus: SessionBus, message: Writer) -> None:
    with RecordingServer(bus, manner="refusing"):
        receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "ExcessNotificationGeneration: too many" in receipt.detail


def test_do_not_disturb_is_seen_and_said(bus: SessionBus, message: Writer) -> None:
    with RecordingServer(bus, manner="inhibited"):
        receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "switch off 'do not disturb'" in receipt.detail


def test_a_bus_without_a_server_is_told_and_may_be_tried_again(bus: SessionBus, message: Writer) -> None:
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "ServiceUnknown" in receipt.detail


def test_without_a_desktop_it_gives_up_and_names_all_that_was_tried(
    no_bus: None, empty_path: None, message: Writer
) -> None:
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.GIVE_UP, False)
    assert "there is no session bus; notify-send is not installed; plyer" in receipt.detail


def test_where_the_bus_can_not_be_spoken_to_notify_send_is_tried_with_everything(
    no_bus: None, message: Writer, program: Callable[[str, str], Path], tmp_path: Path
) -> None:
    told = tmp_path / "told"
    program("notify-send", f'printf "%s\\n" "$@" >{told}')
    receipt = DesktopChannel().send(message(title="-u low", body="a < b"))
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, True)
    assert "notify-send ended with exit code 0" in receipt.detail
    assert told.read_text().splitlines() == [
        "--app-name=mixclock",
        "--urgency=critical",
        "--expire-time=0",
        "--",
        "-u low",
        "a &lt; b",
    ]


def test_the_real_notify_send_reaches_a_server_that_our_own_call_could_not(
    server: RecordingServer, message: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    if absent := missing("notify-send"):
        pytest.skip(absent)
    from mixclock.outside.channels import session_bus

    def fail() -> None:
        raise session_bus.NoBusError("made to fail")

    monkeypatch.setattr(session_bus, "_connect", fail)
    receipt = DesktopChannel().send(message(title="- bay 2 -"))
    assert receipt.outcome is Outcome.SENT, receipt.detail
    assert (server.notes[0].title, server.notes[0].urgency, server.notes[0].expire_ms) == ("- bay 2 -", 2, 0)


def test_a_notify_send_that_hangs_is_ended_after_five_seconds(
    no_bus: None, message: Writer, program: Callable[[str, str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its limit, which a tenth stands in for here: the two seconds that it may take beyond are real."""
    assert desktop.NOTIFY_SEND_S == 5.0
    monkeypatch.setattr(desktop, "NOTIFY_SEND_S", 0.5)
    program("notify-send", "sleep 60")
    began = time.perf_counter()
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, None)
    assert 0.4 < time.perf_counter() - began < 2.5


@pytest.mark.skipif(sys.platform != "linux", reason="dbus-python is for Linux")
def test_what_plyer_accepts_is_never_called_shown(
    no_bus: None, empty_path: None, message: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """plyer's own D-Bus way, with a stand-in for dbus-python, which has no wheel: what plyer calls is written down."""
    told = tmp_path / "told.json"
    (tmp_path / "dbus.py").write_text(_STAND_IN.format(told=str(told)))
    monkeypatch.setenv("PYTHONPATH", f"{tmp_path}{os.pathsep}{os.environ.get('PYTHONPATH', '')}")
    receipt = DesktopChannel().send(message(title="😀" * 100, body="x" * 1000))
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, None)
    assert receipt.detail.endswith("plyer accepted it, not confirmed")
    title, body = json.loads(told.read_text())[3:5]
    assert len(title.encode("utf-16-le")) // 2 <= 63
    assert len(body) == 255


_STAND_IN = """
import json
class SessionBus:
    def get_object(self, *_): return self
class Interface:
    def __init__(self, *_): pass
    def Notify(self, *arguments): open({told!r}, "w").write(json.dumps(arguments))
"""


def test_a_failure_inside_plyer_is_told(
    no_bus: None, empty_path: None, message: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "dbus.py").write_text("def SessionBus(): raise RuntimeError('the bus restarted')")
    monkeypatch.setenv("PYTHONPATH", f"{tmp_path}{os.pathsep}{os.environ.get('PYTHONPATH', '')}")
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "plyer failed: RuntimeError: the bus restarted" in receipt.detail


_PLYER = """
import threading, time
class Balloon:
    def notify(self, **told):
        threading.Thread(target=self.show).start()
    def show(self):
        {does}
def instance(): return Balloon()
"""


def _stand_in_for_plyer(folder: Path, does: str) -> None:
    """A plyer whose notifier works as the one for Windows does: it returns at once, and a thread shows the balloon."""
    place = folder / "plyer" / "platforms" / "here"
    place.mkdir(parents=True)
    for package in (folder / "plyer", folder / "plyer" / "platforms", place):
        (package / "__init__.py").write_text("")
    (folder / "plyer" / "utils.py").write_text("platform = 'here'")
    (place / "notification.py").write_text(_PLYER.format(does=does))


@pytest.fixture
def plyer_that(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Put a stand-in before plyer that does something in its thread."""

    def put(does: str) -> None:
        _stand_in_for_plyer(tmp_path, does)
        monkeypatch.setenv("PYTHONPATH", f"{tmp_path}{os.pathsep}{os.environ.get('PYTHONPATH', '')}")

    return put


def test_a_balloon_that_stays_for_ten_seconds_holds_up_nobody(
    no_bus: None, empty_path: None, message: Writer, plyer_that: Callable[[str], None], tmp_path: Path
) -> None:
    plyer_that(f"open({str(tmp_path / 'begun')!r}, 'w'); time.sleep(10); open({str(tmp_path / 'over')!r}, 'w')")
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, None)
    assert (tmp_path / "begun").exists()
    assert not (tmp_path / "over").exists(), "the next alert must not wait until the balloon is gone"


def test_a_balloon_that_fails_in_its_thread_is_told(
    no_bus: None, empty_path: None, message: Writer, plyer_that: Callable[[str], None]
) -> None:
    plyer_that("raise OSError('Shell_NotifyIconW failed')")
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "Shell_NotifyIconW failed" in receipt.detail


def test_on_a_mac_osascript_is_next_and_takes_the_words_as_words(
    no_bus: None,
    message: Writer,
    program: Callable[[str, str], Path],
    plyer_that: Callable[[str], None],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plyer_that("raise RuntimeError('no notification centre')")
    program("osascript", f'printf "%s\\n" "$@" >{tmp_path / "told"}')
    monkeypatch.setattr("sys.platform", "darwin")
    receipt = DesktopChannel().send(message(title='bay "2"', body="-e roll it out\\"))
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, None)
    assert "no notification centre" in receipt.detail
    told = (tmp_path / "told").read_text().splitlines()
    assert told[:6:2] == ["-e", "-e", "-e"]
    assert told[1:6:2] == [
        "on run argv",
        "display notification (item 2 of argv) with title (item 1 of argv)",
        "end run",
    ]
    assert told[6:] == ['bay "2"', "\u200b-e roll it out\\"], "never a part of the script, never an option of it"


def test_dunst_shows_a_critical_alert_and_takes_it_away_again(dunst: Dunst, message: Writer) -> None:
    channel = DesktopChannel()
    receipt = channel.send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.SENT, True)
    assert "dunst" in receipt.detail
    assert _within(3, lambda: dunst.displayed() == 1)
    channel.send(message(repeat=1))
    channel.withdraw("batch 3 pour-out")
    assert _within(3, lambda: dunst.displayed() == 0)
    shown = json.loads(dunst.control("history"))["data"][0]
    assert [note["summary"]["data"] for note in shown] == ["Batch 3, bay 2: pour it out now"]
    assert "said once before" in shown[0]["body"]["data"]
    assert shown[0]["timeout"]["data"] == 0


def test_a_paused_dunst_is_not_called_shown(dunst: Dunst, message: Writer) -> None:
    dunst.control("set-paused", "true")
    receipt = DesktopChannel().send(message())
    assert (receipt.outcome, receipt.shown) == (Outcome.RETRY, False)
    assert "holds it back" in receipt.detail


def test_the_probe_is_harmless_and_arrives(server: RecordingServer) -> None:
    assert DesktopChannel().probe().shown is True
    assert server.notes[0].urgency == 0


def test_nothing_of_an_alert_can_be_read_by_others_while_it_is_sent(
    no_bus: None, message: Writer, program: Callable[[str, str], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []
    make = tempfile.TemporaryDirectory

    def watched(*args: object, **named: object) -> tempfile.TemporaryDirectory[str]:
        folder = make(*args, **named)  # type: ignore[call-overload]
        seen.append(stat.S_IMODE(Path(folder.name).stat().st_mode))
        return folder  # type: ignore[no-any-return]

    monkeypatch.setattr(tempfile, "TemporaryDirectory", watched)
    program("notify-send", "exit 1")
    DesktopChannel().send(message())
    assert seen == [0o700]


def _within(limit_s: float, true: Callable[[], bool]) -> bool:
    end = time.perf_counter() + limit_s
    while time.perf_counter() < end:
        if true():
            return True
    return true()

"""Every channel of a rank is asked at once, and none holds up another."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest

from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.desktop import DesktopChannel
from mixclock.outside.channels.message import RANKS, Channel, Message, Outcome, Rank, Receipt
from mixclock.outside.channels.sound import SoundChannel
from mixclock.outside.channels.soundqueue import SoundQueue
from mixclock.outside.channels.voice import VoiceChannel
from tests.realparts.alsa import Loudspeaker
from tests.realparts.bus import RecordingServer
from tests.realparts.parts import missing

Writer = Callable[..., Message]


@dataclass
class Scripted:
    """A channel that does what it is told."""

    name: str
    act: Callable[[Message], Receipt]
    ranks: frozenset[Rank] = frozenset(RANKS)
    limit_s: float = 2.0
    sent: list[str] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)

    def send(self, message: Message) -> Receipt:
        """Do it."""
        self.sent.append(message.alert_id)
        return self.act(message)

    def withdraw(self, alert_id: str) -> Receipt:
        """Write it down."""
        self.withdrawn.append(alert_id)
        return Receipt(self.name, Outcome.SENT, "taken away", False)

    def probe(self) -> Receipt:
        """Do it with a test."""
        return self.act(Message("probe", "notice", "test", "test", "test"))


def good(name: str, **parts: object) -> Scripted:
    """A channel that works."""
    return Scripted(name, lambda _: Receipt(name, Outcome.SENT, "fine", True), **parts)  # type: ignore[arg-type]


@pytest.fixture
def release() -> Iterator[threading.Event]:
    """Lets hung channels go at the end."""
    event = threading.Event()
    yield event
    event.set()


def hung(name: str, release: threading.Event, **parts: object) -> Scripted:
    """A channel that hangs until released."""

    def hang(_: Message) -> Receipt:
        release.wait(30)
        return Receipt(name, Outcome.SENT, "at last", True)

    return Scripted(name, hang, **parts)  # type: ignore[arg-type]


def test_only_the_channels_of_the_rank_are_asked(message: Writer) -> None:
    phone, desktop = good("phone", ranks=frozenset({"critical"})), good("desktop")
    assert [receipt.channel for receipt in Sender([phone, desktop]).deliver(message(rank="notice"))] == ["desktop"]
    assert phone.sent == []


def test_a_hung_channel_holds_up_no_other_and_is_told_at_its_limit(message: Writer, release: threading.Event) -> None:
    arrivals: list[tuple[str, float]] = []
    began = time.perf_counter()
    sender = Sender([hung("hung", release, limit_s=1.5), good("desktop"), good("sound")])
    receipts = sender.deliver(message(), lambda one: arrivals.append((one.channel, time.perf_counter() - began)))
    assert {name for name, _ in arrivals[:2]} == {"desktop", "sound"}
    assert all(at < 1.4 for _, at in arrivals[:2])
    assert 1.5 <= arrivals[2][1] < 4.0
    assert receipts[2] == Receipt("hung", Outcome.RETRY, "no answer within 1.5 s", None)


def test_tries_do_not_pile_up_behind_a_stuck_channel(message: Writer, release: threading.Event) -> None:
    stuck = hung("stuck", release, limit_s=0.1)
    sender = Sender([stuck])
    sender.deliver(message(alert_id="first"))
    for _ in range(5):
        assert sender.deliver(message(alert_id="second"))[0].detail == "still stuck in an earlier try"
    assert stuck.sent == ["first"]
    release.set()
    while sender.deliver(message(alert_id="third"))[0].outcome is not Outcome.SENT:
        threading.Event().wait(0.01)
    assert "third" in stuck.sent


def test_a_channel_that_breaks_becomes_a_receipt_and_not_a_lost_alert(message: Writer) -> None:
    def burst(_: Message) -> Receipt:
        raise OSError("the cable was pulled")

    receipts = {
        receipt.channel: receipt for receipt in Sender([Scripted("broken", burst), good("desktop")]).deliver(message())
    }
    assert receipts["desktop"].outcome is Outcome.SENT
    assert receipts["broken"].outcome is Outcome.RETRY
    assert receipts["broken"].detail == "the channel broke: OSError: the cable was pulled"


def test_receipts_are_handed_over_in_the_callers_own_thread(message: Writer) -> None:
    """The book's connection belongs to one thread."""
    threads: list[int] = []
    Sender([good("a"), good("b")]).deliver(message(), lambda _: threads.append(threading.get_ident()))
    assert threads == [threading.get_ident()] * 2


def test_a_withdrawal_goes_to_every_channel(message: Writer, release: threading.Event) -> None:
    channels = [good("phone", ranks=frozenset({"critical"})), good("desktop")]
    assert len(Sender(channels).withdraw("batch 3 pour-out")) == 2
    assert [channel.withdrawn for channel in channels] == [["batch 3 pour-out"]] * 2


def test_the_probe_asks_every_channel(message: Writer) -> None:
    assert len(Sender([good("phone", ranks=frozenset({"critical"})), good("desktop")]).probe()) == 2


def test_two_channels_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match="two channels have the same name: desktop, desktop"):
        Sender([good("desktop"), good("desktop")])


def test_without_a_channel_of_its_rank_nothing_is_called_sent(message: Writer) -> None:
    assert Sender([]).deliver(message()) == []


def test_the_desktop_has_the_alert_within_a_second_although_the_voice_talks_for_long(
    server: RecordingServer, speaker_at: Callable[[float], Loudspeaker], message: Writer
) -> None:
    if absent := missing("espeak-ng"):
        pytest.skip(absent)
    speaker_at(3.0)
    sound_queue = SoundQueue()
    channels: list[Channel] = [VoiceChannel(sound_queue), SoundChannel(sound_queue), DesktopChannel()]
    order: list[tuple[str, float]] = []
    began, began_s = time.perf_counter(), time.monotonic_ns() / 1e9
    receipts = Sender(channels).deliver(message(), lambda one: order.append((one.channel, time.perf_counter() - began)))
    assert all(receipt.outcome is Outcome.SENT for receipt in receipts), receipts
    assert [name for name, _ in order] == ["desktop", "sound", "voice"]
    assert order[0][1] < 1.0
    assert server.notes[0].monotonic_s - began_s < 1.0

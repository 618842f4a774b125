"""Pressing "Heard" on the desktop."""

import threading
from collections.abc import Callable, Iterator

import pytest

from mixclock.outside.channels import heard_button
from mixclock.outside.channels.desktop import DesktopChannel
from mixclock.outside.channels.heard_button import HeardButton
from mixclock.outside.channels.message import Message
from tests.realparts.bus import RecordingServer, SessionBus


class Ear:
    """Writes down what was heard."""

    def __init__(self) -> None:
        self.alerts: list[str] = []
        self.again = threading.Event()

    def __call__(self, alert_id: str) -> None:
        self.alerts.append(alert_id)
        self.again.set()


@pytest.fixture
def ear() -> Ear:
    """Nothing heard yet."""
    return Ear()


@pytest.fixture
def channel() -> DesktopChannel:
    """A channel whose notifications have the button."""
    return DesktopChannel(heard_button=True)


@pytest.fixture
def button(bus: SessionBus, channel: DesktopChannel, ear: Ear) -> Iterator[HeardButton]:
    """A listening button."""
    listener = HeardButton(channel.alert_of, ear)
    listener.start()
    assert listener.listening.wait(5)
    yield listener
    listener.close()


def test_pressing_heard_names_the_alert(
    button: HeardButton, server: RecordingServer, channel: DesktopChannel, ear: Ear, message: Callable[..., Message]
) -> None:
    channel.send(message())
    assert server.notes[0].actions == ["heard", "Heard"]
    server.press(server.notes[0].note_id, "heard")
    assert ear.again.wait(2)
    assert ear.alerts == ["batch 3 pour-out"]


def test_another_programs_button_is_not_ours(
    button: HeardButton, server: RecordingServer, channel: DesktopChannel, ear: Ear, message: Callable[..., Message]
) -> None:
    channel.send(message(alert_id="batch 2 pour-out"))
    channel.send(message())
    server.press(99, "heard")
    server.press(server.notes[0].note_id, "default")
    server.press(server.notes[1].note_id, "heard")
    assert ear.again.wait(2)
    assert ear.alerts == ["batch 3 pour-out"]


def test_the_button_works_again_after_the_session_was_restarted(
    bus: SessionBus,
    button: HeardButton,
    channel: DesktopChannel,
    ear: Ear,
    message: Callable[..., Message],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(heard_button, "AGAIN_S", 0.1)
    bus.stop()
    while button.listening.is_set():
        threading.Event().wait(0.05)
    bus.start()
    assert button.listening.wait(5)
    with RecordingServer(bus) as server:
        channel.send(message())
        server.press(server.notes[0].note_id, "heard")
        assert ear.again.wait(2)
    assert ear.alerts == ["batch 3 pour-out"]

"""The watch as a service: what each system wants to read is read back, and the watch tells its manager the truth."""

from __future__ import annotations

import plistlib
import shlex
import shutil
import socket
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from mixclock.outside.service import ServiceError, ServicePlace, install, service_for, status, systemd_unit, uninstall
from mixclock.outside.servicemanager import ServiceManager
from tests.realparts.parts import missing

TASK = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"
ODD = ServicePlace("/opt/our python/bin/python3", Path("/home/o'brien/100% floors & $more"), Path("/home/o'brien"))


def test_a_linux_unit_is_fed_by_the_ticker_and_ends_with_the_desktop() -> None:
    service = service_for("linux", ODD)
    assert service.file == Path("/home/o'brien/.config/systemd/user/mixclock.service")
    text = service.content.decode()
    assert "Type=notify\n" in text
    assert "WatchdogSec=30\n" in text
    assert "PartOf=graphical-session.target\n" in text
    assert service.begin[-1] == ("systemctl", "--user", "enable", "--now", "mixclock.service")


def test_systemd_finds_no_fault_with_the_unit(tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip(missing("systemd-analyze") or "")
    python = shutil.which("python3")
    assert python is not None
    unit = tmp_path / "mixclock.service"
    unit.write_text(systemd_unit(ServicePlace(python, tmp_path / "100% floors", tmp_path)))
    done = subprocess.run([analyze, "verify", "--man=no", str(unit)], capture_output=True, text=True, check=False)
    own = [line for line in done.stderr.splitlines() if "mixclock" in line]
    assert (done.returncode, own) == (0, []), done.stderr


def test_words_of_the_unit_come_back_as_they_were() -> None:
    lines = dict(line.partition("=")[::2] for line in systemd_unit(ODD).splitlines() if "=" in line)
    words = [word.replace("%%", "%").replace("$$", "$") for word in shlex.split(lines["ExecStart"])]
    assert words == [ODD.python, "-m", "mixclock", "watch", "--plain"]


def test_a_mac_agent_is_a_property_list_that_keeps_the_watch_alive() -> None:
    service = service_for("darwin", ODD, user=501)
    read = plistlib.loads(service.content)
    assert read["ProgramArguments"] == [ODD.python, "-m", "mixclock", "watch", "--plain"]
    assert read["EnvironmentVariables"]["MIXCLOCK_HOME"] == str(ODD.home)
    assert (read["KeepAlive"], read["RunAtLoad"]) == (True, True)
    assert service.begin == (("launchctl", "bootstrap", "gui/501", str(service.file)),)


def test_a_windows_task_goes_on_when_the_laptop_leaves_its_charger() -> None:
    place = ServicePlace(r"C:\Users\O'Brien & Sons\python.exe", Path("C:/Users/O'Brien"), Path("C:/Users/O'Brien"))
    root = ElementTree.fromstring(service_for("win32", place).content)
    told = {element.tag.removeprefix(TASK): element.text for element in root.iter()}
    assert told["DisallowStartIfOnBatteries"] == told["StopIfGoingOnBatteries"] == "false"
    assert told["ExecutionTimeLimit"] == "PT0S"
    assert "O'Brien & Sons" in (told["Arguments"] or "")
    assert "pythonw.exe" in (told["Arguments"] or "")


def test_what_the_system_does_not_take_is_said_with_what_to_type_by_hand(tmp_path: Path) -> None:
    place = ServicePlace("/usr/bin/python3", tmp_path, tmp_path)
    service = service_for("linux", place)
    broken = type(service)(service.file, service.content, (("/bin/false", "--now"),), service.end, service.ask)
    with pytest.raises(ServiceError, match="by hand: `/bin/false --now`"):
        install(broken)
    assert service.file.exists()


def test_installed_asked_about_and_taken_away(tmp_path: Path) -> None:
    service = service_for("linux", ServicePlace("/usr/bin/python3", tmp_path, tmp_path))
    calm = type(service)(service.file, service.content, (("/bin/true",),), (("/bin/true",),), ("/bin/echo", "active"))
    assert status(calm) == (False, "not installed; `mixclock watch --install` does it")
    install(calm)
    assert status(calm) == (True, f"{service.file}: active")
    assert uninstall(calm)
    assert not uninstall(calm)


def test_the_manager_hears_ready_alive_now_and_then_and_stopping(tmp_path: Path) -> None:
    address = str(tmp_path / "notify")
    now_s = [0.0]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(address)
        listening.settimeout(5.0)
        manager = ServiceManager(address, lambda: now_s[0], every_s=10.0)
        manager.ready()
        for now_s[0] in (0.0, 0.4, 9.9, 10.0):
            manager.alive()
        manager.stopping()
        heard = [listening.recv(64).decode() for _ in range(4)]
    assert heard == ["READY=1", "WATCHDOG=1", "WATCHDOG=1", "STOPPING=1"]


def test_without_a_manager_nothing_is_told_and_nothing_breaks(tmp_path: Path) -> None:
    for address in (None, str(tmp_path / "gone")):
        manager = ServiceManager(address, lambda: 0.0)
        manager.ready()
        manager.alive()
        assert not (tmp_path / "gone").exists()

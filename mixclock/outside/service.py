"""Makes the watch a service of the user: the file that each system reads, and the commands that control it.

The texts are pure functions of where Python and the home are. In the tests `systemd-analyze verify`, a property list
reader and an XML parser read them back.
"""

from __future__ import annotations

import os
import plistlib
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from mixclock.values import dataclass

NAME = "mixclock"
LABEL = "mixclock.watch"
WATCHDOG_S = 30
"""A tick comes twice a second; a watch that said nothing for so long hangs and is started anew."""

COMMAND_LIMIT_S = 30.0


class ServiceError(RuntimeError):
    """The system refused the service. The message is one line: what the system said, and what to do by hand."""


@dataclass(frozen=True)
class ServicePlace:
    """Where things are: the Python that runs mixclock, the folder of its book, the user's own folder."""

    python: str
    home: Path
    user_home: Path


@dataclass(frozen=True)
class Service:
    """One system's service: its file, and the commands to begin it, to end it and to ask about it."""

    file: Path
    content: bytes
    begin: tuple[tuple[str, ...], ...]
    end: tuple[tuple[str, ...], ...]
    ask: tuple[str, ...]


def service_for(platform: str, place: ServicePlace, config_home: Path | None = None, user: int = 0) -> Service:
    """The service of a system as `sys.platform` names it."""
    if platform == "win32":
        return _scheduled_task(place)
    if platform == "darwin":
        return _agent(place, user)
    return _user_unit(place, config_home or place.user_home / ".config")


def here(home: Path) -> Service:
    """The service of this machine and this user."""
    config = os.environ.get("XDG_CONFIG_HOME")
    user = os.getuid() if hasattr(os, "getuid") else 0
    return service_for(
        sys.platform, ServicePlace(sys.executable, home, Path.home()), Path(config) if config else None, user
    )


def install(service: Service) -> None:
    """Write its file and begin it. Raises `ServiceError` where the system refuses it; the file then stays."""
    service.file.parent.mkdir(parents=True, exist_ok=True)
    service.file.write_bytes(service.content)
    for command in service.begin:
        _told(command, f"{service.file} is written; ")


def uninstall(service: Service) -> bool:
    """End it and remove its file. False where there was none."""
    if not service.file.exists():
        return False
    for command in service.end:
        _told(command, "")
    service.file.unlink(missing_ok=True)
    return True


def status(service: Service) -> tuple[bool, str]:
    """Whether it runs, and what the system says of it."""
    if not service.file.exists():
        return False, "not installed; `mixclock watch --install` does it"
    try:
        asked = subprocess.run(service.ask, capture_output=True, text=True, timeout=COMMAND_LIMIT_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return False, f"{service.file}: installed, but {service.ask[0]} does not answer ({error})"
    said = (asked.stdout.strip() or asked.stderr.strip()).splitlines()
    return asked.returncode == 0, f"{service.file}: {said[0].strip() if said else 'installed'}"


def _told(command: Sequence[str], before: str) -> None:
    by_hand = f"by hand: `{' '.join(command)}`"
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=COMMAND_LIMIT_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise ServiceError(f"{before}{command[0]} does not run ({error}); {by_hand}") from error
    if done.returncode != 0:
        said = " ".join((done.stderr or done.stdout).split()) or f"exit code {done.returncode}"
        raise ServiceError(f"{before}{command[0]} said: {said}; {by_hand}")


def watch_words(place: ServicePlace) -> list[str]:
    """The command that the service runs."""
    return [place.python, "-m", "mixclock", "watch", "--plain"]


def _user_unit(place: ServicePlace, config_home: Path) -> Service:
    unit = f"{NAME}.service"
    systemctl = ("systemctl", "--user")
    return Service(
        file=config_home / "systemd" / "user" / unit,
        content=systemd_unit(place).encode(),
        begin=((*systemctl, "daemon-reload"), (*systemctl, "enable", "--now", unit)),
        end=((*systemctl, "disable", "--now", unit),),
        ask=(*systemctl, "is-active", unit),
    )


def systemd_unit(place: ServicePlace) -> str:
    """A user unit with a watchdog: where the ticks stop coming, systemd starts it anew (systemd.service(5))."""
    words = " ".join(_systemd_quoted(word) for word in watch_words(place))
    return f"""[Unit]
Description=mixclock calls out what is due on the floor
PartOf=graphical-session.target
After=graphical-session.target

[Service]
Type=notify
NotifyAccess=main
ExecStart={words}
Environment={_systemd_quoted(f"MIXCLOCK_HOME={place.home}")}
Environment=PYTHONUNBUFFERED=1
WatchdogSec={WATCHDOG_S}
Restart=always
RestartSec=1

[Install]
WantedBy=graphical-session.target
"""


def _systemd_quoted(word: str) -> str:
    """A word as systemd reads it back: quoted, with its own signs doubled (systemd.syntax(7))."""
    plain = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{plain}"'


def _agent(place: ServicePlace, user: int) -> Service:
    file = place.user_home / "Library" / "LaunchAgents" / f"{LABEL}.plist"
    domain = f"gui/{user}"
    return Service(
        file=file,
        content=launchd_agent(place),
        begin=(("launchctl", "bootstrap", domain, str(file)),),
        end=(("launchctl", "bootout", f"{domain}/{LABEL}"),),
        ask=("launchctl", "print", f"{domain}/{LABEL}"),
    )


def launchd_agent(place: ServicePlace) -> bytes:
    """An agent that runs as long as somebody is logged in (launchd.plist(5))."""
    environment: Mapping[str, str] = {"MIXCLOCK_HOME": str(place.home), "PYTHONUNBUFFERED": "1"}
    return plistlib.dumps(
        {
            "Label": LABEL,
            "ProgramArguments": watch_words(place),
            "EnvironmentVariables": dict(environment),
            "RunAtLoad": True,
            "KeepAlive": True,
            "ProcessType": "Interactive",
            "StandardOutPath": str(place.home / "watch.log"),
            "StandardErrorPath": str(place.home / "watch.log"),
        }
    )


def _scheduled_task(place: ServicePlace) -> Service:
    file = place.home / "watch-task.xml"
    return Service(
        file=file,
        content=scheduled_task(place).encode("utf-16"),
        begin=(("schtasks", "/Create", "/TN", NAME, "/XML", str(file), "/F"), ("schtasks", "/Run", "/TN", NAME)),
        end=(("schtasks", "/End", "/TN", NAME), ("schtasks", "/Delete", "/TN", NAME, "/F")),
        ask=("schtasks", "/Query", "/TN", NAME, "/FO", "LIST"),
    )


def scheduled_task(place: ServicePlace) -> str:
    """A task at log-on that goes on when the laptop leaves its charger (Task Scheduler schema, version 1.2)."""
    program, *words = watch_words(place)
    watch = subprocess.list2cmdline([program.replace("python.exe", "pythonw.exe"), *words])
    arguments = f'/d /c "set "MIXCLOCK_HOME={place.home}"&&{watch}"'
    return f"""<?xml version="1.0" encoding="UTF-16"?>
<Task version="1.2" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
  <RegistrationInfo><Description>mixclock calls out what is due on the floor</Description></RegistrationInfo>
  <Triggers><LogonTrigger><Enabled>true</Enabled></LogonTrigger></Triggers>
  <Settings>
    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
    <RestartOnFailure><Interval>PT1M</Interval><Count>999</Count></RestartOnFailure>
  </Settings>
  <Actions>
    <Exec><Command>cmd.exe</Command><Arguments>{escape(arguments)}</Arguments></Exec>
  </Actions>
</Task>
"""

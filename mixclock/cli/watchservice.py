"""`mixclock watch --install`, `--uninstall` and `--status`."""

from __future__ import annotations

import typer

from mixclock.cli.mistaken import ANSWER_IS_NO, wrong


def install() -> None:
    """Let the watch run whenever its user is logged in, and begin it now."""
    from mixclock.outside.home import home
    from mixclock.outside.service import ServiceError, here
    from mixclock.outside.service import install as install_service

    service = here(home())
    try:
        install_service(service)
    except (ServiceError, OSError) as error:
        raise wrong(str(error)) from error
    typer.echo(f"{service.file}: installed; it watches now and after every log-on")
    typer.echo("`mixclock watch --status` says whether it runs, `mixclock watch --uninstall` takes it away.")


def uninstall() -> None:
    """End the service and take it away."""
    from mixclock.outside.home import home
    from mixclock.outside.service import ServiceError, here
    from mixclock.outside.service import uninstall as uninstall_service

    service = here(home())
    try:
        was_there = uninstall_service(service)
    except (ServiceError, OSError) as error:
        raise wrong(str(error)) from error
    if not was_there:
        raise wrong(f"{service.file}: no service is installed; `mixclock watch --install` does it")
    typer.echo(f"{service.file}: removed; nothing is called out any more unless you start `mixclock watch`")


def status() -> None:
    """Say whether the service runs; 1 where it does not."""
    from mixclock.outside.home import home
    from mixclock.outside.service import here
    from mixclock.outside.service import status as status_of

    runs, said = status_of(here(home()))
    typer.echo(said)
    if not runs:
        raise typer.Exit(ANSWER_IS_NO)

"""Commands for who runs the service."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["backup", "restore", "serve", "with_log_place"]

Folder = Annotated[Path | None, typer.Option(help="Folder for terrains and studies.")]


def serve(
    host: Annotated[str, typer.Option(help="Address to listen at.")] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(help="Port to listen at; 0: any free one.", min=0, max=65535)
    ] = 8765,
    data: Folder = None,
    allow_host: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="A name the service goes by besides its address; may be repeated."
        ),
    ] = None,
    root_path: Annotated[
        str, typer.Option(help="Path below which a proxy places the service, such as /plans.")
    ] = "",
    forwarded_allow: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ADDRESS", help="Address of a proxy whose forwarded headers are believed."
        ),
    ] = None,
    access_log: Annotated[
        str, typer.Option(help="File for one line a request; - or nothing: standard error.")
    ] = "",
    access: Annotated[
        str,
        typer.Option(
            help="File of who may use it, made by leatline access add; or by-proxy: a proxy before "
            "the service lets in who may.",
            metavar="FILE",
        ),
    ] = "",
) -> None:
    """Run the service and its page until it is stopped."""
    from api.server import serve as run
    from api.settings import settings_from_environment

    settings = settings_from_environment(
        data=data,
        allow_hosts=",".join(allow_host or ()),
        root_path=root_path,
        forwarded_allow=",".join(forwarded_allow or ()),
        access_log=access_log,
    )
    run(host, port, settings, access)


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Archive to write (zip).")],
    data: Folder = None,
) -> None:
    """Write terrains, studies and photographs into one file, while the service runs."""
    from api.backup import back_up
    from api.settings import settings_from_environment

    held = back_up(settings_from_environment(data=data).data, file)
    typer.echo(f"Wrote {file}: {_amount(held)}.", err=True)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Archive that backup wrote.")],
    data: Folder = None,
) -> None:
    """Make a new data folder from a backup."""
    from api.backup import restore as bring_back
    from api.settings import settings_from_environment

    folder = settings_from_environment(data=data).data
    typer.echo(f"{folder} holds {_amount(bring_back(file, folder))}.", err=True)


def _amount(held: dict[str, int]) -> str:
    nouns = (("studies", "study", "studies"), ("terrains", "terrain", "terrains"))
    parts = [f"{held[key]} {one if held[key] == 1 else many}" for key, one, many in nouns]
    return f"{', '.join(parts)}, {held['bytes'] / 1e6:.1f} MB"


def with_log_place(arguments: Sequence[str]) -> list[str]:
    """Return arguments in which ``--access-log`` has a value: standard error where none is given.

    >>> with_log_place(["serve", "--access-log", "--port", "0"])
    ['serve', '--access-log', '-', '--port', '0']
    """
    given: list[str] = []
    for word, following in zip_longest(arguments, arguments[1:]):
        if word is not None:
            given.append(word)
            if word == "--access-log" and (following is None or following.startswith("--")):
                given.append("-")
    return given

"""Commands for who runs the service."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["serve"]


def serve(
    host: Annotated[str, typer.Option(help="Address to listen at.")] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(help="Port to listen at; 0: any free one.", min=0, max=65535)
    ] = 8765,
    data: Annotated[Path | None, typer.Option(help="Folder for terrains and studies.")] = None,
    allow_host: Annotated[
        list[str] | None,
        typer.Option(help="A name the service goes by besides its address; may be repeated."),
    ] = None,
    access: Annotated[
        Path | None,
        typer.Option(help="File of who may use it, made by leatline access add."),
    ] = None,
    access_by_proxy: Annotated[
        bool,
        typer.Option("--access-by-proxy", help="A proxy before the service lets in who may."),
    ] = False,
) -> None:
    """Run the service and its page until it is stopped."""
    from api.server import serve as run
    from api.settings import settings_from_environment

    settings = settings_from_environment(data=data, allow_hosts=",".join(allow_host or ()))
    run(host, port, settings, access, access_by_proxy=access_by_proxy)

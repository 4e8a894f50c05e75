"""``leatline access``: who may use the service."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["access_app"]

access_app = typer.Typer(
    help="Say who may use a service that others can reach.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
File = Annotated[Path, typer.Option("--access", help="The access file, as given to serve.")]
Name = Annotated[str, typer.Argument(metavar="NAME", help="Who.")]


@access_app.command()
def add(
    name: Name,
    access: File,
    role: Annotated[str, typer.Option(help="planner, crew or client.", metavar="ROLE")],
    expires: Annotated[
        str | None, typer.Option(help="When the token ends, as 2027-01-31; else never.")
    ] = None,
) -> None:
    """Print a new token for somebody: once, for only its hash is kept."""
    from api.access.store import AccessFile
    from api.access.tokens import time_given

    ends = time_given(expires, "--expires") if expires is not None else None
    token = AccessFile(access, make=True).add(name, role, ends)
    typer.echo(f"The token of {name} ({role}); it is shown this once:", err=True)
    typer.echo(token)


@access_app.command("list")
def list_tokens(access: File) -> None:
    """Print who has a token."""
    from api.access.store import AccessFile

    for row in AccessFile(access).tokens():
        until = row.revoked if row.state == "revoked" else row.expires or "no end"
        sys.stdout.write(f"{row.name:24} {row.role:8} {row.state:8} {row.created} {until}\n")


@access_app.command()
def revoke(name: Name, access: File) -> None:
    """End somebody's token and sessions at once."""
    from api.access.store import AccessFile

    AccessFile(access).revoke(name)
    typer.echo(f"{name} has no access any more.", err=True)


@access_app.command()
def log(
    access: File,
    most: Annotated[int, typer.Option(help="Newest rows to print.", min=1)] = 1000,
) -> None:
    """Print who changed what, and what was tried without permission."""
    from api.access.store import AccessFile

    for row in AccessFile(access).logged(most):
        sys.stdout.write(
            f"{row.time} {row.status} {row.method:6} {row.path} "
            f"{row.name or '-'} {row.role or '-'} {row.address or '-'}\n"
        )

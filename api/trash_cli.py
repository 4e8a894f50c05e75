"""``leatline trash``: what was deleted of a data folder, also while the service runs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from api.trash import Trash

__all__ = ["trash_app"]

trash_app = typer.Typer(
    help="Bring back what was deleted, or delete it for good.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Folder = Annotated[Path | None, typer.Option(help="Folder for terrains and studies.")]
Identity = Annotated[str, typer.Argument(metavar="ID", help="As trash list prints it.")]


def _trash(data: Path | None) -> Trash:
    from api.settings import settings_from_environment
    from api.storage import Storage
    from routing.errors import InputError

    settings = settings_from_environment(data=data)
    if not (settings.data / "leatline.sqlite3").is_file():
        raise InputError(
            f"{settings.data} is no data folder.", "Give the one that serve uses with --data."
        )
    return Storage(settings).trash


@trash_app.command("list")
def list_trash(data: Folder = None) -> None:
    """Print what can be brought back, until when, and who deleted it."""
    for row in _trash(data).rows():
        name = "".join(letter if letter.isprintable() else "?" for letter in row.name)
        sys.stdout.write(f"{row.id} {row.kind:8} {row.until} {row.who or '-'} {name}\n")


@trash_app.command()
def restore(item: Identity, data: Folder = None) -> None:
    """Bring something back, a study with the terrains under it."""
    for row in _trash(data).restore(item):
        typer.echo(f"The {row.kind} {row.name} is back.", err=True)


@trash_app.command()
def remove(item: Identity, data: Folder = None) -> None:
    """Delete one thing for good."""
    _trash(data).remove(item)
    typer.echo(f"{item} is gone for good.", err=True)


@trash_app.command()
def empty(data: Folder = None) -> None:
    """Delete for good all that is in the trash."""
    typer.echo(f"Gone for good: {_trash(data).empty()}.", err=True)

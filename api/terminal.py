"""What commands of the terminal have in common: options, what they print, signs of work."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["Answer", "Format", "Terrain", "Tongue", "tell", "working", "write_stdout"]


class Answer(StrEnum):
    """How a command answers on standard output."""

    text = "text"
    json = "json"


Terrain = Annotated[
    list[Path],
    typer.Option(
        "--terrain",
        metavar="DEM",
        help="Elevation raster, or folder or ZIP of tiles; may be repeated.",
    ),
]
Tongue = Annotated[
    str | None,
    typer.Option(
        "--language",
        metavar="CODE",
        help="Language of what is printed and of map, field sheet and sheets, such as es; else the "
        "settings' and this machine's.",
    ),
]
Format = Annotated[Answer, typer.Option("--format", help="What goes to standard output.")]


def tell(text: str, language: str | None = None) -> None:
    """Print a line on standard error in the reader's language; paths in it stay as they are."""
    from api.tongue import shown_in
    from routing.words import said_message, speaking

    with speaking(shown_in(language, sys.stderr)):
        typer.echo(said_message("", text)[0].strip(), err=True)


def write_stdout(data: bytes) -> None:
    """Write bytes to standard output as they are."""
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


@contextmanager
def working(what: str) -> Iterator[None]:
    """Show that work goes on, once it has taken a second, to a person who watches."""
    if not sys.stderr.isatty():
        yield
        return
    from api.progress import shown_after_a_second

    with shown_after_a_second(what):
        yield

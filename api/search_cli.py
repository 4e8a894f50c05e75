"""``leatline search``: the best line between two places, and real alternatives."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer

from api.terminal import tell
from api.tongue import shown_in
from routing.errors import InputError
from routing.units import UnitSystem, show
from routing.words import said, speaking

if TYPE_CHECKING:
    from routing.search.ends import End

__all__ = ["search", "watched"]


def search(
    terrain: Annotated[
        list[Path],
        typer.Option(
            "--terrain", metavar="DEM", help="Elevation raster, or folder or ZIP of tiles."
        ),
    ],
    start: Annotated[
        str,
        typer.Option(
            "--from",
            metavar="LON,LAT[..LON,LAT]",
            help="Place of the intake, degrees; two with .. between: anywhere along the stream.",
        ),
    ],
    end: Annotated[
        str,
        typer.Option(
            "--to",
            metavar="LON,LAT[..LON,LAT]",
            help="Place of the powerhouse, or a stretch of stream, likewise.",
        ),
    ],
    settings: Annotated[Path | None, typer.Option(help="Settings file (TOML).")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the files; else a new one, search.")
    ] = None,
    answer: Annotated[
        str, typer.Option("--format", metavar="[text|json]", help="What goes to standard output.")
    ] = "text",
) -> None:
    """Propose lines between two places, each a full study."""
    from api.folder import output_folder
    from routing.abreast import idle_cores
    from routing.compiled import prefer_compiled
    from routing.search import propose, write_search
    from routing.settings import Settings, read_settings
    from routing.study import open_study_terrain

    if answer not in ("text", "json"):
        raise InputError(f"--format {answer} is not a format.", "Choose text or json.")
    given = read_settings(settings) if settings is not None else Settings()
    ends = (_end(start, "--from"), _end(end, "--to"))
    prefer_compiled()
    with watched() as report:
        site, copies = open_study_terrain(terrain, given), idle_cores()
        found = propose(site, *ends, given, report=report, copies=copies)
    with output_folder(out or Path("search"), new=out is None) as folder:
        document = write_search(found, folder.draft, copies)
    if answer == "json":
        sys.stdout.flush()
        sys.stdout.buffer.write((folder.place / "1" / "study.json").read_bytes())
    else:
        with speaking(shown_in(None, sys.stdout)):
            _print(document, given.study.units, sys.stdout)
    sys.stdout.flush()
    for line in folder.told(f"1{os.sep}map.html"):
        tell(line)


def _end(text: str, name: str) -> End:
    """Return a place, or the two places of a stretch, as written."""
    first, stretch, last = text.partition("..")
    return (_place(first, name), _place(last, name)) if stretch else _place(text, name)


def _place(text: str, name: str) -> tuple[float, float]:
    """Return longitude and latitude as written."""
    try:
        lon, lat = (float(each) for each in text.split(","))
    except ValueError as exc:
        raise InputError(
            f"{name} {text!r} is no place.",
            f"Give longitude and latitude in degrees with a comma between, as in {name} "
            "-16.0697,47.2980.",
        ) from exc
    if not (abs(lon) <= 360.0 and abs(lat) <= 90.0):
        raise InputError(
            f"{name} {text} is no longitude and latitude.",
            "Give longitude first, then latitude, in degrees.",
        )
    return lon, lat


class watched:
    """Tell on standard error how far the work is, to a person who watches."""

    def __enter__(self) -> Any:
        self._watched = sys.stderr.isatty()
        return self._say

    def _say(self, share: float, doing: str) -> None:
        if self._watched:
            sys.stderr.write(f"\r\x1b[K{100 * share:3.0f} %  {doing}")
            sys.stderr.flush()

    def __exit__(self, *_: object) -> None:
        if self._watched:
            sys.stderr.write("\r\x1b[K")


def _print(document: Mapping[str, Any], units: UnitSystem, stream: TextIO) -> None:
    """Print the alternatives, and what must be known of them."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from api.summary import print_warnings

    console = Console(file=stream, highlight=False, width=None if stream.isatty() else 100)
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0))
    for title in ("", "line", "cost", "pipe", "head", "power", "vents", "drains", "faults"):
        table.add_column(said(title), justify="left" if title == "line" else "right")
    for each in document["alternatives"]:
        power = each["power_kw"]
        table.add_row(
            str(each["rank"]),
            said(each["name"]),
            f"{each['cost']:.0f}",
            show(each["pipe_length_m"], "length", units),
            show(each["gross_head_m"], "head", units),
            "–" if power is None else f"{power:.2f} kW",
            str(each["vents"]),
            str(each["drains"]),
            str(len(each["fault_findings"])),
        )
    console.print(table)
    for each in document["alternatives"]:
        if each["fault_findings"]:
            console.print(Text(f"{each['rank']}  {said(each['name'])}"))
            print_warnings({"units": units, "warnings": each["fault_findings"]}, stream)
    console.print(
        Text(said(f"No line can cost less than {100.0 * document['bound']:.0f} % of the first."))
    )
    for note in document["notes"]:
        console.print(Text(said(note)))

"""``leatline screen``: a whole valley, its candidates ranked."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, TextIO

import typer

from api.search_cli import watched
from api.terminal import tell
from api.tongue import shown_in
from routing.units import UnitSystem, show
from routing.words import said, speaking

__all__ = ["screen"]

PRINTED = 15


def screen(
    terrain: Annotated[
        list[Path],
        typer.Option(
            "--terrain", metavar="DEM", help="Elevation raster, or folder or ZIP of tiles."
        ),
    ],
    settings: Annotated[Path, typer.Option(help="Settings file (TOML) with [screen].")],
    out: Annotated[Path, typer.Option(help="Folder for the files.")],
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Dask scheduler, as tcp://10.0.0.5:8786."),
    ] = None,
) -> None:
    """Rank all pairs of intake and powerhouse along the streams of a terrain."""
    import json

    from api.folder import output_folder
    from routing.compiled import prefer_compiled
    from routing.search.valley import screen_valley, write_screen
    from routing.search.valley.batch import Task
    from routing.settings import read_settings

    prefer_compiled()
    given = read_settings(settings)
    task = Task(
        paths=tuple(str(path.absolute()) for path in terrain),
        tables=json.dumps(dict(given.given), sort_keys=True),
    )
    # What was finished stays beside the folder until all is done, so that a stopped run goes on.
    parts = out.parent / f".{out.name}-screen-{task.digest()}"
    with watched() as report, output_folder(out) as folder:
        found = screen_valley(terrain, given, parts=parts, scheduler=scheduler, report=report)
        document = write_screen(found, folder.draft, report)
    shutil.rmtree(parts, ignore_errors=True)
    with speaking(shown_in(None, sys.stdout)):
        _print(document, given.study.units, sys.stdout)
    rate = document["looked_at"] / max(found.seconds, 1e-9)
    tell(f"{document['looked_at']} pairs in {found.seconds:.1f} s ({rate:.0f} a second).")
    for line in folder.told("map.html"):
        tell(line)


def _print(document: Mapping[str, Any], units: UnitSystem, stream: TextIO) -> None:
    """Print the best candidates, and what must be known of them."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(file=stream, highlight=False, width=None if stream.isatty() else 100)
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0))
    for title in ("", "score", "fall", "pipe", "flow", "power", "cost", "line"):
        table.add_column(said(title), justify="left" if title == "line" else "right")
    for each in document["candidates"][:PRINTED]:
        flow, power = each["flow_m3_s"], each["power_kw"]
        table.add_row(
            str(each["rank"]),
            f"{each['score']:.5g}",
            show(each["gross_head_m"], "head", units),
            show(each["pipe_length_m"], "length", units),
            "–" if flow is None else show(flow, "flow", units),
            "–" if power is None else f"{power:.2f} kW",
            f"{each['cost']:.0f}",
            each["line"],
        )
    console.print(table)
    correlation = document["rank_correlation"]
    console.print(
        Text(
            said(
                f"Ranked by {document['ranked_by']}; {document['within_limits']} of "
                f"{document['looked_at']} pairs keep to the limits. Rank correlation with studies: "
                f"{'not known' if correlation is None else f'{correlation:.2f}'}."
            )
        )
    )
    for each in document["candidates"]:
        if "no_line" in each:
            console.print(Text(said(f"Candidate {each['rank']} has no line: {each['no_line']}")))
    for note in document["notes"]:
        console.print(Text(said(note)))

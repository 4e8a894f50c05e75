"""A folder to start from: every setting in a comment, a line to draw over, the next commands."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from pathlib import Path

from routing.errors import InputError
from routing.settings import Row, Settings, rows_of, written
from routing.words import said, spoken

__all__ = ["IN_ENGLISH", "STEPS", "line_text", "make_start_folder", "next_text", "settings_text"]

WIDTH = 96
STEPS = (
    (
        "Put the elevation raster of your hillside here, for example as hill.tif.",
        "See what is understood:",
    ),
    (
        "Draw the line from the intake down to the powerhouse: in {line} (longitude, latitude), "
        "with a GPS (GPX), in any map program (KML, GeoPackage), or on the page:",
    ),
    ("Open {settings}, take the # away where you know better, then:",),
    ("Open {map} in a browser.", "Papers of the study:"),
)
"""What to do next, sentence by sentence; what stands in braces are paths."""
IN_ENGLISH = "What each key means stands here in English."
HEAD = """\
Settings of this line. Every table and key is optional: as it stands this file changes nothing.
Take the # away before a key (and before its [[table]], if that has one) and write your own value.
A quantity is text with a unit: "0.9 m", "3 ft", "18 L/s", "285 gpm", "10 bar".
Most needed: flow.design, one [[pipe]] with a catalogue name, turbine.efficiency, terrain.rmse."""


def settings_text() -> str:
    """Return a settings file with every table and key, each told, none of the keys set.

    >>> '#design = "18 L/s"' in settings_text()
    True
    """
    foreign = [] if spoken()[0] == "en" else [_told(said(IN_ENGLISH))]
    return "\n".join([*foreign, _told(HEAD), *_tables(Settings, "")]) + "\n"


def _told(text: str) -> str:
    lines = (textwrap.wrap(line, WIDTH) for line in text.splitlines())
    return "\n".join(f"# {line}" for wrapped in lines for line in wrapped)


def _tables(kind: type, above: str) -> Iterator[str]:
    for table in rows_of(kind).values():
        inner = table.reader.rows
        if inner is None:
            continue
        name = f"{above}{table.key}"
        heading = f"#[[{name}]]" if table.reader.several else f"[{name}]"
        without = f" Without it: {table.without}." if table.without else ""
        meaning = f"{table.meaning[:1].upper()}{table.meaning[1:]}.{without}"
        yield f"\n{_told(meaning)}\n{heading}"
        yield from (_key(row) for row in rows_of(inner).values() if row.reader.rows is None)
        yield from _tables(inner, f"{name}.")


def _key(row: Row) -> str:
    without = "needed" if row.needed else f"without it: {row.without}" if row.without else ""
    told = "; ".join(part for part in (row.meaning, row.reader.takes, without) if part)
    example = row.example if row.example is not None else ""
    return f"{_told(told)}\n#{row.key} = {written(example)}"


def line_text() -> str:
    """Return a line of two ends as GeoJSON, to be drawn over: that of the demo's valley."""
    import sample_dem

    sample = json.loads(sample_dem.sample_paths().line.read_text(encoding="utf-8"))
    drawn = sample["features"][0]["geometry"]["coordinates"]
    ends = [f"[{lon:.6f}, {lat:.6f}]" for lon, lat, *_ in (drawn[0], drawn[-1])]
    return (
        '{"type": "FeatureCollection", "features": [{"type": "Feature",\n'
        ' "properties": {"name": "draw this line anew: longitude, latitude, from the intake down"},'
        f'\n "geometry": {{"type": "LineString", "coordinates": [\n  {ends[0]},\n  {ends[1]}\n'
        " ]}}]}\n"
    )


def next_text(folder: Path) -> str:
    """Return what to do next, as commands, in the language being spoken."""
    raster, line, settings = folder / "hill.tif", folder / "line.geojson", folder / "settings.toml"
    saved = folder / "study" / "study.json"
    given = f"{line} --terrain {raster} --settings {settings}"
    values = {"line": line, "settings": settings, "map": saved.with_name("map.html")}
    commands = (
        (f"terrain {raster}",),
        ("serve",),
        (f"study {given} --out {saved.parent}", f"pipes {given}"),
        (
            f"export {saved} --format pdf --out {folder / 'sheets.pdf'}",
            f"export {saved} --format report --out {folder / 'report.pdf'}",
            f"works {saved} --out {folder / 'works.pdf'}",
        ),
    )
    told = ""
    for number, (step, then) in enumerate(zip(STEPS, commands, strict=True), start=1):
        text = " ".join(map(said, step)).format(**values)
        told += f"{number}. {text}\n"
        told += "".join(f"     leatline {command}\n" for command in then)
    return told


def make_start_folder(folder: Path) -> list[Path]:
    """Write the three files into a folder, which is made if need be; return their paths.

    Raises InputError, before anything is written, where one of them is already there.
    """
    texts = {
        folder / "settings.toml": settings_text(),
        folder / "line.geojson": line_text(),
        folder / "next.txt": next_text(folder),
    }
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file, not a folder.", "Name another folder.")
    if there := [path for path in texts if path.exists()]:
        raise InputError(
            f"{there[0]} is already there and is left as it is.",
            "Name another folder, or move that file away.",
        )
    folder.mkdir(parents=True, exist_ok=True)
    for path, text in texts.items():
        path.write_text(text, encoding="utf-8")
    return list(texts)

"""The study as shapefiles in one zip, for programs that read nothing newer."""

from __future__ import annotations

import csv
import io
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from routing.papers.document import Document
from routing.papers.geojson import features
from routing.papers.given import sheet_date

__all__ = ["shapefile_zip", "zipped"]

MOST_NAME = 10
"""Longest name of a field that the format holds [-]."""
MOST_TEXT = 254
"""Longest text that a field holds, in bytes [-]."""
STAMP = (1980, 1, 1, 0, 0, 0)
"""Time of every file in a zip: the earliest there is, so that equal content gives equal bytes."""


def shapefile_zip(doc: Document) -> bytes:
    """Return one shapefile a layer, in WGS 84, with a table of the fields' full names.

    Names of fields are cut to the ten characters that the format has; text is cut at 254 bytes.
    """
    layers: dict[str, tuple[list[Mapping[str, Any]], list[Mapping[str, Any]]]] = {}
    for layer, geometry, properties in features(doc):
        shapes, rows = layers.setdefault(layer, ([], []))
        shapes.append(geometry)
        rows.append(properties)
    names: list[tuple[str, str, str]] = []
    date = sheet_date(doc)
    with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
        for layer, (shapes, rows) in layers.items():
            short = _short_names(list(dict.fromkeys(key for row in rows for key in row)))
            names += [(layer, field, full) for full, field in short.items()]
            stamp = "2000-01-01" if date is None else date.isoformat()
            _write(Path(folder) / f"{layer}.shp", shapes, rows, short, stamp)
        found = {path.name: path.read_bytes() for path in sorted(Path(folder).iterdir())}
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\r\n").writerows([("layer", "field", "full_name"), *names])
    found["fields.csv"] = buffer.getvalue().encode()
    return zipped(found)


def zipped(contents: Mapping[str, bytes]) -> bytes:
    """Return files as a zip that depends on their names and bytes alone."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name in contents:
            entry = zipfile.ZipInfo(name, STAMP)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, contents[name])
    return buffer.getvalue()


def _short_names(names: Sequence[str]) -> dict[str, str]:
    """Return a name of at most ten characters for each, no two alike; units at the end stay.

    >>> _short_names(["static_head_m", "static_heat_m", "id"])
    {'static_head_m': 'statichd_m', 'static_heat_m': 'staticht_m', 'id': 'id'}
    """
    short: dict[str, str] = {}
    used: set[str] = set()
    for name in names:
        field = name
        if len(field) > MOST_NAME:
            head, _, unit = name.rpartition("_")
            field = f"{_squeezed(head, MOST_NAME - 1 - len(unit))}_{unit}"
            if len(unit) > 4:
                field = _squeezed(name, MOST_NAME)
        number = 2
        stem = field
        while field.lower() in used:
            field = f"{stem[: MOST_NAME - len(str(number))]}{number}"
            number += 1
        used.add(field.lower())
        short[name] = field
    return short


def _squeezed(word: str, room: int) -> str:
    """Return a word made short: first without underscores, then without vowels from the end."""
    letters = list(word.replace("_", ""))
    for index in range(len(letters) - 1, 0, -1):
        if len(letters) <= room:
            break
        if letters[index] in "aeiou":
            del letters[index]
    return "".join(letters[:room])


def _write(
    path: Path,
    geometries: Sequence[Mapping[str, Any]],
    rows: Sequence[Mapping[str, Any]],
    short: Mapping[str, str],
    stamp: str,
) -> None:
    import shapely
    from pyogrio import raw
    from shapely.geometry import shape

    shapes = [shapely.force_3d(shape(geometry)) for geometry in geometries]
    columns, fields = [], []
    for full, field in short.items():
        values = [row.get(full) for row in rows]
        known = [value for value in values if value is not None]
        if not known:
            continue
        fields.append(field)
        if all(isinstance(value, int | float) for value in known):
            columns.append(np.array([np.nan if v is None else float(v) for v in values]))
        else:
            columns.append(np.array([_cut(v) for v in values], dtype=object))
    first = str(geometries[0]["type"])
    kinds = ("LineString", "Polygon", "Point")
    kind = next(f"{kind} Z" for kind in kinds if kind in first)
    raw.write(
        path,
        shapely.to_wkb(shapes, output_dimension=3),
        columns,
        np.array(fields, dtype=object),
        driver="ESRI Shapefile",
        geometry_type=kind,
        crs="EPSG:4326",
        encoding="UTF-8",
        layer_options={"DBF_DATE_LAST_UPDATE": stamp},
    )


def _cut(value: Any) -> str | None:
    return None if value is None else str(value).encode()[:MOST_TEXT].decode("utf-8", "ignore")

"""What a search found, as ``search.json`` and a folder of studies."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from routing.abreast import abreast
from routing.arrays import FloatArray
from routing.outputs import write_outputs
from routing.record import study_document, to_json
from routing.rounding import metres, rounded
from routing.search.propose import Proposals
from routing.search.why import closed_shares

__all__ = ["search_document", "write_search"]

COLUMNS = (
    "rank", "name", "cost", "pipe_length_m", "gross_head_m", "net_head_m", "power_kw", "vents",
    "drains", "crossings", "stream_beds", "differs_m",
)  # fmt: skip
"""Columns of the table of alternatives; of a missing number the cell is empty."""


def search_document(found: Proposals, copies: int = 0) -> dict[str, Any]:
    """Return a search's result with the whole study of every alternative in it.

    So many ``copies`` of this process may help.
    """
    site = found.site
    studies = abreast(lambda at: study_document(found.lines[at].study), len(found.lines), copies)
    alternatives = []
    for at, (line, study) in enumerate(zip(found.lines, studies, strict=True)):
        study["name"] = f"{site.settings.study.name or 'Line'} {at + 1}: {found.names[at]}"
        alternatives.append(
            {
                "rank": at + 1,
                "name": found.names[at],
                "route": _feature(study["name"], line.route.lon, line.route.lat),
                "settings": line.tables,
                "cost": rounded(line.cost, 2),
                "differs_m": _number(found.differs_m[at]),
                "study": study,
                **_figures(study),
                "stream_beds": found.stream_beds[at],
            }
        )
    return {
        "schema": 1,
        "from": list(site.places[0]),
        "to": list(site.places[-1]),
        "currency": site.book.currency,
        "cost_unit": site.book.unit,
        "prices_of": site.book.date,
        "default_prices": list(site.book.defaults),
        "bound": rounded(found.bound, 4),
        "apart_m": metres(found.apart_m),
        "banned": closed_shares(site),
        "grid": {
            "rows": site.grid.shape[0],
            "columns": site.grid.shape[1],
            "cell_m": metres(site.grid.cell_m),
            "headings": 16,
        },
        "alternatives": alternatives,
        "notes": list(found.notes),
    }


def _figures(study: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures by which alternatives are compared."""
    summary = study["summary"]
    faults = [each for each in study["warnings"] if each["severity"] == "fault"]
    return {
        "pipe_length_m": summary["pipe_length_m"],
        "gross_head_m": summary["gross_head_m"],
        "net_head_m": summary.get("net_head_m"),
        "power_kw": summary.get("power_kw"),
        "vents": len(study["vents"]),
        "drains": len(study["drains"]),
        "crossings": len(study.get("crossings") or ()),
        "faults": sorted({each["code"] for each in faults}),
        "fault_findings": faults,
    }


def _feature(name: str, lon: FloatArray, lat: FloatArray) -> dict[str, Any]:
    """Return a route as a GeoJSON feature."""
    return {
        "type": "Feature",
        "properties": {"name": name},
        "geometry": {"type": "LineString", "coordinates": np.column_stack([lon, lat]).tolist()},
    }


def _number(value: float) -> float | None:
    return metres(value) if math.isfinite(value) else None


def write_search(found: Proposals, folder: Path, copies: int = 0) -> dict[str, Any]:
    """Write a search into an existing folder and return ``search.json`` as it stands there.

    Each alternative gets a folder with all files of a study, ``route.geojson`` and
    ``settings.json``; ``alternatives.csv`` has them side by side; in ``search.json``
    their ``study`` is the path of the document. So many ``copies`` of this process may help.
    """
    document = search_document(found, copies)
    alternatives = document["alternatives"]

    def write(at: int) -> None:
        each = alternatives[at]
        place = folder / str(each["rank"])
        place.mkdir(exist_ok=True)
        write_outputs(each["study"], found.site.terrain, place)
        (place / "route.geojson").write_bytes(to_json(each["route"]) + b"\n")
        (place / "settings.json").write_bytes(to_json(each["settings"]) + b"\n")

    abreast(write, len(alternatives), copies)
    for each in alternatives:
        each["study"] = f"{each['rank']}/study.json"
    (folder / "search.json").write_bytes(to_json(document) + b"\n")
    _write_table(document, folder / "alternatives.csv")
    return document


def _write_table(document: Mapping[str, Any], path: Path) -> None:
    """Write the alternatives side by side, as a permit asks for them."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        table = csv.writer(stream)
        table.writerow([*COLUMNS, "faults"])
        for each in document["alternatives"]:
            words = " ".join(fault["message"] for fault in each["fault_findings"])
            table.writerow([*(each[key] for key in COLUMNS), words])

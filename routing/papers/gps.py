"""Files for hand-held receivers and globes: GPX 1.1 and KML 2.2."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from routing.papers.document import Document, column, plain
from routing.papers.facts import Facts, high_facts
from routing.papers.given import standing_lines
from routing.papers.study_facts import summary_facts
from routing.papers.things import Thing, ThingKind, things

__all__ = ["gpx_text", "kml_text"]

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
KML_COLOURS = {"vent": "ffb27200", "drain": "ff005ed5", "end": "ff009fe6", "line": "ff111111"}
"""The papers' colours in KML's order: opacity, blue, green, red."""
_FOLDERS: tuple[tuple[str, ThingKind, bool], ...] = (
    ("Intake and powerhouse", "end", True),
    ("Vents", "vent", True),
    ("Drains", "drain", True),
    ("Valves", "valve", True),
    ("Gauge taps", "tap", True),
    ("Relief valves", "relief", True),
    ("Blocks", "block", True),
    ("Slope anchors", "anchor", True),
    ("Supports", "support", False),
    ("Changes of pipe", "pipe", True),
    ("Levels to take", "level", True),
    ("Bends", "bend", False),
    ("Crossings", "crossing", True),
)
"""Title of each kind's folder, and whether it is shown at first."""
_SYMBOLS = {"vent": "Navaid, Blue", "drain": "Navaid, Red", "level": "Flag, Green"}


def gpx_text(doc: Document) -> str:
    """Return everything to set and the two ends as waypoints and the line as a route, as GPX 1.1.

    Elevations are the ground's [m]; a waypoint's description is what to know at the place.
    """
    parts = [
        HEAD,
        '<gpx version="1.1" creator="leatline" xmlns="http://www.topografix.com/GPX/1/1">\n',
        f"<metadata><name>{_text(_name(doc))}</name><desc>{_text(_told(doc))}</desc></metadata>\n",
    ]
    for thing in things(doc):
        ground = "" if thing.ground_m is None else f"<ele>{thing.ground_m:.3f}</ele>"
        symbol = _SYMBOLS.get(thing.kind, "Flag, Red" if thing.id == "H1" else "Flag, Blue")
        parts.append(
            f'<wpt lat="{thing.lat:.8f}" lon="{_half_turn(thing.lon):.8f}">{ground}'
            f"<name>{_text(_title(thing))}</name><desc>{_text(_described(thing))}</desc>"
            f"<sym>{symbol}</sym></wpt>\n"
        )
    told = _text(". ".join(standing_lines(doc)))
    parts.append(f"<rte><name>{_text(_name(doc))}</name><desc>{told}</desc>\n")
    route = doc["route"]
    levels = np.interp(
        np.asarray(route["station_m"], dtype=float),
        column(doc, "station_m"),
        column(doc, "ground_m"),
    )
    for lon, lat, level in zip(route["lon"], route["lat"], levels.tolist(), strict=True):
        parts.append(f'<rtept lat="{lat:.8f}" lon="{lon:.8f}"><ele>{level:.3f}</ele></rtept>\n')
    return "".join([*parts, "</rte>\n</gpx>\n"])


def kml_text(doc: Document) -> str:
    """Return the study as KML 2.2 in folders: line, each kind of thing to set, highs and lows.

    Everything lies on the ground of the globe, so that it can be seen.
    """
    found = things(doc)
    folders = [_folder("Line", [_kml_line(doc)])]
    for title, kind, shown in _FOLDERS:
        marks = [_mark(thing) for thing in found if thing.kind == kind]
        if marks or kind in KML_COLOURS:
            folders.append(_folder(title, marks, shown=shown))
    for title, key in (("Highs of the ground", "highs"), ("Lows of the ground", "lows")):
        marks = [_ground_mark(doc, item, key) for item in doc["ground"][key]]
        folders.append(_folder(title, marks, shown=False))
    styles = "".join(
        f'<Style id="{name}"><IconStyle><color>{colour}</color></IconStyle>'
        f"<LineStyle><color>{colour}</color><width>4</width></LineStyle></Style>\n"
        for name, colour in KML_COLOURS.items()
    )
    return (
        f'{HEAD}<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n<name>{_text(_name(doc))}</name>\n'
        f"<description>{_text(_told(doc))}</description>\n{styles}{''.join(folders)}</Document>\n</kml>\n"
    )


def _title(thing: Thing) -> str:
    return thing.title if thing.kind == "end" else thing.id


def _half_turn(lon: float) -> float:
    """Return a longitude between -180 and 180 degrees."""
    return (lon + 180.0) % 360.0 - 180.0


def _described(thing: Thing) -> str:
    return _sentence(thing.facts if thing.kind == "end" else [("What", thing.brief), *thing.facts])


def _mark(thing: Thing) -> str:
    style = thing.kind if thing.kind in KML_COLOURS else ""
    return _placemark(_title(thing), _half_turn(thing.lon), thing.lat, _described(thing), style)


def _ground_mark(doc: Document, item: Mapping[str, Any], key: str) -> str:
    title = plain(item.get("id") or ("High" if key == "highs" else "Low"))
    return _placemark(title, item["lon"], item["lat"], _sentence(high_facts(doc, item)), "")


def _placemark(title: str, lon: float, lat: float, words: str, style: str) -> str:
    styled = f"<styleUrl>#{style}</styleUrl>" if style else ""
    return (
        f"<Placemark><name>{_text(title)}</name><description>{_text(words)}</description>"
        f"{styled}<Point><coordinates>{lon:.8f},{lat:.8f}</coordinates></Point></Placemark>\n"
    )


def _kml_line(doc: Document) -> str:
    lon, lat = column(doc, "lon").tolist(), column(doc, "lat").tolist()
    places = " ".join(f"{x:.8f},{y:.8f}" for x, y in zip(lon, lat, strict=True))
    told = _text(". ".join([*standing_lines(doc), _sentence(summary_facts(doc))]))
    return (
        f"<Placemark><name>{_text(_name(doc))}</name>"
        f"<description>{told}</description><styleUrl>#line</styleUrl>"
        f"<LineString><tessellate>1</tessellate><coordinates>{places}</coordinates></LineString>"
        "</Placemark>\n"
    )


def _folder(title: str, places: Iterable[str], *, shown: bool = True) -> str:
    visible = "" if shown else "<visibility>0</visibility>"
    return f"<Folder><name>{title}</name>{visible}\n{''.join(places)}</Folder>\n"


def _sentence(facts: Facts) -> str:
    return "; ".join(f"{label}: {value}" for label, value in facts)


def _told(doc: Document) -> str:
    """Return whether one may build from it, who answers for what, and the cautions."""
    cautions = (plain(item["text"]) for item in doc.get("cautions") or ())
    return " ".join([*(f"{line}." for line in standing_lines(doc)), *cautions])


def _name(doc: Document) -> str:
    return plain(doc.get("name") or "study")


def _text(words: str) -> str:
    return escape(words, {'"': "&quot;"})

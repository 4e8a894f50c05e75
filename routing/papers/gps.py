"""Files for hand-held receivers and globes: GPX 1.1 and KML 2.2."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from routing.papers.document import Document, at_station, column, plain
from routing.papers.facts import (
    Facts,
    bend_facts,
    drain_facts,
    high_facts,
    intake_facts,
    level_facts,
    outlet_facts,
    summary_facts,
    vent_facts,
)

__all__ = ["gpx_text", "kml_text"]

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
KML_COLOURS = {"vents": "ffb27200", "drains": "ff005ed5", "ends": "ff009fe6", "line": "ff111111"}
"""The papers' colours in KML's order: opacity, blue, green, red."""


def gpx_text(doc: Document) -> str:
    """Return the places to find as waypoints and the line as a route, as GPX 1.1.

    Vents, drains, levels to take (L1, L2, ...) and both ends. Elevations are the ground's [m]; a
    waypoint's description is what to know at the place.
    """
    parts = [
        HEAD,
        '<gpx version="1.1" creator="leatline" xmlns="http://www.topografix.com/GPX/1/1">\n',
        f"<metadata><name>{_text(_name(doc))}</name><desc>{_text(_cautions(doc))}</desc></metadata>\n",
    ]
    for title, lon, lat, ground, facts, symbol in _waypoints(doc):
        parts.append(
            f'<wpt lat="{lat:.8f}" lon="{lon:.8f}"><ele>{ground:.3f}</ele>'
            f"<name>{_text(title)}</name><desc>{_text(_sentence(facts))}</desc><sym>{symbol}</sym></wpt>\n"
        )
    parts.append(f"<rte><name>{_text(_name(doc))}</name>\n")
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
    """Return the study as KML 2.2 in folders: line, ends, vents, drains, bends, highs and lows.

    Everything lies on the ground of the globe, so that it can be seen.
    """
    folders = [
        _folder("Line", [_kml_line(doc)]),
        _folder("Intake and powerhouse", _ends(doc)),
        _folder("Vents", (_placed(doc, item, "vents") for item in doc["vents"])),
        _folder("Drains", (_placed(doc, item, "drains") for item in doc["drains"])),
        _folder(
            "Bends", (_placed(doc, item, "bends") for item in doc.get("bends") or ()), shown=False
        ),
        _folder(
            "Highs of the ground",
            (_placed(doc, item, "highs") for item in doc["ground"]["highs"]),
            shown=False,
        ),
        _folder(
            "Lows of the ground",
            (_placed(doc, item, "lows") for item in doc["ground"]["lows"]),
            shown=False,
        ),
    ]
    styles = "".join(
        f'<Style id="{name}"><IconStyle><color>{colour}</color></IconStyle>'
        f"<LineStyle><color>{colour}</color><width>4</width></LineStyle></Style>\n"
        for name, colour in KML_COLOURS.items()
    )
    return (
        f'{HEAD}<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n<name>{_text(_name(doc))}</name>\n'
        f"<description>{_text(_cautions(doc))}</description>\n{styles}{''.join(folders)}</Document>\n</kml>\n"
    )


def _waypoints(doc: Document) -> Iterable[tuple[str, float, float, float, Facts, str]]:
    stations = doc["stations"]

    def end(index: int) -> tuple[float, float, float]:
        return stations["lon"][index], stations["lat"][index], stations["ground_m"][index]

    yield ("Intake", *end(0), intake_facts(doc), "Flag, Blue")
    for kind, facts_of, symbol in (
        ("vents", vent_facts, "Navaid, Blue"),
        ("drains", drain_facts, "Navaid, Red"),
    ):
        for item in doc[kind]:
            place = (item["lon"], item["lat"], item["ground_m"])
            yield (plain(item["id"]), *place, facts_of(doc, item), symbol)
    for number, item in enumerate(doc.get("levels_to_shoot") or (), start=1):
        ground = at_station(doc, "ground_m", float(item["station_m"])) or 0.0
        place = (item["lon"], item["lat"], ground)
        yield (f"L{number}", *place, level_facts(doc, item), "Flag, Green")
    yield ("Powerhouse", *end(-1), outlet_facts(doc), "Flag, Red")


def _ends(doc: Document) -> Iterable[str]:
    stations = doc["stations"]
    for title, index, facts in (
        ("Intake", 0, intake_facts(doc)),
        ("Powerhouse", -1, outlet_facts(doc)),
    ):
        yield _placemark(title, stations["lon"][index], stations["lat"][index], facts, "ends")


def _placed(doc: Document, item: Mapping[str, Any], kind: str) -> str:
    makers = {"vents": vent_facts, "drains": drain_facts, "bends": bend_facts}
    facts = makers.get(kind, high_facts)(doc, item)
    title = plain(item.get("id") or ("High" if kind == "highs" else "Low"))
    style = kind if kind in KML_COLOURS else ""
    return _placemark(title, item["lon"], item["lat"], facts, style)


def _placemark(title: str, lon: float, lat: float, facts: Facts, style: str) -> str:
    styled = f"<styleUrl>#{style}</styleUrl>" if style else ""
    return (
        f"<Placemark><name>{_text(title)}</name><description>{_text(_sentence(facts))}</description>"
        f"{styled}<Point><coordinates>{lon:.8f},{lat:.8f}</coordinates></Point></Placemark>\n"
    )


def _kml_line(doc: Document) -> str:
    lon, lat = column(doc, "lon").tolist(), column(doc, "lat").tolist()
    places = " ".join(f"{x:.8f},{y:.8f}" for x, y in zip(lon, lat, strict=True))
    return (
        f"<Placemark><name>{_text(_name(doc))}</name>"
        f"<description>{_text(_sentence(summary_facts(doc)))}</description><styleUrl>#line</styleUrl>"
        f"<LineString><tessellate>1</tessellate><coordinates>{places}</coordinates></LineString>"
        "</Placemark>\n"
    )


def _folder(title: str, places: Iterable[str], *, shown: bool = True) -> str:
    visible = "" if shown else "<visibility>0</visibility>"
    return f"<Folder><name>{title}</name>{visible}\n{''.join(places)}</Folder>\n"


def _sentence(facts: Facts) -> str:
    return "; ".join(f"{label}: {value}" for label, value in facts)


def _cautions(doc: Document) -> str:
    return " ".join(plain(item["text"]) for item in doc.get("cautions") or ())


def _name(doc: Document) -> str:
    return plain(doc.get("name") or "study")


def _text(words: str) -> str:
    return escape(words, {'"': "&quot;"})

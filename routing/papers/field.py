"""The field sheet: one HTML file for the phone of whoever walks the line, without reception.

Line on relief, own position with station and offset, what comes next, how deep to dig, and a card
for each fitting to tick off. It opens from a file as well as from the service.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import lru_cache
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.papers.cautions import DEEP_TRENCH_M
from routing.papers.document import Document, column, file_stem, near_meridian, plain, units_of
from routing.papers.field_cards import card_data, card_html
from routing.papers.field_works import diagnosis_model, front_model, test_models, works_html
from routing.papers.files import write_text
from routing.papers.gps import gpx_text
from routing.papers.spoken import script_of_language
from routing.papers.thin import thinned
from routing.papers.things import Thing, things
from routing.papers.works import tested_until
from routing.papers.works.part import drum, leak
from routing.trade_table import trade_table
from routing.units import convert, show, unit_of

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = ["field_html", "write_field"]

TOLERANCE_M = 0.01
"""Ground, pipe and depth along the sheet's line stay within this of the study's [m]."""

AHEAD_M = 100.0
"""How far ahead the list of what comes next looks; the same in ``cards.js`` [m]."""
PARTS = (
    "place.js", "records.js", "store.js", "log.js", "built.js", "odds.js", "diagnose.js",
    "front.js", "map.js", "cards.js", "works.js", "verdict.js", "tested.js", "sheet.js",
)  # fmt: skip
"""The page's own modules, joined in this order."""


def write_field(doc: Document, relief: Relief | None, path: Path) -> None:
    """Write the field sheet of a study to ``path``."""
    write_text(path, field_html(doc, relief))


def field_html(doc: Document, relief: Relief | None, *, service: str | None = None) -> str:
    """Return the field sheet of a study as one HTML page that needs nothing else.

    ``service`` is the address of the study in a service that serves the page; records then go
    there whenever it is reached. Without it they leave as a file.
    """
    found = things(doc)
    data = _data(doc, relief, found, service)
    script = _script() + script_of_language(doc)
    name, units = escape(plain(doc.get("name") or "study")), units_of(doc)
    page = _own("sheet.html")
    parts = {
        "policy": _policy(script, service is not None),
        "title": f"{name} – field sheet",
        "name": name,
        "head": _install(service),
        "styles": _styles(),
        "ahead": f"{convert(AHEAD_M, 'length', units):.0f} {unit_of('length', units)}",
        # Needed first, each part by station; the ends of the line where they are.
        "cards": "".join(card_html(doc, thing) for thing in sorted(found, key=_advised)),
        "works": works_html(doc) if doc.get("works") else "<p class=notice>No plan of works.</p>",
        "cautions": "".join(f"<li>{escape(plain(item['text']))}</li>" for item in doc["cautions"]),
        "data": json.dumps(data, ensure_ascii=False, allow_nan=False).replace("<", "\\u003c"),
        "script": script,
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda match: parts[match.group(1)], page)


def _advised(thing: Thing) -> bool:
    return thing.look != "solid"


def _policy(script: str, served: bool) -> str:
    """Return what the page may load: its own script, and the service it came from."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    own = "'self'" if served else "'none'"
    return (
        f"default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; "
        f"img-src data: blob: {own if served else ''}; connect-src {own}; worker-src {own}; "
        "font-src data:; "
        f"manifest-src {own}; base-uri 'none'; form-action 'none'"
    )


def _install(service: str | None) -> str:
    """Return the links that let a phone keep the page as an app."""
    if service is None:
        return ""
    identity = escape(service.rsplit("/", 1)[1])
    return (
        f'<link rel="manifest" href="{identity}/app.webmanifest"><link rel="icon" href="icon.svg">'
    )


def _data(
    doc: Document, relief: Relief | None, found: list[Thing], service: str | None
) -> dict[str, Any]:
    """Return what the page's script works with; numbers in metres, shown in the reader's units."""
    station, lon, lat = (column(doc, name) for name in ("station_m", "lon", "lat"))
    lon = near_meridian(lon, float(lon[0]))
    heights = [column(doc, name) for name in ("ground_m", "pipe_m", "depth_m")]
    index = thinned(station, [*heights, lon, lat], [TOLERANCE_M] * 3 + [1e-7, 1e-7])
    pressure = column(doc, "static_pressure_kpa")
    units = units_of(doc)
    return {
        "study": plain(doc.get("id") or _fingerprint(doc)),
        "revision": doc.get("revision"),
        "name": plain(doc.get("name") or "study"),
        "file": file_stem(plain(doc.get("name") or "study")),
        "service": service,
        "line": {
            "station": station[index].round(3).tolist(),
            "lon": lon[index].round(8).tolist(),
            "lat": lat[index].round(8).tolist(),
            "ground": heights[0][index].round(2).tolist(),
            "depth": heights[2][index].round(3).tolist(),
            "pressure": pressure[index].round(1).tolist(),
        },
        "trench_below_invert_m": _below_invert(doc),
        "places": [card_data(thing) for thing in found],
        "records": list(doc.get("records") or ()),
        "shoring": _shoring(doc),
        "diagnosis": diagnosis_model(doc),
        "front": front_model(doc),
        "tests": test_models(doc),
        "tested_until": tested_until(doc),
        "gpx": gpx_text(doc),
        "relief": _relief(relief, float(lon[0])),
        "units": {
            "drum": dict(zip(("factor", "unit"), drum(units), strict=True)),
            "leak": dict(zip(("factor", "unit"), leak(units), strict=True)),
            "minutes": {"factor": 1.0 / 60.0, "unit": "min"},
        }
        | {
            # Pressures stand in kPa in the study.
            kind: {
                "factor": convert(1e3 if kind == "pressure" else 1.0, kind, units),
                "unit": unit_of(kind, units),
            }
            for kind in ("station", "length", "depth", "elevation", "pressure", "flow", "water")
        },
    }


def _shoring(doc: Document) -> dict[str, Any]:
    """Return the depth from which a trench is deep, and what stands there."""
    text = next(
        r["text"] for r in trade_table(__file__, "card_cautions.csv") if r["kind"] == "trench"
    )
    deep = show(DEEP_TRENCH_M, "depth", units_of(doc))
    return {"depth_m": DEEP_TRENCH_M, "text": text.format(deep=deep)}


def _below_invert(doc: Document) -> float:
    """Return how far the trench bottom lies below the invert: wall of the pipe and bedding [m]."""
    pipes = doc.get("pipes") or ()
    wall = max((float(pipe["wall_m"]) for pipe in pipes), default=0.0)
    return round(float(doc["trench"]["bedding_m"]) + wall, 4)


def _fingerprint(doc: Document) -> str:
    """Return a name for a study that no service has named: the same for the same line."""
    line = np.column_stack([doc["route"]["lon"], doc["route"]["lat"]]).round(6)
    text = plain(doc.get("name")) + line.tobytes().hex()
    return "line-" + hashlib.sha256(text.encode()).hexdigest()[:16]


def _relief(relief: Relief | None, start_lon: float) -> dict[str, Any] | None:
    if relief is None:
        return None
    middle = (relief.west + relief.east) / 2
    turn = near_meridian(middle, start_lon) - middle
    address = base64.b64encode(relief.image).decode("ascii")
    return {
        "image": f"data:{relief.media_type};base64,{address}",
        "bounds": [
            [relief.south, relief.west + turn],
            [relief.north, relief.east + turn],
        ],
    }


@lru_cache(maxsize=1)
def _script() -> str:
    """Return the page's one script: the map library, then our modules joined into one."""
    from web import asset

    library = asset("leaflet/dist/leaflet.js").read_text(encoding="utf-8")
    library = re.sub(r"//# sourceMappingURL=\S+", "", library)
    own = "\n".join(_joinable(_own(name)) for name in PARTS)
    return (library + "\n(() => {\n" + own + "\n})();\n").replace("</script", "<\\/script")


def _joinable(module: str) -> str:
    """Return a module without its imports and exports, for joining with the others."""
    module = re.sub(r"^import [^;]*;\n", "", module, flags=re.MULTILINE)
    return re.sub(r"^export (?=const|function|async|class)", "", module, flags=re.MULTILINE)


@lru_cache(maxsize=1)
def _styles() -> str:
    from web import asset

    leaflet = asset("leaflet/dist/leaflet.css").read_text(encoding="utf-8")
    # The library's own pictures are not used; nothing may point outside the page.
    leaflet = re.sub(r"url\(images/[^)]+\)", "none", leaflet)
    return leaflet + _own("sheet.css")


def _own(name: str) -> str:
    return (files("routing.papers") / "data" / "field" / name).read_text(encoding="utf-8")

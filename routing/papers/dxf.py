"""The study as DXF (release R2010): plan and 3-D lines in surveyed coordinates, profile apart."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, at_station, column, grade_words, plain, units_of
from routing.papers.dxf_labels import Labels, rating_words, size_words
from routing.papers.dxf_land import LAND_LAYERS, add_land
from routing.papers.dxf_sheets import STYLE_NAME, add_sheets
from routing.papers.geojson import PLACED
from routing.papers.given import sheet_text, standing_lines
from routing.papers.layout import nice_step
from routing.papers.plane import SurveySystem, survey_system
from routing.papers.schedule import to_set
from routing.papers.set_facts import item_place
from routing.papers.sheet.profile import head_lines
from routing.papers.sheet.split import METRIC_ALONG, METRIC_UP, US_ALONG, US_UP, first_at_least
from routing.papers.stakes import stakes
from routing.papers.things import things
from routing.units import convert, show, unit_of

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["LAYERS", "PROFILE_SPACE", "dxf_drawing", "dxf_text"]

PROFILE_SPACE = "Profile"
"""Paper space of the profile drawing, in mm of paper."""
LAYERS: dict[str, tuple[int, str]] = {
    # name: colour of the format's own palette, line type
    "LINE-PLAN": (7, "CONTINUOUS"),
    "PIPE-3D": (7, "CONTINUOUS"),
    "GROUND-3D": (33, "DASHED"),
    "SPANS": (30, "CONTINUOUS"),
    "STATIONS": (8, "CONTINUOUS"),
    "STAKES": (9, "CONTINUOUS"),
    "VENTS": (5, "CONTINUOUS"),
    "DRAINS": (30, "CONTINUOUS"),
    "VALVES": (3, "CONTINUOUS"),
    "TAPS": (4, "CONTINUOUS"),
    "RELIEF-VALVES": (6, "CONTINUOUS"),
    "BLOCKS": (1, "CONTINUOUS"),
    "ANCHORS": (1, "CONTINUOUS"),
    "SUPPORTS": (33, "CONTINUOUS"),
    "BENDS": (2, "CONTINUOUS"),
    "CROSSINGS": (6, "CONTINUOUS"),
    "ENDS": (6, "CONTINUOUS"),
    "CONTOURS": (33, "CONTINUOUS"),
    "CONTOURS-INDEX": (33, "CONTINUOUS"),
    "TEXT": (7, "CONTINUOUS"),
    "PROFILE-GRID": (9, "CONTINUOUS"),
    "PROFILE-GROUND": (33, "DASHED"),
    "PROFILE-PIPE": (7, "CONTINUOUS"),
    "PROFILE-TRENCH": (8, "DOT"),
    "PROFILE-STATIC": (5, "DASHDOT"),
    "PROFILE-FLOWING": (3, "DOT"),
    "PROFILE-SURGE": (6, "DASHDOT"),
    **LAND_LAYERS,
}
"""Layers by subject."""
INSUNITS = {"metre": 6, "foot": 2, "US survey foot": 21}
"""Codes of drawing units: DXF reference, header variable $INSUNITS."""
LEGIBLE = {"metric": 2000, "us": 2400}
"""Coarsest scale of the profile drawing: a long line makes a long drawing [-]."""
SHEET_MM = 1000.0
"""Longest profile drawing in its paper space [mm]."""
TEXT_M = 1.5
"""Height of lettering in the plan: 1.5 mm at 1:1000 [m]."""


def dxf_drawing(
    doc: Document, relief: Relief | None = None, contours: Sequence[DrawnContour] = ()
) -> str:
    """Return the study as DXF text with contours of the ground.

    Of the relief its layouts take the frame, as on the sheets; the picture itself is no line.
    """
    return dxf_text(doc, contours=contours, relief=relief)


def dxf_text(
    doc: Document,
    crs: str | None = None,
    contours: Sequence[DrawnContour] = (),
    relief: Relief | None = None,
) -> str:
    """Return the study as DXF text.

    Model space holds the line, stations, stakes and fittings in the coordinates of ``crs``, of the
    title block's or of the terrain's own system, elevations in the same unit as these. A paper
    space of its own holds the profile at round scales, in mm.
    """
    survey = survey_system(doc, crs or sheet_text(doc, "crs") or None)
    with _fixed_dates():
        import ezdxf

        drawing = ezdxf.new("R2010", setup=["linetypes"], units=INSUNITS[survey.unit])
        _prepare(drawing, survey)
        _lines(drawing.modelspace(), doc, survey)
        _fittings(drawing.modelspace(), doc, survey)
        _stations(drawing.modelspace(), doc, survey)
        _stakes(drawing.modelspace(), doc, crs, survey)
        _contours(drawing.modelspace(), contours, survey)
        add_land(drawing.modelspace(), doc, survey, TEXT_M / survey.metres_per_unit)
        _notes(drawing, doc, survey)
        _profile(drawing, doc)
        add_sheets(drawing, doc, contours, relief)
        drawing.layouts.delete("Layout1")  # which a new drawing has, and which is empty
        drawing.header["$LTSCALE"] = 1.0 / survey.metres_per_unit
        for kind in sorted(drawing.entitydb.dxf_types_in_use()):  # a set: the library asks it later
            drawing.classes.add_class(kind)
        buffer = io.StringIO()
        drawing.write(buffer)
    return buffer.getvalue()


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Let equal studies give equal files: the library then writes no time and no random number."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _contours(space: Any, contours: Sequence[DrawnContour], survey: SurveySystem) -> None:
    """Draw the contours at their level, index contours on a layer of their own."""
    for line in contours:
        if line.sheet is not None:  # finer ones stand in the layouts
            continue
        east, north = survey.forward(line.lon, line.lat)
        level = round(line.level_m / survey.metres_per_unit, 4)
        space.add_lwpolyline(
            np.column_stack([east, north]).round(3).tolist(),
            dxfattribs={
                "layer": "CONTOURS-INDEX" if line.index else "CONTOURS",
                "elevation": level,
            },
        )


def _notes(drawing: Any, doc: Document, survey: SurveySystem) -> None:
    """Say in the drawing and in its properties which system and datum it is in."""
    terrain = doc["terrain"]
    datum = plain(terrain.get("vertical_datum") or "not stated: as in the raster")
    told = [
        ("Coordinates", f"{survey.name}, in {survey.unit_on(units_of(doc))}; {survey.chosen}"),
        ("Vertical datum", datum),
        ("Stations", "length in plan from the intake on the WGS 84 ellipsoid"),
        ("Standing", ". ".join(standing_lines(doc))),
    ]
    for key, words in told:
        drawing.header.custom_vars.append(key, words)
    places = _places(doc, survey, column(doc, "pipe_m"))
    size = 2.0 * TEXT_M / survey.metres_per_unit
    left, low = float(places[:, 0].min()), float(places[:, 1].min())
    for number, (key, words) in enumerate(told):
        drawing.modelspace().add_text(
            f"{key}: {words}",
            height=size,
            dxfattribs={"layer": "TEXT", "insert": (left, low - (6.0 + 1.8 * number) * size)},
        )


def _prepare(drawing: Any, survey: SurveySystem) -> None:
    drawing.styles.add(STYLE_NAME, font="arial.ttf")
    for name, (colour, line_type) in LAYERS.items():
        drawing.layers.add(name, color=colour, linetype=line_type)
    size = TEXT_M / survey.metres_per_unit
    shapes = {
        "VENT": [(-1.0, -0.8), (1.0, -0.8), (0.0, 1.0)],
        "DRAIN": [(-0.9, 0.3), (-0.6, 0.8), (0.0, 1.0), (0.6, 0.8), (0.9, 0.3), (0.0, -1.0)],
        "BEND": [(0.0, -0.6), (0.6, 0.0), (0.0, 0.6), (-0.6, 0.0)],
        "VALVE": [(-1.0, -0.6), (-1.0, 0.6), (1.0, -0.6), (1.0, 0.6)],
        "TAP": [(-0.5, 0.0), (0.5, 0.0), (0.0, 1.0)],
        "RELIEF-VALVE": [(-1.0, -0.8), (1.0, 0.0), (1.0, -0.8), (-1.0, 0.0), (0.0, 1.2)],
        "BLOCK": [(-0.9, -0.6), (0.9, -0.6), (0.9, 0.6), (-0.9, 0.6)],
        "ANCHOR": [(-0.3, -1.0), (0.3, -1.0), (0.3, 1.0), (-0.3, 1.0)],
        "SUPPORT": [(-0.8, 0.8), (0.0, 0.0), (0.8, 0.8), (0.3, -0.8), (-0.3, -0.8)],
        "CROSSING": [(-0.8, -0.8), (0.8, 0.8), (0.8, -0.8), (-0.8, 0.8)],
        "END": [(-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)],
    }
    for name, points in shapes.items():
        block = drawing.blocks.new(name)
        block.add_lwpolyline([(x * size, y * size) for x, y in points], close=True)
        tags = ["NAME", "STATION", "GROUND", "PIPE", "KIND", "SIZE", "RATING"]
        for row, tag in enumerate(tags):
            block.add_attdef(
                tag,
                (1.4 * size, -1.3 * row * size),
                dxfattribs={"height": size, "invisible": int(row > 1)},
            )


def _places(doc: Document, survey: SurveySystem, level: FloatArray) -> FloatArray:
    east, north = survey.forward(column(doc, "lon"), column(doc, "lat"))
    return np.column_stack([east, north, level / survey.metres_per_unit])


def _lines(space: Any, doc: Document, survey: SurveySystem) -> None:
    pipe = _places(doc, survey, column(doc, "pipe_m"))
    ground = _places(doc, survey, column(doc, "ground_m"))
    # Rounded to a tenth of a millimetre, as the study is; the file is smaller for it.
    space.add_polyline3d(pipe.round(4).tolist(), dxfattribs={"layer": "PIPE-3D"})
    space.add_polyline3d(ground.round(4).tolist(), dxfattribs={"layer": "GROUND-3D"})
    route = doc["route"]
    east, north = survey.forward(np.asarray(route["lon"], float), np.asarray(route["lat"], float))
    vertices = np.column_stack([east, north]).round(4).tolist()
    space.add_lwpolyline(vertices, dxfattribs={"layer": "LINE-PLAN"})
    station = column(doc, "station_m")
    for span in (doc.get("trench") or {}).get("spans") or ():
        at = np.array([span["from_m"], span["to_m"]], dtype=np.float64)
        ends = [np.interp(at, station, pipe[:, axis]).round(4).tolist() for axis in range(3)]
        space.add_polyline3d(
            [tuple(axis[k] for axis in ends) for k in (0, 1)], dxfattribs={"layer": "SPANS"}
        )


def _fittings(space: Any, doc: Document, survey: SurveySystem) -> None:
    units = units_of(doc)
    stations = doc["stations"]
    rows: list[tuple[str, str, Any]] = [
        (block, layer, item)
        for name in PLACED
        for block, layer in ((name[:-1].upper().replace("_", "-"), name.upper().replace("_", "-")),)
        for item in to_set(doc, name)
    ]
    for words, index in (("intake", 0), ("powerhouse", -1)):
        end = {
            key: stations[key][index] for key in ("lon", "lat", "ground_m", "pipe_m", "station_m")
        }
        rows.append(("END", "ENDS", {"id": words, "kind": words, **end}))
    if not rows:
        return
    places = np.array([item_place(doc, item) for _, _, item in rows], dtype=np.float64)
    east, north = survey.forward(places[:, 0], places[:, 1])
    labels = Labels(size=TEXT_M / survey.metres_per_unit, taken=[])
    briefs = {thing.id: thing.brief for thing in things(doc)}
    for (block, layer, item), x, y in zip(rows, east.tolist(), north.tolist(), strict=True):
        level = float(_level(doc, item)) / survey.metres_per_unit
        reference = space.add_blockref(
            block, (round(x, 4), round(y, 4), round(level, 4)), dxfattribs={"layer": layer}
        )
        ground = item.get("ground_m")
        reference.add_auto_attribs(
            {
                "NAME": plain(item["id"]),
                "STATION": f"{convert(float(item['station_m']), 'station', units):.2f}",
                "GROUND": "" if ground is None else show(float(ground), "elevation", units),
                "PIPE": show(level * survey.metres_per_unit, "elevation", units),
                "SIZE": size_words(doc, item),
                "RATING": rating_words(doc, item),
                "KIND": briefs.get(plain(item["id"])) or plain(item.get("kind") or block.lower()),
            }
        )
        labels.place(reference)


def _level(doc: Document, item: Mapping[str, Any]) -> float:
    """Return the pipe's elevation at an item [m]."""
    known = item.get("pipe_m")
    return float(at_station(doc, "pipe_m", item["station_m"]) or 0.0) if known is None else known


def _stations(space: Any, doc: Document, survey: SurveySystem) -> None:
    """Tick round stations across the line and letter them along it."""
    units = units_of(doc)
    station = column(doc, "station_m")
    places = _places(doc, survey, column(doc, "pipe_m"))
    metres = 1.0 / convert(1.0, "station", units)
    step = nice_step(float(station[-1]) / metres, 60) * metres
    size = TEXT_M / survey.metres_per_unit
    for number in range(int(float(station[-1]) / step + 1e-9) + 1):
        at = number * step
        near = np.clip([at - 1.0, at + 1.0], 0.0, station[-1])
        x, y = (np.interp(near, station, places[:, axis]) for axis in (0, 1))
        dx, dy = float(x[1] - x[0]), float(y[1] - y[0])
        far = float(np.hypot(dx, dy)) or 1.0
        px, py = (float(np.interp(at, station, places[:, axis])) for axis in (0, 1))
        side = (-dy / far * size, dx / far * size)
        space.add_line(
            (px - side[0], py - side[1]),
            (px + side[0], py + side[1]),
            dxfattribs={"layer": "STATIONS"},
        )
        space.add_text(
            f"{at / metres:g}",
            height=0.8 * size,
            rotation=float(np.degrees(np.arctan2(side[1], side[0]))),
            dxfattribs={"layer": "STATIONS", "insert": (px + 1.4 * side[0], py + 1.4 * side[1])},
        )


def _stakes(space: Any, doc: Document, crs: str | None, survey: SurveySystem) -> None:
    made = stakes(doc, crs).subject
    at = {column.key: index for index, column in enumerate(made.columns)}
    metre = convert(1.0, "length", units_of(doc)) * survey.metres_per_unit
    for row in made.rows:
        place = (row[at["easting"]], row[at["northing"]], row[at["ground"]] / metre)
        space.add_point([round(value, 4) for value in place], dxfattribs={"layer": "STAKES"})


def _profile(drawing: Any, doc: Document) -> None:
    """Draw the whole profile into a paper space of its own."""
    units = units_of(doc)
    station, ground, pipe = (column(doc, key) for key in ("station_m", "ground_m", "pipe_m"))
    along = first_at_least(
        METRIC_ALONG if units == "metric" else US_ALONG, float(station[-1]) * 1000.0 / SHEET_MM
    )
    along = min(along, LEGIBLE[units])
    up = next((u for u in (METRIC_UP if units == "metric" else US_UP) if u * 10 >= along), along)
    lines = [("PROFILE-GROUND", ground), ("PROFILE-PIPE", pipe)]
    lines += [(f"PROFILE-{style.upper()}", level) for style, _, level in head_lines(doc)]
    low = min(float(np.nanmin(level)) for _, level in lines)
    high = max(float(np.nanmax(level)) for _, level in lines)
    metres = 1.0 / convert(1.0, "elevation", units)
    step = nice_step((high - low) / metres, 20) * metres
    base = np.floor(low / step) * step
    top = np.ceil(high / step) * step
    space = drawing.layouts.new(PROFILE_SPACE)
    x_mm, y_mm = 1000.0 / along, 1000.0 / up
    width, height = float(station[-1]) * x_mm, float(top - base) * y_mm
    space.page_setup(
        size=(max(width + 60.0, 297.0), max(height + 60.0, 210.0)),
        margins=(10, 10, 10, 10),
        units="mm",
    )
    offset = 30.0
    grid = {"layer": "PROFILE-GRID"}
    for number in range(round((top - base) / step) + 1):
        level = base + number * step
        y = offset + (level - base) * y_mm
        space.add_line((offset, y), (offset + width, y), dxfattribs=grid)
        _write(space, f"{level / metres:.6g}", offset - 12.0, y - 1.0)
    every = nice_step(float(station[-1]) / metres, 30) * metres
    for number in range(int(float(station[-1]) / every + 1e-9) + 1):
        x = offset + number * every * x_mm
        space.add_line((x, offset), (x, offset + height), dxfattribs=grid)
        _write(space, f"{number * every / metres:.6g}", x, offset - 5.0)
    for layer, level in lines:
        at, level = _knots(doc) if layer == "PROFILE-PIPE" else (station, level)
        points = np.column_stack([offset + at * x_mm, offset + (level - base) * y_mm])
        points = points[np.isfinite(points[:, 1])].round(4)
        space.add_lwpolyline(points.tolist(), dxfattribs={"layer": layer})
    for name, layer in (("vents", "VENTS"), ("drains", "DRAINS")):
        for item in doc[name]:
            x = offset + float(item["station_m"]) * x_mm
            y = offset + (float(item["pipe_m"]) - base) * y_mm
            space.add_circle((x, y), 1.2, dxfattribs={"layer": layer})
            _write(space, plain(item["id"]), x + 1.5, y + 1.5, layer)
    for straight in doc["grades"]:
        a, b = float(straight["from_m"]) * x_mm, float(straight["to_m"]) * x_mm
        words = "%; ".join(grade_words(straight, units)).replace("−", "-")
        if 2.0 * len(words) < b - a:
            _write(space, words, offset + a + 1.0, offset + 1.5)
    unit = unit_of("elevation", units)
    name = plain(doc.get("name") or "study")
    title = f"{name}: 1:{along} along, 1:{up} up, elevations and stations in {unit}"
    _write(space, title, offset, offset + height + 6.0, height=3.5)


def _knots(doc: Document) -> tuple[FloatArray, FloatArray]:
    """Return stations and elevations of the pipe where its straights begin and end [m]."""
    first, straights = doc["grades"][0], doc["grades"]
    at = [first["from_m"], *(each["to_m"] for each in straights)]
    level = [first["from_z_m"], *(each["to_z_m"] for each in straights)]
    return np.array(at, dtype=np.float64), np.array(level, dtype=np.float64)


def _write(
    space: Any, words: str, x: float, y: float, layer: str = "TEXT", height: float = 2.5
) -> None:
    space.add_text(words, height=height, dxfattribs={"layer": layer, "insert": (x, y)})

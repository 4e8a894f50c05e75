"""The stake-out list: where to drive a stake, and how deep to dig there."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, near_meridian, plain, units_of
from routing.papers.given import sheet_text
from routing.papers.offsets import Beside
from routing.papers.plane import SurveySystem, survey_system
from routing.papers.subject import Column, Subject
from routing.papers.things import things
from routing.units import convert, show, unit_of
from routing.value import dataclass

__all__ = ["StakeList", "stakes", "stakes_csv"]

STEP = {"metric": (20.0, 10.0), "us": (50.0, 25.0)}
"""Spacing in the open, and on curves and steep ground, in m or ft: common practice, no source."""
STEEP = 0.15
"""Grade from which stakes stand closer [-]: common practice, no source."""
CURVE_DEG = 5.0
"""Turn in plan that makes the two stretches beside a vertex a curve [deg]."""
SAME_PLACE_M = 0.05
"""Places closer than this share a stake [m]."""
OFFSET_CELLS = 13
"""Columns that tell the offset stakes of a place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeList:
    """The list as a table in the study's units, and the system its coordinates are in."""

    subject: Subject
    survey: SurveySystem


def stakes(doc: Document, crs: str | None = None) -> StakeList:
    """Return the stakes: at round stations, breaks of grade, vertices, fittings, bends, blocks.

    And where another pipe begins, and at both ends of a span.
    ``crs`` names a projected system for the coordinates; else that of the title block, else the
    terrain's own. The cut is from the ground to the bottom of the trench, bedding included; on a
    span it is empty. Grade is that of the straight ahead, rise over plan length. Two offset stakes
    beside the trench bring each place back once it is dug: see :class:`~.offsets.Beside`.
    """
    survey = survey_system(doc, crs or sheet_text(doc, "crs") or None)
    at, notes = _places(doc)
    station = column(doc, "station_m")
    lon = column(doc, "lon")
    lon = np.interp(at, station, near_meridian(lon, float(lon[0])))
    lon = (lon + 180.0) % 360.0 - 180.0
    lat = np.interp(at, station, column(doc, "lat"))
    east, north = survey.forward(lon, lat)
    ground, invert, cover = (
        np.interp(at, station, column(doc, name)) for name in ("ground_m", "invert_m", "cover_m")
    )
    trench = doc.get("trench") or {}
    bedding = float(trench.get("bedding_m") or 0.0)
    cut = cover + _outside(doc, at) + bedding
    cut = np.where(_on_span(doc, at), np.nan, cut)
    # A stake may stand for a break a little beside it.
    starts = np.array([float(straight["from_m"]) for straight in doc["grades"]]) - SAME_PLACE_M
    grades = np.array([float(straight["grade"]) for straight in doc["grades"]])
    grade = grades[np.maximum(np.searchsorted(starts, at, side="right") - 1, 0)]
    units = units_of(doc)
    metre = convert(1.0, "length", units)
    feet_or_m = unit_of("length", units)
    columns = (
        Column(key="stake", title="stake", unit="", digits=None),
        Column(key="station", title="station", unit=feet_or_m, digits=2),
        Column(key="easting", title="easting", unit=survey.unit, digits=3),
        Column(key="northing", title="northing", unit=survey.unit, digits=3),
        Column(key="lon", title="longitude", unit="°", digits=8),
        Column(key="lat", title="latitude", unit="°", digits=8),
        Column(key="ground", title="ground", unit=feet_or_m, digits=3),
        Column(key="invert", title="invert", unit=feet_or_m, digits=3),
        Column(key="cut", title="cut to trench bottom", unit=feet_or_m, digits=3),
        Column(key="cover", title="cover", unit=feet_or_m, digits=3),
        Column(key="grade", title="grade ahead", unit="%", digits=2),
        *_offset_columns(survey, feet_or_m),
        Column(key="note", title="note", unit="", digits=None),
    )
    numbers = np.column_stack(
        [
            *(at * metre, east, north, lon, lat, ground * metre, invert * metre),
            *(cut * metre, cover * metre, 100.0 * grade),
        ]
    )
    offsets = _offsets(doc, at, survey, metre)
    rows = tuple(
        (index, *(None if value != value else value for value in row), *offset, note)
        for index, (row, offset, note) in enumerate(
            zip(numbers.tolist(), offsets, notes, strict=True), start=1
        )
    )
    return StakeList(subject=Subject(name="stakes", columns=columns, rows=rows), survey=survey)


def stakes_csv(doc: Document, crs: str | None = None) -> str:
    """Return the stake-out list as CSV; units stand in the heads, the system in the last column."""
    made = stakes(doc, crs)
    suffix = {"metre": "m", "foot": "ft", "US survey foot": "usft", "°": "deg", "%": "percent"}
    heads = [
        "_".join([*c.title.split(), *([suffix.get(c.unit, c.unit)] if c.unit else [])])
        for c in made.subject.columns
    ]
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([*heads, "coordinate_system"])
    digits = [column.digits for column in made.subject.columns]
    for row in made.subject.rows:
        cells = [
            "" if value is None else f"{value:.{places}f}" if places is not None else str(value)
            for value, places in zip(row, digits, strict=True)
        ]
        writer.writerow([*cells, made.survey.name])
    return buffer.getvalue()


def _offset_columns(survey: SurveySystem, unit: str) -> Iterator[Column]:
    """Yield the heads of the columns of :func:`_offsets`."""
    yield Column(key="offset_level", title="level to dig to", unit=unit, digits=3)
    yield Column(key="offset_side", title="offset side", unit="", digits=None)
    yield Column(key="offset_bearing", title="bearing from the offsets", unit="°", digits=1)
    for number in (1, 2):
        key, title = f"offset_{number}", f"offset {number}"
        yield Column(key=key, title=title, unit=unit, digits=2)
        yield Column(key=f"{key}_e", title=f"{title} easting", unit=survey.unit, digits=3)
        yield Column(key=f"{key}_n", title=f"{title} northing", unit=survey.unit, digits=3)
        yield Column(key=f"{key}_lon", title=f"{title} longitude", unit="°", digits=8)
        yield Column(key=f"{key}_lat", title=f"{title} latitude", unit="°", digits=8)


def _offsets(
    doc: Document, at: FloatArray, survey: SurveySystem, metre: float
) -> Iterator[tuple[Any, ...]]:
    """Yield the offset stakes of each place: those of a kit there, else of the trench."""
    beside = Beside(doc)
    kits = [kit for kit in doc.get("kits") or () if kit.get("offset")]
    stand = np.array([float(kit["station_m"]) for kit in kits])
    for station in at.tolist():
        own = np.flatnonzero(np.abs(stand - station) <= SAME_PLACE_M)
        made = None if own.size else beside.at(station)
        found = kits[own[0]]["offset"] if own.size else made and asdict(made)
        if not found:
            yield (None,) * OFFSET_CELLS
            continue
        cells: list[Any] = [found["level_m"] * metre, found["side"], found["bearing_deg"]]
        for stake in found["stakes"]:
            lon, lat = stake["lon"], stake["lat"]
            east, north = survey.forward(lon, lat)
            cells += [stake["distance_m"] * metre, float(east), float(north), lon, lat]
        yield tuple(cells)


def _places(doc: Document) -> tuple[FloatArray, list[str]]:
    """Return the stations of the stakes and what is to be said of each."""
    length = float(column(doc, "station_m")[-1])
    said: list[tuple[float, str]] = [(0.0, "intake"), (length, "powerhouse")]
    found = [thing for thing in things(doc) if thing.kind != "end"]
    said += [(thing.station_m, thing.words) for thing in found]
    named = {thing.id for thing in found}
    for item in (
        doc.get("bends") or ()
    ):  # those too slight to be set by hand are staked all the same
        if plain(item["id"]) not in named:
            words = f"{plain(item['id'])} {float(item['deflection_deg']):.1f}°"
            said.append((float(item["station_m"]), words))
    for span in (doc.get("trench") or {}).get("spans") or ():
        said.append((float(span["from_m"]), "span begins"))
        said.append((float(span["to_m"]), "span ends"))
    for crossing in doc.get("crossings") or ():
        if float(crossing["length_m"]) > SAME_PLACE_M:
            said.append((float(crossing["to_m"]), f"{plain(crossing['id'])} ends"))
    for straight in doc["grades"][:-1]:
        radius, units = straight.get("radius_m"), units_of(doc)
        how = f", bent to {show(radius, 'length', units)}" if radius else ""
        if straight.get("plan_radius_m"):
            how += f" upright and {show(straight['plan_radius_m'], 'length', units)} in plan"
        said.append((float(straight["to_m"]), f"grade changes{how}"))
    for at in list(doc["route"]["station_m"])[1:-1]:
        said.append((float(at), "vertex"))
    said += [(at, "") for at in _round(doc, length)]
    said.sort(key=lambda item: item[0])
    places: list[float] = []
    notes: list[list[str]] = []
    for at, words in said:
        if not places or at - places[-1] > SAME_PLACE_M:
            places.append(at)
            notes.append([])
        if words:
            notes[-1].append(words)
    return np.array(places), ["; ".join(item) for item in notes]


def _round(doc: Document, length: float) -> list[float]:
    """Return round stations: wide steps everywhere, close ones where it curves or is steep."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "station", units)
    wide, close = (step * metres for step in STEP[units])
    station, pipe = column(doc, "station_m"), column(doc, "pipe_m")
    turns = [
        float(bend["station_m"])
        for bend in doc.get("bends") or ()
        if abs(float(bend["plan_deg"])) >= CURVE_DEG
    ]
    found = []
    for number in range(1, int(length / close + 1e-9) + 1):
        at = number * close
        if at >= length:
            break
        if number % round(wide / close) == 0:
            found.append(at)
            continue
        z0, z1 = np.interp([at - close, min(at + close, length)], station, pipe)
        steep = abs(float(z1 - z0)) >= STEEP * (min(at + close, length) - at + close)
        if steep or any(abs(at - turn) <= close for turn in turns):
            found.append(at)
    return found


def _outside(doc: Document, at: FloatArray) -> FloatArray:
    """Return the outside diameter at stations [m]."""
    outside = np.full(len(at), float((doc.get("trench") or {}).get("outside_diameter_m") or 0.0))
    for pipe in doc.get("pipes") or ():
        outside[at >= float(pipe["from_m"])] = float(pipe["outside_diameter_m"])
    return outside


def _on_span(doc: Document, at: FloatArray) -> np.ndarray:
    above = np.zeros(len(at), dtype=bool)
    for span in (doc.get("trench") or {}).get("spans") or ():
        above |= (at > float(span["from_m"]) + 1e-6) & (at < float(span["to_m"]) - 1e-6)
    return above

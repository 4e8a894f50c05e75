"""The cover uses its sheet, whatever its size; land on a plan is named where it is seen."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from drawn_sheets import drawings
from made_study import made_document, made_relief
from pyproj import Transformer

from routing.papers.plane import local_plane
from routing.papers.sheet.cover import draw_cover, list_sheets
from routing.papers.sheet.galley import Galley
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.legend import legend
from routing.papers.sheet.paper import PAPERS, Paper
from routing.papers.sheet.style import STYLE
from routing.papers.study_facts import summary_facts

ACROSS, DOWN = 8, 6
"""Parts into which a sheet is cut to see how much of it is used [-]."""
LEAST_USED = 0.5
"""Share of these parts that something stands in [-]."""


def used(ink: Drawing, paper: Paper) -> float:
    """Return the share of the parts of a sheet that lettering or a plan stands in."""
    boxes = [label.box for label in ink.labels if label.layer != "strip"]
    boxes += [plan.view.box for plan in ink.plans]
    held = np.zeros((DOWN, ACROSS), dtype=bool)
    for box in boxes:
        left, right = (int(x / paper.frame_width * ACROSS) for x in (box.left, box.right))
        top, low = (int(y / paper.frame_height * DOWN) for y in (box.top, box.bottom))
        held[max(top, 0) : low + 1, max(left, 0) : right + 1] = True
    return float(held.mean())


@pytest.mark.parametrize("size", list(PAPERS))
def test_cover__uses_sheets_of_every_size(size: str) -> None:
    doc = made_document(count=300)
    doc["settings"] = {"sheet": {"size": size}}
    cover = sheet_set(doc, PAPERS[size], made_relief(doc))[0]
    assert used(cover.ink, PAPERS[size]) >= LEAST_USED


def test_cover__of_a_large_sheet_carries_the_schedules() -> None:
    doc = made_document(count=300)
    sheets = sheet_set(doc, PAPERS["A0"], made_relief(doc))
    assert {"Vents", "Drains", "Bends"} <= {label.text for label in sheets[0].ink.labels}


@pytest.mark.parametrize("size", ["A4", "A3", "ANSI B"])
@pytest.mark.parametrize("plans", [3, 45, 160])
def test_cover__lists_every_drawing(size: str, plans: int) -> None:
    doc, paper = made_document(count=100), PAPERS[size]
    sheets = ["Cover", "Key plan"]
    sheets += [f"Plan, station {at} to {at + 300}" for at in range(0, 300 * plans, 300)]
    sheets += [
        "Details, 1 of 2",
        "Details, 2 of 2",
        *(f"Schedules, {k} of 9" for k in range(1, 10)),
    ]
    cover = draw_cover(doc, paper, local_plane(doc), None, Galley(paper).columns(), sheets)
    before = len(cover.ink.labels)
    list_sheets(cover, paper, sheets)
    listed = cover.ink.labels[before:]
    assert all(label.box.bottom <= paper.frame_height for label in listed)
    edges = [box.left for box in cover.listed]
    first = [label.text for label in listed if min(abs(label.box.left - e) for e in edges) < 1.0]
    reaches = [re.fullmatch(r"(\d+)(?: to (\d+))?", text) for text in first]
    named = [range(int(m[1]), int(m[2] or m[1]) + 1) for m in reaches if m]
    assert [number for each in named for number in each] == list(range(1, len(sheets) + 1))
    places = [m for m in (re.search(r"station (\d+) to (\d+)", each.text) for each in listed) if m]
    assert [int(m[1]) for m in places] == [0, *(int(m[2]) for m in places[:-1])]
    assert int(places[-1][2]) == 300 * plans
    told = {label.text for label in cover.ink.labels}
    left = " ".join(cover.more.items)
    assert all(words in told or f"{words}: " in left for words, _ in summary_facts(doc))


def ring(doc: dict[str, Any], reach_m: float, east_m: float = 0.0) -> list[list[float]]:
    """Return a square about the middle of the line, moved to the east."""
    plane = local_plane(doc)
    table, middle = doc["stations"], len(doc["stations"]["lon"]) // 2
    x, y = plane.forward(table["lon"][[middle]], table["lat"][[middle]])
    dx = np.array([-1.0, 1.0, 1.0, -1.0, -1.0]) * reach_m + east_m
    dy = np.array([-1.0, -1.0, 1.0, 1.0, -1.0]) * reach_m
    return np.column_stack(plane.inverse(x[0] + dx, y[0] + dy)).tolist()


def parcel(name: str, places: list[list[float]]) -> dict[str, Any]:
    told = {"kind": "parcel", "name": name}
    shape = {"type": "Polygon", "coordinates": [places]}
    return {"type": "Feature", "properties": told, "geometry": shape}


def test_plan__names_a_parcel_whose_edges_lie_beyond_it_and_leaves_out_what_is_far() -> None:
    doc = made_document(count=300)
    land = [parcel("lot 14", ring(doc, 9e3)), parcel("lot 99", ring(doc, 50.0, east_m=2e4))]
    doc["settings"] = {"sheet": {"features": {"features": land}}}
    plans = [sheet for sheet in drawings(doc) if sheet.piece]
    for sheet in plans:
        assert "lot 14" in {label.text for label in sheet.ink.labels}
        assert "lot 99" not in {label.text for label in sheet.ink.labels}
        assert len([shape for shape in sheet.ink.shapes if shape.style == "parcel"]) == 1


def test_plan__shows_classes_of_ground_as_areas_and_their_name_in_the_key() -> None:
    doc = made_document(count=300)
    features = [parcel("rock", ring(doc, 60.0)), parcel("gravel", ring(doc, 2e3))]
    doc["settings"] = {"layer": [{"kind": "ground", "features": {"features": features}}]}
    for sheet in (each for each in drawings(doc) if each.piece):
        areas = [shape for shape in sheet.ink.shapes if shape.style == "groundclass"]
        assert areas
        assert "gravel" in {label.text for label in sheet.ink.labels}
    assert "class of ground" in {words for _, words in legend(doc).rows}
    assert "class of ground" not in {words for _, words in legend(made_document()).rows}
    assert ".groundclass{" in STYLE


def test_plan__shows_surveyed_points_with_their_levels_and_the_sections_of_the_test() -> None:
    doc = made_document(count=300)
    table = doc["stations"]
    doc["survey"] = {
        "points": [
            {
                "name": f"P{k}",
                "survey_m": 301.25 + k,
                **{key: float(table[key][at]) for key in ("lon", "lat")},
            }
            for k, at in enumerate((40, 150, 260))
        ]
    }
    tests = [("H1", 0.0, 600.0), ("H2", 600.0, 1420.0)]
    doc["works"] = {
        "tests": [
            {"id": name, "from_m": a, "to_m": b, "bottom_kpa": 900.0, "top_kpa": 500.0,
             "bottom_station_m": b}
            for name, a, b in tests
        ]
    }  # fmt: skip
    plans = [sheet for sheet in drawings(doc) if sheet.piece]
    said = {label.text for sheet in plans for label in sheet.ink.labels}
    assert {"P0 301.25", "P1 302.25", "P2 303.25"} <= said
    assert {"test section H1", "test section H2"} <= said


def test_cover__says_where_intake_and_powerhouse_are() -> None:
    doc, paper = made_document(count=100), PAPERS["A3"]
    doc["settings"] = {"sheet": {"crs": "EPSG:32633"}}
    cover = draw_cover(doc, paper, local_plane(doc), None, [0.0, paper.frame_width], ["Cover"])
    words = " ".join(label.text for label in cover.ink.labels)
    to_grid = Transformer.from_crs("EPSG:4326", "EPSG:32633", always_xy=True)
    for name, at in (("Intake", 0), ("Powerhouse", -1)):
        lon, lat = doc["stations"]["lon"][at], doc["stations"]["lat"][at]
        east, north = to_grid.transform(lon, lat)
        assert f"{name} E {east:.2f}, N {north:.2f} m, EPSG:32633" in words
        assert f"{abs(lat):.6f}°" in words

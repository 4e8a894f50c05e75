"""The cover uses its sheet, whatever its size; land on a plan is named where it is seen."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from drawn_sheets import drawings
from made_study import made_document, made_relief

from routing.papers.plane import local_plane
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import PAPERS, Paper

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

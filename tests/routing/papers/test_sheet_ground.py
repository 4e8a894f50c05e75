"""Contours of the plans: by the scale, as fine as the ground is known, lettered on every sheet."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from drawn_sheets import drawings
from made_study import made_document

from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.shown import contour_step, shown_ground
from routing.terrain.drawn_contour import DrawnContour


@pytest.mark.parametrize(
    ("units", "along", "rmse_m", "wanted"),
    [
        ("metric", 1000, None, 2.0),
        ("metric", 2000, 0.3, 5.0),
        ("metric", 500, 0.3, 1.0),
        ("us", 600, None, 2.0),
        ("us", 1200, 0.1, 5.0),
        # United States National Map Accuracy Standards, 1947 (from memory): 90 % of elevations
        # within half an interval; of a normal error 90 % lie within 1.645 RMSE. 1 m: 3.29 m.
        ("metric", 1000, 1.0, 5.0),
        ("metric", 1000, 6.0, 20.0),
        ("us", 600, 1.0, 20.0),
    ],
)
def test_contour_step__is_round_by_the_scale_and_never_finer_than_known(
    units: str, along: int, rmse_m: float | None, wanted: float
) -> None:
    assert contour_step(units, along, rmse_m) == pytest.approx(wanted)


def test_contour_step__rises_with_scale_and_error() -> None:
    steps = [contour_step("metric", along, None) for along in range(100, 20_000, 50)]
    assert steps == sorted(steps)
    errors = [contour_step("us", 600, error) for error in np.linspace(0.01, 60.0, 200)]
    assert errors == sorted(errors)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_shown_ground__holds_the_line_of_every_sheet(units: str) -> None:
    doc = made_document(units=units, count=300)
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    pieces = [sheet.piece for sheet in drawings(doc)[1:]]
    shown = shown_ground(doc)
    assert len(shown.boxes) == len(pieces)
    for piece, (west, south, east, north) in zip(pieces, shown.boxes, strict=True):
        on = doc["stations"]["station_m"]
        on = (on >= piece.from_m) & (on <= piece.to_m)
        assert west < lon[on].min() < lon[on].max() < east
        assert south < lat[on].min() < lat[on].max() < north


def test_sheet_set__each_plan_draws_its_own_contours_and_letters_the_index_lines() -> None:
    doc = made_document(count=300)
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    whole = DrawnContour(level_m=350.0, lon=lon, lat=lat + 2e-4, index=True)
    own = [
        dataclasses.replace(whole, level_m=level, lat=lat + shift, sheet=0, index=level == 360.0)
        for level, shift in ((358.0, 1e-4), (360.0, 1.5e-4))
    ]
    sheets = sheet_set(doc, paper_of(doc), None, [whole, *own])
    plans = [sheet for sheet in sheets if sheet.piece]
    said = [
        [label.text for label in sheet.ink.labels if label.layer == "contour"] for sheet in plans
    ]
    assert set(said[0]) == {"360"}
    assert all(set(words) == {"350"} for words in said[1:])
    assert "contours every 2.0 m" in " ".join(label.text for label in plans[0].ink.labels)

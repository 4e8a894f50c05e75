"""Sheets of random studies on random paper: nothing over another, beyond a cell or the frame."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from drawn_sheets import longer, overlaps
from made_study import made_document

from routing.papers.sheet.ink import Drawing, Label
from routing.papers.sheet.issue import SheetDrawing, sheet_set
from routing.papers.sheet.paper import PAPERS, Paper, paper_of
from routing.papers.typeset import cap_height

SIZES = (*PAPERS, "300 x 210 mm", "1200 x 500 mm")
NAMES = ("Vell", "Upper weir at the old saw mill of Harrow Dale", "L" * 60, "山溪", "Ø")


def study(seed: int) -> dict[str, Any]:
    """Return a study that differs in everything that the sheets draw."""
    dice = random.Random(seed)
    doc = made_document(
        units=dice.choice(("metric", "us")),
        flow=dice.random() < 0.8,
        name=dice.choice(NAMES),
        count=dice.randint(80, 260),
    )
    doc = longer(doc, 10.0 ** dice.uniform(1.8, 3.9))
    table = doc["stations"]
    last = len(table["station_m"]) - 1
    doc["crossings"] = [_crossing(dice, doc, number) for number in range(dice.randint(0, 6))]
    doc["valves"] = [
        {"id": f"G{k + 1}", "station_m": float(table["station_m"][at]), "place": "as given",
         "lon": float(table["lon"][at]), "lat": float(table["lat"][at]), "proposed": False,
         "reason": dice.choice(NAMES)}
        for k, at in enumerate(sorted(dice.sample(range(last), dice.randint(0, 4))))
    ]  # fmt: skip
    if dice.random() < 0.5:
        names = [item["id"] for item in (*doc["vents"], *doc["drains"], *doc["valves"])]
        doc["changes"] = {"new": dice.sample(names, len(names) // 2), "moved": [], "gone": ["V99"]}
    sheet: dict[str, Any] = {"size": dice.choice(SIZES), "owner": dice.choice(NAMES)}
    if dice.random() < 0.5:
        sheet["entry"] = [{"label": dice.choice(NAMES), "text": dice.choice(NAMES)}]
        sheet["revision"] = [{"mark": "B2", "text": dice.choice(NAMES), "date": "2026-11-25"}]
    doc["settings"] = {"sheet": sheet}
    for vent in doc["vents"]:
        vent["kind"] = dice.choice((vent["kind"], *NAMES))
    return doc


def _crossing(dice: random.Random, doc: dict[str, Any], number: int) -> dict[str, Any]:
    table = doc["stations"]
    at = dice.randrange(len(table["station_m"]) - 1)
    return {
        "id": f"X{number + 1}", "kind": dice.choice(("stream", "road", "parcel", "service")),
        "station_m": float(table["station_m"][at]), "to_m": float(table["station_m"][at + 1]),
        "name": dice.choice(NAMES), "angle_deg": dice.choice((None, 72.5)), "length_m": 3.0,
        "width_m": dice.choice((None, 0.4, 22.0)), "asks": [NAMES[1]], "relation": "crosses",
        "consent": dice.choice((None, NAMES[1])), "cover_m": dice.uniform(-1.0, 2.5),
        "top_m": None, "lon": float(table["lon"][at]), "lat": float(table["lat"][at]),
        "ground_m": float(table["ground_m"][at]), "pipe_m": float(table["pipe_m"][at]),
    }  # fmt: skip


def crossed(ink: Drawing, layers: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return lettering of a table or band that an upright rule of it runs through."""
    rules = [
        (shape.points, shape.style)
        for shape in ink.shapes
        if shape.style in ("fine", "class0", "class1")
        and len(shape.points) >= 2
        and np.ptp(shape.points[:2, 0]) < 0.01
    ]
    found = []
    for label in ink.labels:
        if label.layer not in layers:
            continue
        box = label.box.grown(-0.15)
        for points, style in rules:
            x, (low, high) = float(points[0, 0]), sorted(points[:2, 1].tolist())
            if box.left < x < box.right and low < box.bottom and box.top < high:
                found.append((label.text, style))
    return found


def beyond(label: Label, sheet: SheetDrawing, paper: Paper) -> bool:
    box, deep = label.box, paper.frame_height
    low = sheet.ink.height if label.layer == "strip" else deep
    return (
        box.left < -0.01
        or box.right > sheet.ink.width + 0.01
        or box.top < -0.01
        or box.bottom > low + 0.01
    )


def check(seed: int) -> None:
    doc = study(seed)
    paper = paper_of(doc)
    sheets = sheet_set(doc, paper)
    for number, sheet in enumerate(sheets, start=1):
        where = (seed, paper.name, number, sheet.title)
        labels = sheet.ink.labels
        assert list(overlaps(labels)) == [], where
        assert [label.text for label in labels if beyond(label, sheet, paper)] == [], where
        assert crossed(sheet.ink, ("band", "strip")) == [], where
        assert min(cap_height(label.size) for label in labels) >= 1.8 - 0.01, where


@pytest.mark.parametrize("seed", range(8))
def test_sheet_set__of_random_studies_keeps_every_word_in_its_place(seed: int) -> None:
    check(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8, 50))
def test_sheet_set__of_more_random_studies_keeps_every_word_in_its_place(seed: int) -> None:
    check(seed)

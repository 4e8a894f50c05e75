"""Clouds, triangles and rows of what changed since the revision before."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_sheets import drawings, overlaps
from made_study import made_document

from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.revision import changed, changes, draw_cloud, revision_rows


def revised() -> dict:
    doc = made_document(count=300)
    moved, new = doc["vents"][1], doc["drains"][0]
    doc["changes"] = {
        "moved": [{"id": moved["id"], "was_m": moved["station_m"] - 9.0,
                   "now_m": moved["station_m"]}],
        "new": [new["id"]],
        "gone": ["V77"],
        "last_numbers": {"V": 77},
    }  # fmt: skip
    doc["settings"] = {"sheet": {"revision": [{"mark": "A"}, {"mark": "B", "text": "moved"}]}}
    return doc


def test_draw_clouds__round_what_changed_on_plan_and_profile_with_the_newest_mark() -> None:
    doc = revised()
    wanted = {doc["vents"][1]["id"]: doc["vents"][1], doc["drains"][0]["id"]: doc["drains"][0]}
    assert set(changed(doc)) == set(wanted)
    for sheet in drawings(doc)[1:]:
        on = [
            item
            for item in wanted.values()
            if sheet.piece.from_m <= item["station_m"] <= sheet.piece.to_m
        ]
        clouds = [shape.points for shape in sheet.ink.shapes if shape.style == "cloud"]
        # One on the plan and one on the profile for each; those that lie together are one.
        assert (len(clouds) > 0) == bool(on)
        assert len(clouds) <= 2 * len(on)
        marks = [label for label in sheet.ink.labels if label.layer == "revision"]
        assert len(marks) == len(clouds)
        assert {mark.text for mark in marks} <= {"B"}
        inside = [
            (mark.x, mark.y)
            for mark in sheet.ink.marks
            for cloud in clouds
            if (cloud.min(axis=0) < (mark.x, mark.y)).all()
            and (cloud.max(axis=0) > (mark.x, mark.y)).all()
        ]
        assert len(inside) >= 2 * len(on)
        assert list(overlaps(sheet.ink.labels)) == []


def test_draw_cloud__bulges_outwards_and_closes() -> None:
    ink, box = Drawing(60.0, 60.0), Box(20.0, 20.0, 40.0, 30.0)
    draw_cloud(ink, box)
    (cloud,) = ink.shapes
    assert cloud.closed
    x, y = cloud.points.T
    inside = (x > 20.0 + 1e-6) & (x < 40.0 - 1e-6) & (y > 20.0 + 1e-6) & (y < 30.0 - 1e-6)
    assert not inside.any()
    assert np.ptp(x) > 21.0
    assert np.ptp(y) > 11.0


def test_changes__are_scheduled_and_marked_in_the_other_schedules() -> None:
    doc = revised()
    made = changes(doc)
    assert [row[:2] for row in made.rows] == [["V2", "moved"], ["D1", "new"]]
    assert "Gone: V77." in made.note
    said = {label.text for sheet in sheet_set(doc, paper_of(doc)) for label in sheet.ink.labels}
    assert {"V2 ∆", "D1 ∆"} <= said
    assert "V1 ∆" not in said


@pytest.mark.parametrize("given", [True, False])
def test_revision_rows__are_the_given_ones_else_what_the_tool_found(given: bool) -> None:
    doc = revised()
    if given:
        assert [row["mark"] for row in revision_rows(doc)] == ["A", "B"]
        return
    del doc["settings"]
    (row,) = revision_rows(doc)
    assert row["text"] == "against the one before: 1 new, 1 moved, 1 gone"
    assert revision_rows(made_document(count=60)) == []

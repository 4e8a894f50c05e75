"""Blocks on every paper that lists them: what a mason needs, the same numbers everywhere."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from made_study import made_document
from pypdfium2 import PdfDocument

from routing.papers.block_picture import block_svg
from routing.papers.cast import unsized_words
from routing.papers.offsets import Beside
from routing.papers.report.report import report_data
from routing.papers.schedule import schedules
from routing.papers.sheet.details import draw_details
from routing.papers.sheet.paper import paper_of
from routing.papers.shopping import shopping
from routing.papers.stakes import stakes
from routing.papers.things import things
from routing.papers.workbook import workbook
from routing.papers.works import works_pdf

FOOT = 0.3048


def block(number: int, **change: Any) -> dict[str, Any]:
    """Return one block of a document."""
    return {
        "id": f"T{number}",
        "place": "bend",
        "bend_id": f"B{number}",
        "station_m": 100.0 * number,
        "lon": 12.0,
        "lat": 47.0,
        "ground_m": 380.0,
        "pipe_m": 378.6,
        "deflection_deg": 22.5,
        "pressure_kpa": 900.0,
        "thrust_kn": 12.3,
        "bearing_deg": 285.0,
        "up": "down",
        "up_kn": -1.25,
        "east_kn": -11.9,
        "north_kn": 3.1,
        "hold": "block",
        "width_m": 0.95,
        "height_m": 0.65,
        "length_m": 0.4,
        "volume_m3": 0.12,
        "face_m2": 0.6175,
        "floor_m2": None,
        "least_face_m2": 0.587,
        "weight_kn": 2.7,
        "concrete_mpa": 20.0,
        "cure_days": 10.0,
        "soil": "sand",
        "bearing_kpa": 47.88,
        "bearing_source": "Buried Pipe Design, p. 271",
        "restrained_m": 14.5,
        "remedy": None,
        "other_soil_tables": [],
        "formulas": ["thrust.bend"],
    } | change


def papered(units: str = "metric") -> dict[str, Any]:
    doc = made_document(units=units)
    none = dict.fromkeys(("width_m", "height_m", "length_m", "volume_m3", "face_m2", "weight_kn"))
    doc["blocks"] = [block(2), block(5, hold="pipe", **none), block(7, up="level", up_kn=0.0)]
    return doc


def test_schedules__blocks_as_they_are_set_out() -> None:
    (table,) = [each for each in schedules(papered()) if each.title == "Blocks"]
    assert [row[0] for row in table.rows] == ["T2", "T7"]
    assert table.rows[0][2:] == [
        "bend B2", "block", "285", "down", "0.95", "0.65", "0.40", "0.120", "2.7",
    ]  # fmt: skip
    assert "20 MPa" in table.note
    assert "10 days" in table.note
    assert "sand" in table.note


def test_schedules__blocks_in_us_units() -> None:
    (table,) = [each for each in schedules(papered("us")) if each.title == "Blocks"]
    # Never smaller than in metres.
    for shown, metres in zip(table.rows[0][6:9], (0.95, 0.65, 0.4), strict=True):
        assert metres / FOOT <= float(shown) < metres / FOOT + 0.01
    # 2.7 kN are 607 pounds-force.
    assert float(table.rows[0][10]) == pytest.approx(607, abs=1)
    assert "2901 psi" in table.note


def test_stakes__a_block_has_its_stake_and_its_sides() -> None:
    rows = {row[1]: row[-1] for row in stakes(papered()).subject.rows}
    assert "T2 block 0.95 × 0.65 × 0.40 m" in rows[200.0]
    assert "T5" not in rows.get(500.0, "")


def test_report__thrusts_leave_out_what_the_pipe_carries() -> None:
    chapters = report_data(papered())["chapters"]
    sections = {part["title"]: part for chapter in chapters for part in chapter["sections"]}
    # Few thrusts stand as columns: each row is one fact of all.
    rows = sections["Thrusts"]["table"]["rows"]
    assert sections["Thrusts"]["table"]["heads"][1:] == ["T2", "T7"]
    first = [row[1] for row in rows]
    at = first.index("12.30")
    assert first[at : at + 4] == ["12.30", "−11.90", "3.10", "−1.25"]
    assert "Buried Pipe Design" in sections["Thrusts"]["table"]["note"]
    assert sections["Blocks"]["table"]["heads"][1:] == ["T2", "T7"]
    assert "1 of 3 thrusts" in sections["Turns left to the pipe"]["items"][0]


def test_workbook__blocks_carry_every_side() -> None:
    import openpyxl

    sheet = openpyxl.load_workbook(io.BytesIO(workbook(papered())))["blocks"]
    heads = [(head.value, unit.value or "") for head, unit in zip(sheet[1], sheet[2], strict=True)]
    row = dict(zip(heads, [cell.value for cell in sheet[3]], strict=True))
    assert [row[side, "m"] for side in ("width", "height", "length")] == [0.95, 0.65, 0.4]
    assert row["bearing", "°"] == 285.0
    assert (row["up", ""], row["up", "kN"]) == ("down", -1.25)
    assert row["weight", "kN"] == 2.7


def test_papers__a_block_left_open_is_left_open_on_all_of_them() -> None:
    doc = papered()
    wide = {"width_m": 6.8, "length_m": 3.4, "volume_m3": 57.7, "station_m": 1100.0}
    doc["blocks"].append(block(9, **wide))
    doc["warnings"] = [
        {"code": "block_wide", "severity": "warning", "message": "wide", "places_m": [],
         "station_m": 1100.0, "waived": False}
    ]  # fmt: skip
    (table,) = [each for each in schedules(doc) if each.title == "Blocks"]
    assert [row[6:] for row in table.rows if row[0] == "T9"] == [["left open", *["–"] * 4]]
    bought = shopping(doc)
    # Two blocks of 0.12 m3 with a tenth over, in whole tenths: the wide one is not among them.
    assert [row[2] for row in bought.rows if row[0] == "concrete"] == ["0.3 m³"]
    assert "T9" in bought.note
    without = Beside({**doc, "blocks": doc["blocks"][:-1]}).at(1100.0)
    assert without is not None
    assert Beside(doc).at(1100.0) == without
    briefs = {thing.id: thing.brief for thing in things(doc)}
    assert "left open" in briefs["T9"] or "by an engineer" in briefs["T9"]


@pytest.mark.parametrize("soil", [None, "sand"])
def test_details__a_block_too_wide_to_be_dug_is_told_of_and_not_drawn(soil: str | None) -> None:
    """A wall anchor of 69 m drove the powerhouse's detail to 1:1000."""
    doc = papered()
    end = block(9, place="wall anchor", bend_id=None, soil=soil)
    end |= {"width_m": 68.8, "length_m": 34.25, "volume_m3": 576.7, "station_m": 1100.0}
    doc["blocks"].append(end)
    doc["warnings"] = [
        {"code": "block_wide", "severity": "warning", "message": "wide", "places_m": [],
         "station_m": 1100.0, "waived": False}
    ]  # fmt: skip
    paper = paper_of(doc)
    labels = [label.text for sheet in draw_details(doc, paper) for label in sheet.labels]
    (scale,) = (m[1] for m in (re.match(r"Powerhouse connection, 1:(\d+)", t) for t in labels) if m)
    assert int(scale) <= 100
    said = " ".join(labels)
    words = "is too wide for one block" if soil else "cannot be sized: soil not named"
    assert f"{end['id']}, which holds the end, {words}" in said
    assert "68.8" not in said
    assert not any(unsized_words(doc, each) for each in doc["blocks"] if each is not end)
    (card,) = (each for each in things(doc) if each.id == end["id"])
    told = dict(card.facts)
    assert words in card.brief
    assert words in told["Left open"]
    assert "Wide × high × long" not in told, "nobody casts what is left open"
    assert block_svg(doc, end) == ""
    assert block_svg(doc, doc["blocks"][0]) != ""
    text = "".join(page.get_textpage().get_text_range() for page in PdfDocument(works_pdf(doc)))
    assert words.split(":")[0] in " ".join(text.split())
    assert "68.8" not in text
    (table,) = (each for each in schedules(doc) if each.title == "Blocks")
    assert f"{end['id']} {words}" in table.note

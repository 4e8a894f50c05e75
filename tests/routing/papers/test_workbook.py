"""The workbook, read back with openpyxl."""

from __future__ import annotations

import io
import math

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_study import as_read_from_disk, made_document

from routing.papers.subject import quantity, subjects
from routing.papers.workbook import workbook


def opened(doc):
    return openpyxl.load_workbook(io.BytesIO(workbook(doc)))


def table(sheet) -> list[dict]:
    rows = list(sheet.iter_rows(values_only=True))
    return [dict(zip(rows[0], row, strict=True)) for row in rows[2:]]


def test_workbook__metric_numbers_are_the_documents() -> None:
    doc = made_document()
    book = opened(doc)
    assert book.sheetnames[0] == "figures"
    stations = book["stations"]
    assert stations.freeze_panes is not None
    read = table(stations)
    assert [row["station"] for row in read] == pytest.approx(
        list(doc["stations"]["station_m"]), abs=5.1e-4
    )
    assert [row["static pressure"] for row in read] == pytest.approx(
        list(doc["stations"]["static_pressure_kpa"]), abs=5.1e-3
    )
    units = [cell.value for cell in stations[2]]
    assert units[0] == "m"
    assert "kPa" in units
    vents = table(book["vents"])
    assert [row["id"] for row in vents] == [vent["id"] for vent in doc["vents"]]
    assert [row["size"] for row in vents] == [vent["size_mm"] for vent in doc["vents"]]
    assert all(isinstance(row["station"], float | int) for row in vents)
    figures = {(row["section"], row["quantity"]): row["value"] for row in table(book["figures"])}
    assert figures["summary", "gross head"] == round(doc["summary"]["gross_head_m"], 3)


def test_workbook__us_numbers_are_exact_conversions() -> None:
    doc = made_document(units="us")
    book = opened(doc)
    # International foot 0.3048 m, US gallon 231 in3, pound-force 4.4482216152605 N: exact.
    psi = 4.4482216152605 / 0.0254**2 / 1000.0
    for row, station, kpa in zip(
        table(book["stations"]),
        doc["stations"]["station_m"],
        doc["stations"]["static_pressure_kpa"],
        strict=True,
    ):
        assert row["station"] == pytest.approx(station / 0.3048, abs=5.1e-4)
        assert row["static pressure"] == pytest.approx(kpa / psi, abs=5.1e-3)
    figures = {(row["section"], row["quantity"]): row["value"] for row in table(book["figures"])}
    gpm = doc["summary"]["flow_m3_s"] * 60.0 / (231.0 * 0.0254**3)
    assert figures["summary", "flow"] == pytest.approx(gpm, abs=5.1e-4)
    assert figures["water", "temperature"] == pytest.approx(
        doc["water"]["temperature_c"] * 1.8 + 32
    )


def test_workbook__holds_no_formula_and_the_same_bytes() -> None:
    doc = made_document(name="=1+1")
    doc["vents"][0]["reason"] = "=cmd|' /C calc'!A0"
    doc["vents"][1]["reason"] = "http://example.org"
    book = opened(doc)
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.hyperlink is None
    assert table(book["vents"])[0]["reason"] == "=cmd|' /C calc'!A0"
    assert workbook(doc) == workbook(as_read_from_disk(doc))


def test_workbook__absent_sections_are_left_out_and_new_ones_appear() -> None:
    doc = made_document(flow=False)
    doc["surge"] = {"runs": [{"closing_time_s": 8.0, "peak_kpa": 712.0, "fits": True}]}
    doc["a very long name of a section: [that] no/sheet may have"] = [{"x": 1}]
    book = opened(doc)
    assert "flow reaches" not in book.sheetnames
    assert table(book["surge runs"]) == [{"closing time": 8.0, "peak": 712.0, "fits": True}]
    assert all(len(name) <= 31 for name in book.sheetnames)


@settings(max_examples=60)
@given(st.sampled_from(["metric", "us"]), st.floats(-1e6, 1e6))
def test_quantity__conversion_is_a_line_through_known_points(units: str, value: float) -> None:
    # Temperature is the one quantity with an offset: 0 degC is 32 degF, 100 degC is 212 degF.
    _, unit, factor, offset, _ = quantity("temperature_c", units)
    assert (unit, offset, factor + offset) == (
        ("°C", 0.0, 1.0) if units == "metric" else ("°F", 32.0, pytest.approx(33.8))
    )
    for key in ("pipe_m", "static_pressure_kpa", "flow_m3_s", "volume_m3", "size_mm"):
        _, _, factor, offset, _ = quantity(key, units)
        assert offset == 0.0
        assert math.copysign(1.0, value * factor) == math.copysign(1.0, value)


def test_subjects__every_list_of_objects_is_a_table() -> None:
    doc = made_document()
    names = {subject.name for subject in subjects(doc)}
    assert {
        "vents",
        "drains",
        "bends",
        "pipes",
        "trench spans",
        "ground highs",
        "stations",
    } <= names


@pytest.mark.parametrize(("units", "paper"), [("metric", "9"), ("us", "1")])
def test_workbook__is_set_up_for_print(units: str, paper: str) -> None:
    """Paper codes of ECMA-376 part 1, 18.3.1.63: 9 is A4, 1 is US letter (from memory of it)."""
    book = openpyxl.load_workbook(io.BytesIO(workbook(made_document(units=units))))
    for sheet in book:
        assert sheet.page_setup.orientation == "landscape"
        assert str(sheet.page_setup.paperSize) == paper
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.print_title_rows == "$1:$2"
        assert "&P" in (sheet.oddFooter.right.text or "")


def found(doc: dict, name: str):
    return next(subject for subject in subjects(doc) if subject.name == name)


def test_subjects__every_number_has_a_unit_or_a_dash() -> None:
    doc = made_document()
    doc["drain_sizes"] = [{"drain_id": "D1", "reaction_n": 155.8, "safe_opening": 1.0}]
    doc["cost"] = {"total": 900.0, "per_kwh": 0.12, "currency": "crowns", "not_priced": ["a", "b"]}
    doc["settings"] = {"prices": {"currency": "crowns"}}
    for subject in subjects(doc):
        if [column.key for column in subject.columns][:3] == ["section", "quantity", "unit"]:
            continue
        for column, *values in zip(subject.columns, *subject.rows, strict=True):
            if any(isinstance(each, int | float) and not isinstance(each, bool) for each in values):
                assert column.unit, (subject.name, column.key)
    assert [column.unit for column in found(doc, "drain sizes").columns] == ["", "N", "–"]
    figures = {row[1]: row[2:] for row in found(doc, "figures").rows}
    assert figures["total"] == ("crowns", 900.0)
    assert figures["per kilowatt hour"] == ("crowns", 0.12)


def test_subjects__us_lists_and_rows_with_their_own_unit_are_turned() -> None:
    """A foot is 0.3048 m, a yard three of them, a pound-force 4.4482216152605 N: exact."""
    doc = made_document(units="us")
    doc["surge"] = [{"case": "blocked", "wave_speeds_m_s": [304.8, 152.4]}]
    volume = {"what": "trench", "unit": "m3", "quantity": 0.764554857984, "price": 30.0}
    doc["quantities"] = [{**volume, "amount": 22.94}]
    doc["checks"] = [{"subject": "cover", "demand": 0.6096, "limit": 0.3048, "unit": "m"}]
    assert found(doc, "surge").rows == (("blocked", "1000, 500"),)
    what, unit, quantity_, price, amount = found(doc, "quantities").rows[0]
    assert (what, unit, amount) == ("trench", "yd³", 22.94)
    assert quantity_ == pytest.approx(1.0)
    assert price == pytest.approx(30.0 * 0.764554857984, abs=5.1e-4)
    assert found(doc, "checks").rows == (("cover", 2.0, 1.0, "ft"),)


def test_subjects__tables_within_tables_stand_whole() -> None:
    doc = made_document()
    doc["kits"] = [{"of": "V1", "pieces": [{"what": "riser", "size": "50 mm", "count": 2}]}]
    doc["works"] = {"filling": {"rate_m3_s": 0.007, "stages": [{"id": "F1", "level_m": 304.2}]}}
    doc["energy"] = {"curve": {"exceeded_share": [0.1, 0.9], "flow_m3_s": [0.05, 0.01]}}
    assert found(doc, "kits").rows == (("V1", "riser", "50 mm", 2),)
    assert found(doc, "works filling stages").rows == (("F1", 304.2),)
    assert found(doc, "energy curve").rows == ((0.1, 50.0), (0.9, 10.0))

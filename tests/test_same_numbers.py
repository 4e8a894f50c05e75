"""One study, every output, both unit systems: a number that stands twice is the same number.

The expected text is made from study.json and from the published factors (1 ft = 0.3048 m, 1 psi =
6894.757 Pa, 1 in = 25.4 mm, exact or by NIST SP 811), not by the tool's own units.
"""

from __future__ import annotations

import html
import io
import re
from pathlib import Path
from typing import Any

import openpyxl
import orjson
import pyogrio
import pypdfium2
import pytest
from made_study import made_relief

from api.summary import print_summary
from routing.line import read_route
from routing.papers import export_bytes, map_html
from routing.papers.field import field_html
from routing.papers.station import station_text
from routing.papers.things import things
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

PATHS = sample_paths()
SOLD_IN = {15: "0.5", 20: "0.75", 25: "1", 32: "1.25", 40: "1.5", 50: "2", 65: "2.5", 80: "3",
           100: "4", 125: "5", 150: "6", 200: "8"}  # fmt: skip
"""Nominal bores as paired in ASME B36.10M, from memory [mm, in]."""


class Told:
    """What the outputs must say of a study, worked out from its JSON with the published factors."""

    def __init__(self, doc: dict[str, Any]) -> None:
        self.doc, self.us = doc, doc["units"] == "us"

    def _text(self, value: float, factor: float, digits: tuple[int, int], units: tuple[str, str]):
        shown = value / factor if self.us else value
        return f"{shown:.{digits[self.us]}f} {units[self.us]}"

    def station(self, metres: float) -> str:
        return self._text(metres, 0.3048, (1, 0), ("m", "ft"))

    def elevation(self, metres: float) -> str:
        return self._text(metres, 0.3048, (2, 1), ("m", "ft"))

    def depth(self, metres: float) -> str:
        return self._text(metres, 0.3048, (2, 1), ("m", "ft"))

    def head(self, metres: float) -> str:
        return self._text(metres, 0.3048, (1, 1), ("m", "ft"))

    def pressure(self, kpa: float) -> str:
        return self._text(kpa, 6.894757293168, (0, 1), ("kPa", "psi"))

    def size(self, mm: float) -> str:
        return f"{SOLD_IN[round(mm)]} in" if self.us else f"{mm:.0f} mm"


def beck_across(route: Any) -> dict[str, Any]:
    """Return a stream that crosses the middle leg of a line."""
    points = list(zip(route.lon, route.lat, strict=True))
    (x0, y0), (x1, y1) = points[len(points) // 2 - 1 : len(points) // 2 + 1]
    x, y, dx, dy = (x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0
    across = [[x - dy, y + dx], [x + dy, y - dx]]
    line = {"type": "LineString", "coordinates": across}
    beck = {"type": "Feature", "properties": {"name": "Teal Beck"}, "geometry": line}
    return {"type": "FeatureCollection", "features": [beck]}


@pytest.fixture(scope="module", params=["metric", "us"])
def told(request: pytest.FixtureRequest) -> Told:
    import tomllib

    tables = tomllib.loads(PATHS.settings.read_text("utf-8"))
    tables["study"] = {**tables.get("study", {}), "units": request.param}
    # Both materials that speak most differently, and a stream across their joint.
    tables["pipe"][1] = {"from": "700 m", "catalogue": "STEEL-B3610-10-8in", "joint": "welded"}
    route = read_route(PATHS.line)
    tables["layer"] = [{"kind": "stream", "features": beck_across(route)}]
    settings = settings_from_mapping(tables)
    terrain = open_study_terrain([PATHS.terrain], settings)
    study = run_study(terrain, route, settings)
    return Told(orjson.loads(to_json(study_document(study))))


def words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).replace("\u202f", " ").split())


def pdf_words(data: bytes) -> str:
    pages = pypdfium2.PdfDocument(data)
    return words(" ".join(page.get_textpage().get_text_range() for page in pages))


@pytest.fixture(scope="module")
def outputs(told: Told) -> dict[str, str]:
    """Return what a reader sees of each output, as one line of words."""
    stream = io.StringIO()
    print_summary(told.doc, stream)
    return {
        "terminal": words(stream.getvalue()),
        "map": words(map_html(told.doc, made_relief(told.doc))),
        "field sheet": words(field_html(told.doc, made_relief(told.doc))),
        "report": pdf_words(export_bytes(told.doc, "report")),
        "sheets": pdf_words(export_bytes(told.doc, "pdf")),
        "gpx": words(export_bytes(told.doc, "gpx").decode()),
        "kml": words(export_bytes(told.doc, "kml").decode()),
        "profile": words(export_bytes(told.doc, "svg").decode()),
    }


EVERYWHERE = ("terminal", "map", "report", "sheets", "profile")


@pytest.mark.parametrize("where", EVERYWHERE)
def test_figures__are_the_same_in_every_paper(told: Told, outputs, where: str) -> None:
    summary = told.doc["summary"]
    expected = [
        told.head(summary["gross_head_m"]),
        told.head(summary["net_head_m"]),
        told.head(summary["head_loss_m"]),
        told.pressure(summary["static_pressure_kpa"]),
        told.pressure(summary["max_static_pressure_kpa"]),
        f"{summary['power_kw']:.2f} kW",
    ]
    assert [text for text in expected if text not in outputs[where]] == []


@pytest.mark.parametrize("where", ["terminal", "map", "field sheet", "gpx", "kml"])
def test_fittings__have_one_station_ground_and_size(told: Told, outputs, where: str) -> None:
    missing = []
    for item in (*told.doc["vents"], *told.doc["drains"]):
        parts = [told.station(item["station_m"]), told.elevation(item["ground_m"])]
        parts.append(told.depth(abs(item["depth_m"])))
        if item["size_mm"] is not None:
            parts.append(told.size(item["size_mm"]))
        missing += [(item["id"], part) for part in parts if part not in outputs[where]]
    assert missing == []


def bare(text: str) -> str:
    return text.rpartition(" ")[0]


@pytest.mark.parametrize("where", ["report", "sheets"])
def test_schedules__have_the_same_row_for_each_fitting(told: Told, outputs, where: str) -> None:
    """Rows of schedules hold bare numbers under a head with the unit."""
    missing = []
    for item in (*told.doc["vents"], *told.doc["drains"]):
        station = bare(told.station(item["station_m"]))
        if where == "sheets":  # as drawings write it, with as many decimals as the list has
            station = station_text(told.doc, item["station_m"], 0 if told.us else 1)
        row = rf"\b{item['id']} {re.escape(station)} .{{5,160}}?"
        row += re.escape(bare(told.elevation(item["ground_m"])))
        if not re.search(row, outputs[where]):
            missing.append(item["id"])
    assert missing == []


def test_workbook__holds_the_numbers_of_the_document(told: Told) -> None:
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(told.doc, "xlsx")), data_only=True)
    for name in ("vents", "drains"):
        rows = list(book[name].iter_rows(values_only=True))
        heads = list(rows[0])
        at = {title: heads.index(title) for title in ("id", "station", "ground", "size")}
        for row, item in zip(rows[2:], told.doc[name], strict=True):
            assert row[at["id"]] == item["id"]
            foot = 0.3048 if told.us else 1.0
            assert row[at["station"]] == round(item["station_m"] / foot, 3)
            assert row[at["ground"]] == round(item["ground_m"] / foot, 3)
            if item["size_mm"] is not None:
                size = float(bare(told.size(item["size_mm"])))
                assert row[at["size"]] == pytest.approx(size, abs=1e-9)


def test_workbook__a_number_copied_from_a_cell_is_what_the_cell_shows(told: Told) -> None:
    """By the cell's own number format: 0.000 is three decimals (ECMA-376, part 1, 18.8.31)."""
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(told.doc, "xlsx")), data_only=True)
    wrong, seen = [], 0
    for sheet in book:
        for cell in (cell for row in sheet.iter_rows(min_row=3) for cell in row):
            if isinstance(cell.value, float) and cell.number_format != "General":
                places = len(cell.number_format.partition(".")[2])
                seen += 1
                if cell.value != float(f"{cell.value:.{places}f}"):
                    wrong.append((sheet.title, cell.coordinate, cell.value))
            elif isinstance(cell.value, float) and told.us and sheet.title == "figures":
                if cell.value != float(f"{cell.value:.3f}") and abs(cell.value) >= 1.0:
                    wrong.append((sheet.title, cell.coordinate, cell.value))
    assert seen > 1000
    assert wrong == []


def test_geopackage__holds_the_numbers_of_the_document(told: Told, tmp_path: Path) -> None:
    path = tmp_path / "study.gpkg"
    path.write_bytes(export_bytes(told.doc, "gpkg"))
    for name in ("vents", "drains"):
        frame = pyogrio.read_dataframe(path, layer=name)
        for key in ("station_m", "ground_m", "pipe_m", "size_mm", "static_head_m"):
            assert list(frame[key]) == pytest.approx(
                [item[key] for item in told.doc[name]], abs=1e-9, nan_ok=True
            )
        assert list(frame["kind"]) == [item["kind"] for item in told.doc[name]]


@pytest.mark.parametrize("where", ["terminal", "map", "report"])
def test_verdict__is_one_count(told: Told, outputs, where: str) -> None:
    verdict = told.doc["verdict"]
    counts = tuple(verdict[each] for each in ("faults", "warnings", "notes"))
    said = "Faults, warnings, notes {}, {}, {}"
    if where == "report":
        said = "The study found {} faults, {} warnings, {} notes"
    assert said.format(*counts) in outputs[where]
    faults = [found for found in told.doc["warnings"] if found["severity"] == "fault"]
    assert len(faults) == verdict["faults"]


@pytest.mark.parametrize("where", ["report", "sheets", "map", "terminal", "field sheet"])
def test_units__no_paper_speaks_two_systems(told: Told, outputs, where: str) -> None:
    text = outputs[where]
    # What the user wrote in the settings stands as they wrote it.
    before, _, given = text.rpartition("What was given")
    text = before + given.partition("What was assumed")[2] if before else text
    foreign = r"\d (?:kPa|L/s|m/s|m³|kN)\b" if told.us else r"\d (?:psi|gpm|ft/s|yd³|lbf)\b"
    assert re.findall(rf".{{30}}{foreign}", text) == []


def test_words__of_tables_and_waypoints_are_in_the_readers_units(told: Told, outputs) -> None:
    """Sizes and rules are words of the rooms, which speak metric: no output passes them on so."""
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(told.doc, "xlsx")), read_only=True)
    texts = {name: outputs[name] for name in ("gpx", "kml")}
    for name in ("vents", "drains", "checks", "pipes", "crossings"):
        cells = (cell for row in book[name].iter_rows(values_only=True) for cell in row)
        texts[name] = " | ".join(str(cell) for cell in cells if isinstance(cell, str))
    # A published figure stands in brackets beside what it is in metric.
    si = r"\d (?:mm(?! \(2 in\))|[kM]Pa|degC|L/s|m/s|m³)(?!\w)"
    foreign = si if told.us else r"(?<![\d.(])[\d.]+ (?:psi|gpm|ft/s)\b"
    found = {name: re.findall(rf".{{20}}{foreign}", text) for name, text in texts.items()}
    assert {name: each for name, each in found.items() if each} == {}


def test_bends__are_one_number_in_bill_kits_and_cards(told: Told) -> None:
    """A bend of 11.25 degrees or more, the slightest made one, is a fitting of its own."""
    made = [bend["id"] for bend in told.doc["bends"] if bend["deflection_deg"] >= 11.25]
    (row,) = [each for each in told.doc["quantities"] if each["what"] == "bends"]
    assert (row["size"], row["quantity"]) == ("of 11.25° or more", len(made))
    assert [each.id for each in things(told.doc) if each.kind == "bend"] == made


def test_checks__a_failed_one_has_its_finding_and_the_other_way_round(told: Told) -> None:
    found = {(each["code"], each["severity"]) for each in told.doc["warnings"]}
    failed = {(c["code"], c["severity"]) for c in told.doc["checks"] if not c["passed"]}
    assert failed <= found
    judged = {c["code"] for c in told.doc["checks"]}
    silent = {(code, severity) for code, severity in found if code in judged} - failed
    assert silent == set()

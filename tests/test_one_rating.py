"""A fitting bears one pressure, and every card, table and paper says that one.

The pressure is worked out here from the lines of study.json: the greater of what stands at the
vent in flood with the highest surge, and of the test, hydrostatic from the lowest point (AWWA
Manual M51, from memory: a valve is rated for the highest pressure it will see, the test included).
"""

from __future__ import annotations

import html
import io
import re
import tomllib
from typing import Any

import ezdxf
import numpy as np
import openpyxl
import orjson
import pyogrio
import pypdfium2
import pytest
from made_study import made_relief

from routing.line import read_route
from routing.papers import export_bytes, map_html
from routing.papers.field import field_html
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

FLOOD_M = 1.2
RATED = ("vents", "drains", "valves", "taps")
PSI_KPA = 6.894757293168
Told = tuple[dict[str, Any], str, np.ndarray]
"""A study, what is to govern in it, and the highest rise of any surge at its stations [m]."""
BASES = {"test": "test pressure", "surge": "outlet blocked at once"}
"""What is to govern in each of the two studies."""


@pytest.fixture(scope="module", params=[("metric", "test"), ("us", "surge")], ids=" ".join)
def told(request: pytest.FixtureRequest) -> Told:
    """Return the sample in flood: once tested to 1.5 times the rest, once to no more than it."""
    sample = sample_paths()
    tables = tomllib.loads(sample.settings.read_text("utf-8"))
    units, governs = request.param
    tables["study"] = {**tables["study"], "units": units}
    tables["site"] = {**tables["site"], "flood_rise": f"{FLOOD_M} m"}
    if governs == "surge":
        tables["site"]["test_factor"] = 1.0
    settings = settings_from_mapping(tables)
    study = run_study(
        open_study_terrain([sample.terrain], settings), read_route(sample.line), settings
    )
    doc = orjson.loads(to_json(study_document(study)))
    return doc, governs, np.max([case.rise_m for case in study.pressures.surges], axis=0)


def pressure(doc: dict[str, Any], kpa: float) -> str:
    return f"{kpa / PSI_KPA:.1f} psi" if doc["units"] == "us" else f"{kpa:.0f} kPa"


def bare(doc: dict[str, Any], kpa: float) -> str:
    return pressure(doc, kpa).partition(" ")[0]


def words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).replace("\u202f", " ").split())


def pdf_words(data: bytes) -> str:
    pages = pypdfium2.PdfDocument(data)
    return words(" ".join(page.get_textpage().get_text_range() for page in pages))


def sheet_rows(doc: dict[str, Any], name: str) -> list[dict[str, Any]]:
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    heads, _, *rows = book[name].iter_rows(values_only=True)
    return [dict(zip(heads, row, strict=True)) for row in rows]


def test_rating__is_the_greater_of_use_and_test(told: Told) -> None:
    doc, governs, rise = told
    line, water = doc["stations"], doc["water"]
    weight = water["density_kg_m3"] * water["gravity_m_s2"] / 1e3
    assert doc["vents"]
    bases = set()
    assert all(doc[key] for key in RATED)
    for vent in (item for key in RATED for item in doc[key]):
        at = vent["station_m"]
        level = np.interp(at, line["station_m"], line["pipe_m"])
        head = FLOOD_M + np.interp(at, line["station_m"], line["static_head_m"] + rise)
        used = weight * head
        test = doc["test"]["bottom_pressure_kpa"] - weight * (level - min(line["pipe_m"]))
        assert vent["rating_kpa"] == pytest.approx(max(used, test), rel=1e-4, abs=0.02)
        bases.add(vent["rating_basis"])
    assert BASES[governs] in bases


def test_vents__are_rewritten_once_they_are_sized(told: Told) -> None:
    """Kind, bore, rating and words of a vent are those of its sizing; a surge made V2 a valve."""
    doc = told[0]
    sizes = {size["vent_id"]: size for size in doc["vent_sizes"]}
    assert {size["kind"] for size in sizes.values()} >= {"open vent", "combination air valve"}
    for vent in doc["vents"]:
        size = sizes[vent["id"]]
        assert (vent["kind"], vent["size_mm"]) == (size["kind"], size["bore_mm"])
        assert (vent["rating_kpa"], vent["rating_basis"]) == (
            size["rating_kpa"],
            size["rating_basis"],
        )
        is_open = vent["open_height_m"] is not None
        assert is_open is (vent["kind"] == "open vent") is (vent["foot_size_mm"] is not None)
        # One sentence on what to fit, of this kind; and one pressure in it.
        kinds = ("open vent", "combination air valve", "vacuum valve", "release valve")
        fits = re.findall(rf"(?:Fit an? )?({'|'.join(kinds)}) of ", vent["reason"], re.IGNORECASE)
        assert [kind.lower() for kind in fits] == [vent["kind"]]
        assert re.findall(r"bears ([\d.]+ \w+)", vent["reason"]) == [
            pressure(doc, vent["rating_kpa"])
        ]
    for drain, size in zip(doc["drains"], doc["drain_sizes"], strict=True):
        assert (drain["size_mm"], drain["flush_size_mm"]) == (
            size["bore_mm"],
            size["flush_bore_mm"],
        )
        assert "Wide open, " in drain["reason"]


def test_rating__is_one_number_on_cards_waypoints_and_map(told: Told) -> None:
    doc = told[0]
    page = field_html(doc, made_relief(doc))
    popups = html.unescape(map_html(doc, made_relief(doc)))
    texts = {
        "gpx": html.unescape(export_bytes(doc, "gpx").decode()),
        "kml": html.unescape(export_bytes(doc, "kml").decode()),
    }
    for vent in (item for key in RATED for item in doc[key]):
        said = f"{pressure(doc, vent['rating_kpa'])} ({vent['rating_basis']})"
        card = words(page.split(f'data-id="{vent["id"]}"')[1].split("</li>")[0])
        assert f"Must bear {said}" in card
        assert set(re.findall(r"bears ([\d.]+ \w+)", card)) <= {pressure(doc, vent["rating_kpa"])}
        for text in texts.values():
            assert f"Must bear: {said}" in text
        assert said in popups


def test_rating__is_one_number_in_tables_and_drawings(told: Told, tmp_path: Any) -> None:
    doc = told[0]
    (tmp_path / "study.gpkg").write_bytes(export_bytes(doc, "gpkg"))
    layer = pyogrio.read_dataframe(tmp_path / "study.gpkg", layer="vents").set_index("id")
    drawing = ezdxf.read(io.StringIO(export_bytes(doc, "dxf").decode()))
    lettered = {
        block.get_attrib_text("NAME"): block.get_attrib_text("RATING")
        for block in drawing.modelspace().query("INSERT")
        if block.has_attrib("RATING")
    }
    geojson = {
        each["properties"]["id"]: each["properties"]
        for each in orjson.loads(export_bytes(doc, "geojson"))["features"]
        if each["properties"]["layer"] == "vents"
    }
    book = {row["id"]: row for row in sheet_rows(doc, "vents")}
    sizes = {row["vent id"]: row for row in sheet_rows(doc, "vent sizes")}
    scale = PSI_KPA if doc["units"] == "us" else 1.0
    kits = {kit["of"]: kit["pieces"] for kit in doc["kits"]}
    for vent in doc["vents"]:
        name, kpa = vent["id"], vent["rating_kpa"]
        assert layer.loc[name, "rating_kpa"] == pytest.approx(kpa, abs=1e-6)
        assert geojson[name]["rating_kpa"] == kpa
        assert lettered[name] == pressure(doc, kpa)
        for row in (book[name], sizes[name]):
            assert row["rating"] == pytest.approx(kpa / scale, abs=0.006)
        sized = {piece["size"] for piece in kits[name] if piece["what"].endswith(" valve")}
        if vent["kind"] != "open vent":
            assert all(size.endswith(f", {pressure(doc, kpa)}") for size in sized)
            assert sized
    for item in (item for key in RATED[1:] for item in doc[key]):
        words = pressure(doc, item["rating_kpa"])
        assert lettered[item["id"]] == words
        # What carries the pressure: the valve, the saddle with its cock, the flanges.
        told = [
            piece["size"]
            for piece in kits[item["id"]]
            if re.search(r"valve$|adapters$|saddle with|flanges", piece["what"])
        ]
        assert told
        assert all(size.endswith(f", {words}") for size in told)


def test_rating__is_one_number_in_report_and_sheets(told: Told) -> None:
    """Whoever orders by the schedule of vents reads there what they must bear."""
    doc = told[0]
    report, sheets = (pdf_words(export_bytes(doc, name)) for name in ("report", "pdf"))
    sized = report.partition("How the vents were sized")[2].partition("How the drains empty")[0]
    for vent in (*doc["vents"], *doc["drains"]):
        number = re.escape(bare(doc, vent["rating_kpa"]))
        if vent in doc["vents"]:
            assert re.search(rf"\b{vent['id']} .{{10,90}} {number} {vent['rating_basis']}", sized)
        for paper in (report, sheets):
            assert re.search(rf"\b{vent['id']} [\d.+]+ .{{5,120}}? {number}\b", paper), vent["id"]

"""Plan and profile sheets: true to scale, complete, legible, the same every time."""

from __future__ import annotations

import io
import itertools
import re
from functools import cache

import numpy as np
import pdfplumber
import pypdf
import pytest
from drawn_sheets import bare, drawings, longer, overlaps, page_texts
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from made_study import as_read_from_disk, made_document, made_relief

from routing.errors import InputError
from routing.papers.given import MARK
from routing.papers.plane import local_plane
from routing.papers.sheet import sheet_pdf
from routing.papers.sheet.paper import PAPERS, paper_of
from routing.papers.sheet.split import windows
from routing.papers.station import plus_station
from routing.terrain.drawn_contour import DrawnContour
from routing.units import convert

MM = 72.0 / 25.4
"""Points of a PDF in a millimetre: a point is 1/72 in."""


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("size", list(PAPERS))
def test_sheet_drawings__no_label_overlaps_another(units: str, size: str) -> None:
    doc = made_document(units=units)
    doc["settings"] = {"sheet": {"size": size}}
    for sheet in drawings(doc):
        assert list(overlaps(sheet.ink.labels)) == []
        for label in sheet.ink.labels:
            if label.layer == "callout":
                assert label.box.top >= PAPERS[size].plan_height, label
            assert -0.01 <= label.box.left, label
            assert label.box.right <= sheet.ink.width + 0.01, label
            assert -0.01 <= label.box.top, label
            assert label.box.bottom <= sheet.ink.height + 0.01, label


def test_sheet_drawings__a_crossing_is_called_by_its_whole_name_on_the_profile() -> None:
    doc = as_read_from_disk(made_document())
    table = doc["stations"]
    doc["crossings"] = [
        {
            "id": "X1", "station_m": float(table["station_m"][20]), "kind": "stream",
            "to_m": float(table["station_m"][21]), "name": "Vell Brook", "angle_deg": 70.0,
            "length_m": 4.2, "width_m": 4.0, "asks": [], "relation": "crosses", "consent": None,
            "cover_m": 0.8, "top_m": None, "lon": table["lon"][20], "lat": table["lat"][20],
            "ground_m": table["ground_m"][20], "pipe_m": table["pipe_m"][20],
        }
    ]  # fmt: skip
    told = [
        label.text
        for sheet in drawings(doc)
        for label in sheet.ink.labels
        if label.layer == "callout" and label.text.startswith("X1")
    ]
    assert told
    assert set(told) == {"X1 · stream Vell Brook"}


@settings(max_examples=5, deadline=None)
@given(
    length=st.floats(60.0, 12_000.0),
    units=st.sampled_from(["metric", "us"]),
    flow=st.booleans(),
)
def test_sheet_drawings__hold_for_any_length(length: float, units: str, flow: bool) -> None:
    doc = longer(made_document(units=units, flow=flow, count=400), length)
    sheets = drawings(doc)
    pieces = [sheet.piece for sheet in sheets[1:]]
    # The sheets cover the line without gap or overlap.
    assert pieces[0].from_m == 0.0
    assert pieces[-1].to_m == pytest.approx(length, abs=1e-6)
    for one, two in itertools.pairwise(pieces):
        assert one.to_m == two.from_m
    paper = paper_of(doc)
    for sheet in sheets[1:]:
        reach = (sheet.piece.to_m - sheet.piece.from_m) * 1000.0 / sheet.piece.scales.along
        assert reach <= paper.profile_width + 1e-6
        assert sheet.piece.windows[0].from_m == sheet.piece.from_m
        assert sheet.piece.windows[-1].to_m == pytest.approx(sheet.piece.to_m)
        assert list(overlaps(sheet.ink.labels)) == []


def test_sheet_drawings__twelve_kilometres_need_many_sheets() -> None:
    doc = longer(made_document(), 12_000.0)
    sheets = drawings(doc)
    # 1:2000 on A3: at most 0.78 km a sheet.
    assert 16 <= len(sheets) <= 26
    assert all(sheet.piece.scales.along == 2000 for sheet in sheets[1:])


def test_sheet_drawings__gentle_ground_is_stretched_and_steep_ground_is_not() -> None:
    doc = longer(made_document(), 12_000.0)
    table = doc["stations"]
    at = np.asarray(table["station_m"])
    # A steep half, 300 m in 6 km, then a half that falls 12 m in 6 km.
    level = np.interp(at, [0.0, 6000.0, 12_000.0], [400.0, 100.0, 88.0])
    table["ground_m"], table["pipe_m"] = (level + 0.9).tolist(), level.tolist()
    ups = [sheet.piece.scales.up for sheet in drawings(doc)[1:]]
    assert ups[-1] == 200  # 10 times of 1:2000, common practice for gentle ground
    assert ups[0] > ups[-1]
    doc["settings"] = {"sheet": {"vertical_scale": "1:500"}}
    assert {sheet.piece.scales.up for sheet in drawings(doc)[1:]} == {500}


@pytest.mark.parametrize(("units", "size"), [("metric", "A3"), ("us", "ANSI D"), ("metric", "A1")])
def test_sheet_pdf__is_true_to_scale_on_the_page(units: str, size: str) -> None:
    doc = made_document(units=units)
    doc["settings"] = {"sheet": {"size": size}}
    sheet = drawings(doc)[1]
    with pdfplumber.open(io.BytesIO(sheet_pdf(doc)), pages=[3]) as pdf:
        (page,) = pdf.pages
        paper = PAPERS[size]
        assert page.width == pytest.approx(paper.width * MM, abs=0.01)
        assert page.height == pytest.approx(paper.height * MM, abs=0.01)
        words = page.extract_words(keep_blank_chars=False)
        row = next(w["top"] for w in words if w["text"] == "station,")
        figures = [
            w
            for w in words
            if abs(w["top"] - row) < 1.0 and re.fullmatch(r"\d+\+[\d.]+", w["text"])
        ]
        full = {"metric": 1000.0, "us": 100.0}[units]
        middles = [
            ((w["x0"] + w["x1"]) / 2.0, full * float(whole) + float(rest))
            for w in figures
            for whole, rest in [w["text"].split("+")]
        ][1:-1]
        assert len(middles) > 8
        metre = convert(1.0, "station", units)
        for (x0, s0), (x1, s1) in itertools.pairwise(middles):
            wanted = (s1 - s0) / metre * 1000.0 / sheet.piece.scales.along * MM
            assert x1 - x0 == pytest.approx(wanted, abs=0.05 * MM)
        # Elevations up the left side of the profile.
        left = [
            (float(w["text"].replace("−", "-")), (w["top"] + w["bottom"]) / 2.0)
            for w in words
            if re.fullmatch(r"\d+(\.\d+)?", w["text"])
            and w["x1"] < (20.0 + paper.gutter - 0.5) * MM
            and w["x1"] > (20.0 + paper.gutter - 2.5) * MM
        ]
        inner = sorted(left)[1:-1]
        assert len(inner) > 2
        for (z0, y0), (z1, y1) in itertools.pairwise(inner):
            wanted = (
                (z1 - z0) / convert(1.0, "elevation", units) * 1000.0 / sheet.piece.scales.up * MM
            )
            assert y0 - y1 == pytest.approx(wanted, abs=0.1 * MM)


def test_local_plane__lengths_agree_with_the_ellipsoid() -> None:
    # Reference: geographiclib's inverse geodesic (C. F. F. Karney, Journal of Geodesy 87, 2013).
    doc = made_document()
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    x, y = local_plane(doc).forward(lon, lat)
    for i, j in ((0, 400), (200, 899), (0, 899)):
        true = Geodesic.WGS84.Inverse(lat[i], lon[i], lat[j], lon[j])["s12"]
        assert np.hypot(x[i] - x[j], y[i] - y[j]) == pytest.approx(true, rel=2e-7)
    back = local_plane(doc).inverse(x, y)
    assert np.allclose(back, (lon, lat), rtol=0, atol=1e-10)


def test_sheet_drawings__plan_is_true_to_scale_and_level() -> None:
    doc = made_document()
    plane = local_plane(doc)
    station = doc["stations"]["station_m"]
    for sheet in drawings(doc)[1:]:
        # Marks of vents on the plan: their distances are the ground's.
        size = 1.25 * paper_of(doc).letter
        found = [(m.x, m.y) for m in sheet.ink.marks if m.kind == "vent" and m.size == size]
        vents = [
            v for v in doc["vents"] if sheet.piece.from_m <= v["station_m"] <= sheet.piece.to_m
        ]
        x, y = plane.forward(
            np.array([v["lon"] for v in vents]), np.array([v["lat"] for v in vents])
        )
        # The weightiest is drawn last, over the others.
        on_plan = np.array(found[::-1])
        assert len(on_plan) == len(vents)
        for i, j in itertools.pairwise(range(len(vents))):
            ground = float(np.hypot(x[i] - x[j], y[i] - y[j]))
            drawn = float(np.hypot(*(on_plan[i] - on_plan[j])))
            assert drawn == pytest.approx(ground * 1000.0 / sheet.piece.scales.along, abs=0.01)
        # Stations run from left to right.
        ends = np.interp([sheet.piece.from_m, sheet.piece.to_m], station, np.arange(len(station)))
        lon, lat = (
            np.interp(ends, np.arange(len(station)), doc["stations"][key]) for key in ("lon", "lat")
        )
        ex, ey = plane.forward(lon, lat)
        turn = sheet.piece.turn_rad
        along = (ex[1] - ex[0]) * np.cos(turn) - (ey[1] - ey[0]) * np.sin(turn)
        assert along > 0.0


def test_windows__every_stretch_fits_and_none_is_missing() -> None:
    rng = np.random.default_rng(7)
    station = np.linspace(0.0, 400.0, 160)
    for _ in range(20):
        low = np.cumsum(rng.normal(0.0, 1.4, station.size))
        high = low + rng.uniform(0.5, 2.0, station.size)
        found = windows(station, low, high, 0.0, 400.0, 12.0)
        assert found[0].from_m == 0.0
        assert found[-1].to_m == 400.0
        for one, two in itertools.pairwise(found):
            assert one.to_m == two.from_m
        for window in found:
            at = np.linspace(window.from_m, window.to_m, 50)
            steep = np.interp(at, station, high).max() - np.interp(at, station, low).min() > 12.0
            if not steep:
                assert np.interp(at, station, low).min() >= window.datum_m - 1e-9
                assert np.interp(at, station, high).max() <= window.datum_m + 12.0 + 1e-9


@pytest.mark.parametrize("units", ["metric", "us"])
def test_sheet_pdf__text_finds_every_fitting_with_its_station(units: str) -> None:
    doc = made_document(units=units)
    pages = page_texts(made_pdf(units))
    for item in (*doc["vents"], *doc["drains"]):
        station = plus_station(convert(item["station_m"], "station", units), units)
        # On the plan and in the callout above the profile of its own sheet.
        found = sum(page.count(f"{item['id']}·{station}") for page in pages[1:])
        assert found >= 2, item["id"]
        # In the schedule, whole feet or tenths of a metre.
        value = convert(item["station_m"], "station", units)
        listed = re.escape(plus_station(value, units, 0 if units == "us" else 1))
        assert any(re.search(rf"{item['id']}{listed}", page) for page in pages)
    whole = "".join(pages)
    for words in (MARK, "hydraulic grade line", doc["name"]):
        assert bare(words) in whole
    for caution in doc["cautions"]:
        assert bare(caution["text"])[:30] in whole


@cache
def made_pdf(units: str) -> bytes:
    """Return the sheets of the made study, typeset once for all tests that only read them."""
    return sheet_pdf(made_document(units=units))


def whole_text(pdf: bytes) -> str:
    return "".join(page_texts(pdf))


def test_sheet_pdf__a_name_takes_no_mark_off_while_something_is_open() -> None:
    doc = made_document()
    doc["settings"] = {"sheet": {"signed": "O. Elm 2026-11-25"}}
    doc["verdict"] |= {"faults": 2, "open": ["over_rating"], "preliminary": True}
    text = whole_text(sheet_pdf(doc))
    assert bare(f"{MARK}: 2 faults") in text
    assert bare("Left open: the static pressure is above the pipe's rating") in text
    assert "Signed" not in text
    doc["verdict"] |= {"open": [], "preliminary": False}
    doc["waivers"] = [{"code": "over_rating", "reason": "tested", "name": "O. E.", "covers": 2}]
    text = whole_text(sheet_pdf(doc))
    assert bare(MARK) not in text
    assert bare("Signed: O. Elm") in text
    assert (
        bare("Answered for: the static pressure is above the pipe's rating, by O. E.: tested")
        in text
    )


def test_sheet_pdf__signed_titles_and_revisions() -> None:
    doc = made_document()
    doc["settings"] = {
        "sheet": {
            "project": "Water for Otterfell",
            "owner": "The hamlet",
            "signed": "O. Elm 2026-11-25",
            "date": "2026-11-25",
            "revision": [{"mark": "A", "date": "2026-11-25", "text": "first issue", "by": "N."}],
        }
    }
    pdf = sheet_pdf(doc)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    text = page_texts(pdf)[0]
    assert bare(MARK) not in text
    for words in ("Water for Otterfell", "The hamlet", "O. Elm 2026-11-25", "first issue"):
        assert bare(words) in text
    assert bare(f"sheet 1 of {len(reader.pages)}") in text
    assert "20261125" in reader.metadata["/CreationDate"]


def test_sheet_pdf__same_study_same_bytes_and_no_clock() -> None:
    doc = made_document()
    first = made_pdf("metric")
    assert first == sheet_pdf(as_read_from_disk(doc))
    # PDF/A asks for a date; a study without one has no clock to tell.
    assert b"/CreationDate(D:20000101" in first


def test_sheet_pdf__without_flow_pipe_or_named_system() -> None:
    doc = made_document(flow=False)
    doc["pipes"] = []
    doc["terrain"]["crs"] = "unnamed"
    text = whole_text(sheet_pdf(doc))
    for words in ("none given", "not chosen", "UTM zone of the line"):
        assert bare(words) in text


def test_sheet_pdf__unusual_names_come_through() -> None:
    name = 'Skarn "Beck" & <Øst> #1 *x* $y$ \\ñ_山'
    doc = made_document(name=name)
    doc["vents"][0]["kind"] = "#panic(1)"
    text = page_texts(sheet_pdf(doc))[0]
    assert bare('Skarn "Beck" & <Øst> #1 *x* $y$ \\ñ_') in text


def test_sheet_pdf__relief_contours_and_features_show() -> None:
    doc = made_document()
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    near = [float(lon[100]), float(lat[100]) + 2e-4]
    ring = [[lon[0], lat[0]], [lon[9], lat[0]], [lon[9], lat[9]], [lon[0], lat[0]]]
    features = [
        _feature("stream", "Skarn Beck", "LineString", [[lon[0], lat[0]], [lon[300], lat[200]]]),
        _feature("reference", "BM 7", "Point", near),
        _feature("boundary", "", "Polygon", [ring]),
        {"type": "Feature", "properties": None, "geometry": {"type": "Point"}},
    ]
    doc["settings"] = {"sheet": {"features": {"features": features}}}
    contour = DrawnContour(level_m=400.0, lon=lon + 1e-4, lat=lat + 1e-4, index=True)
    plain, full = sheet_pdf(doc), sheet_pdf(doc, made_relief(doc), [contour])
    reader = pypdf.PdfReader(io.BytesIO(full))
    text = page_texts(full)[2]
    assert "SkarnBeck" in text
    assert "BM7" in text
    assert "400" in text
    assert len(reader.pages[2].images) == 1
    assert len(pypdf.PdfReader(io.BytesIO(plain)).pages[2].images) == 0


def test_sheet_pdf__a_system_that_cannot_be_set_out_from() -> None:
    doc = made_document()
    doc["settings"] = {"sheet": {"crs": "EPSG:4326"}}
    with pytest.raises(InputError, match="EPSG:4326"):
        sheet_pdf(doc)


def _feature(kind: str, name: str, shape: str, places) -> dict:
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name},
        "geometry": {"type": shape, "coordinates": places},
    }


@pytest.mark.parametrize("units", ["metric", "us"])
def test_sheet_drawings__break_at_round_stations(units: str) -> None:
    for sheet in drawings(made_document(units=units))[2:]:
        shown = convert(sheet.piece.from_m, "station", units)
        assert shown / 10.0 == pytest.approx(round(shown / 10.0), abs=1e-6)


def test_sheet__band_gives_grade_and_length_of_the_straights() -> None:
    doc = made_document()
    doc["grades"] = [
        {**doc["grades"][0], "to_m": 700.0, "grade": -0.0847},
        {**doc["grades"][0], "from_m": 700.0, "to_m": 1420.0, "grade": 0.0014},
    ]
    said = [label.text for page in drawings(doc) for label in page.ink.labels]
    assert {"\N{MINUS SIGN}8.5", "700.0", "+0.1", "720.0"} <= set(said)


def test_sheet_pdf__stations_plain_where_asked() -> None:
    doc = made_document()
    doc["settings"] = {"sheet": {"stations": "plain"}}
    text = whole_text(sheet_pdf(doc))
    vent = doc["vents"][1]
    assert f"{vent['id']}·{vent['station_m']:.1f}" in text
    assert not re.search(r"·\d\+\d{3}", text)

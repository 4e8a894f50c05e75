"""The whole set: cover, details, schedules and notes; and the same sheets as layouts of a DXF."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from pathlib import Path

import ezdxf
import pytest
from drawn_sheets import overlaps
from ezdxf import recover
from legible import MM
from made_study import made_document

from routing.papers.dxf import dxf_text
from routing.papers.dxf_sheets import layout_name
from routing.papers.fit import fitted_mm
from routing.papers.sheet.details import draw_details
from routing.papers.sheet.galley import FILLED, Galley, Listing, Notes, well_filled
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, PAPERS, paper_of
from routing.papers.sheet.sketch import Sketch, fitted
from routing.papers.sheet.tables import sheet_blocks
from routing.papers.typeset import cap_height


def said(drawing: Drawing) -> str:
    return " ".join(label.text for label in drawing.labels)


def test_sheet_set__cover_lists_every_sheet_in_order() -> None:
    doc = made_document()
    sheets = sheet_set(doc, paper_of(doc))
    cover = said(sheets[0].ink)
    assert sheets[0].title == "Cover and location plan"
    for number, sheet in enumerate(sheets, start=1):
        assert sheet.title in cover
        assert f"sheet {number} of {len(sheets)}" in said(sheet.ink)
    assert "Location plan, 1:" in cover
    # What a reader needs first stands on the cover, whatever runs on behind it.
    for words in ("Lines and signs", "General notes", "Abbreviations", "index contour, lettered"):
        assert words in cover
    kinds = [sheet.title.partition(",")[0] for sheet in sheets]
    order = ["Cover and location plan", "Key plan and profile of the whole line"]
    order += ["Plan and profile", "Details", "Schedules and notes"]
    assert list(dict.fromkeys(kinds)) == order


@pytest.mark.parametrize("size", list(PAPERS))
def test_sheet_set__no_sheet_is_nearly_empty_and_nothing_leaves_the_frame(size: str) -> None:
    doc = made_document(count=300)
    doc["settings"] = {"sheet": {"size": size}}
    for sheet in sheet_set(doc, PAPERS[size]):
        own = [label for label in sheet.ink.labels if label.layer != "strip"]
        assert len(own) >= (12 if sheet.piece else 4), sheet.title
        for label in sheet.ink.labels:
            assert cap_height(label.size) >= 1.8 - 0.01, label.text
            assert label.box.left >= -0.01, label.text
            assert label.box.right <= sheet.ink.width + 0.01, label.text
            assert label.box.bottom <= sheet.ink.height + 0.01, label.text


def test_galley__sets_every_row_once_and_in_order() -> None:
    paper = PAPERS["A3"]
    rows = [[f"N{k}", f"{k}.5"] for k in range(400)]
    table = Listing(title="Long", heads=["no.", "figure"], rows=rows, numeric=[False, True])
    words = Notes(title="Notes", items=["one sentence " * 30, "another"])
    galley = Galley(paper)
    galley.set(table, words)
    sheets = galley.sheets
    names = [label for sheet in sheets for label in sheet.labels if label.text.startswith("N")]
    names = [label.text for label in names if label.text[1:].isdigit()]
    assert names == [row[0] for row in rows]
    assert all(text.labels for text in sheets)
    for sheet in sheets:
        for label in sheet.labels:
            assert label.box.bottom <= paper.frame_height, label.text


def test_well_filled__leaves_no_last_sheet_nearly_empty_where_room_between_rows_helps() -> None:
    paper = PAPERS["A3"]
    few = 0
    for count in range(300, 700, 20):
        rows = [[f"N{k}", f"{k}.5"] for k in range(count)]
        table = Listing(title="Long", heads=["no.", "figure"], rows=rows, numeric=[False, True])
        plain = Galley(paper, drawn=False)
        plain.set(table)
        galley = well_filled(paper, lambda each, table=table: each.set(table))  # type: ignore[misc]
        few += plain.filled() < FILLED
        if len(galley.sheets) > 1:
            assert galley.filled() >= min(FILLED, plain.filled())
        drawn = [label.text for sheet in galley.sheets for label in sheet.labels]
        assert [text for text in drawn if re.fullmatch(r"N\d+", text)] == [row[0] for row in rows]
    assert few > 2  # the plain way would have left some


@pytest.mark.parametrize(("size", "count"), [("A4", 5), ("A4", 150), ("A3", 260), ("A0", 150)])
def test_diagram__names_every_fitting_once_whatever_the_paper(size: str, count: int) -> None:
    doc = made_document(count=100)
    last = float(doc["stations"]["station_m"][-1])
    first = dict(doc["vents"][0])
    doc["vents"] = [
        {**first, "id": f"V{k}", "station_m": last * k / (count + 1)} for k in range(1, count + 1)
    ]
    paper = PAPERS[size]
    sheets = draw_details(doc, paper)
    labels = [label for sheet in sheets for label in sheet.labels if label.layer == "diagram"]
    named = [m[1] for m in (re.match(r"(V\d+) · ", label.text) for label in labels) if m]
    assert named == [vent["id"] for vent in doc["vents"]]
    for sheet in sheets:
        for label in sheet.labels:
            assert label.box.bottom <= paper.frame_height, label.text
            assert 0.0 <= label.box.left <= label.box.right <= paper.frame_width, label.text


def test_fitted_mm__never_wider_than_its_room() -> None:
    rows = [["V1", "a kind with a long name", "L" * 300], ["V2", "valve", "short"]]
    for room in (60.0, 90.0, 170.0):
        widths, _ = fitted_mm(["no.", "kind", "why it is there"], rows, 7.8, room)
        assert sum(widths) <= room + 0.3


def test_sketch__draws_to_its_scale() -> None:
    ink = Drawing(200.0, 200.0)
    on = Sketch(ink, PAPERS["A3"], "metric", 20, (30.0, 90.0))
    (x0, y0), (x1, y1) = on.at(0.0, 0.0), on.at(1.9, 1.0)
    assert (x0, y0) == (30.0, 90.0)
    assert x1 - x0 == pytest.approx(95.0)
    assert y0 - y1 == pytest.approx(50.0)
    on.across(0.0, 1.9, 0.0)
    assert "1.90 m" in said(ink)


@pytest.mark.parametrize(("units", "scale"), [("metric", 20), ("us", 16)])
def test_fitted__takes_the_finest_round_scale_that_fits(units: str, scale: int) -> None:
    # 1.9 m are 95 mm at 1:20 and 119 mm at 1:16 (3/4 in to the foot), 190 mm at 1:10.
    found, box = fitted(lambda on: on.line(0.0, 0.0, 1.9, 0.0), PAPERS["A3"], units, (120.0, 50.0))
    assert found == scale
    assert box.right - box.left == pytest.approx(1900.0 / scale)


def test_draw_details__no_detail_leaves_its_frame_and_no_words_cross() -> None:
    for size in ("A4", "A3", "ANSI D"):
        doc = made_document(count=300)
        for sheet in draw_details(doc, PAPERS[size]):
            frames = [shape.points for shape in sheet.shapes if shape.style == "thin"]
            boxes = [(*frame.min(axis=0), *frame.max(axis=0)) for frame in frames]
            for label in sheet.labels:
                inside = [
                    box
                    for box in boxes
                    if box[0] <= label.box.left
                    and box[1] <= label.box.top
                    and label.box.right <= box[2]
                    and label.box.bottom <= box[3]
                ]
                assert len(inside) == 1, label
            assert list(overlaps(sheet.labels)) == []


def test_sheet_blocks__a_table_of_one_row_is_a_sentence() -> None:
    blocks = sheet_blocks(made_document())
    assert all(len(block.rows) > 1 for block in blocks if isinstance(block, Listing))
    (spans,) = (block for block in blocks if block.title == "Pipe above ground")
    assert spans.items == [
        "from 0+716.0; to 0+770.0; length in plan 54.0 m; highest above ground 6.20 m"
    ]


def opened(doc: dict) -> ezdxf.document.Drawing:
    drawing, auditor = recover.read(io.BytesIO(dxf_text(doc).encode()))
    assert not auditor.has_errors, auditor.errors
    return drawing


def test_dxf__a_layout_for_every_sheet_at_the_scale_of_the_paper() -> None:
    doc = made_document(count=200)
    paper, drawing = paper_of(doc), opened(doc)
    sheets = sheet_set(doc, paper)
    for number, sheet in enumerate(sheets, start=1):
        space = drawing.layouts.get(layout_name(number, sheet.title, set()))
        assert space.dxf.paper_width == pytest.approx(paper.width)
        texts = {text.dxf.text: text for text in space.query("TEXT")}
        for label in sheet.ink.labels:
            assert label.text in texts
        assert min(text.dxf.height for text in texts.values()) >= 1.8 - 0.01
        weights = {line.dxf.lineweight for line in space.query("LWPOLYLINE")}
        assert len(weights) >= 2
        # The frame of the sheet lies where the printed one does.
        frames = [
            line.get_points("xy")
            for line in space.query('LWPOLYLINE[layer=="SHEET-FRAME"]')
            if line.closed
        ]
        wanted = (FILING_MARGIN, MARGIN, paper.width - MARGIN, paper.height - MARGIN)
        corners = [
            (min(p[0] for p in f), min(p[1] for p in f), max(p[0] for p in f), max(p[1] for p in f))
            for f in frames
        ]
        assert any(corner == pytest.approx(wanted, abs=0.01) for corner in corners)
    assert MM == pytest.approx(72.0 / 25.4)


def test_dxf__says_its_system_and_datum_and_names_size_and_rating() -> None:
    doc = made_document(count=60)
    doc["terrain"]["vertical_datum"] = "Otterfell harbour datum"
    drawing = opened(doc)
    told = dict(drawing.header.custom_vars.properties)
    assert told["Vertical datum"] == "Otterfell harbour datum"
    assert "EPSG:32633" in told["Coordinates"]
    assert ", in metre;" in told["Coordinates"]
    in_feet = dict(opened({**doc, "units": "us"}).header.custom_vars.properties)
    assert ", in metres, not feet;" in in_feet["Coordinates"]
    texts = " ".join(text.dxf.text for text in drawing.modelspace().query("TEXT"))
    assert "Otterfell harbour datum" in texts
    vents = drawing.modelspace().query('INSERT[layer=="VENTS"]')
    sized = [insert.get_attrib_text("SIZE") for insert in vents]
    assert all(words.endswith("mm") for words in sized)
    assert all(insert.get_attrib_text("RATING").endswith("kPa") for insert in vents)


def test_dxf__same_bytes_whatever_the_seed_of_hashes() -> None:
    root = Path(__file__).resolve().parents[3]
    code = (
        "import sys, hashlib; sys.path[:0] = ['tests/support'];"
        "from made_study import made_document; from routing.papers.dxf import dxf_text;"
        "print(hashlib.sha256(dxf_text(made_document(count=200)).encode()).hexdigest())"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=root,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("0", "77")
    }
    assert len(made) == 1


def described(units: str) -> dict:
    """Return a study with an intake that was described, and a stream and a road to cross."""
    doc = made_document(count=120, units=units)
    doc["intake"] = {
        "notch_angle_deg": 90.0, "notch_head_m": 0.13, "bar_gap_m": 0.012, "crest_width_m": 1.2,
        "mouth": {"depth_m": 1.0, "least_m": 0.3},
        "screen": {"net_m2": 0.07, "gross_m2": 0.22, "built_m2": 0.8, "velocity_m_s": 0.3,
                   "clogged_share": 0.5},
        "settling": {"grain_m": 3e-4, "velocity_m_s": 0.03, "needed_m2": 1.3, "built_m2": 6.25},
    }  # fmt: skip
    doc["settings"] = {"intake": {"bar": "6 mm", "bar_gap": "12 mm"}}
    doc["crossings"] = [
        {"id": f"X{number}", "kind": kind, "station_m": 60.0 * number, "to_m": 60.0 * number + 3.4,
         "name": "Rowan", "angle_deg": 63.0, "length_m": 3.4, "width_m": 3.0, "cover_m": 0.81,
         "asks": ["at least 0.60 m of cover"], "consent": None, "relation": "crosses"}
        for number, kind in enumerate(("road", "stream"), start=1)
    ]  # fmt: skip
    return doc


@pytest.mark.parametrize(
    ("units", "words"),
    [
        # A basin of 6.25 m2 four times as long as wide is 1.25 m by 5 m.
        ("metric", ["gap 12 mm", "bar 6 mm", "5.00 m", "1.25 m", "0.30 mm", "least 0.30 m"]),
        ("us", ["gap 0.47 in", "bar 0.24 in", "16.4 ft", "4.1 ft", "0.012 in", "least 1.0 ft"]),
    ],
)
def test_draw_details__of_intake_and_crossings_carry_the_studys_own_dimensions(
    units: str, words: list[str]
) -> None:
    doc = described(units)
    told = " ".join(said(sheet) for sheet in draw_details(doc, paper_of(doc)))
    for title in ("Intake: weir, screen and mouth", "Settling basin", "Screen, 1:",
                  "X2: crossing below the stream", "X1: road Rowan", "Powerhouse connection",
                  "At least 0.60 m of cover."):  # fmt: skip
        assert title in told
    for each in words:
        assert each in told

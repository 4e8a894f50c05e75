"""The file of the sheets: plans that know where they are, outline, tags, archival form."""

from __future__ import annotations

import io

import numpy as np
import pypdf
import pytest
from legible import MM
from made_study import made_document, moved_document
from pyproj import CRS, Transformer

from routing.papers.given import status
from routing.papers.sheet import sheet_pdf
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, paper_of


def placed_at(port, x_pt: float, y_pt: float) -> tuple[float, float]:
    """Return lat and lon of a place on the page, by the corners that the viewport states."""
    left, low, right, high = map(float, port["/BBox"])
    measure = port["/Measure"]
    square = np.array(measure["/LPTS"], dtype=float).reshape(4, 2)
    degrees = np.array(measure["/GPTS"], dtype=float).reshape(4, 2)
    design = np.column_stack([square, np.ones(4)])
    to_degrees, *_ = np.linalg.lstsq(design, degrees, rcond=None)
    share = np.array([(x_pt - left) / (right - left), (y_pt - low) / (high - low), 1.0])
    lat, lon = share @ to_degrees
    return float(lat), float(lon)


@pytest.mark.parametrize("case", ["metric", "feet"])
def test_sheet_pdf__plans_say_where_they_are(case: str) -> None:
    doc = made_document(count=200) if case == "metric" else moved_document(-121.6, 38.5, units="us")
    if case == "feet":  # a system on another datum, in US survey feet
        doc["settings"] = {"sheet": {"crs": "EPSG:2226"}}
    paper = paper_of(doc)
    sheets = sheet_set(doc, paper)
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(doc))).pages
    named = [[port["/Name"] for port in page.get("/VP", ())] for page in pages]
    plans = sum(bool(sheet.piece) for sheet in sheets)
    assert named[:2] == [["Location plan"], ["Key plan"]]
    assert named[2 : 2 + plans] == [["Plan"]] * plans
    assert not any(named[2 + plans :])
    vents = {(vent["lon"], vent["lat"]) for vent in doc["vents"]}
    size, found = 1.25 * paper.letter, 0
    for sheet, page in zip(sheets, pages, strict=True):
        if not sheet.piece:
            continue
        (port,) = page["/VP"]
        system = CRS.from_epsg(int(port["/Measure"]["/GCS"]["/EPSG"]))
        assert CRS.from_wkt(str(port["/Measure"]["/GCS"]["/WKT"])).name == system.name
        # Degrees are those of the system's own datum; back to WGS 84 by pyproj.
        back = Transformer.from_crs(system.geodetic_crs, "EPSG:4326", always_xy=True)
        for mark in sheet.ink.marks:
            if mark.kind != "vent" or mark.size != size:
                continue
            x = (FILING_MARGIN + mark.x) * MM
            y = float(page.mediabox.height) - (MARGIN + mark.y) * MM
            lat, lon = placed_at(port, x, y)
            at = np.array(back.transform(lon, lat))
            # A millionth of a degree is about a tenth of a metre: a tenth of a mm at 1:1000.
            assert min(np.abs(at - np.array(vent)).max() for vent in vents) < 3e-6
            found += 1
    assert found == len(doc["vents"])


def test_sheet_pdf__outline_properties_tags_and_archival_form() -> None:
    doc = made_document(count=120)
    doc["settings"] = {"sheet": {"owner": "Otterfell hamlet", "date": "2026-11-25"}}
    pdf = sheet_pdf(doc)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    titles = [sheet.title for sheet in sheet_set(doc, paper_of(doc))]
    assert [item.title for item in reader.outline] == titles
    assert (reader.metadata.title, reader.metadata.author) == (doc["name"], "Otterfell hamlet")
    assert status(doc) in reader.metadata["/Subject"]
    catalogue = reader.trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/Lang"] == "en"
    # ISO 19005-2:2011, 6.7.11: part and conformance stand in the XMP packet.
    packet = catalogue["/Metadata"].get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in packet
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in packet
    assert "/ID" in reader.trailer
    # Every font is in the file.
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert any(key in inner.get_object() for key in ("/FontFile2", "/FontFile3"))

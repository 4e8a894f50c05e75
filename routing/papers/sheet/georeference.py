"""Plans that know where they are: a geospatial viewport for each, written into the finished PDF."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from routing.papers.plane import LocalPlane, SurveySystem
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, Paper
from routing.papers.sheet.view import Placed

__all__ = ["georeferenced"]

PT = 72.0 / 25.4
"""Points of a PDF in a millimetre: a point is 1/72 in."""


def georeferenced(
    pdf: bytes,
    placed: Sequence[Sequence[Placed]],
    paper: Paper,
    plane: LocalPlane,
    survey: SurveySystem,
) -> bytes:
    """Return a PDF whose plans state their coordinates; ``placed`` are those of each page.

    A viewport with a geospatial measure (ISO 32000-2:2020, 12.9 and 12.10, from memory): the four
    corners of a plan, in the degrees of the surveyor's system, and that system's name. What typst
    wrote stays as it is, byte for byte; the rest stands in an update behind it (7.5.6).
    """
    from pypdf import PdfReader
    from pypdf.generic import ArrayObject, NameObject
    from pyproj import CRS, Transformer

    system = CRS.from_wkt(survey.wkt)
    base: Any = system.geodetic_crs
    to_base = Transformer.from_crs("EPSG:4326", base, always_xy=True)
    reader = PdfReader(io.BytesIO(pdf))
    changed = {}
    for page, plans in zip(reader.pages, placed, strict=True):
        ports = ArrayObject()
        for plan in plans:
            corners = _corners(plan, plane)
            lon, lat = to_base.transform(corners[:, 0], corners[:, 1])
            degrees = np.column_stack([lat, lon])
            ports.append(_viewport(plan, degrees, system, paper))
        if ports and page.indirect_reference is not None:
            page[NameObject("/VP")] = ports
            changed[page.indirect_reference.idnum] = page
    return _updated(pdf, reader.trailer, changed) if changed else pdf


def _updated(pdf: bytes, trailer: Any, changed: Mapping[int, Any]) -> bytes:
    """Return a PDF with an update behind it: objects that take the place of those of a number."""
    written = io.BytesIO()
    written.write(pdf)
    rows = ["0 1\n0000000000 65535 f\r\n"]
    for number, value in sorted(changed.items()):
        rows.append(f"{number} 1\n{written.tell():010d} 00000 n\r\n")
        written.write(f"{number} 0 obj\n".encode())
        value.write_to_stream(written)
        written.write(b"\nendobj\n")
    start, before = written.tell(), pdf.rpartition(b"startxref")[2].split()[0].decode()
    kept = " ".join(
        f"{key} {_text(trailer.raw_get(key))}" for key in ("/Size", "/Root", "/Info", "/ID")
    )
    written.write(f"xref\n{''.join(rows)}trailer\n<< {kept} /Prev {before} >>\n".encode("latin-1"))
    written.write(f"startxref\n{start}\n%%EOF\n".encode())
    return written.getvalue()


def _text(value: Any) -> str:
    """Return a value as a PDF writes it."""
    written = io.BytesIO()
    value.write_to_stream(written)
    return written.getvalue().decode("latin-1")


def _corners(plan: Placed, plane: LocalPlane) -> np.ndarray:
    """Return lon and lat of the corners: lower left, upper left, upper right, lower right."""
    box = plan.view.box
    x = np.array([box.left, box.left, box.right, box.right])
    y = np.array([box.bottom, box.top, box.top, box.bottom])
    return np.column_stack(plane.inverse(*plan.view.back(x, y)))


def _viewport(plan: Placed, degrees: np.ndarray, system: Any, paper: Paper) -> Any:
    from pypdf.generic import (
        ArrayObject,
        DictionaryObject,
        FloatObject,
        NameObject,
        NumberObject,
        TextStringObject,
    )

    def numbers(values: Sequence[float], digits: int) -> ArrayObject:
        return ArrayObject(FloatObject(f"{value:.{digits}f}") for value in values)

    box = plan.view.box
    edges = (
        FILING_MARGIN + box.left,
        paper.height - MARGIN - box.bottom,
        FILING_MARGIN + box.right,
        paper.height - MARGIN - box.top,
    )
    square = numbers([0, 0, 0, 1, 1, 1, 1, 0], 0)
    authority = system.to_authority()
    known = {"/EPSG": NumberObject(int(authority[1]))} if authority else {}
    named = {
        "/Type": NameObject("/PROJCS"),
        **known,
        "/WKT": TextStringObject(system.to_wkt("WKT1_GDAL", pretty=False)),
    }
    measure = {
        "/Type": NameObject("/Measure"),
        "/Subtype": NameObject("/GEO"),
        "/Bounds": square,
        "/GCS": DictionaryObject({NameObject(key): value for key, value in named.items()}),
        "/GPTS": numbers(degrees.ravel().tolist(), 9),
        "/LPTS": square,
    }
    port = {
        "/Type": NameObject("/Viewport"),
        "/BBox": numbers([edge * PT for edge in edges], 3),
        "/Name": TextStringObject(plan.name),
        "/Measure": DictionaryObject({NameObject(key): value for key, value in measure.items()}),
    }
    return DictionaryObject({NameObject(key): value for key, value in port.items()})

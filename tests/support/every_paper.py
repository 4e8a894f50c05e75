"""What a reader finds in every output of a study, as words: papers, tables, files and terminal."""

from __future__ import annotations

import html
import io
import re
import tempfile
from pathlib import Path
from typing import Any

import ezdxf
import openpyxl
import orjson
import pyogrio
import pypdfium2
from made_study import made_relief

from api.summary import print_summary
from routing.papers import export_bytes, map_html
from routing.papers.field import field_html

__all__ = ["every_paper", "pdf_words", "words"]


def words(text: str) -> str:
    """Return text without its marks, with single blanks."""
    told = re.sub(r"<(?:script|style)\b.*?</(?:script|style)>", " ", text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", told)).replace("\u202f", " ").split())


def pdf_words(data: bytes) -> str:
    """Return the text of all pages."""
    pages = pypdfium2.PdfDocument(data)
    return words(" ".join(page.get_textpage().get_text_range() for page in pages))


def every_paper(doc: dict[str, Any]) -> dict[str, str]:
    """Return the words of each output by its name."""
    told = io.StringIO()
    print_summary(doc, told)
    return {
        "terminal": words(told.getvalue()),
        "map": words(map_html(doc, made_relief(doc))),
        "field sheet": words(field_html(doc, made_relief(doc))),
        "report": pdf_words(export_bytes(doc, "report")),
        "sheets": pdf_words(export_bytes(doc, "pdf")),
        "works plan": pdf_words(export_bytes(doc, "works")),
        "bill": pdf_words(export_bytes(doc, "bill")),
        "workbook": _cells(export_bytes(doc, "xlsx")),
        "quantities": _cells(export_bytes(doc, "quantities")),
        "drawing": _lettering(export_bytes(doc, "dxf")),
        "tables of the map": _rows(export_bytes(doc, "gpkg")),
        "features": _strings(orjson.loads(export_bytes(doc, "geojson"))),
        "stakes": export_bytes(doc, "stakes").decode(),
        "waypoints": words(export_bytes(doc, "gpx").decode()),
        "earth": words(export_bytes(doc, "kml").decode()),
        "profile": words(export_bytes(doc, "svg").decode()),
    }


def _cells(data: bytes) -> str:
    book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    rows = (row for sheet in book for row in sheet.iter_rows(values_only=True))
    return " | ".join(each for row in rows for each in row if isinstance(each, str))


def _lettering(data: bytes) -> str:
    drawing = ezdxf.read(io.StringIO(data.decode()))
    texts = []
    for layout in drawing.layouts:
        for each in layout:
            if each.dxftype() in ("TEXT", "MTEXT"):
                texts.append(each.dxf.text if each.dxftype() == "TEXT" else each.plain_text())
            elif each.dxftype() == "INSERT":
                texts += [attribute.dxf.text for attribute in each.attribs]
    return " | ".join(texts)


def _rows(data: bytes) -> str:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "study.gpkg"
        path.write_bytes(data)
        frames = [pyogrio.read_dataframe(path, layer=name) for name, _ in pyogrio.list_layers(path)]
    cells = (cell for frame in frames for name in frame for cell in frame[name])
    return " | ".join(cell for cell in cells if isinstance(cell, str))


def _strings(value: Any) -> str:
    if isinstance(value, str):
        return value
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return " | ".join(filter(None, map(_strings, inner)))

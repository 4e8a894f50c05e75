"""The tables of a PDF as a reader aloud meets them: by its tags, through pypdfium2."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import Any

__all__ = ["tables_aloud"]


def tables_aloud(page: Any) -> list[list[tuple[list[str], bool]]]:
    """Return each table of a page as rows: what its cells say, and whether they are heads."""
    import pypdfium2.raw as raw

    said = _said(page)
    tree = raw.FPDF_StructTree_GetForPage(page)
    try:
        roots = [
            raw.FPDF_StructTree_GetChildAtIndex(tree, at)
            for at in range(raw.FPDF_StructTree_CountChildren(tree))
        ]
        return [
            [_row(row, said) for row in _below(table, "TR")]
            for root in roots
            for table in _below(root, "Table")
        ]
    finally:
        raw.FPDF_StructTree_Close(tree)


def _said(page: Any) -> dict[int, str]:
    """Return what stands in each piece of marked content of a page."""
    import pypdfium2.raw as raw

    words = page.get_textpage()
    said: dict[int, str] = {}
    for at in range(raw.FPDFPage_CountObjects(page)):
        piece = raw.FPDFPage_GetObject(page, at)
        if raw.FPDFPageObj_GetType(piece) != raw.FPDF_PAGEOBJ_TEXT:
            continue
        size = raw.FPDFTextObj_GetText(piece, words, None, 0)
        buffer = ctypes.create_string_buffer(size)
        told = ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort))
        raw.FPDFTextObj_GetText(piece, words, told, size)
        mark = raw.FPDFPageObj_GetMarkedContentID(piece)
        said[mark] = said.get(mark, "") + buffer.raw.decode("utf-16-le").rstrip("\0")
    return said


def _row(row: Any, said: dict[int, str]) -> tuple[list[str], bool]:
    heads = [_text(cell, said) for cell in _below(row, "TH")]
    cells = [_text(cell, said) for cell in _below(row, "TD")]
    assert not (heads and cells), "a row is of heads or of cells"
    return heads or cells, bool(heads)


def _kind(element: Any) -> str:
    import pypdfium2.raw as raw

    size = raw.FPDF_StructElement_GetType(element, None, 0)
    buffer = ctypes.create_string_buffer(size)
    raw.FPDF_StructElement_GetType(element, buffer, size)
    return buffer.raw.decode("utf-16-le").rstrip("\0")


def _children(element: Any) -> Iterator[Any]:
    import pypdfium2.raw as raw

    for at in range(raw.FPDF_StructElement_CountChildren(element)):
        child = raw.FPDF_StructElement_GetChildAtIndex(element, at)
        if child:
            yield child


def _below(element: Any, kind: str) -> Iterator[Any]:
    """Yield what of a kind stands below an element, not below one of its own kind."""
    if _kind(element) == kind:
        yield element
        return
    for child in _children(element):
        yield from _below(child, kind)


def _text(element: Any, said: dict[int, str]) -> str:
    import pypdfium2.raw as raw

    marks = [
        raw.FPDF_StructElement_GetMarkedContentIdAtIndex(element, at)
        for at in range(raw.FPDF_StructElement_GetMarkedContentIdCount(element))
    ]
    own = [said[mark] for mark in marks if mark in said]
    return " ".join([*own, *(_text(child, said) for child in _children(element))]).strip()

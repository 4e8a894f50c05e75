"""Rendered sheets against stored pictures, each of which somebody looked at."""

from __future__ import annotations

from functools import cache

import pytest
from made_study import made_document, made_relief
from pictured import FOLDER, PAGES, difference, rendered
from PIL import Image, ImageChops, ImageDraw

from routing.papers.sheet import sheet_pdf

MOST = 0.04
"""Most that a tile may differ [-]: a line of small letters that is gone differs by more."""


@cache
def pages() -> dict[str, Image.Image]:
    doc = made_document(count=300)
    return rendered(sheet_pdf(doc, made_relief(doc)))


@pytest.mark.parametrize("name", list(PAGES))
def test_sheet__looks_as_stored(name: str) -> None:
    stored = Image.open(FOLDER / f"sheet-{name}.png").convert("L")
    apart = difference(pages()[name], stored)
    assert apart < MOST, (
        f"{name} differs by {apart:.3f}; look at it, then run tests/support/pictured.py"
    )


def test_difference__notices_what_is_gone_and_what_has_moved() -> None:
    stored = Image.open(FOLDER / "sheet-plan.png").convert("L")
    assert difference(stored, stored) == 0.0
    gone = stored.copy()
    wide, high = gone.size
    ImageDraw.Draw(gone).rectangle((0.1 * wide, 0.62 * high, 0.16 * wide, 0.66 * high), fill=255)
    assert difference(stored, gone) > 1.5 * MOST
    assert difference(stored, ImageChops.offset(stored, 4, 0)) > 2.0 * MOST
    assert difference(stored, stored.resize((wide // 2, high // 2))) == 1.0

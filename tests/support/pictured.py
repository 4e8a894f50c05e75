"""Rendered pages beside stored pictures, compared as an eye would: blurred, in shades of grey.

Run it to store the pictures anew, then look at each of them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

__all__ = ["FOLDER", "PAGES", "difference", "rendered"]

FOLDER = Path(__file__).resolve().parents[1] / "routing" / "papers" / "pictures"
PAGES = {"cover": "Cover", "key": "Key plan", "plan": "Plan and", "details": "Details"}
"""Stored pages of the made study: each the first whose title begins so."""
WIDE_PX = 720
"""Width of a stored picture [px]."""
BLUR_PX = 1.2
"""Blur before comparing, so that a hair's shift of a letter does not count [px]."""
TILE_PX = 12
"""Side of a tile; the tile that differs most counts [px]."""


def rendered(pdf: bytes) -> dict[str, Image.Image]:
    """Return the pages that are stored, as grey pictures."""
    import pypdfium2

    book = pypdfium2.PdfDocument(pdf)
    titles = [item.get_title() for item in book.get_toc()]
    found = {}
    for name, words in PAGES.items():
        page = book[next(k for k, title in enumerate(titles) if title.startswith(words))]
        scale = WIDE_PX / page.get_width()
        found[name] = page.render(scale=scale).to_pil().convert("L")
    return found


def difference(one: Image.Image, two: Image.Image) -> float:
    """Return by how much the tile that differs most does, 0 for none to 1 for black on white."""
    if one.size != two.size:
        return 1.0
    blurred = [
        np.asarray(each.filter(ImageFilter.GaussianBlur(BLUR_PX)), dtype=np.float64) / 255.0
        for each in (one, two)
    ]
    apart = np.abs(blurred[0] - blurred[1])
    high, wide = (side // TILE_PX * TILE_PX for side in apart.shape)
    tiles = apart[:high, :wide].reshape(high // TILE_PX, TILE_PX, wide // TILE_PX, TILE_PX)
    return float(tiles.mean(axis=(1, 3)).max())


if __name__ == "__main__":
    from made_study import made_document, made_relief

    from routing.papers.sheet import sheet_pdf

    made = made_document(count=300)
    FOLDER.mkdir(exist_ok=True)
    for name, picture in rendered(sheet_pdf(made, made_relief(made))).items():
        picture.save(FOLDER / f"sheet-{name}.png", optimize=True)

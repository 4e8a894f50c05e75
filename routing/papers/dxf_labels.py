"""What stands at the fittings in the model of the DXF, and that none is lettered over another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.fittings import size_text
from routing.papers.cast import unsized_words
from routing.papers.document import Document, at_station, units_of
from routing.papers.set_facts import sides_text
from routing.units import show
from routing.value import dataclass

__all__ = ["Labels", "rating_words", "size_words"]

ROW = 1.3
"""From one line of lettering to the next, in its heights [-]."""
WIDE = 0.85
"""Width of a letter that is allowed for, in its heights [-]."""
MOST_ROWS = 24
"""Lines that a label is moved down at most before it stays where it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """Where lettering stands already: left, lower, right and upper edges; its height."""

    size: float
    taken: list[tuple[float, float, float, float]]

    def place(self, reference: Any) -> None:
        """Move the visible attributes of a block reference down to where nothing else is lettered.

        Its own place stays; attributes that cannot be seen keep theirs.
        """
        shown = [each for each in reference.attribs if not each.dxf.get("invisible", 0)]
        if not shown:
            return
        left, top = shown[0].dxf.insert.x, shown[0].dxf.insert.y + self.size
        right = left + WIDE * self.size * max(len(each.dxf.text) for each in shown)
        low = shown[-1].dxf.insert.y - 0.2 * self.size
        down = self._free(left, low, right, top)
        self.taken.append((left, low - down, right, top - down))
        for each in shown:
            x, y, z = each.dxf.insert
            each.dxf.insert = (x, y - down, z)

    def _free(self, left: float, low: float, right: float, top: float) -> float:
        """Return how far down a label is moved [units of the drawing]."""
        if not self.taken:
            return 0.0
        boxes = np.array(self.taken)
        beside = boxes[(boxes[:, 0] < right) & (boxes[:, 2] > left)]
        for row in range(MOST_ROWS):
            down = row * ROW * self.size
            if not ((beside[:, 1] < top - down) & (beside[:, 3] > low - down)).any():
                return down
        return 0.0


def size_words(doc: Document, item: Mapping[str, Any]) -> str:
    """Return the nominal size of a fitting, or the sides of what is cast."""
    if item.get("size_mm") is not None:
        return size_text(float(item["size_mm"]) / 1000.0, units_of(doc))
    if unsized_words(doc, item):
        return "left open"
    cast = all(item.get(side) for side in ("width_m", "height_m", "length_m"))
    return sides_text(doc, item) if cast else ""


def rating_words(doc: Document, item: Mapping[str, Any]) -> str:
    """Return the pressure that a fitting must bear, else what the pipe there is rated for."""
    given = item.get("rating_kpa")
    kpa = at_station(doc, "rating_kpa", float(item["station_m"])) if given is None else given
    return "" if kpa is None else show(float(kpa) * 1e3, "pressure", units_of(doc))

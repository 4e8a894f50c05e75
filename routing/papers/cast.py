"""How a block or anchor lies about its pipe: one description for pictures, levels and details."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.anchors import anchor_limits
from routing.papers.document import Document
from routing.value import dataclass

__all__ = ["CastShape", "cast_shape", "unsized_words"]

_EVEN_M = 1e-6
_SAME_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class CastShape:
    """Its ends from the centre of the pipe, the way it pushes, and its foot and top above it [m].

    An anchor lies along the pipe.
    """

    start_m: float
    end_m: float
    low_m: float
    high_m: float


def cast_shape(item: Mapping[str, Any], outside_m: float) -> CastShape | None:
    """Return the shape of a block or anchor of the document; None for what is not cast.

    A wedge stands from the fitting to the wall of the trench, centred on the pipe's height. A box
    encloses the pipe, or holds it from below up to its springline where it is no taller.
    """
    if not item.get("length_m"):
        return None
    width, height, length = (float(item[key]) for key in ("width_m", "height_m", "length_m"))
    around = anchor_limits().block_least_around_m
    push = item.get("bearing_deg") is not None
    floor = float(item.get("floor_m2") or 0.0)
    encloses = min(width, length) >= outside_m + 2.0 * around - _EVEN_M
    box = encloses and floor >= width * length - _EVEN_M
    start = 0.5 * outside_m if push and not box else -0.5 * length
    springline = push and box and height < outside_m + around - _EVEN_M
    low = -height if springline else -0.5 * height
    return CastShape(start_m=start, end_m=start + length, low_m=low, high_m=low + height)


def unsized_words(doc: Document, item: Mapping[str, Any]) -> str:
    """Return what is said of a block that the study found wider than is well dug and cast.

    It is not drawn; nothing is said of a block that was sized, nor of an anchor beside it.
    """
    if "hold" not in item:
        return ""
    found = [each for each in doc.get("warnings") or () if each.get("code") == "block_wide"]
    places = [at for each in found for at in (each["station_m"], *(each.get("places_m") or ()))]
    station = float(item["station_m"])
    if not any(at is not None and abs(float(at) - station) < _SAME_M for at in places):
        return ""
    if item.get("soil"):
        return "is too wide for one block: a foundation of its own, by an engineer"
    return "cannot be sized: soil not named"

"""Documents as JSON text that holds neither NaN nor Infinity."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.papers.document import Document
from routing.papers.geojson import geojson

__all__ = ["geojson_text", "json_text"]


def geojson_text(doc: Document) -> str:
    """Return the study as GeoJSON text, without NaN or Infinity."""
    return json_text(geojson(doc))


def json_text(value: Mapping[str, Any]) -> str:
    """Return a document as JSON text: plain numbers, and null for what is missing."""
    return json.dumps(_clean(value), ensure_ascii=False, allow_nan=False)


def _clean(value: Any) -> Any:
    # Most values are numbers and texts: they are asked first.
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, np.ndarray):
        return _clean(value.tolist())
    if isinstance(value, np.generic):
        return _clean(value.item())
    if isinstance(value, Mapping):
        return {str(key): _clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item) for item in value]
    return str(value)

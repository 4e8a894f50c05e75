"""A route from well-known text: one line, or one geometry in each line of the file."""

from __future__ import annotations

import re
from collections import Counter
from typing import Final

import numpy as np

from routing.arrays import FloatArray
from routing.errors import RouteError
from routing.line.files.datum import to_wgs84
from routing.line.files.drawn import MAX_POINTS, DrawnLine, LineChoice, route_from_drawn
from routing.line.route import Route

__all__ = ["looks_like_wkt", "route_from_wkt"]

_HEAD: Final = re.compile(
    r"\s*(?:SRID\s*=\s*(\d{1,6})\s*;)?\s*"
    r"(POINT|LINESTRING|POLYGON|MULTIPOINT|MULTILINESTRING|MULTIPOLYGON|GEOMETRYCOLLECTION)"
    r"\s*(?:ZM|Z|M)?\s*(?=\(|EMPTY)",
    re.IGNORECASE,
)
_BRACKET: Final = re.compile(r"[()]")
_GAP: Final = re.compile(r"[\s;,]*")


def looks_like_wkt(text: str) -> bool:
    """Say whether text begins as well-known text."""
    return _HEAD.match(text) is not None


def route_from_wkt(
    text: str, *, name: str, source: str, line: LineChoice = None, crs: str | None = None
) -> Route:
    """Return the one line of well-known text, WGS 84 unless it begins with SRID=number;."""
    lines: list[DrawnLine] = []
    others: Counter[str] = Counter()
    if text.count(",") > MAX_POINTS or text.count("(") > MAX_POINTS:
        raise _broken(source, f"it holds more than {MAX_POINTS} points")
    at = len(text) - len(text.lstrip())
    while at < len(text):
        head = _HEAD.match(text, at)
        if head is None:
            raise _broken(source, f"{text[at : at + 40].strip()!r} is no geometry")
        kind = head.group(2).upper()
        body, at = _bracketed(text, head.end(), source)
        if kind in ("LINESTRING", "MULTILINESTRING"):
            parts = [_positions(part, source) for part in _innermost(body)]
            system = f"EPSG:{head.group(1)}" if head.group(1) else crs
            if system is not None:
                parts = [to_wgs84(part, system, source=source) for part in parts]
            lines.append(DrawnLine(name=None, parts=tuple(parts)))
        else:
            others[kind.capitalize()] += 1
        gap = _GAP.match(text, at)
        at = at if gap is None else gap.end()
    return route_from_drawn(lines, source=source, name=name, others=others, line=line)


def _bracketed(text: str, at: int, source: str) -> tuple[str, int]:
    """Return what the bracket that opens at ``at`` holds, and where it ends."""
    if text[at : at + 5].upper() == "EMPTY":
        return "", at + 5
    depth = 0
    for match in _BRACKET.finditer(text, at):
        depth += 1 if match.group() == "(" else -1
        if depth == 0:
            return text[at + 1 : match.start()], match.end()
    raise _broken(source, "a bracket is not closed")


def _innermost(body: str) -> list[str]:
    """Return the lists of positions: the body itself, or each bracket in it."""
    inside = re.findall(r"\(([^()]*)\)", body)
    if "(" in body or ")" in body:
        return [part for part in inside if part.strip()]
    return [body] if body.strip() else []


def _positions(part: str, source: str) -> FloatArray:
    """Return "x y, x y" as (n, 2); heights and measures are left aside."""
    rows = []
    for at, position in enumerate(part.split(",")):
        numbers = position.split()
        try:
            rows.append((float(numbers[0]), float(numbers[1])))
        except (IndexError, ValueError) as error:
            raise _broken(source, f"position {at + 1} is {position.strip()[:40]!r}") from error
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


def _broken(source: str, why: str) -> RouteError:
    """Return the error for text that is not sound."""
    return RouteError(
        f"{source} is not sound well-known text: {why}.",
        "Write it as, for example, LINESTRING (7.1 46.3, 7.2 46.2).",
    )

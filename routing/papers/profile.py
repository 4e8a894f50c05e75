"""The profile drawing: ground, pipe as laid, static and flowing lines, vents and drains, as SVG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import numpy as np

from routing.arrays import FloatArray, stretches
from routing.papers.document import Document, column, has_flow, plain, units_of
from routing.papers.layout import spread, ticks
from routing.papers.pressure import surge_lines
from routing.papers.profile_text import bands, footer, header, legend, text
from routing.papers.signs import DRAIN, LOOKS, VENT, sign_shape
from routing.papers.thin import thinned
from routing.units import convert, show, unit_of
from routing.value import dataclass

__all__ = ["profile_svg"]

WIDTH = 1400.0
LEFT, RIGHT = 136.0, 1372.0
PLOT_HEIGHT = 400.0
SIGN = 27.0
FINEST_PX = 0.1
"""Drawn lines stay within this of the exact ones [px]."""
CLOSEST_HIGHS_PX = 7.0
"""Marks of highs and lows of the ground stand at least this far apart; the greatest win [px]."""

STYLE = """
text{font-family:"DejaVu Sans",Verdana,Helvetica,Arial,sans-serif;font-size:12px;fill:#111}
.small{font-size:10.5px}.title{font-size:20px;font-weight:700}.strong{font-weight:700}
.halo{paint-order:stroke;stroke:#fff;stroke-width:3.5px;stroke-linejoin:round}
.grid{stroke:#d4d4d4;stroke-width:.7}.frame{fill:none;stroke:#333}
.ground{fill:none;stroke:#a3741f;stroke-width:1.5;stroke-dasharray:7 3}
.earth{fill:#efe6d3;stroke:none}
.pipe{fill:none;stroke:#000;stroke-width:2.6}
.span{fill:none;stroke:#fff;stroke-width:1.2}.spancase{fill:none;stroke:#000;stroke-width:4.6}
.static{fill:none;stroke:#0072B2;stroke-width:1.5;stroke-dasharray:16 4 2 4}
.surge{fill:none;stroke:#CC79A7;stroke-width:1.4;stroke-dasharray:7 3}
.flowing{fill:none;stroke:#009E73;stroke-width:1.8;stroke-dasharray:2 3}
.assumed{fill:none;stroke:#D55E00;stroke-width:5;stroke-opacity:.45}
.leader{fill:none;stroke:#444;stroke-width:.8}
.mark{fill:none;stroke:#8a6220;stroke-width:1.3}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where stations and elevations lie on the drawing [px]."""

    length_m: float
    low_m: float
    high_m: float
    top: float
    bottom: float

    @property
    def px_per_m_along(self) -> float:
        """Return the horizontal scale."""
        return (RIGHT - LEFT) / self.length_m

    @property
    def px_per_m_up(self) -> float:
        """Return the vertical scale."""
        return (self.bottom - self.top) / (self.high_m - self.low_m)

    def x(self, station_m: Any) -> Any:
        """Return where a station lies, from the left."""
        return LEFT + station_m * self.px_per_m_along

    def y(self, level_m: Any) -> Any:
        """Return where an elevation lies, from the top."""
        return self.bottom - (level_m - self.low_m) * self.px_per_m_up


def profile_svg(doc: Document) -> str:
    """Return the profile drawing of a study as SVG text."""
    head, at = header(doc, WIDTH)
    key, at = legend(doc, LEFT, RIGHT, at)
    vents, drains = list(doc["vents"]), list(doc["drains"])
    strip_top = at + 6.0
    top = strip_top + _strip_height(vents) + 8.0
    frame = _frame(doc, top)
    strip_bottom = frame.bottom + 8.0
    base = strip_bottom + _strip_height(drains) + 4.0
    parts = [*head, *key]
    parts += _grid(doc, frame, strip_top, base)
    parts += _lines(doc, frame)
    parts += _marks(doc, frame)
    parts += _fittings(vents, "vent", frame, strip_top)
    parts += _fittings(drains, "drain", frame, strip_bottom)
    table, at = bands(doc, frame.x, LEFT, RIGHT, base)
    feet, height = footer(doc, at + 14.0, WIDTH)
    name = escape(plain(doc.get("name") or "study"))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:.0f}" '
        f'width="{WIDTH:g}" height="{height:.0f}" role="img" aria-label="Profile of {name}">'
        f"<title>Profile of {name}</title><style>{STYLE}</style>"
        f'<rect width="100%" height="100%" fill="#fff"/>'
        + "".join([*parts, *table, *feet])
        + "</svg>\n"
    )


def _frame(doc: Document, top: float) -> Frame:
    levels = [column(doc, "ground_m"), column(doc, "pipe_m"), _static_line(doc)]
    if has_flow(doc):
        levels.append(column(doc, "pipe_m") + column(doc, "flowing_head_m"))
    levels += surge_lines(doc)[:1]
    low = min(float(np.nanmin(level)) for level in levels)
    high = max(float(np.nanmax(level)) for level in levels)
    pad = 0.02 * max(high - low, 1.0)
    return Frame(
        length_m=float(column(doc, "station_m")[-1]),
        low_m=low - pad,
        high_m=high + pad,
        top=top,
        bottom=top + PLOT_HEIGHT,
    )


def _static_line(doc: Document) -> FloatArray:
    return np.full(len(column(doc, "station_m")), float(doc["summary"]["intake_level_m"]))


def _grid(doc: Document, frame: Frame, top: float, bottom: float) -> list[str]:
    units = units_of(doc)
    to_shown = convert(1.0, "elevation", units)
    parts = []
    for level in ticks(frame.low_m * to_shown, frame.high_m * to_shown, 10):
        y = frame.y(level / to_shown)
        parts.append(f'<path class="grid" d="M{LEFT:g} {y:.1f}H{RIGHT:g}"/>')
        parts.append(text(LEFT - 7, y + 4, f"{level:g}", anchor="end"))
    middle = (frame.top + frame.bottom) / 2
    unit = unit_of("elevation", units)
    parts.append(
        f'<text transform="translate(66 {middle:.0f}) rotate(-90)" text-anchor="middle">'
        f"Elevation [{unit}]</text>"
    )
    ratio = frame.px_per_m_up / frame.px_per_m_along
    parts.append(
        f'<text class="small" transform="translate(82 {middle:.0f}) rotate(-90)" '
        f'text-anchor="middle">vertical scale {ratio:.3g} times the horizontal</text>'
    )
    parts.append(
        f'<rect class="frame" x="{LEFT:g}" y="{top:.1f}" width="{RIGHT - LEFT:g}" '
        f'height="{bottom - top:.1f}"/>'
    )
    return parts


def _lines(doc: Document, frame: Frame) -> list[str]:
    station, ground, pipe = (column(doc, name) for name in ("station_m", "ground_m", "pipe_m"))
    flowing = pipe + column(doc, "flowing_head_m")
    finest_m = FINEST_PX / frame.px_per_m_up
    span, assumed = column(doc, "span"), column(doc, "assumed")
    ends = [np.flatnonzero(np.diff(flag, prepend=0.0, append=0.0)) for flag in (span, assumed)]
    keep = np.clip(np.concatenate([*ends, *(end - 1 for end in ends)]), 0, len(station) - 1)
    index = thinned(station, [ground, pipe, flowing], [finest_m] * 3, keep)
    xs = frame.x(station[index])
    outline = _path(xs, frame.y(ground[index]))
    parts = [
        f'<path class="earth" d="{outline}L{RIGHT:g} {frame.bottom:.1f}H{LEFT:g}Z"/>',
        *_stretches("assumed", xs, frame.y(ground[index]), assumed[index]),
    ]
    level = float(doc["summary"]["intake_level_m"])
    y = frame.y(level)
    parts.append(f'<path class="static" d="M{LEFT:g} {y:.2f}H{RIGHT:g}"/>')
    if has_flow(doc):
        parts.append(f'<path class="flowing" d="{_path(xs, frame.y(flowing[index]))}"/>')
    # The envelope is smooth between stations that the other lines need.
    parts += [
        f'<path class="surge" d="{_path(xs, frame.y(np.maximum(line, frame.low_m)[index]))}"/>'
        for line in surge_lines(doc)
    ]
    pipe_y = frame.y(pipe[index])
    parts.append(f'<path class="pipe" d="{_path(xs, pipe_y)}"/>')
    for name in ("spancase", "span"):
        parts += _stretches(name, xs, pipe_y, span[index])
    # On a coarse scale the ground lies on the pipe: drawn last, it still shows.
    parts.append(f'<path class="ground" d="{outline}"/>')
    label = f"static level {show(level, 'elevation', units_of(doc))}"
    return [*parts, text(RIGHT - 6, y - 5, label, anchor="end", style="small halo")]


def _path(xs: FloatArray, ys: FloatArray) -> str:
    """Return a path through the points, with a gap where y is missing."""
    whole = np.isfinite(ys)
    parts = []
    pen = "M"
    for x, y, drawn in zip(xs.tolist(), ys.tolist(), whole.tolist(), strict=True):
        if drawn:
            parts.append(f"{pen}{x:.2f} {y:.2f}")
        pen = "L" if drawn else "M"
    return "".join(parts)


def _stretches(name: str, xs: FloatArray, ys: FloatArray, flag: FloatArray) -> list[str]:
    """Return one path for each run of points whose flag is set."""
    return [
        f'<path class="{name}" d="{_path(xs[a : b + 1], ys[a : b + 1])}"/>'
        for a, b in stretches(flag > 0)
    ]


def _marks(doc: Document, frame: Frame) -> list[str]:
    """Return the highs and lows of the ground as small chevrons, the greatest first."""
    parts = []
    for kind, sign in (("highs", -1.0), ("lows", 1.0)):
        taken: list[float] = []
        found = doc["ground"][kind]
        for point in sorted(found, key=lambda item: -float(item["prominence_m"])):
            x, y = frame.x(point["station_m"]), frame.y(point["ground_m"]) + sign * 5.0
            if all(abs(x - other) >= CLOSEST_HIGHS_PX for other in taken):
                taken.append(x)
                parts.append(
                    f'<path class="mark" d="M{x - 3.5:.1f} {y:.1f}l3.5 {sign * 5:g}'
                    f'l3.5 {-sign * 5:g}"/>'
                )
    return parts


def _rows(fittings: Sequence[Any]) -> int:
    return max(1, -(-len(fittings) * int(SIGN + 3) // int(RIGHT - LEFT)))


def _strip_height(fittings: Sequence[Any]) -> float:
    return _rows(fittings) * (SIGN + 4.0) if fittings else 0.0


def _fittings(
    fittings: Sequence[Mapping[str, Any]], kind: str, frame: Frame, strip: float
) -> list[str]:
    """Return signs in a strip above or below the graph, each led to its place on the pipe."""
    rows = _rows(fittings)
    half = SIGN / 2
    wanted = [float(frame.x(item["station_m"])) for item in fittings]
    places = spread(wanted, (SIGN + 3.0) / rows, LEFT + half, RIGHT - half)
    leaders, signs = [], []
    for number, (item, x, place) in enumerate(zip(fittings, wanted, places, strict=True)):
        y = float(frame.y(item["pipe_m"]))
        top = strip + (number % rows) * (SIGN + 4.0)
        near = top + SIGN if kind == "vent" else top
        elbow = frame.top - 3.0 if kind == "vent" else frame.bottom + 3.0
        leaders.append(
            f'<path class="leader" d="M{place:.1f} {near:.1f}L{x:.1f} {elbow:.1f}V{y:.1f}"/>'
        )
        signs.append(_dot(kind, x, y))
        sign = sign_shape(
            "vent" if kind == "vent" else "drain",
            plain(item["id"]),
            LOOKS[item["need"]],
        )
        facts = f"{plain(item['id'])}: {plain(item.get('kind') or '')}. {plain(item['reason'])}"
        signs.append(
            f'<g transform="translate({place - half:.1f} {top:.1f}) scale({SIGN / 32:.4f})">'
            f"<title>{escape(facts)}</title>{sign}</g>"
        )
    return [*leaders, *signs]


def _dot(kind: str, x: float, y: float) -> str:
    if kind == "vent":
        shape = f"M{x:.1f} {y - 6:.1f}l4.5 8h-9z"
        return f'<path d="{shape}" fill="{VENT}" stroke="#fff" stroke-width=".8"/>'
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.8" fill="{DRAIN}" stroke="#fff" '
        'stroke-width=".8"/>'
    )

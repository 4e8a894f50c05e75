"""The profile beneath the plan: ground, trench, pipe, head lines, callouts; true to both scales."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.fittings import size_text
from routing.papers.document import Document, column, has_flow, plain, units_of
from routing.papers.land_facts import crossing_words
from routing.papers.layout import nice_step, spread
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.revision import changed, draw_clouds
from routing.papers.sheet.split import Piece, Scales, Window
from routing.papers.signs import LOOKS, Look
from routing.papers.station import station_text
from routing.papers.thin import thinned
from routing.papers.typeset import cap_height, shortened, text_width
from routing.units import convert, show
from routing.value import dataclass
from routing.words import said

__all__ = [
    "ProfileView",
    "crossing_levels",
    "draw_profile",
    "head_lines",
    "limit_lines",
    "plot_height",
]

FINEST_MM = 0.05
"""Drawn lines stay within this of the exact ones [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileView:
    """How stations and elevations come onto the sheet."""

    left: float
    top: float
    bottom: float
    from_m: float
    to_m: float
    scales: Scales

    def x(self, station_m: Any) -> Any:
        """Return where a station lies [mm]."""
        return self.left + (station_m - self.from_m) * 1000.0 / self.scales.along

    def y(self, level_m: Any, window: Window) -> Any:
        """Return where an elevation lies in a stretch of one datum [mm]."""
        return self.bottom - (level_m - window.datum_m) * 1000.0 / self.scales.up

    @property
    def right(self) -> float:
        """Return where the last station lies."""
        return float(self.x(self.to_m))


def plot_height(paper: Paper, bands: int) -> float:
    """Return the height left for the profile between callouts and bands [mm]."""
    used = paper.plan_height + paper.callout_height + bands * paper.band_height
    return paper.frame_height - used - 4.2 * paper.letter


def profile_view(piece: Piece, paper: Paper, bands: int) -> ProfileView:
    """Return where the profile of a sheet lies."""
    top = paper.plan_height + paper.callout_height + 2.2 * paper.letter
    return ProfileView(
        left=paper.gutter,
        top=top,
        bottom=top + plot_height(paper, bands),
        from_m=piece.from_m,
        to_m=piece.to_m,
        scales=piece.scales,
    )


def head_lines(doc: Document) -> Iterable[tuple[str, str, FloatArray]]:
    """Return style, name and elevations of the lines of head that the study holds [m]."""
    pipe, water = column(doc, "pipe_m"), doc["water"]
    weight = float(water["density_kg_m3"]) * float(water["gravity_m_s2"]) / 1000.0
    yield "static", "static level", pipe + column(doc, "static_head_m")
    if has_flow(doc):
        yield "flowing", "hydraulic grade line, aged pipe", pipe + column(doc, "flowing_head_m")
    for name, words in (
        ("surge_max_kpa", "highest with surge"),
        ("surge_min_kpa", "lowest with surge"),
    ):
        pressure = column(doc, name)
        if np.isfinite(pressure).any():
            yield "surge", words, pipe + pressure / weight


def limit_lines(doc: Document) -> Iterable[tuple[str, str, FloatArray]]:
    """Return style, name and elevations up to which rating and test pressure reach [m]."""
    pipe, water = column(doc, "pipe_m"), doc["water"]
    weight = float(water["density_kg_m3"]) * float(water["gravity_m_s2"]) / 1000.0
    rating = column(doc, "rating_kpa")
    if np.isfinite(rating).any():
        yield "rating", "rating of the pipe", pipe + rating / weight
    station, level = column(doc, "station_m"), np.full(len(pipe), np.nan)
    for test in (doc.get("works") or {}).get("tests") or ():
        inside = (station >= float(test["from_m"]) - 1e-6) & (station <= float(test["to_m"]) + 1e-6)
        bottom = float(np.interp(float(test["bottom_station_m"]), station, pipe))
        level[inside] = bottom + float(test["bottom_kpa"]) / weight
    if np.isfinite(level).any():
        yield "test", "test pressure", level


def draw_profile(
    ink: Drawing, doc: Document, piece: Piece, paper: Paper, bands: int
) -> ProfileView:
    """Draw the profile of one sheet and return where it lies."""
    view = profile_view(piece, paper, bands)
    for number, window in enumerate(piece.windows):
        box = Box(float(view.x(window.from_m)), view.top, float(view.x(window.to_m)), view.bottom)
        _grid(ink, doc, view, window, paper, box)
        ink.clip(f"window{number}", box)
        _ground_and_pipe(ink, doc, view, window)
        ink.unclip()
    _heads(ink, doc, view, piece, paper)
    for window in piece.windows[1:]:
        _break(ink, float(view.x(window.from_m)), view, paper)
    ink.rect(Box(view.left, view.top, view.right, view.bottom), "frame")
    _callouts(ink, doc, view, piece, paper)
    return view


def _grid(
    ink: Drawing, doc: Document, view: ProfileView, window: Window, paper: Paper, box: Box
) -> None:
    """Rule elevations and letter them at the left of each stretch of one datum."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "elevation", units)
    room = (view.bottom - view.top) * view.scales.up / 1000.0
    step = nice_step(room / metres, max(int((view.bottom - view.top) / (2.4 * paper.letter)), 1))
    first, last = window.datum_m / metres, (window.datum_m + room) / metres
    high = cap_height(paper.small)
    for number in range(math.ceil(first / step - 1e-9), math.floor(last / step + 1e-9) + 1):
        y = float(view.y(number * step * metres, window))
        ink.line(box.left, y, box.right, y, "hair")
        words = f"{number * step:g}"
        if box.left == view.left:
            ink.line(box.left - 0.8, y, box.left, y, "tick")
            base = min(max(y + high / 2.0, view.top + high), view.bottom)
            ink.text(box.left - 1.2, base, words, paper.small, anchor="end", layer="elevation")
        elif (
            box.right - box.left > 4.0 * paper.small
            and view.top + high + 1.0 < y < view.bottom - 1.0
        ):
            ink.text(box.left + 1.6, y - 0.3, words, paper.small, halo=True, layer="elevation")


def _ground_and_pipe(ink: Drawing, doc: Document, view: ProfileView, window: Window) -> None:
    station = column(doc, "station_m")
    ground, pipe = column(doc, "ground_m"), column(doc, "pipe_m")
    margin = 0.02 * (view.to_m - view.from_m)
    near = (station >= window.from_m - margin) & (station <= window.to_m + margin)
    edge = np.flatnonzero(near)
    start, end = max(int(edge[0]) - 1, 0) if len(edge) else 0, int(edge[-1]) + 2 if len(edge) else 2
    part = slice(start, end)
    up = 1000.0 / view.scales.up
    kept = thinned(
        station[part],
        [ground[part], pipe[part]],
        [FINEST_MM / up, FINEST_MM / up],
    )
    at = station[part][kept]
    x = view.x(at)
    level, radius = pipe[part][kept], _radius(doc, at)
    trench = doc.get("trench") or {}
    bottom = level - radius - float(trench.get("bedding_m") or 0.0)
    above = column(doc, "span")[part][kept] > 0
    ink.path(x, view.y(np.where(above, np.nan, bottom), window), "trench")
    crown, invert = view.y(level + radius, window), view.y(level - radius, window)
    ink.path(np.append(x, x[::-1]), np.append(crown, invert[::-1]), "wall", close=True)
    ink.path(x, view.y(ground[part][kept], window), "ground")


def _radius(doc: Document, at: FloatArray) -> FloatArray:
    """Return half the outside diameter at stations [m]."""
    assumed = float((doc.get("trench") or {}).get("outside_diameter_m") or 0.2)
    radius = np.full(len(at), assumed / 2.0)
    for pipe in doc.get("pipes") or ():
        radius[at >= float(pipe["from_m"])] = float(pipe["outside_diameter_m"]) / 2.0
    return radius


def _heads(ink: Drawing, doc: Document, view: ProfileView, piece: Piece, paper: Paper) -> None:
    """Draw lines of head where they come into view; say where one runs above the sheet."""
    station = column(doc, "station_m")
    for style, _, level in (*head_lines(doc), *limit_lines(doc)):
        for number, window in enumerate(piece.windows):
            box = Box(
                float(view.x(window.from_m)), view.top, float(view.x(window.to_m)), view.bottom
            )
            at = np.linspace(window.from_m, window.to_m, 200)
            y = view.y(np.interp(at, station, level), window)
            if ((y >= view.top) & (y <= view.bottom)).any():
                ink.clip(f"{style}{number}{len(ink.parts)}", box)
                ink.path(view.x(at), y, style)
                ink.unclip()


def _break(ink: Drawing, x: float, view: ProfileView, paper: Paper) -> None:
    """Mark where the elevation of the lower edge changes: a band with a ragged look."""
    half, tooth = 0.5, 1.4 * paper.letter
    count = max(int((view.bottom - view.top) / tooth), 1) * 2
    y = np.linspace(view.top, view.bottom, count + 1)
    side = np.where(np.arange(count + 1) % 2 == 0, -half, half)
    ink.path(
        np.concatenate([x + side - 0.45, (x + side + 0.45)[::-1]]),
        np.concatenate([y, y[::-1]]),
        "break",
        close=True,
    )


def _callouts(ink: Drawing, doc: Document, view: ProfileView, piece: Piece, paper: Paper) -> None:
    """Letter every vent, drain and change of pipe of the sheet upright, with a line down to it."""
    rows = sorted(_called(doc, piece), key=lambda row: row[0])
    levels = crossing_levels(doc)
    if not rows:
        return
    size = paper.letter
    places = spread(
        [float(view.x(at)) for at, *_ in rows],
        1.25 * size,
        view.left + 0.5 * size,
        ink.width - 0.8 * size,
    )
    base = view.top - 2.0 * size
    station, pipe = column(doc, "station_m"), column(doc, "pipe_m")
    sign = 1.0 * size
    room = paper.callout_height - 1.0 * size
    news, spots = changed(doc), list[Box]()
    for (at, kind, told, look), place in zip(rows, places, strict=True):
        words = shortened(told, size, room, bold=kind in ("vent", "drain"))
        window = next(w for w in piece.windows if at <= w.to_m + 1e-6)
        level = levels.get(told.partition(" ")[0], float(np.interp(at, station, pipe)))
        x, y = float(view.x(at)), float(view.y(level, window))
        bend = base + 0.5 * size
        ink.poly([(place, base), (place, bend), (x, view.top), (x, y)], "fine", close=False)
        ink.text(
            place + cap_height(size) / 2.0,
            base - sign - 0.3,
            words,
            size,
            anchor="up",
            bold=kind in ("vent", "drain"),
            layer="callout",
        )
        if kind in ("vent", "drain", "crossing"):
            ink.mark(kind, place, base - sign / 2.0, sign, look)
            ink.mark(kind, x, y, 0.8 * sign, look)
        if told.partition(" ")[0] in news:
            spots.append(Box(x - sign / 2.0, y - sign / 2.0, x + sign / 2.0, y + sign / 2.0))
    free = Free(Box(view.left, view.top, view.right, view.bottom))
    free.take(*(label.box for label in ink.labels))
    _services(ink, doc, view, piece, (paper, free))
    draw_clouds(ink, doc, paper, spots, free)


def _called(doc: Document, piece: Piece) -> Iterable[tuple[float, Any, str, Look]]:
    def on(at: float) -> bool:
        return piece.from_m - 1e-6 <= at <= piece.to_m + 1e-6

    for kind, name in (("vent", "vents"), ("drain", "drains")):
        for item in doc[name]:
            at = float(item["station_m"])
            if on(at):
                yield at, kind, _fitting_words(doc, item), LOOKS[item["need"]]
    for item in doc.get("crossings") or ():
        at = float(item["station_m"])
        if on(at):
            # Its station stands on the plan; the name must not be cut off for it.
            yield at, "crossing", f"{plain(item['id'])} · {crossing_words(item)}", "solid"
    for pipe in doc.get("pipes") or ():
        at = float(pipe["from_m"])
        if on(at) and at > 0.0:
            yield at, "class", f"pipe changes · {station_text(doc, at)}", "solid"


def crossing_levels(doc: Document) -> Mapping[str, float]:
    """Return the level of each crossing [m]: the top of a service if it is known, else the ground.

    >>> crossing_levels({"crossings": [{"id": "X1", "ground_m": 90.0, "top_m": 0.8}]})
    {'X1': 89.2}
    """
    return {
        plain(item["id"]): float(item["ground_m"]) - float(item.get("top_m") or 0.0)
        for item in doc.get("crossings") or ()
    }


def _services(
    ink: Drawing, doc: Document, view: ProfileView, piece: Piece, place: tuple[Paper, Free]
) -> None:
    """Say beside each buried service how deep it lies, or that nobody knows."""
    free, size, levels = place[1], place[0].small, crossing_levels(doc)
    for item in doc.get("crossings") or ():
        at, top = float(item["station_m"]), item.get("top_m")
        if item["kind"] != "service" or not piece.from_m <= at <= piece.to_m:
            continue
        name = plain(item["id"])
        words = f"{name}: level not known: find before digging"
        if top is not None:
            words = f"{name}: top {show(float(top), 'depth', units_of(doc))} deep"
        window = next(w for w in piece.windows if at <= w.to_m + 1e-6)
        x, y = float(view.x(at)), float(view.y(levels[name], window))
        wide, high = text_width(said(words), size), cap_height(size)
        reach = (1.2 * size, 3.0 * size, 6.0 * size, 10.0 * size, 16.0 * size)
        found = free.place(x, y, wide + 1.0, high + 1.0, reach[0], reach)
        if found is None:
            continue
        if found.leader is not None:
            ink.line(x, y, *found.leader, "fine")
        ink.text(found.box.left + 0.5, found.box.bottom - 0.5, words, size, halo=True)


def _fitting_words(doc: Document, item: Mapping[str, Any]) -> str:
    """Return number, station and size; the kind stands in the schedule."""
    words = f"{plain(item['id'])} · {station_text(doc, item['station_m'])}"
    size = item.get("size_mm")
    if size is None:
        return words
    return f"{words} · {size_text(size / 1000.0, units_of(doc))}"

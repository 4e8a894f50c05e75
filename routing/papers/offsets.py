"""Offset stakes: two beside the trench, clear of its edge, from which a place is found when dug."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, Literal

import numpy as np

from routing.line.ground.places import degree_m
from routing.papers.cast import cast_shape, unsized_words
from routing.papers.document import Document, column, near_meridian, units_of
from routing.trade_table import named_numbers
from routing.units import convert
from routing.value import dataclass

__all__ = ["Beside", "OffsetStake", "Offsets"]

Side = Literal["left", "right"]
_COLUMNS = ("station_m", "lat", "ground_m", "invert_m", "side_slope", "pipe_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetStake:
    """One stake: how far from the centre of the pipe, where, and the ground there by the raster."""

    distance_m: float
    lon: float
    lat: float
    ground_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offsets:
    """The two stakes of a place, and the level that is dug or built to below it.

    ``side`` is as seen down the line; ``bearing_deg`` is the way from the stakes to the place,
    clockwise from true north.
    """

    side: Side
    bearing_deg: float
    level_m: float
    level_of: str
    stakes: tuple[OffsetStake, OffsetStake]


class Beside:
    """The ground beside a study's line, where stakes stand."""

    def __init__(self, doc: Document) -> None:
        """Take the columns of a study that places beside the line are found by."""
        self._doc = doc
        self._columns = {name: column(doc, name) for name in _COLUMNS}
        lon = column(doc, "lon")
        self._columns["lon"] = near_meridian(lon, float(lon[0]))
        self._number = named_numbers(__file__, "offset_stakes.csv")

    def ways(self, station_m: float) -> tuple[float, float]:
        """Return the bearings up and down the line from a station, clockwise from north [deg]."""
        beside, station = self._number["beside_m"], self._columns["station_m"]
        found = []
        for step in (-beside, beside):
            at = np.clip([station_m, station_m + step], station[0], station[-1])
            if at[0] == at[1]:  # beyond an end: straight on
                at = np.clip([station_m - step, station_m], station[0], station[-1])
            lon, lat = (np.interp(at, station, self._columns[key]) for key in ("lon", "lat"))
            east, north = (float(length) for length in degree_m(float(lat[0])))
            way = math.atan2(float(lon[1] - lon[0]) * east, float(lat[1] - lat[0]) * north)
            found.append(math.degrees(way) % 360.0)
        return found[0], found[1]

    def at(self, station_m: float) -> Offsets | None:
        """Return the stakes of a place on the line; None where ground or pipe is not known.

        They stand square to the line, at a corner on the line that halves it: away from the push
        of a block, else outside a corner, else uphill, where no spoil is thrown. The first is clear
        of the edge of a trench with walls sloped one to one, or of its bench. The level is that of
        what is dug or built there: the bottom of a block or anchor, the underside of the pipe on a
        span, else the bottom of the trench.
        """
        at = {key: self._value(key, station_m) for key in self._columns}
        if not np.isfinite([at[key] for key in ("lon", "lat", "ground_m", "invert_m")]).all():
            return None
        span = self._on_span(station_m)
        level, level_of = self._level(station_m, at["invert_m"], span)
        up, down = self.ways(station_m)
        turn = (down - up) % 360.0 - 180.0  # to the right positive
        side = self._side(station_m, turn, at["side_slope"], down - turn / 2.0)
        sign = 1.0 if side == "right" else -1.0
        towards = (down - turn / 2.0 + 90.0 * sign) % 360.0
        inside = turn * sign > 0.0
        share = math.cos(math.radians(turn / 2.0)) if inside else 1.0
        least = self._number["clear_m"]
        least += 0.0 if span else self._edge(station_m, max(at["ground_m"] - level, 0.0))
        distances = self._distances(least / max(share, self._number["sharpest"]))
        first, second = (self._stake(at, away, towards, sign) for away in distances)
        bearing = (towards + 180.0) % 360.0
        return Offsets(
            side=side, bearing_deg=bearing, level_m=level, level_of=level_of, stakes=(first, second)
        )

    def _value(self, key: str, station_m: float) -> float:
        return float(np.interp(station_m, self._columns["station_m"], self._columns[key]))

    def _stake(
        self, at: Mapping[str, float], away: float, towards: float, sign: float
    ) -> OffsetStake:
        east, north = (float(length) for length in degree_m(at["lat"]))
        sine, cosine = math.sin(math.radians(towards)), math.cos(math.radians(towards))
        ground = at["ground_m"] + sign * away * at["side_slope"]
        return OffsetStake(
            distance_m=away,
            lon=(at["lon"] + away * sine / east + 180.0) % 360.0 - 180.0,
            lat=at["lat"] + away * cosine / north,
            ground_m=ground if math.isfinite(ground) else None,
        )

    def _side(self, station_m: float, turn: float, slope: float, ahead: float) -> Side:
        """Return the side of the stakes, looking down the line; ``ahead`` is its bearing [deg]."""
        for block in self._cast(station_m):
            push = float(block.get("bearing_deg", ahead))
            across = math.sin(math.radians(push - ahead))
            if abs(across) > self._number["aside"]:  # pushed to the right: stakes on the left
                return "left" if across > 0.0 else "right"
        if abs(turn) >= self._number["corner_deg"]:
            return "left" if turn > 0.0 else "right"
        return "right" if slope > 0.0 else "left"

    def _level(self, station_m: float, invert_m: float, span: bool) -> tuple[float, str]:
        """Return the level that is dug or built to, and what lies there."""
        bedding = float((self._doc.get("trench") or {}).get("bedding_m") or 0.0)
        level, of = invert_m - self._of_pipe("wall_m", station_m), "underside of the pipe"
        if not span:
            level, of = level - bedding, "trench bottom"
        for item in self._cast(station_m):
            if unsized_words(self._doc, item):
                continue
            centre = item.get("pipe_m")
            centre = self._value("pipe_m", station_m) if centre is None else float(centre)
            shape = cast_shape(item, self._outside(station_m))
            bottom = centre + (0.0 if shape is None else shape.low_m)
            if bottom < level:
                level, of = bottom, "bottom of the concrete"
        return level, of

    def _cast(self, station_m: float) -> Iterator[Mapping[str, Any]]:
        """Yield the blocks and anchors that are cast at a place."""
        near = self._number["same_place_m"]
        for key in ("blocks", "anchors"):
            for item in self._doc.get(key) or ():
                if item.get("length_m") and abs(float(item["station_m"]) - station_m) <= near:
                    yield item

    def _on_span(self, station_m: float) -> bool:
        spans = (self._doc.get("trench") or {}).get("spans") or ()
        return any(float(s["from_m"]) <= station_m <= float(s["to_m"]) for s in spans)

    def _edge(self, station_m: float, depth: float) -> float:
        """Return how far from the centre of the pipe the ground is dug away at most [m]."""
        trench = self._doc.get("trench") or {}
        edge = float(trench.get("width_m") or 0.0) / 2.0 + depth
        bench = trench.get("bench") or {}
        for stretch in bench.get("stretches") or ():
            if float(stretch["from_m"]) <= station_m <= float(stretch["to_m"]):
                return max(edge, float(bench["width_m"]))
        return edge

    def _distances(self, least: float) -> tuple[float, float]:
        """Return how far both stakes stand from the pipe, round in the study's units [m]."""
        units = units_of(self._doc)
        own = convert(1.0, "length", units)
        step = self._number[f"step_{units}"] / own
        first = step * math.ceil(least / step - 1e-9)
        return first, first + self._number[f"between_{units}"] / own

    def _outside(self, station_m: float) -> float:
        """Return the outside diameter of the pipe at a station [m]."""
        laid_for = float((self._doc.get("trench") or {}).get("outside_diameter_m") or 0.0)
        return self._of_pipe("outside_diameter_m", station_m, laid_for)

    def _of_pipe(self, key: str, station_m: float, otherwise: float = 0.0) -> float:
        """Return a size of the pipe at a station; where none was chosen, another [m]."""
        found = otherwise
        for pipe in self._doc.get("pipes") or ():
            if float(pipe["from_m"]) <= station_m + 1e-6:
                found = float(pipe.get(key, otherwise))
        return found

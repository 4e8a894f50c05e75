"""The line as built: places taken beside the drawn line, and what they make of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.crew import Record, last_words
from routing.errors import InputError
from routing.line import Route, geodesic_stations
from routing.line.ground.places import degree_m, turned
from routing.papers.document import Document, column
from routing.papers.things import things
from routing.trench import BuiltLevels
from routing.value import dataclass

__all__ = ["BuiltLine", "BuiltPlace", "built_line", "planned_place"]

MOST_OFF_M = 50.0
"""A place farther off the line than this is of another line, or mistyped [m]: our own choice."""
SAME_PLACE_M = 0.05
"""Places nearer to each other than this are one, and the later one counts [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltPlace:
    """A place as built: its station on the plan, and how far it lies to the right of it [m].

    ``accuracy_m`` is how well the position is known, zero where it was taped from the line. A place
    that lies no farther off than that tells nothing, and ``moves`` is false. ``depth_m`` is how
    deep the plan has the pipe's centre below the ground there.
    """

    of: str | None
    station_m: float
    off_m: float
    accuracy_m: float
    moves: bool
    depth_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltLine:
    """The line that was built, and stations of the plan beside those on it, shape (k,) [m]."""

    route: Route
    places: tuple[BuiltPlace, ...]
    planned_m: FloatArray
    built_m: FloatArray

    def __post_init__(self) -> None:
        for name in ("planned_m", "built_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def moved(self) -> bool:
        """Whether any place lies beside the plan."""
        return any(place.moves for place in self.places)

    def station(self, planned_m: FloatArray | float) -> FloatArray:
        """Return where stations of the plan lie on the line as built [m]."""
        return np.asarray(np.interp(planned_m, self.planned_m, self.built_m))

    def levels(self, built: BuiltLevels) -> BuiltLevels:
        """Return levels as built with their stations, and what lies beside, on this line.

        Where a place lies beside the plan and nobody levelled it, nor within a stick of it, the
        pipe is taken to lie as deep as planned below the ground that is there.
        """
        beside = [place for place in self.places if place.moves]
        taken = np.append(built.station_m, np.inf)
        bare = [
            place
            for place in beside
            if float(np.min(np.abs(taken - place.station_m))) >= max(built.stick_m, SAME_PLACE_M)
        ]
        return replace(
            built,
            station_m=self.station(built.station_m),
            planned_station_m=self.station(built.planned_station_m),
            breaks_m=self.station(built.breaks_m),
            beside_at_m=self.station(np.array([place.station_m for place in beside])),
            beside_m=np.array([place.off_m for place in beside]),
            assumed_of=tuple(place.of for place in bare),
            assumed_at_m=self.station(np.array([place.station_m for place in bare])),
            assumed_depth_m=np.array([place.depth_m for place in bare]),
        )

    def record(self, record: Record) -> Record:
        """Return a record with its station on this line."""
        at = record["station_m"]
        return record if at is None else {**record, "station_m": float(self.station(float(at)))}


def built_line(doc: Document, records: Sequence[Record], stick_m: float) -> BuiltLine:
    """Return the line that records as built say of a study's drawn line.

    The newest record of a thing or place counts. It lies square to the plan by its ``offset_m``,
    else where its position says. Between places taken the distance from the plan runs straight,
    and to nothing at every vertex of the plan that nobody took, farther than a stick from one
    that was.

    Parameters
    ----------
    doc : mapping
        The study that was built from
    records : sequence of dict
        What crews brought home; only those as built with an offset or a position count
    stick_m : float
        Length of a stick of its pipe [m]

    Returns
    -------
    built : BuiltLine
        The drawn line itself where no place lies beside it

    Raises
    ------
    InputError
        If a place cannot be of this line.
    """
    lon, lat = (np.array(doc["route"][key], dtype=np.float64) for key in ("lon", "lat"))
    station = np.array(doc["route"]["station_m"], dtype=np.float64)
    places = _places(doc, records, (station, lon, lat))
    route = Route(name=str(doc["route"]["name"]), lon=lon, lat=lat)
    if not any(place.moves for place in places):
        return BuiltLine(route=route, places=places, planned_m=station, built_m=station)
    at = np.array([place.station_m for place in places])
    off = np.array([place.off_m if place.moves else 0.0 for place in places])
    apart = np.min(np.abs(station[:, None] - at), axis=1)
    kept = station[apart >= max(stick_m, 1e-6)]
    knots, order = np.unique(np.concatenate([at, kept]), return_index=True)
    distance = np.concatenate([off, 0.0 * kept])[order]
    vertices = np.unique(np.concatenate([station, at[np.abs(off) > 0.0]]))
    close = np.min(np.abs(vertices[:, None] - station), axis=1)
    vertices = vertices[(close == 0.0) | (close > SAME_PLACE_M)]
    east, north = _normals(vertices, station, lon, lat)
    away = np.interp(vertices, knots, distance)
    x, y = np.interp(vertices, station, lon), np.interp(vertices, station, lat)
    wide, high = degree_m(y)
    route = Route(
        name=str(doc["route"]["name"]), lon=x + away * east / wide, lat=y + away * north / high
    )
    return BuiltLine(
        route=route,
        places=places,
        planned_m=vertices,
        built_m=np.asarray(geodesic_stations(route.lon, route.lat)),
    )


def planned_place(doc: Document, station_m: float, off_m: float = 0.0) -> tuple[float, float]:
    """Return longitude and latitude of a place so far to the right of a study's drawn line."""
    station, lon, lat = (
        np.array(doc["route"][key], dtype=np.float64) for key in ("station_m", "lon", "lat")
    )
    at = np.array([station_m])
    x, y = np.interp(at, station, lon), np.interp(at, station, lat)
    east, north = _normals(at, station, lon, lat)
    wide, high = degree_m(y)
    return float((x + off_m * east / wide)[0]), float((y + off_m * north / high)[0])


Line = tuple[FloatArray, FloatArray, FloatArray]


def _places(doc: Document, records: Sequence[Record], line: Line) -> tuple[BuiltPlace, ...]:
    found: dict[float, BuiltPlace] = {}
    stations = column(doc, "station_m")
    depth = column(doc, "ground_m") - column(doc, "pipe_m")
    said = [
        each for each in records
        if each["kind"] == "asbuilt"
        and (each.get("offset_m") is not None or each.get("lon") is not None)
    ]  # fmt: skip
    for each in sorted(last_words(said, "asbuilt").values(), key=lambda one: str(one["time"])):
        if each.get("offset_m") is not None:
            at = each["station_m"]
            if at is None:
                at = next((t.station_m for t in things(doc) if t.id == each["of"]), None)
            if at is None:
                raise InputError(
                    f"The record as built of {each['of']} says no station.", "Give station_m."
                )
            off, accuracy = float(each["offset_m"]), 0.0
        else:
            at, off = _located(line, float(each["lon"]), float(each["lat"]))
            accuracy = float(each.get("accuracy_m") or 0.0)
        at = min(max(float(at), 0.0), float(line[0][-1]))
        if abs(off) > MOST_OFF_M + accuracy:
            raise InputError(
                f"{each['of'] or 'A place'} as built lies {abs(off):.0f} m off the line at station "
                f"{at:.1f} m.",
                "Give positions on this line, to the right of it positive.",
                station_m=at,
            )
        for known in [known for known in found if abs(known - at) < SAME_PLACE_M]:
            del found[known]
        found[at] = BuiltPlace(
            of=each["of"],
            station_m=at,
            off_m=off,
            accuracy_m=accuracy,
            moves=abs(off) > accuracy,
            depth_m=float(np.interp(at, stations, depth)),
        )
    return tuple(found[at] for at in sorted(found))


def _located(line: Line, lon: float, lat: float) -> tuple[float, float]:
    """Return station and distance to the right of the nearest place of the drawn line [m]."""
    station, x, y = line
    wide, high = degree_m(np.full(x.size, lat))
    east, north = turned(x - lon) * wide, (y - lat) * high
    leg_e, leg_n = np.diff(east), np.diff(north)
    square = np.maximum(leg_e**2 + leg_n**2, 1e-12)
    share = np.clip(-(east[:-1] * leg_e + north[:-1] * leg_n) / square, 0.0, 1.0)
    away_e, away_n = -(east[:-1] + share * leg_e), -(north[:-1] + share * leg_n)
    leg = int(np.argmin(np.hypot(away_e, away_n)))
    right = away_e[leg] * leg_n[leg] - away_n[leg] * leg_e[leg]
    at = station[leg] + share[leg] * (station[leg + 1] - station[leg])
    return float(at), float(np.copysign(np.hypot(away_e[leg], away_n[leg]), right))


def _normals(
    at: FloatArray, station: FloatArray, lon: FloatArray, lat: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the ways to the right of the line at stations, those of both legs at a vertex."""
    wide, high = degree_m(0.5 * (lat[1:] + lat[:-1]))
    east, north = turned(np.diff(lon)) * wide, np.diff(lat) * high
    run = np.hypot(east, north)
    right = np.stack([north / run, -east / run])  # of each leg
    last = station.size - 2
    ahead = np.clip(np.searchsorted(station, at, side="right") - 1, 0, last)
    behind = np.clip(np.searchsorted(station, at, side="left") - 1, 0, last)
    both = right[:, ahead] + right[:, behind]
    # Both legs keep the distance: the sum of their normals over half its own square.
    length = np.maximum(np.sum(both**2, axis=0) / 2.0, 0.5)
    return both[0] / length, both[1] / length

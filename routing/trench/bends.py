"""Changes of direction of the pipe, in three dimensions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import overload

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray, IntArray, frozen
from routing.value import dataclass

__all__ = [
    "LEAST_BEND_DEG",
    "Bend",
    "Bends",
    "deflection_rad",
    "deflections_deg",
    "find_bends",
    "indices_of",
    "vertex_turns_rad",
]

LEAST_DEFLECTION_DEG = 2.0
"""Smaller changes are taken up by joints and the pipe itself [degrees] (common practice)."""
LEAST_BEND_DEG = 11.25
"""Deflection from which a bend is a fitting of its own: that of the slightest made one [degrees].

Common practice, no source; slighter turns are made at the joints or by curving the pipe.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """One change of direction; angles in degrees, vertical positive where the line turns upward."""

    id: str
    index: int
    station_m: float
    plan_deg: float
    vertical_deg: float
    deflection_deg: float


class Bends(Sequence[Bend]):
    """Bends in order of station, as columns (b,); a :class:`Bend` is made when one is asked for.

    A long line being dragged has hundreds that nobody asks for.
    """

    __slots__ = ("_made", "deflection_deg", "indices", "plan_deg", "station_m", "vertical_deg")

    def __init__(
        self,
        *,
        indices: IntArray,
        station_m: FloatArray,
        plan_deg: FloatArray,
        vertical_deg: FloatArray,
        deflection_deg: FloatArray,
    ) -> None:
        self.indices = frozen(indices, np.int64)
        self.station_m = frozen(station_m)
        self.plan_deg = frozen(plan_deg)
        self.vertical_deg = frozen(vertical_deg)
        self.deflection_deg = frozen(deflection_deg)
        self._made: tuple[Bend, ...] | None = None

    def __len__(self) -> int:
        return self.indices.size

    @overload
    def __getitem__(self, at: int) -> Bend: ...

    @overload
    def __getitem__(self, at: slice) -> tuple[Bend, ...]: ...

    def __getitem__(self, at: int | slice) -> Bend | tuple[Bend, ...]:
        return self._all()[at]

    def __iter__(self) -> Iterator[Bend]:
        return iter(self._all())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Bends | tuple) and self._all() == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all())

    def __repr__(self) -> str:
        return f"Bends{self._all()!r}"

    def _all(self) -> tuple[Bend, ...]:
        if self._made is None:
            columns = (
                self.indices, self.station_m, self.plan_deg, self.vertical_deg, self.deflection_deg
            )  # fmt: skip
            rows = zip(*(column.tolist() for column in columns), strict=True)
            self._made = tuple(
                Bend(
                    id=f"B{number}",
                    index=at,
                    station_m=station,
                    plan_deg=plan,
                    vertical_deg=vertical,
                    deflection_deg=deflection,
                )
                for number, (at, station, plan, vertical, deflection) in enumerate(rows, start=1)
            )
        return self._made


def deflections_deg(bends: Sequence[Bend]) -> FloatArray:
    """Return the deflections of bends in space, (b,) [degrees]."""
    if isinstance(bends, Bends):
        return bends.deflection_deg
    return np.array([bend.deflection_deg for bend in bends], dtype=np.float64)


def indices_of(bends: Sequence[Bend]) -> IntArray:
    """Return the stations of bends, (b,) indices."""
    if isinstance(bends, Bends):
        return bends.indices
    return frozen([bend.index for bend in bends], np.int64)


def deflection_rad(
    slope_before_rad: ArrayLike, slope_after_rad: ArrayLike, turn_rad: ArrayLike
) -> FloatArray:
    r"""Return the angle between two directions of flow in space.

    .. math::
        \cos\theta = \cos a_1 \cos a_2 \cos\Delta b + \sin a_1 \sin a_2

    Parameters
    ----------
    slope_before_rad, slope_after_rad : array_like
        Angle of the pipe above the horizontal before and after, any one shape [rad]
    turn_rad : array_like
        Change of bearing in plan, same shape [rad]

    Returns
    -------
    deflection_rad : FloatArray
        Angle between the two directions, 0 to pi, same shape [rad]

    Notes
    -----
    Computed as the angle between unit vectors by their difference and sum, which keeps small
    angles exact where the arc cosine would lose them.

    Examples
    --------
    >>> a1, a2, turn = np.radians([-10.0, -25.0, 30.0])
    >>> float(np.degrees(deflection_rad(a1, a2, turn)))
    32.183
    """
    a1, a2, turn = (np.asarray(v, dtype=np.float64) for v in
                    (slope_before_rad, slope_after_rad, turn_rad))  # fmt: skip
    u = (np.zeros_like(turn), np.cos(a1), np.sin(a1))
    v = (np.cos(a2) * np.sin(turn), np.cos(a2) * np.cos(turn), np.sin(a2))
    apart = np.sqrt(sum((p - q) ** 2 for p, q in zip(u, v, strict=True)))
    together = np.sqrt(sum((p + q) ** 2 for p, q in zip(u, v, strict=True)))
    return np.asarray(2.0 * np.arctan2(apart, together))


def vertex_turns_rad(vertex_lon: FloatArray, vertex_lat: FloatArray) -> FloatArray:
    """Return the change of bearing at each inner vertex, clockwise positive, (k - 2,) [rad].

    Parameters
    ----------
    vertex_lon, vertex_lat : FloatArray
        Vertices in WGS 84, (k,) [deg]

    Returns
    -------
    turns_rad : FloatArray
        Change of bearing, clockwise positive, (k - 2,) [rad]

    Notes
    -----
    Vertices are WGS 84 degrees, (k,). Bearings are those of the geodesics between them, at the
    vertex itself.

    Examples
    --------
    >>> vertex_turns_rad(np.array([0.0, 0.0, 0.1]), np.array([0.0, 0.1, 0.1])).round(3)
    array([1.571])
    """
    from pyproj import Geod

    lon, lat = vertex_lon, vertex_lat
    ahead, back, _ = Geod(ellps="WGS84").inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    # The bearing on arrival is the back azimuth turned round.
    turn = np.asarray(ahead[1:]) - (np.asarray(back[:-1]) + 180.0)
    return np.radians((turn + 180.0) % 360.0 - 180.0)


def find_bends(
    station_m: FloatArray,
    pipe_m: FloatArray,
    breaks: IntArray,
    vertex_station_m: FloatArray,
    vertex_turn_rad: FloatArray,
) -> Bends:
    """Return the bends of the pipe as laid, in order of station.

    The pipe turns at its breaks of grade and at the vertices of the drawn line, and nowhere else.
    Turns of less than 2 degrees in space are left to the joints.

    Parameters
    ----------
    station_m, pipe_m : FloatArray
        Stations and centreline of the pipe, shape (n,) [m]
    breaks : IntArray
        Where its straights meet, by index, both ends among them
    vertex_station_m, vertex_turn_rad : FloatArray
        Stations of the drawn line's inner vertices and the change of bearing there (clockwise
        positive), shape (k,) [m], [rad]

    Returns
    -------
    Bends
        None where the pipe turns nowhere
    """
    corners = np.searchsorted(station_m, vertex_station_m - 1e-6)
    kept = np.union1d(breaks, corners)
    turn = np.zeros(station_m.size)
    np.add.at(turn, corners, vertex_turn_rad)
    slope = np.arctan2(np.diff(pipe_m[kept]), np.diff(station_m[kept]))
    inner = kept[1:-1]
    space = deflection_rad(slope[:-1], slope[1:], turn[inner])
    chosen = np.flatnonzero(np.degrees(space) >= LEAST_DEFLECTION_DEG)
    index = inner[chosen]
    return Bends(
        indices=index,
        station_m=station_m[index],
        plan_deg=np.degrees(turn[index]),
        vertical_deg=np.degrees(slope[chosen + 1] - slope[chosen]),
        deflection_deg=np.degrees(space[chosen]),
    )

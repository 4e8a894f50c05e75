"""The legs of a line on a terrain's grid: straight there, and known everywhere on the ellipsoid.

A leg is straight in the raster's own coordinate system. Longitude, latitude and station along it
are smooth, so they are computed exactly at a few nodes and carried between them by polynomials,
halving a leg until the last terms vanish; a station then costs a few multiplications instead of a
map projection and a geodesic.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial, chebyshev

from routing.arrays import FloatArray, IntArray
from routing.line.ground.station import ECCENTRICITY2, SEMI_MAJOR_M
from routing.terrain import GridReference
from routing.value import dataclass

__all__ = ["Legs", "lay_legs"]

NODES = 6
"""Nodes on each piece [-], for polynomials of the fifth degree."""

DEGREE_TOLERANCE = 1e-11
"""Largest last term of longitude and latitude on a piece [deg], a micrometre."""

SPEED_TOLERANCE = 2e-7
"""Largest last term of the rate of station on a piece [m]."""

MOST_HALVINGS = 14
"""Halvings after which a piece is taken as it is [-]: where a datum shift grid has kinks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Legs:
    """Straight legs in node coordinates, with longitude, latitude and station along them.

    ``start`` holds where each piece begins, as leg number plus share of the leg, ``width`` the
    share of its leg that it takes; the coefficients of a piece are powers of its own coordinate
    from 0 to 1, lowest first.
    """

    row0: FloatArray
    col0: FloatArray
    drow: FloatArray
    dcol: FloatArray
    start: FloatArray
    width: FloatArray
    lon: FloatArray
    lat: FloatArray
    station: FloatArray

    @property
    def vertex_station_m(self) -> FloatArray:
        """Station of each vertex [m]."""
        first = np.searchsorted(self.start, np.arange(self.row0.size))
        return np.append(self.station[first, 0], self.length_m)

    @property
    def length_m(self) -> float:
        """Length of the line in plan [m]."""
        return float(self.station[-1].sum())

    def place(self, leg: IntArray, share: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return longitudes (running on past 180), latitudes [deg] and stations [m]."""
        piece, local = self._local(leg, share)
        return (
            _horner(self.lon, piece, local),
            _horner(self.lat, piece, local),
            _horner(self.station, piece, local),
        )

    def find(self, station_m: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the leg and the share of it at given stations of the line."""
        ends = self.station.sum(axis=1)
        piece = np.minimum(np.searchsorted(ends, station_m), ends.size - 1)
        begin = self.station[piece, 0]
        local = (station_m - begin) / (ends[piece] - begin)
        slope = self.station[:, 1:] * np.arange(1, self.station.shape[1])
        for _ in range(3):  # the rate is all but constant: each step squares a tiny error
            error = _horner(self.station, piece, local) - station_m
            local = local - error / _horner(slope, piece, local)
        leg = np.floor(self.start[piece]).astype(np.int64)
        share = self.start[piece] - leg + self.width[piece] * local
        return leg, np.clip(share, 0.0, 1.0)

    def _local(self, leg: IntArray, share: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the piece of each point and its coordinate from 0 to 1 there."""
        if self.start.size == self.row0.size:
            return leg, share
        piece = np.searchsorted(self.start, leg + share, side="right") - 1
        begin = self.start[piece]
        # A share of exactly 1 may belong to the next leg's first piece by its sum, but not by leg.
        piece = piece - (np.floor(begin) > leg)
        begin = self.start[piece]
        return piece, (share - (begin - leg)) / self.width[piece]


def lay_legs(
    reference: GridReference, row: FloatArray, col: FloatArray, lon: FloatArray, lat: FloatArray
) -> Legs:
    """Return the legs between vertices given in node coordinates and, the same, in degrees.

    Where the way to the grid and back does not return to the last digit, as with some datum
    shifts, the difference is spread along the leg, so that vertices keep the degrees they came
    with.
    """
    drow, dcol = np.diff(row), np.diff(col)
    there = np.stack(reference.to_lonlat(row, col))
    back = np.stack([lon, lat]) - there
    back[0] -= 360.0 * np.round(back[0] / 360.0)
    leg = np.arange(drow.size)
    begin, width = np.zeros(drow.size), np.ones(drow.size)
    done: list[tuple[FloatArray, ...]] = []
    for halving in range(MOST_HALVINGS + 1):
        share = begin[:, None] + 0.5 * width[:, None] * (_nodes() + 1.0)
        node_lon, node_lat = reference.to_lonlat(
            row[leg][:, None] + drow[leg][:, None] * share,
            col[leg][:, None] + dcol[leg][:, None] * share,
        )
        node_lon = (
            node_lon + back[0][leg][:, None] * (1 - share) + back[0][leg + 1][:, None] * share
        )
        node_lat = (
            node_lat + back[1][leg][:, None] * (1 - share) + back[1][leg + 1][:, None] * share
        )
        mean = 0.5 * (lon[leg] + lon[leg + 1])[:, None]
        node_lon -= 360.0 * np.round((node_lon - mean) / 360.0)
        lon_terms, lat_terms, rate_terms = _terms(node_lon, node_lat)
        good = (
            (np.abs(lon_terms[:, -1]) < DEGREE_TOLERANCE)
            & (np.abs(lat_terms[:, -1]) < DEGREE_TOLERANCE)
            & (np.abs(rate_terms[:, -1]) < SPEED_TOLERANCE)
        )
        if halving == MOST_HALVINGS:
            good[:] = True
        done.append(
            tuple(part[good] for part in (leg + begin, width, lon_terms, lat_terms, rate_terms))
        )
        if good.all():
            break
        leg, half = np.repeat(leg[~good], 2), np.repeat(0.5 * width[~good], 2)
        begin = np.repeat(begin[~good], 2)
        begin[1::2] += half[1::2]
        width = half
    start, width, lon_terms, lat_terms, rate_terms = (
        np.concatenate(parts) for parts in zip(*done, strict=True)
    )
    order = np.argsort(start)
    return Legs(
        row0=row[:-1],
        col0=col[:-1],
        drow=drow,
        dcol=dcol,
        start=start[order],
        width=width[order],
        lon=_powers(lon_terms[order]),
        lat=_powers(lat_terms[order]),
        station=_stations(rate_terms[order]),
    )


def _terms(node_lon: FloatArray, node_lat: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return Chebyshev terms of longitude, latitude and rate of station on each piece."""
    to_terms, to_slope = _matrices()
    base_lon, base_lat = node_lon[:, :1], node_lat[:, :1]
    lon_terms: FloatArray = (node_lon - base_lon) @ to_terms
    lat_terms: FloatArray = (node_lat - base_lat) @ to_terms
    dlon = np.radians((node_lon - base_lon) @ to_slope)
    dlat = np.radians((node_lat - base_lat) @ to_slope)
    sine = np.sin(np.radians(node_lat))
    w2 = 1.0 - ECCENTRICITY2 * sine * sine
    across = SEMI_MAJOR_M / np.sqrt(w2)
    along = across * (1.0 - ECCENTRICITY2) / w2
    rate = np.sqrt(np.square(along * dlat) + np.square(across * dlon) * (1.0 - sine * sine))
    lon_terms[:, 0] += base_lon[:, 0]
    lat_terms[:, 0] += base_lat[:, 0]
    rate_terms: FloatArray = rate @ to_terms
    return lon_terms, lat_terms, rate_terms


def _stations(rate_terms: FloatArray) -> FloatArray:
    """Return the stations along the pieces, in powers, from the terms of their rates."""
    stations = _powers(rate_terms @ _integration())
    lengths = stations[:, 1:].sum(axis=1)
    stations[:, 0] = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    return stations


@cache
def _nodes() -> FloatArray:
    """Return the Chebyshev points from -1 to 1, both ends among them."""
    return -np.cos(np.pi * np.arange(NODES) / (NODES - 1))


@cache
def _matrices() -> tuple[FloatArray, FloatArray]:
    """Return what turns values at the nodes into Chebyshev terms, and into slopes at the nodes."""
    inverse = np.linalg.inv(chebyshev.chebvander(_nodes(), NODES - 1))
    to_terms = np.asarray(inverse.T, dtype=np.float64)
    slopes = [chebyshev.chebval(_nodes(), chebyshev.chebder(row)) for row in np.eye(NODES)]
    return to_terms, to_terms @ np.stack(slopes)


@cache
def _integration() -> FloatArray:
    """Return what turns Chebyshev terms into those of their integral from -1."""
    return np.asarray(chebyshev.chebint(np.eye(NODES), lbnd=-1.0, axis=1))


@cache
def _power_table(size: int) -> FloatArray:
    """Return the powers, from 0 to 1, of which each Chebyshev polynomial is made, lowest first."""
    table = np.zeros((size, size))
    for index, row in enumerate(np.eye(size)):
        powers = Chebyshev(row, domain=[0.0, 1.0]).convert(kind=Polynomial).coef
        table[index, : powers.size] = powers
    return table


def _powers(terms: FloatArray) -> FloatArray:
    """Return coefficients of powers, lowest first, for rows of Chebyshev terms."""
    return np.asarray(terms @ _power_table(terms.shape[1]))


def _horner(coefficients: FloatArray, piece: IntArray, local: FloatArray) -> FloatArray:
    """Return the polynomials of the given pieces at their own coordinates."""
    by_power: list[FloatArray | np.float64]
    if coefficients.shape[0] == 1:
        by_power = list(coefficients[0])
    else:
        by_power = [column[piece] for column in np.ascontiguousarray(coefficients.T)]
    value = np.full(piece.shape, by_power[-1])
    for coefficient in reversed(by_power[:-1]):
        value *= local
        value += coefficient
    return value

"""Lines in old datums against published places, and the two feet.

The national transformation grids are not part of every installation of the projection library, so
the tolerances are those of the transformations that always are.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.line import geodesic_stations
from routing.line.files.datum import to_wgs84
from routing.survey import survey_from_rows


def apart_m(lon: float, lat: float, found: np.ndarray) -> float:
    return float(geodesic_stations([lon, float(found[0])], [lat, float(found[1])])[-1])


def test_to_wgs84__british_grid_worked_example() -> None:
    # Ordnance Survey, "A guide to coordinate systems in Great Britain", annexe C: Caister water
    # tower, 52 39 27.2531 N, 1 43 4.5177 E on the Airy 1830 ellipsoid is E 651409.903, N 313177.270
    # (from memory of the publication). Geodetic to grid is exact there; the printed digits are mm.
    lat, lon = 52 + 39 / 60 + 27.2531 / 3600, 1 + 43 / 60 + 4.5177 / 3600
    airy = to_wgs84(np.array([[lon, lat]]), "EPSG:4277", source="a")[0]
    grid = to_wgs84(np.array([[651409.903, 313177.270]]), "EPSG:27700", source="a")[0]
    assert apart_m(float(airy[0]), float(airy[1]), grid) < 0.002


def test_to_wgs84__british_datum_shift() -> None:
    # The same guide, section 6.6: the seven-parameter shift of the national datum is good to about
    # 5 m; on the Airy ellipsoid a place reads some 120 m from its WGS 84 position in the east.
    airy = to_wgs84(np.array([[1.7179, 52.6576]]), "EPSG:4277", source="a")[0]
    assert apart_m(1.7179, 52.6576, airy) == pytest.approx(120.0, abs=20.0)


@pytest.mark.parametrize(
    ("lon", "lat", "published"),
    [
        # Size of the shift from NAD 27 to NAD 83: about 10 m in the middle of the conterminous
        # states, about 100 m on the west coast and 40 m in the east, US National Geodetic Survey,
        # "NAD 27 to NAD 83 shift" maps (from memory of the publication, read to 20 m).
        (-120.0, 38.0, 95.0),
        (-77.0, 39.0, 30.0),
    ],
)
def test_to_wgs84__american_datum_shift(lon: float, lat: float, published: float) -> None:
    moved = to_wgs84(np.array([[lon, lat]]), "EPSG:4267", source="a")[0]
    assert apart_m(lon, lat, moved) == pytest.approx(published, abs=20.0)


@pytest.mark.parametrize(
    ("system", "x", "y", "lon", "lat"),
    [
        # IOGP Publication 373-7-2, worked examples (from memory of the publication): the false
        # origin and central meridian of each projection are places known from its definition.
        ("EPSG:32631", 500_000.0, 0.0, 3.0, 0.0),
        ("EPSG:3857", 0.0, 0.0, 0.0, 0.0),
        ("EPSG:3035", 4_321_000.0, 3_210_000.0, 10.0, 52.0),
    ],
)
def test_to_wgs84__origins(system: str, x: float, y: float, lon: float, lat: float) -> None:
    found = to_wgs84(np.array([[x, y]]), system, source="a")[0]
    assert found == pytest.approx([lon, lat], abs=1e-9)


def test_to_wgs84__web_mercator_lengths_are_true() -> None:
    # On the sphere of web maps lengths are 1/cos(latitude) too long: 2.0 at 60 degrees
    # (independently computed); a station is the length on the ellipsoid, within 0.7 % of that.
    y = 6_378_137.0 * math.log(math.tan(math.radians(45.0 + 30.0)))
    line = to_wgs84(np.array([[0.0, y], [2000.0, y]]), "EPSG:3857", source="a")
    length = geodesic_stations(line[:, 0], line[:, 1])[-1]
    assert length == pytest.approx(1000.0, rel=0.007)


def test_survey_from_rows__two_feet() -> None:
    # International foot 0.3048 m (agreement of 1959), US survey foot 1200/3937 m (Mendenhall order,
    # 1893): 2 parts in a million apart, 1.22 m on an easting of 2 000 000 ft but 8 mm on a summit
    # of 13 000 ft (independently computed).
    rows = [{"station": 0, "elevation": 13_000}]
    (one,) = survey_from_rows(rows, unit="ft")
    (other,) = survey_from_rows(rows, unit="US survey foot")
    assert one.elevation_m == pytest.approx(3962.4, abs=1e-9)
    assert other.elevation_m - one.elevation_m == pytest.approx(0.0079, abs=5e-5)

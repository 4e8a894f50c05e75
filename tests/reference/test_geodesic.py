"""Stations against published geodesics.

Source: C. F. F. Karney, "Test set for geodesics" (GeodTest.dat), 2010, doi:10.5281/zenodo.32156, as
carried by the tests of GeographicLib for Python 2.0: latitude and longitude of both ends, azimuths,
and length on the WGS 84 ellipsoid, here with the length to the printed 0.1 micrometre. Column order
there: lat1, lon1, azi1, lat2, lon2, azi2, s12.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from published import gives, published, table

from routing.line import geodesic_stations

GEODTEST = [
    (35.60777, -139.44815, 111.098748429560326, -11.17491, -69.95921, 8935244.5604818305),
    (55.52454, 106.05087, 22.020059880982801, 77.03196, 197.18234, 4105086.1713924406),
    (-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, 8394328.894657671),
    (-66.99028, 112.2363, 173.73491240878403, -12.70631, 285.90344, 11150344.2312080241),
    (-17.42761, 173.34268, -159.033557661192928, -15.84784, 5.93557, 16076603.1631180673),
    (32.84994, 48.28919, 150.492927788121982, -56.28556, 202.29132, 16727068.9438164461),
    (6.96833, 52.74123, 92.581585386317712, -7.39675, 206.17291, 17102477.2496958388),
]


test_geodesic_stations__published_lengths = published(
    table(
        "GeodTest",
        [(*row[:2], *row[3:]) for row in GEODTEST],
        gives(
            lambda lat1, lon1, lat2, lon2: geodesic_stations([lon1, lon2], [lat1, lat2])[-1],
            abs=1e-7,
        ),
    )
)


@pytest.mark.parametrize("row", GEODTEST[:2], ids=lambda row: f"GeodTest {row[0]}, {row[1]}")
def test_geodesic_stations__published_lengths_in_short_steps(row: tuple[float, ...]) -> None:
    # The same geodesics, cut by GeographicLib's direct solution into steps of about 500 m, whose
    # ends are rounded to 1e-14 degrees: their sum must be the published length.
    lat1, lon1, azimuth, _, _, length = row
    line = Geodesic.WGS84.Line(lat1, lon1, azimuth)
    mask = Geodesic.LATITUDE | Geodesic.LONGITUDE | Geodesic.LONG_UNROLL
    stations = np.linspace(0.0, length, int(length / 500))
    points = [line.Position(station, mask) for station in stations]
    lon, lat = np.array([[point["lon2"], point["lat2"]] for point in points]).T
    assert geodesic_stations(lon, lat) == pytest.approx(stations, abs=1e-5)


def test_geodesic_stations__from_new_york_to_paris() -> None:
    # GeographicLib, manual of GeodSolve, example of an inverse problem: 40.6 N 73.8 W to
    # 49 deg 01 min N 2 deg 33 min E is 5853226 m, printed to the metre.
    stations = geodesic_stations([-73.8, 2.55], [40.6, 49.01666667])
    assert stations[-1] == pytest.approx(5_853_226, abs=0.5)


def test_geodesic_stations__length_of_a_degree() -> None:
    # Length of one degree of the meridian at the equator and at 45 degrees, and of the parallel at
    # 45 degrees, on WGS 84: 110 574 m, 111 132 m, 78 847 m (length of a degree table, US NGA
    # calculator, from memory of the publication). Cut into 200 steps, so that the series serves.
    lat = np.linspace(-0.5, 0.5, 201)
    assert geodesic_stations(np.zeros(201), lat)[-1] == pytest.approx(110_574, abs=1.0)
    assert geodesic_stations(np.zeros(201), lat + 45.0)[-1] == pytest.approx(111_132, abs=1.0)
    assert geodesic_stations(lat, np.full(201, 45.0))[-1] == pytest.approx(78_847, abs=1.0)

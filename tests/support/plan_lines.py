"""Lines in metres about a place in the Alps, as the room of the land takes them."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from routing.land.track import Track
from routing.line.ground.places import degree_m

LAT = 46.0
PLACE = st.tuples(st.floats(-300, 300), st.floats(-300, 300))


def path(*places: tuple[float, float]) -> np.ndarray:
    """Return places in metres east and north as longitudes and latitudes."""
    return np.array(places, dtype=float) / degree_m(LAT) + [7.0, LAT]


def line(*places: tuple[float, float]) -> Track:
    """Return a line through places in metres east and north."""
    steps = np.hypot(*np.diff(np.array(places, dtype=float), axis=0).T)
    lon, lat = path(*places).T
    return Track(station_m=np.concatenate([[0.0], np.cumsum(steps)]), lon=lon, lat=lat)


STRAIGHT = line((0, 0), (100, 0), (200, 0))

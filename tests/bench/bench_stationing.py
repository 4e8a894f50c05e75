"""How fast geodesic stations are, against pyproj's array call for the same points.

Run as a script: ``python tests/bench/bench_stationing.py``.
"""

from __future__ import annotations

import numpy as np
from pyproj import Geod
from timing import best

from routing.line import geodesic_stations

POINTS = 100_000
GEOD = Geod(ellps="WGS84")


def main() -> None:
    """Print times, ratio and the greatest difference for a smooth line and a walked track."""
    share = np.linspace(0, 1, POINTS)
    rng = np.random.default_rng(1)
    smooth = (10 + 0.5 * share + 0.01 * np.sin(9 * share), 46 + 0.6 * share)
    walked = (
        10 + np.cumsum(rng.normal(0, 2e-5, POINTS)),
        46 + np.cumsum(rng.normal(0, 2e-5, POINTS)),
    )
    for name, (lon, lat) in {"smooth line": smooth, "walked track": walked}.items():

        def by_geod(lon: np.ndarray = lon, lat: np.ndarray = lat) -> np.ndarray:
            return np.cumsum(GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2])

        def by_us(lon: np.ndarray = lon, lat: np.ndarray = lat) -> np.ndarray:
            return geodesic_stations(lon, lat)

        apart = float(np.abs(by_us()[1:] - by_geod()).max())
        slow, fast = best(by_geod, 15), best(by_us, 15)
        print(
            f"{name:<13} {POINTS} points: pyproj {slow * 1e3:.1f} ms, ours {fast * 1e3:.1f} ms, "
            f"{slow / fast:.1f} x faster, at most {apart * 1e6:.2f} micrometres apart"
        )


if __name__ == "__main__":
    main()

"""Lines that cross themselves, against the geometry library."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.line import GroundProfile, crossing_findings, geodesic_stations
from routing.line.ground.knots import FEW


def profile(x: np.ndarray | list[float], y: np.ndarray | list[float]) -> GroundProfile:
    """Return a level profile whose vertices lie at these places, in thousandths of a degree."""
    lon, lat = np.asarray(x, dtype=float) * 1e-3, np.asarray(y, dtype=float) * 1e-3
    station = geodesic_stations(lon, lat)
    flags = np.ones(lon.size, dtype=bool)
    return GroundProfile(
        station_m=station,
        lon=lon,
        lat=lat,
        ground_m=np.zeros(lon.size),
        vertex=flags,
        assumed=~flags,
        vertex_station_m=station,
        vertex_lon=lon,
        vertex_lat=lat,
        findings=(),
    )


def test_crossing_findings__plain_lines_are_silent() -> None:
    assert crossing_findings(profile([0, 1, 2], [0, 1, 0])) == ()
    assert crossing_findings(profile([0, 1], [0, 1])) == ()


def test_crossing_findings__names_both_stations() -> None:
    # A loop: out to the east, back over the first leg at (1, 0).
    line = profile([0, 2, 2, 1, 1], [0, 0, 1, 1, -1])
    (found,) = crossing_findings(line)
    assert (found.code, found.severity) == ("line_crosses_itself", "note")
    degree = float(geodesic_stations([0.0, 1e-3], [0.0, 0.0])[-1])
    assert found.station_m == pytest.approx(degree, abs=0.01)
    assert f"{degree:.1f} m, " in found.message
    assert "once" in found.message


@settings(max_examples=60, deadline=None)
@given(
    places=st.lists(
        st.tuples(st.floats(0, 10), st.floats(0, 10)), min_size=3, max_size=12, unique=True
    )
)
def test_crossing_findings__says_so_where_the_library_does(
    places: list[tuple[float, float]],
) -> None:
    line = shapely.LineString(places)
    x, y = np.array(places).T
    if np.min(np.hypot(np.diff(x), np.diff(y))) < 0.01:
        return
    # Touching within rounding and running back over itself are judged either way.
    parts = [shapely.LineString(pair) for pair in pairwise(places)]
    crossings = [a.crosses(b) for i, a in enumerate(parts) for b in parts[i + 2 :]]
    if any(crossings):
        assert crossing_findings(profile(x, y))
    elif line.is_simple:
        assert crossing_findings(profile(x, y)) == ()


def test_crossing_findings__long_lines_take_the_other_way() -> None:
    turn = np.linspace(0.0, 4.0 * np.pi, FEW + 200)
    spiral = profile(turn * np.cos(turn), turn * np.sin(turn))
    assert crossing_findings(spiral) == ()
    eight = profile(10.0 * np.sin(0.5 * turn), 10.0 * np.sin(turn))
    (found,) = crossing_findings(eight)
    assert "once" in found.message or "times" in found.message


def test_crossing_findings__a_tangle_is_bounded() -> None:
    chance = np.random.default_rng(1)
    (found,) = crossing_findings(profile(chance.uniform(0, 9, 5000), chance.uniform(0, 9, 5000)))
    assert "more than 2000 times" in found.message

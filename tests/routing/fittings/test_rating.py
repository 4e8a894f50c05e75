"""The one pressure that a fitting must bear."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.fittings import FittingInputs, Loads, fitting_rating

G = 9.80665
PRESSURES = st.lists(st.floats(0.0, 4e6), min_size=4, max_size=4).map(np.array)


@settings(max_examples=60, deadline=None)
@given(operating=PRESSURES, emergency=PRESSURES, test=PRESSURES, at=st.floats(0.0, 700.0))
def test_fitting_rating__is_the_greatest_of_all(line, operating, emergency, test, at) -> None:
    made = line([0, 200, 400, 700], [100, 80, 95, 40])
    loads = Loads(operating_pa=operating, emergency_pa=emergency, test_pa=test)
    rating, _ = fitting_rating(made.line, FittingInputs(loads=loads), at)
    static = np.interp(at, made.station_m, made.static_head_m) * 999.7027 * G
    rows = [float(np.interp(at, made.station_m, row)) for row in (operating, emergency, test)]
    assert rating == pytest.approx(max(static, *rows, 0.0), rel=1e-6)


@pytest.mark.parametrize(
    ("operating", "emergency", "test", "basis"),
    [
        (9e5, 1e5, 1e5, "static pressure and surge of the closing machine"),
        (1e5, 9e5, 1e5, "outlet blocked at once"),
        (1e5, 1e5, 9e5, "test pressure"),
        (1e5, 9e5, np.nan, "outlet blocked at once"),
        (0.0, 0.0, np.nan, "static pressure"),
    ],
)
def test_fitting_rating__says_what_sets_it(line, operating, emergency, test, basis) -> None:
    # Closed off in the test: NaN there, and the test asks nothing of it.
    made = line([0, 200, 400, 700], [100, 80, 95, 40])
    loads = Loads(
        operating_pa=np.full(4, operating),
        emergency_pa=np.full(4, emergency),
        test_pa=np.full(4, test),
    )
    assert fitting_rating(made.line, FittingInputs(loads=loads), 400.0)[1] == basis

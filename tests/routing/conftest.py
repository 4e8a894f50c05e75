"""A plain slope with a dip, and the maker of studies over it."""

import numpy as np
import pytest
from pyproj import Transformer

from routing.line import Route
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)


@pytest.fixture
def studies_over(make_raster):
    """Return the maker of a maker of studies: over heights at 5 m apart, to the east."""

    def over(height):
        path = make_raster(np.tile(height, (40, 1)), cell=5.0, unit="metre")
        lon, lat = BACK.transform([500_020.0, 501_050.0], [5_199_900.0, 5_199_900.0])

        def make(**tables):
            settings = settings_from_mapping(tables)
            line = Route(name="line", lon=np.array(lon), lat=np.array(lat))
            return run_study(open_study_terrain([path], settings), line, settings)

        return make

    return over


@pytest.fixture
def slope(studies_over):
    """A plain slope of 12 % to the east with a dip at two thirds; returns a study maker."""
    x = np.arange(220) * 5.0 + 2.5
    return studies_over(500 - 0.12 * x - 14 * np.exp(-(((x - 700) / 60) ** 2)))

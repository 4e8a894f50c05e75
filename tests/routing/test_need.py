"""Numbers that a formula refuses: the first bad one is named, and what it may be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.errors import InputError
from routing.need import need


@pytest.mark.parametrize("value", [0.0, 179.999, 0, np.array([0.0, 90.0]), np.array([])])
def test_need__what_lies_within_passes(value) -> None:
    need("The angle", value, least=0.0, below=180.0, unit="degrees")


@pytest.mark.parametrize("bad", [180.0, 180, -1e-9, math.inf, -math.inf, math.nan])
def test_need__a_bound_that_is_not_reached(bad: float) -> None:
    for value in (bad, np.array([90.0, bad])):
        with pytest.raises(InputError, match=f"The angle is {bad:g} degrees") as caught:
            need("The angle", value, least=0.0, below=180.0, unit="degrees")
        assert caught.value.remedy == "Give a finite value of 0 or more and below 180."


def test_need__a_bound_that_may_be_reached() -> None:
    need("The angle", 180.0, above=0.0, most=180.0)
    for bad in (0.0, 180.001):
        with pytest.raises(InputError, match=r"above 0 and not above 180\."):
            need("The angle", bad, above=0.0, most=180.0)

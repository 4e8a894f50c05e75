from __future__ import annotations

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings import air_outlet_size, drain_size, flush_size, open_vent_sizes

BORES = np.geomspace(0.012, 1.2, 200).tolist()


@pytest.mark.parametrize(
    "size", [lambda d: air_outlet_size(d).size_m, lambda d: drain_size(d).size_m, flush_size]
)
def test_sizes__never_shrink_as_the_pipe_grows(size):
    sizes = [size(bore) for bore in BORES]
    assert sizes == sorted(sizes)


@pytest.mark.parametrize("bore", BORES)
def test_drain_size__keeps_its_bounds(bore):
    size = drain_size(bore).size_m
    assert size <= bore
    assert size >= min(bore / 4.0, bore) - 1e-12
    assert size >= min(0.025, bore)
    assert size <= flush_size(bore) <= bore


@pytest.mark.parametrize("bore", BORES)
def test_open_vent_sizes__half_the_area_then_at_least_two_inches(bore):
    size, foot = open_vent_sizes(bore)
    assert size.size_m == 0.05
    assert foot >= size.size_m
    assert foot**2 >= 0.5 * bore**2 * (1.0 - 1e-9)


def test_air_outlet_size__beyond_the_table_says_so():
    assert "beyond the table" in air_outlet_size(1.0).source
    assert "beyond the table" not in air_outlet_size(0.9).source


@pytest.mark.parametrize("size", [air_outlet_size, open_vent_sizes, drain_size, flush_size])
@pytest.mark.parametrize("bore", [0.0, -0.1, float("nan"), float("inf")])
def test_sizes__refuse_what_is_no_bore(size, bore):
    with pytest.raises(InputError, match="bore"):
        size(bore)

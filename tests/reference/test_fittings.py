"""Vents and drains against published tables and independently computed values."""

from __future__ import annotations

import pytest
from published import gives, published, table

from routing.fittings import (
    air_outlet_size,
    drain_size,
    open_vent_sizes,
    size_text,
)
from routing.fittings.place.drain_words import jet_velocity
from routing.fittings.requirements import seal_head_m
from routing.fittings.sizing_data import sizing
from routing.fittings.trade_data import limits

INCH = 0.0254

# Air and vacuum outlet by nominal pipe size. Bores [in]: steel schedule 40 to 12 in, ASME B36.10M,
# from memory of it; standard weight (0.375 in) above that.
test_air_outlet_size__table_by_pipe_size = published(
    table(
        "NRCS Conservation Practice Standard 430-DD, from memory",
        [
            (2.067, 0.015, "0.5 in"), (4.026, 0.015, "0.5 in"), (5.047, 0.025, "1 in"),
            (6.065, 0.025, "1 in"), (7.981, 0.025, "1 in"), (10.020, 0.05, "2 in"),
            (11.938, 0.05, "2 in"), (15.25, 0.05, "2 in"), (17.25, 0.1, "4 in"),
            (23.25, 0.1, "4 in"), (27.25, 0.1, "4 in"), (29.25, 0.15, "6 in"),
            (35.25, 0.15, "6 in"),
        ],
        gives(lambda bore: air_outlet_size(bore * INCH).size_m, abs=0.0),
        gives(lambda bore: air_outlet_size(bore * INCH).source.partition(",")[0]),
    )
)  # fmt: skip


# Probability that a summit is real; independently computed, printed to three decimals.
def test_drain_size__a_quarter_of_the_bore():
    """Common practice, no source: at least a quarter of the pipe's bore, and 25 mm."""
    assert drain_size(0.050).size_m == 0.025
    assert drain_size(0.160).size_m == 0.040
    assert drain_size(0.3000).size_m == 0.080  # 75 mm asked for, DN 80 the next (ISO 6708)


def test_open_vent_sizes__half_the_area_and_two_inches():
    """NRCS Conservation Practice Standard 430, from memory of it."""
    size, foot = open_vent_sizes(0.2)
    assert size.size_m == pytest.approx(2.0 * INCH, abs=0.001)  # 2 in is sold as DN 50
    assert (foot / 0.2) ** 2 >= 0.5


def test_sizing__as_published():
    # AWWA C605, from memory of it: filled at 1 ft/s; AWWA M51, from memory: 2 psi while filling.
    assert sizing().fill_velocity_m_s == pytest.approx(0.3048, abs=0.01)
    assert sizing().fill_pressure_pa == pytest.approx(2.0 * 6894.757, rel=0.002)


def test_limits__as_published():
    # NRCS 430, from memory of it: freeboard 1 ft; steepening of 10 degrees.
    assert limits().freeboard_m == pytest.approx(0.3048, abs=0.01)
    assert limits().steepening_must_deg == 10.0
    # AWWA Manual M51, from memory of it: every quarter to half mile (1609.344 m).
    assert limits().spacing_m == pytest.approx(1609.344 / 4.0, abs=5.0)
    # About 5 psi to seal a float valve, as makers ask (seen second-hand).
    assert seal_head_m() == pytest.approx(5.0 * 0.0703 * 10.0, abs=0.05)


def test_jet_velocity__one_hundred_metres():
    """44 m/s at 100 m: independently computed."""
    assert jet_velocity(100.0, 9.80665) == pytest.approx(44.0, abs=0.5)


@pytest.mark.parametrize(
    ("metric", "inches"), [(0.025, "1 in"), (0.04, "1.5 in"), (0.05, "2 in"), (0.2, "8 in")]
)
def test_size_text__nominal_pairs(metric, inches):
    """DN and NPS as paired in ASME B36.10M, from memory of it."""
    assert size_text(metric, "us") == inches

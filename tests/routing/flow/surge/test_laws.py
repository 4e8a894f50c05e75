"""How outlets close and open, and what counts as their closing time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from surge_lines import opening_in

from routing.errors import InputError
from routing.flow.surge import (
    effective_closing_s,
    instant_closure,
    table_law,
    uniform_closure,
)


@pytest.mark.parametrize("valve", ["nozzle", "gate", "butterfly"])
@pytest.mark.parametrize("share", [1e-4, 0.01, 1.0])
def test_opening__falls_from_one_to_zero(valve: str, share: float) -> None:
    opening = uniform_closure(10.0, valve).opening(np.linspace(-1.0, 12.0, 500), share)
    assert opening[0] == 1.0
    assert opening[-1] == 0.0
    assert np.all(np.diff(opening) <= 1e-15)


@pytest.mark.parametrize(("closed", "k"), [(0.25, 0.26), (0.5, 2.06), (0.75, 17.0), (0.875, 97.8)])
def test_opening__gate_has_the_tables_loss(closed: float, k: float) -> None:
    # Weisbach's gate valve, from memory of handbooks of hydraulics
    opening = uniform_closure(1.0, "gate").opening(np.array([closed]), 0.02)
    assert opening == pytest.approx(1.0 / math.sqrt(1.0 + 0.02 * k), rel=1e-12)


def test_effective_closing_s__gate_cuts_in_its_last_part() -> None:
    # Common practice, no source: the effective time is a tenth to three tenths of the stroke
    for share in (0.01, 0.03, 0.1):
        effective = effective_closing_s(uniform_closure(60.0, "gate"), share)
        assert 0.05 * 60.0 < effective < 0.4 * 60.0
    law = uniform_closure(60.0, "gate")
    assert law.opening(np.array([48.0]), 0.01)[0] > 0.75


def test_effective_closing_s__laws() -> None:
    assert effective_closing_s(uniform_closure(12.0), 0.01) == pytest.approx(12.0)
    assert effective_closing_s(opening_in(7.0), 0.01) == pytest.approx(7.0)
    assert effective_closing_s(instant_closure(), 0.01) == 0.0
    assert effective_closing_s(opening_in(0.0), 0.01) == 0.0
    assert effective_closing_s(table_law([0.0, 9.0], [0.8, 0.0]), 0.01) == 0.0
    assert effective_closing_s(table_law([0.0, 4.0, 14.0], [1.0, 0.2, 0.0]), 0.01) == pytest.approx(
        5.0
    )
    assert effective_closing_s(table_law([0.0], [1.0]), 0.01) == math.inf


@given(stroke=st.floats(0.1, 600.0), share=st.floats(1e-5, 1.0))
def test_effective_closing_s__never_beyond_the_stroke(stroke: float, share: float) -> None:
    for valve in ("nozzle", "gate", "butterfly"):
        law = uniform_closure(stroke, valve)
        assert 0.0 < effective_closing_s(law, share) <= stroke * (1.0 + 1e-9)


@pytest.mark.parametrize("stroke", [0.0, -3.0])
def test_uniform_closure__no_time_is_instant_and_said_so(stroke: float) -> None:
    law = uniform_closure(stroke)
    assert law.instant
    assert law.taken_as_instant
    assert not instant_closure().taken_as_instant


@pytest.mark.parametrize(
    "call",
    [
        lambda: uniform_closure(5.0, "cork"),
        lambda: uniform_closure(math.inf),
        lambda: table_law([], []),
        lambda: table_law([0.0, 1.0], [1.0]),
        lambda: table_law([1.0, 2.0], [1.0, 0.0]),
        lambda: table_law([0.0, 2.0, 2.0], [1.0, 0.5, 0.0]),
        lambda: table_law([0.0, 2.0], [1.0, -0.1]),
        lambda: table_law([0.0, 2.0], [1.0, 1.5], valve="gate"),
    ],
)
def test_laws__refuse_what_cannot_be(call: object) -> None:
    with pytest.raises(InputError):
        call()

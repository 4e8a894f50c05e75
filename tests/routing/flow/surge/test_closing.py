"""How slow a closure must be, found by runs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from routing.errors import InputError
from routing.flow.surge import (
    SurgeInputs,
    run_surge,
    slowest_safe_closing_time,
    uniform_closure,
)


def _limit(inputs: SurgeInputs, rise_m: float) -> np.ndarray:
    """Return the pressure of the static head and ``rise_m`` more, at every station."""
    return inputs.line.water.weight_n_m3 * (inputs.line.static_head_m + rise_m)


@pytest.mark.parametrize("rise_m", [5.0, 10.0, 20.0])
def test_slowest_safe_closing_time__is_the_edge(hill: dict[str, Any], rise_m: float) -> None:
    inputs = SurgeInputs(**hill)
    limit = _limit(inputs, rise_m)
    found = slowest_safe_closing_time(inputs, limit)
    assert found.time_s is not None
    assert found.margin_pa >= 0.0
    assert np.all(found.result.highest_pressure_pa <= limit)
    faster = run_surge(replace(inputs, law=uniform_closure(0.97 * found.time_s)))
    assert np.any(faster.highest_pressure_pa > limit)
    for slower in (1.0, 1.3, 2.0, 5.0):
        result = run_surge(replace(inputs, law=uniform_closure(slower * found.time_s)))
        assert np.all(result.highest_pressure_pa <= limit + 1.0)
    assert found.runs < 60


def test_slowest_safe_closing_time__more_room_needs_less_time(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill)
    times = [
        slowest_safe_closing_time(inputs, _limit(inputs, rise)).time_s
        for rise in (4.0, 8.0, 16.0, 32.0)
    ]
    assert times == sorted(times, reverse=True)


def test_slowest_safe_closing_time__gate_needs_a_longer_stroke(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill)
    limit = _limit(inputs, 10.0)
    nozzle = slowest_safe_closing_time(inputs, limit)
    gate = slowest_safe_closing_time(
        inputs, limit, family=lambda time_s: uniform_closure(time_s, "gate")
    )
    assert gate.time_s > 2.0 * nozzle.time_s


def test_slowest_safe_closing_time__lowest_pressure_counts_too(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill)
    free = _limit(inputs, 1000.0)
    assert slowest_safe_closing_time(inputs, free).time_s == 0.0
    # Of the summit's 12.5 m of head, half may be lost.
    found = slowest_safe_closing_time(inputs, free, lowest_pa=np.where(
        np.abs(inputs.line.station_m - 700.0) < 30.0, 60e3, -1e6))  # fmt: skip
    assert found.time_s > 0.0
    assert abs(found.station_m - 700.0) < 40.0


def test_slowest_safe_closing_time__static_head_above_the_limit(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill, duration_s=60.0)
    found = slowest_safe_closing_time(inputs, _limit(inputs, -1.0))
    assert found.time_s is None
    (check,) = found.checks
    assert not check.passed
    assert (check.code, check.severity) == ("closing_too_fast", "fault")
    # The static head alone is a metre of water above the limit.
    assert check.demand - check.limit >= 1.0 * inputs.line.water.weight_n_m3 / 1000.0


def test_slowest_safe_closing_time__says_nothing_of_closures_that_were_tried(
    hill: dict[str, Any],
) -> None:
    inputs = SurgeInputs(**hill)
    found = slowest_safe_closing_time(inputs, _limit(inputs, 30.0))
    # The search runs closures within the critical time, and an instant one that parts the water.
    assert found.time_s < 1.5 * found.result.critical_s
    assert found.checks == ()
    assert found.result.findings == ()


def test_slowest_safe_closing_time__no_limit_at_all(hill: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        slowest_safe_closing_time(SurgeInputs(**hill), np.full(241, np.nan))


def test_slowest_safe_closing_time__progress(hill: dict[str, Any]) -> None:
    seen: list[float] = []
    inputs = SurgeInputs(**hill)
    slowest_safe_closing_time(inputs, _limit(inputs, 10.0), progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0

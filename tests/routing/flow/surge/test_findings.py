"""What a surge says about itself."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from surge_lines import at_levels

from routing.flow.surge import (
    SurgeInputs,
    instant_closure,
    quick_bound,
    run_surge,
    uniform_closure,
)
from routing.water import water_at


def _codes(hill: dict[str, Any], **change: Any) -> dict[str, Any]:
    findings = run_surge(SurgeInputs(**{**hill, **change})).findings
    return {finding.code: finding for finding in findings}


def test_surge_findings__slow_closure_is_quiet(hill: dict[str, Any]) -> None:
    assert _codes(hill, law=uniform_closure(60.0)) == {}


def test_surge_findings__gentle_start_and_summit_below_air(hill: dict[str, Any]) -> None:
    result = run_surge(SurgeInputs(**{**hill, "law": instant_closure()}))
    station = hill["line"].station_m
    below = station[result.lowest_head_m < 0.5 * hill["line"].inside_diameter_m]
    assert below.min() < 200.0
    assert np.any(np.abs(below - 700.0) < 60.0)
    # a blocked nozzle has no closing time
    assert all(finding.code != "closing_too_fast" for finding in result.findings)


def test_surge_findings__parting_at_the_summit(hill: dict[str, Any]) -> None:
    found = _codes(hill, law=instant_closure(), flow_m3_s=0.035)
    assert abs(found["column_separation"].station_m - 700.0) < 30.0
    assert found["column_separation"].severity == "fault"


def test_surge_findings__fast_closures(hill: dict[str, Any]) -> None:
    assert "closing_too_fast" in _codes(hill, law=uniform_closure(4.0))
    # 20 s of stroke, but a gate
    assert "closing_too_fast" in _codes(hill, law=uniform_closure(20.0, "gate"))
    assert "closing_too_fast" not in _codes(hill, law=uniform_closure(20.0))
    assert "closure_instant" in _codes(hill, law=uniform_closure(0.0))


def test_surge_findings__cold_plastic(hill: dict[str, Any]) -> None:
    slow, cold = uniform_closure(60.0), replace(hill["line"], water=water_at(5.0))
    assert "plastic_stiff_when_cold" in _codes(hill, law=slow, line=cold)
    assert "plastic_stiff_when_cold" not in _codes(
        hill, law=slow, line=cold, wave_speed_m_s=(300.0, 320.0)
    )


def test_run_surge__highest_pressure_is_at_the_lowest_place(hill: dict[str, Any]) -> None:
    # A sag below the outlet has the highest pressure, not the powerhouse
    station = hill["line"].station_m
    pipe = 400.0 - 0.1 * station + np.where(station > 800.0, 0.15 * (station - 800.0), 0.0)
    result = run_surge(at_levels(SurgeInputs(**hill), pipe, outlet_m=341.0))
    worst = station[np.argmax(result.highest_pressure_pa)]
    assert abs(worst - 800.0) <= 5.0
    assert result.highest_pressure_pa.max() > result.highest_pressure_pa[-1]


def test_quick_bound__is_that_of_the_run(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill)
    bound, along = quick_bound(inputs)
    result = run_surge(inputs)
    assert bound == result.bound
    assert np.array_equal(along, result.bound_rise_m)
    assert np.all(result.highest_head_m - result.static_head_m <= along + 1e-9)


def test_run_surge__new_pipe_is_the_safe_side(hill: dict[str, Any]) -> None:
    for law in (uniform_closure(8.0), uniform_closure(20.0)):
        new = run_surge(SurgeInputs(**{**hill, "law": law}))
        aged = run_surge(SurgeInputs(**{**hill, "law": law}, new_pipe=False))
        assert new.highest_head_m.max() >= aged.highest_head_m.max() - 0.02

"""What is said about a flow."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from known_lines import known_line

from routing.finding import Finding
from routing.flow import (
    hazen_williams_total,
    line_capacity_m3_s,
    line_resistance,
    steady_flow,
)
from routing.flow.capacity import flow_losing
from routing.flow.design import design_flow
from routing.laid_line import LaidLine
from routing.pipe import load_catalogue, pipe_by_hand

STATION = np.linspace(0.0, 1000.0, 101)
FALLING = 400.0 - 0.06 * STATION


def _line(pipe_m: Any, level_m: float, id: str | None, bore_m: float) -> LaidLine:
    pipe = (
        load_catalogue().find(id)
        if id
        else pipe_by_hand(material="steel", inside_diameter_m=bore_m, wall_m=0.005)
    )
    return known_line(STATION, pipe_m, pipe, intake_m=level_m)


def _study(
    flow_m3_s: float,
    *,
    pipe_m: np.ndarray = FALLING,
    level_m: float = 402.0,
    id: str | None = "PE100-SDR17-200",
    bore_m: float = 0.2,
) -> list[Finding]:
    line = _line(pipe_m, level_m, id, bore_m)
    found = design_flow(line, flow_m3_s, efficiency=0.5)
    failed = [check.finding for check in found.checks if not check.passed]
    assert list(found.findings[: len(failed)]) == failed
    return [each for each in found.findings if "hazen" not in each.code]


def _codes(found: list[Finding]) -> list[tuple[str, str]]:
    return [(each.code, each.severity) for each in found]


def test_flow_findings__a_sound_line_has_none() -> None:
    assert _study(0.024) == []


def test_flow_findings__flow_exceeds() -> None:
    found = _study(0.12)
    assert ("flow_exceeds", "fault") in _codes(found)
    assert "more than the" in found[0].message


def test_flow_findings__capacity_itself_does_not_exceed() -> None:
    line = _line(FALLING, 402.0, "PE100-SDR17-200", 0.2)
    codes = [code for code, _ in _codes(_study(line_capacity_m3_s(line)))]
    assert "flow_exceeds" not in codes
    assert "loss_high" in codes


def _hump(top_m: float) -> np.ndarray:
    """Return a line with a summit at 500 m, its centreline at ``top_m``."""
    pipe_m = FALLING.copy()
    pipe_m[50] = top_m
    return pipe_m


def test_flow_findings__siphon_names_the_stretch() -> None:
    (found,) = _study(0.024, pipe_m=_hump(401.5))
    assert (found.code, found.severity, found.station_m) == ("siphon", "fault", 500.0)
    assert "column" not in found.message
    # 10.2 m below the air at 400 m is more than vapour pressure and its margin leave
    (deep,) = [each for each in _study(0.024, pipe_m=_hump(409.0)) if each.code == "siphon"]
    assert "column of water would part" in deep.message


def test_flow_findings__pressure_at_a_summit() -> None:
    grade_m = 402.0 - _loss_at_500()
    crown = load_catalogue().find("PE100-SDR17-200").inside_diameter_m / 2
    for above, expected in (
        (-0.1, ("siphon", "fault")),
        (0.1, ("low_pressure", "warning")),
        (3.4, ("low_pressure", "warning")),
        (3.6, ("low_pressure", "note")),
        (4.9, ("low_pressure", "note")),
        (5.1, None),
    ):
        found = _codes(_study(0.024, pipe_m=_hump(grade_m - crown - above)))
        assert found == ([] if expected is None else [expected])


def _loss_at_500() -> float:
    """Return how far the grade line lies below the intake's water at 500 m."""
    flow = steady_flow(_line(FALLING, 402.0, "PE100-SDR17-200", 0.2), 0.024)
    return 402.0 - float(flow.hydraulic_grade_m[50])


AREA = np.pi / 4 * 0.2**2
STEEP = 400.0 - 0.9 * STATION


@pytest.mark.parametrize(
    ("velocity", "expected"),
    [
        (0.59, ("velocity_low", "warning")),
        (0.61, None),
        (1.5, None),
        (1.53, ("velocity_high", "note")),
        (5.9, ("velocity_high", "note")),
        (6.1, ("velocity_high", "fault")),
    ],
)
def test_flow_findings__velocity_in_steel(
    velocity: float, expected: tuple[str, str] | None
) -> None:
    found = _codes(_study(velocity * AREA, id=None, pipe_m=STEEP, level_m=406.0))
    assert [each for each in found if "velocity" in each[0]] == ([expected] if expected else [])


@pytest.mark.parametrize(
    ("velocity", "severity"), [(2.9, "note"), (3.1, "warning"), (6.1, "fault")]
)
def test_flow_findings__velocity_in_plastic(velocity: float, severity: str) -> None:
    bore = load_catalogue().find("PE100-SDR17-200").inside_diameter_m
    found = _codes(_study(velocity * np.pi / 4 * bore**2, pipe_m=STEEP, level_m=406.0))
    assert ("velocity_high", severity) in found


def test_flow_findings__share_of_head_lost() -> None:
    def said(flow: float) -> list[tuple[str, str]]:
        return [each for each in _codes(_study(flow)) if each[0] == "loss_high"]

    assert said(0.025) == []
    assert said(0.030) == [("loss_high", "note")]
    assert said(0.040) == [("loss_high", "warning")]
    told = [each.message for q in (0.030, 0.040) for each in _study(q) if each.code == "loss_high"]
    assert all(re.match(r"\d+\.\d % of the gross head is lost; ", each) for each in told), told
    (most,) = [each for each in _study(0.06) if each.code == "loss_high"]
    assert "less power" in most.message


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        (0.099, None), (0.101, "note"), (0.149, "note"), (0.151, "warning"),
        (0.33, "warning"), (0.337, "warning"),
    ],
)  # fmt: skip
def test_judge_flow__limits_of_the_head_lost(share: float, expected: str | None) -> None:
    # 15 % after Leon and Zhu 2014, 10 % common practice, a third where d(Q H)/dQ = 0 for losses as
    # the square of the flow
    line = _line(FALLING, 402.0, "PE100-SDR17-200", 0.2)
    flow = flow_losing(share * line.gross_head_m, line_resistance(line))
    found = [each for each in design_flow(line, flow).findings if each.code == "loss_high"]
    assert [each.severity for each in found] == ([expected] if expected else [])
    assert [each for each in found if "less power" in each.message] == (
        found if share > 0.333 else []
    )


def test_judge_flow__a_siphon_parts_20_kpa_above_vapour() -> None:
    # 10 degC: 1.23 kPa of vapour (Buck); air at 400 m: 96.6 kPa; 20 kPa in hand: 75.4 kPa below the
    # air, 7.69 m of water
    crown = load_catalogue().find("PE100-SDR17-200").inside_diameter_m / 2
    for below, parts in ((7.63, False), (7.85, True)):
        grade_m = 402.0 - _loss_at_500()
        (found,) = [
            each
            for each in _study(0.024, pipe_m=_hump(grade_m - crown + below))
            if each.code == "siphon"
        ]
        assert ("would part" in found.message) == parts


def test_flow_findings__uphill_says_so_and_divides_by_nothing() -> None:
    found = _codes(_study(0.024, pipe_m=400.0 + 0.01 * STATION))
    assert ("flow_exceeds", "fault") in found
    assert "loss_high" not in [code for code, _ in found]


def _apart(flow_m3_s: float, id: str | None = "PE100-SDR17-200") -> list[Finding]:
    found = design_flow(_line(FALLING, 402.0, id, 0.04), flow_m3_s, efficiency=0.5).findings
    return [each for each in found if "hazen" in each.code]


def test_flow_findings__cross_check() -> None:
    # 1.25 m/s in 175 mm of new PE: the two formulas agree
    assert _apart(0.030) == []
    # below 1 m/s C = 150 is optimistic
    (slow,) = _apart(0.018)
    assert slow.severity == "note"
    assert "C = 150 is optimistic" in slow.message
    (fast,) = _apart(0.085)
    assert "outside its range" in fast.message
    (thin,) = _apart(0.002, id=None)
    assert "below its range (50 mm)" in thin.message


def test_judge_flow__one_limit_speaks_for_each_value() -> None:
    """Of several limits on one value the first that fails is judged, and none below it."""
    line = _line(STEEP, 406.0, "PE100-SDR17-200", 0.2)
    bore = line.pipes.runs[0].pipe.inside_diameter_m
    for velocity, keys in ((6.1, 1), (3.1, 2), (1.6, 3), (1.2, 4), (0.5, 4)):
        checks = design_flow(line, velocity * np.pi / 4 * bore**2).checks
        found = [each for each in checks if each.code.startswith("velocity")]
        assert len(found) == keys
        assert [each.passed for each in found[:-1]] == [True] * (keys - 1)


def test_hazen_williams_total__own_material_has_no_coefficient() -> None:
    own = pipe_by_hand(material="bamboo", inside_diameter_m=0.1, wall_m=0.01, roughness_m=1e-3)
    assert hazen_williams_total(known_line(STATION, FALLING, own, intake_m=402.0), 0.01) is None

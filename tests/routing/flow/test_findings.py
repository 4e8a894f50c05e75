"""What is said about a flow."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from routing.finding import Finding
from routing.flow import flow_findings, hazen_williams_total, line_capacity_m3_s, steady_flow
from routing.pipe import load_catalogue, pipe_by_hand, schedule_pipes
from routing.water import water_at

STATION = np.linspace(0.0, 1000.0, 101)
FALLING = 400.0 - 0.06 * STATION


def _study(
    flow_m3_s: float,
    *,
    pipe_m: np.ndarray = FALLING,
    level_m: float = 402.0,
    id: str | None = "PE100-SDR17-200",
    bore_m: float = 0.2,
    summits: tuple[int, ...] = (),
    check: bool = False,
) -> list[Finding]:
    pipe = (
        load_catalogue().find(id)
        if id
        else pipe_by_hand(material="steel", inside_diameter_m=bore_m, wall_m=0.005)
    )
    schedule = schedule_pipes([(0.0, pipe)], 1000.0)
    water = water_at(10.0)
    line: dict[str, Any] = {
        "entrance_k": 0.5,
        "station_m": STATION,
        "slope_station_m": STATION,
        "schedule": schedule,
        "water": water,
    }
    levels = {"intake_level_m": level_m, "pipe_m": pipe_m}
    gross_head_m = level_m - float(pipe_m[-1])
    return list(
        flow_findings(
            flow=steady_flow(flow_m3_s=flow_m3_s, **levels, **line),
            schedule=schedule,
            station_m=STATION,
            pipe_m=pipe_m,
            summits=np.array(summits, dtype=np.int64),
            gross_head_m=gross_head_m,
            capacity_m3_s=line_capacity_m3_s(gross_head_m=gross_head_m, **line),
            water=water,
            flow_new=steady_flow(flow_m3_s=flow_m3_s, **levels, **line, new_pipe=True)
            if check
            else None,
            hazen_williams_m=hazen_williams_total(
                flow_m3_s=flow_m3_s, station_m=STATION, slope_station_m=STATION, schedule=schedule
            )
            if check
            else None,
        )
    )


def _codes(found: list[Finding]) -> list[tuple[str, str]]:
    return [(each.code, each.severity) for each in found]


def test_flow_findings__a_sound_line_has_none() -> None:
    assert _study(0.024) == []


def test_flow_findings__flow_exceeds() -> None:
    found = _study(0.12)
    assert ("flow_exceeds", "fault") in _codes(found)
    assert "more than the" in found[0].message


def test_flow_findings__capacity_itself_does_not_exceed() -> None:
    line = {
        "entrance_k": 0.5,
        "station_m": STATION,
        "slope_station_m": STATION,
        "schedule": schedule_pipes([(0.0, load_catalogue().find("PE100-SDR17-200"))], 1000.0),
        "water": water_at(10.0),
    }
    capacity = line_capacity_m3_s(gross_head_m=62.0, **line)
    codes = [code for code, _ in _codes(_study(capacity))]
    assert "flow_exceeds" not in codes
    assert "loss_high" in codes


def _hump(top_m: float) -> np.ndarray:
    """Return a line with a summit at 500 m, its centreline at ``top_m``."""
    pipe_m = FALLING.copy()
    pipe_m[50] = top_m
    return pipe_m


def test_flow_findings__siphon_names_the_stretch() -> None:
    (found,) = _study(0.024, pipe_m=_hump(401.5), summits=(50,))
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
        found = _codes(_study(0.024, pipe_m=_hump(grade_m - crown - above), summits=(50,)))
        assert found == ([] if expected is None else [expected])


def _loss_at_500() -> float:
    """Return how far the grade line lies below the intake's water at 500 m."""
    flow = steady_flow(
        flow_m3_s=0.024,
        intake_level_m=402.0,
        pipe_m=FALLING,
        entrance_k=0.5,
        station_m=STATION,
        slope_station_m=STATION,
        schedule=schedule_pipes([(0.0, load_catalogue().find("PE100-SDR17-200"))], 1000.0),
        water=water_at(10.0),
    )
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
    (most,) = [each for each in _study(0.06) if each.code == "loss_high"]
    assert "less power" in most.message


def test_flow_findings__uphill_says_so_and_divides_by_nothing() -> None:
    found = _codes(_study(0.024, pipe_m=400.0 + 0.01 * STATION))
    assert ("flow_exceeds", "fault") in found
    assert "loss_high" not in [code for code, _ in found]


def test_flow_findings__cross_check() -> None:
    # 1.25 m/s in 175 mm of new PE: the two formulas agree
    assert not [each for each in _study(0.030, check=True) if "hazen" in each.code]
    # below 1 m/s C = 150 is optimistic
    (slow,) = [each for each in _study(0.018, check=True) if "hazen" in each.code]
    assert slow.severity == "note"
    assert "C = 150 is optimistic" in slow.message
    (fast,) = [each for each in _study(0.085, check=True) if "hazen" in each.code]
    assert "outside its range" in fast.message
    (thin,) = [
        each for each in _study(0.002, id=None, bore_m=0.04, check=True) if "hazen" in each.code
    ]
    assert "below its range (50 mm)" in thin.message


def test_hazen_williams_total__own_material_has_no_coefficient() -> None:
    own = pipe_by_hand(material="bamboo", inside_diameter_m=0.1, wall_m=0.01, roughness_m=1e-3)
    assert (
        hazen_williams_total(
            flow_m3_s=0.01,
            station_m=STATION,
            slope_station_m=STATION,
            schedule=schedule_pipes([(0.0, own)], 1000.0),
        )
        is None
    )

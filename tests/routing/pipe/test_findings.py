"""What is doubtful about the pipes."""

from __future__ import annotations

import numpy as np
import pytest

from routing.pipe import (
    Pipe,
    load_catalogue,
    over_rating_findings,
    pipe_by_hand,
    pipe_findings,
    schedule_pipes,
)

FIND = load_catalogue().find


def _codes(*pipes: Pipe, temperature_c: float = 10.0) -> list[str]:
    entries = [(100.0 * number, pipe) for number, pipe in enumerate(pipes)]
    found = pipe_findings(schedule_pipes(entries, 100.0 * len(pipes)), temperature_c)
    return [each.code for each in found]


def _own(bore_mm: float, material: str = "PVC") -> Pipe:
    return pipe_by_hand(
        material=material, inside_diameter_m=bore_mm / 1000, wall_m=0.006, rating_pa=1e6
    )


def test_pipe_findings__a_sound_pipe_has_none() -> None:
    assert _codes(FIND("PE100-SDR17-200")) == []
    assert _codes(_own(154.5)) == []


@pytest.mark.parametrize("bore_mm", [152.4, 200.0, 250.0])
def test_pipe_findings__nominal_bore(bore_mm: float) -> None:
    assert _codes(_own(bore_mm)) == ["nominal_bore"]


def test_pipe_findings__a_bore_that_is_made_is_not_nominal() -> None:
    # 4 in Sch 40 has a bore of 3.998 in, so 101.6 mm may be meant
    assert _codes(_own(101.6)) == []


def test_pipe_findings__no_rating() -> None:
    assert _codes(pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)) == [
        "no_rating"
    ]


def test_pipe_findings__temperature() -> None:
    assert _codes(FIND("PE100-SDR17-200"), temperature_c=20.0) == []
    assert _codes(FIND("PE100-SDR17-200"), temperature_c=25.0) == ["rating_derated"]
    assert _codes(FIND("STEEL-B3610-40-8in"), temperature_c=35.0) == []
    glass = pipe_by_hand(
        material="glass fibre",
        inside_diameter_m=0.19,
        wall_m=0.005,
        roughness_m=1e-5,
        rating_pa=1e6,
    )
    assert _codes(glass, temperature_c=10.0) == []
    assert _codes(glass, temperature_c=30.0) == ["temperature_high"]


def test_pipe_findings__from_memory() -> None:
    assert _codes(FIND("PVC-D2241IPS-SDR64-8in")) == ["catalogue_memory"]


@pytest.mark.parametrize(
    ("above", "below", "mixed"),
    [
        ("PVC-D2241IPS-SDR41-8in", "PVC-D2241IPS-SDR26-8in", False),
        ("PVC-D2241IPS-SDR41-8in", "PVC-C900-DR25-8in", True),
        ("PVC-D2241IPS-SDR41-8in", "PVC-D2241PIP-SDR41-8in", True),
        ("PE100-SDR17-200", "PVC-D2241IPS-SDR41-8in", True),
        ("PE100-SDR26-200", "PE100-SDR11-200", False),
    ],
)
def test_pipe_findings__diameter_families(above: str, below: str, mixed: bool) -> None:
    assert ("diameters_mixed" in _codes(FIND(above), FIND(below))) == mixed


def test_pipe_findings__families_by_hand_go_by_size() -> None:
    assert "diameters_mixed" not in _codes(_own(188.0), FIND("PE100-SDR17-200"))
    assert "diameters_mixed" in _codes(_own(154.5), FIND("PE100-SDR17-200"))


def test_pipe_findings__each_kind_once() -> None:
    thin, thick = FIND("PVC-D2241IPS-SDR64-8in"), FIND("PVC-D2241IPS-SDR26-8in")
    assert _codes(thin, thick, thin) == ["catalogue_memory"]


def _faults(
    pressure_kpa: list[float], temperature_c: float = 10.0
) -> list[tuple[float | None, str]]:
    schedule = schedule_pipes(
        [(0.0, FIND("PE100-SDR26-200")), (200.0, FIND("PE100-SDR17-200"))], 400.0
    )
    station = np.linspace(0.0, 400.0, len(pressure_kpa))
    found = over_rating_findings(schedule, station, np.array(pressure_kpa) * 1000, temperature_c)
    assert all(each.code == "over_rating" and each.severity == "fault" for each in found)
    return [(each.station_m, each.message) for each in found]


def test_over_rating_findings__holds() -> None:
    assert _faults([0, 300, 600, 800, 1000]) == []


def test_over_rating_findings__names_place_and_pipe() -> None:
    ((station, message),) = _faults([0, 300, 590, 1200, 700])
    assert station == 300.0
    assert "1200 kPa" in message
    assert "PE100-SDR13.6-200 would hold it" in message


def test_over_rating_findings__the_joint_loads_the_pipe_above_it() -> None:
    ((station, message),) = _faults([0, 300, 700, 600, 500])
    assert station == 200.0
    assert "PE100 SDR26" in message


def test_over_rating_findings__warm_water_holds_less() -> None:
    assert _faults([0, 300, 400, 800, 900], temperature_c=20.0) == []
    ((station, message),) = _faults([0, 300, 400, 800, 900], temperature_c=30.0)
    assert station == 400.0
    assert "870 kPa" in message


def test_over_rating_findings__nothing_in_the_catalogue_holds() -> None:
    ((_, message),) = _faults([0, 300, 400, 800, 9000])
    assert "choose another material" in message


def test_over_rating_findings__unrated_pipe_is_not_judged() -> None:
    own = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)
    schedule = schedule_pipes([(0.0, own)], 400.0)
    ends = np.array([0.0, 400.0])
    assert over_rating_findings(schedule, ends, np.array([0.0, 1e9]), 10.0) == ()

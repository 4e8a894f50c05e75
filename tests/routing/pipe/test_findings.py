"""What is doubtful about the pipes."""

from __future__ import annotations

import pytest

from routing.check import Check
from routing.pipe import (
    Pipe,
    load_catalogue,
    pipe_by_hand,
    pipe_checks,
    pipe_findings,
    schedule_pipes,
)

FIND = load_catalogue().find


def _codes(*pipes: Pipe, temperature_c: float = 10.0) -> list[str]:
    entries = [(100.0 * number, pipe) for number, pipe in enumerate(pipes)]
    found = pipe_findings(schedule_pipes(entries, 100.0 * len(pipes)), temperature_c)
    return [each.code for each in found]


def _mixed(above: Pipe, below: Pipe) -> bool:
    checks = pipe_checks(schedule_pipes([(0.0, above), (100.0, below)], 200.0))
    return "diameters_mixed" in [each.code for each in checks if not each.passed]


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
def test_pipe_checks__diameter_families(above: str, below: str, mixed: bool) -> None:
    assert _mixed(FIND(above), FIND(below)) == mixed


def test_pipe_checks__families_by_hand_go_by_size() -> None:
    assert not _mixed(_own(188.0), FIND("PE100-SDR17-200"))
    assert _mixed(_own(154.5), FIND("PE100-SDR17-200"))


def test_pipe_findings__each_kind_once() -> None:
    thin, thick = FIND("PVC-D2241IPS-SDR64-8in"), FIND("PVC-D2241IPS-SDR26-8in")
    assert _codes(thin, thick, thin) == ["catalogue_memory"]


def test_pipe_checks__a_rating_beyond_the_wall_is_a_fault() -> None:
    # ASTM D2241, from memory: 2 x 13.79 MPa x 5 / (200 - 5) = 707 kPa; published are rounded.
    def rated(kpa: float, material: str = "PVC") -> Check:
        pipe = pipe_by_hand(
            material=material, inside_diameter_m=0.19, wall_m=0.005, rating_pa=1000.0 * kpa
        )
        (check,) = pipe_checks(schedule_pipes([(0.0, pipe)], 100.0))
        return check

    assert rated(707.0).demand == pytest.approx(1.0, abs=1e-3)
    assert rated(730.0).passed
    assert (rated(740.0).passed, rated(740.0).severity) == (False, "fault")
    assert rated(740.0).code == "rating_too_high"
    # Steel: 2 x 120.5 MPa x 5 / 200 = 6025 kPa (AWWA M11, from memory).
    assert rated(6025.0, "steel").demand == pytest.approx(1.0, abs=1e-3)
    # Oriented PVC is designed for more than twice the stress (ISO 16422, from memory).
    assert rated(1600.0, "PVC-O").passed
    assert not rated(1600.0, "uPVC").passed


def test_pipe_checks__no_rating_of_the_catalogue_is_doubted_by_its_own_formula() -> None:
    for made in load_catalogue():
        assert made.wall_least_m is not None
        pipe = pipe_by_hand(
            material=made.material,
            inside_diameter_m=made.outside_diameter_m - 2.0 * made.wall_least_m,
            wall_m=made.wall_least_m,
            rating_pa=made.rating_pa,
        )
        (check,) = pipe_checks(schedule_pipes([(0.0, pipe)], 100.0))
        assert check.passed, (made.id, check.demand)


def test_pipe_checks__a_material_of_unknown_stress_is_not_judged() -> None:
    stave = pipe_by_hand(material="wood", inside_diameter_m=0.4, wall_m=0.03, rating_pa=5e6)
    assert pipe_checks(schedule_pipes([(0.0, stave)], 100.0)) == ()

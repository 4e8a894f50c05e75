"""Walls and bores of the catalogue against standards, published tables and the fluids library."""

from __future__ import annotations

import math

import pytest
from fluids.piping import schedule_lookup
from pipe_rules import bore_pe_m, iso_wall_m, mean_wall_pvc_m
from published import gives, published, table

from routing.pipe import Pipe, load_catalogue

INCH = 0.0254


def bore_in(name: str) -> float:
    return load_catalogue().find(name).inside_diameter_m / INCH


test_catalogue__published_bores = published(
    table(
        "undergroundsolutions.com/pipe-dimensional-data",
        [
            ("PVC-C900-DR18-6in", 6.09),
            ("PVC-C900-DR25-8in", 8.28),
            ("PVC-D2241IPS-SDR26-6in", 6.08),
            ("PVC-D2241IPS-SDR26-12in", 11.71),
        ],
        gives(bore_in, abs=0.01),
    ),
    table(
        "sd-w.com/channel_flow/pipe_data",
        [("PVC-D1785-SCH40-4in", 3.998), ("PVC-D1785-SCH80-8in", 7.565)],
        gives(bore_in, abs=0.01),
    ),
    # 12 in of ductile-iron size, DR 11
    table(
        "PE4710 and PE3608 comparison (de.scribd.com/document/437569697)",
        [(13.20, 11.0, 10.66)],
        gives(bore_pe_m, abs=0.005),
    ),
    # least walls [mm] by outside diameter and S
    table(
        "PE100: rotorwandatanks.com, vesbo.com, MS 1058-2:2005",
        [(90, 8, 5.4), (110, 8, 6.6), (125, 8, 7.4), (160, 8, 9.5), (200, 8, 11.9),
         (250, 8, 14.8), (315, 8, 18.7), (400, 8, 23.7), (500, 8, 29.7), (630, 8, 37.4),
         (110, 5, 10.0), (160, 5, 14.6), (200, 5, 18.2), (63, 5, 5.8), (90, 4, 10.1),
         (250, 10, 11.9), (110, 3.2, 15.1)],
        gives(lambda dn, s: iso_wall_m(dn / 1000, s) * 1000, abs=1e-9),
    ),
)  # fmt: skip


def test_catalogue__published_mean_wall() -> None:
    # availableplastics.com/pvc_pipe_dimensions.html: 8 in SDR 26, mean wall 0.352 in
    pipe = load_catalogue().find("PVC-D2241IPS-SDR26-8in")
    assert pipe.wall_m / INCH == pytest.approx(0.352, abs=0.0005)
    assert mean_wall_pvc_m(pipe.outside_diameter_m / 26) / INCH == pytest.approx(0.352, abs=0.0006)


def _ratio(pipe: Pipe) -> float:
    assert pipe.series is not None
    return float(pipe.series.split("DR")[-1])


def test_catalogue__polyethylene_of_us_sizes_follows_the_bore_rule() -> None:
    pipes = load_catalogue().select(material="PE4710")
    assert len(pipes) == 113
    for pipe in pipes:
        bore = bore_pe_m(pipe.outside_diameter_m, _ratio(pipe))
        assert pipe.inside_diameter_m == pytest.approx(bore, abs=5e-5)


S_OF_SDR = {41: 20, 33: 16, 26: 12.5, 21: 10, 17: 8, 13.6: 6.3, 11: 5, 9: 4, 7.4: 3.2}


def test_catalogue__iso_walls_follow_the_rule_and_leave_room_for_tolerance() -> None:
    pipes = load_catalogue().select(material="PE100") + load_catalogue().select(standard="ISO 1452")
    assert len(pipes) == 278
    for pipe in pipes:
        assert pipe.nominal is not None
        assert pipe.series is not None
        least = iso_wall_m(float(pipe.nominal.split()[-1]) / 1000, S_OF_SDR[_ratio(pipe)])
        # the mean wall is the least and half the tolerance of ISO 11922-1 (about 10 % + 0.1 mm)
        assert least < pipe.wall_m < 1.1 * least + 0.0003


def _libraries() -> list[tuple[str, str]]:
    ratios = {
        "64": "64",
        "41": "41",
        "325": "32.5",
        "26": "26",
        "21": "21",
        "17": "17",
        "135": "13.5",
    }
    names = [(f"DR{key}D2241", f"SDR{value}") for key, value in ratios.items()]
    return [*names, ("40D1785", "Sch40"), ("80D1785", "Sch80")]


@pytest.mark.parametrize(("table", "series"), _libraries())
def test_catalogue__pvc_of_fluids(table: str, series: str) -> None:
    nominal, _, outside, wall = schedule_lookup[table][0:4]
    sizes = dict(zip(nominal, zip(outside, wall, strict=True), strict=True))
    standard = "D2241" if "D2241" in table else "D1785"
    pipes = load_catalogue().select(standard=standard, series=series)
    assert pipes
    for pipe in pipes:
        assert pipe.nominal is not None
        outside_mm, wall_mm = sizes[float(pipe.nominal.split()[0])]
        assert pipe.outside_diameter_m * 1000 == pytest.approx(outside_mm, abs=0.02)
        assert pipe.wall_m == pytest.approx(mean_wall_pvc_m(wall_mm / 1000), abs=1e-5)


def test_catalogue__every_pipe_is_sound() -> None:
    pipes = list(load_catalogue())
    assert len(pipes) == len(load_catalogue()) == 683
    for pipe in pipes:
        room = pipe.outside_diameter_m - pipe.inside_diameter_m
        # a cement lining (ductile iron) takes bore beyond the wall
        lining = 0.0050 if pipe.material == "DI" else 1e-4
        assert -1e-4 < room - 2 * pipe.wall_m < lining
        assert pipe.dimension_source
        assert pipe.rating_source
        assert pipe.dimension_status in ("SOURCE SEEN", "CALCULATED", "FROM MEMORY")
        assert pipe.rating_status in ("SOURCE SEEN", "CALCULATED", "FROM MEMORY")
        assert pipe.rating_pa is not None
        assert pipe.roughness_m > pipe.roughness_new_m > 0


DENSITY = {"PVC": 1400, "PE100": 955, "PE4710": 955, "STEEL": 7850, "DI": 7050}


def test_catalogue__masses_are_wall_times_density() -> None:
    for pipe in load_catalogue():
        middle = pipe.outside_diameter_m - pipe.wall_m
        mass = DENSITY[pipe.material] * math.pi * middle * pipe.wall_m
        assert pipe.mass_kg_m == pytest.approx(mass, rel=0.012)


def test_catalogue__more_pressure_never_means_more_bore() -> None:
    kinds: dict[tuple[str | None, ...], list[Pipe]] = {}
    for pipe in load_catalogue():
        kinds.setdefault((pipe.material, pipe.standard, pipe.nominal), []).append(pipe)
    for pipes in kinds.values():
        pipes.sort(key=lambda pipe: pipe.inside_diameter_m)
        ratings = [pipe.rating_pa or 0.0 for pipe in pipes]
        assert ratings == sorted(ratings, reverse=True)

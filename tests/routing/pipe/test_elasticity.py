"""Stiffness of pipes by hand and from the catalogue."""

from __future__ import annotations

from routing.pipe import find_elasticity, load_catalogue, pipe_by_hand


def test_find_elasticity__words_of_the_trade() -> None:
    assert find_elasticity("uPVC").material == "PVC"
    assert find_elasticity("HDPE").material == "PE100"
    assert find_elasticity("fibreglass").material == "GRP"
    assert find_elasticity("bamboo") is None


def test_find_elasticity__order_of_stiffness() -> None:
    for pipe in load_catalogue():
        table = find_elasticity(pipe.material)
        assert table.elastic_dynamic_pa >= table.elastic_short_pa >= table.elastic_long_pa
        assert pipe.elastic_dynamic_pa >= pipe.elastic_short_pa >= pipe.elastic_long_pa


def test_pipe_by_hand__carries_its_materials_stiffness() -> None:
    steel = pipe_by_hand(material="welded steel", inside_diameter_m=0.4, wall_m=0.004)
    assert steel.elastic_dynamic_pa == 207e9
    assert steel.poisson == 0.3
    assert steel.density_kg_m3 == 7850.0
    unknown = pipe_by_hand(
        material="bamboo", inside_diameter_m=0.1, wall_m=0.01, roughness_m=0.0005
    )
    assert unknown.elastic_dynamic_pa is None
    assert unknown.expansion_per_c is None

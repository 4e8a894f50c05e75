"""The numbers by which vents and drains are sized, read from their data files once."""

from __future__ import annotations

from functools import cache

from routing.trade_table import numbers_of, pairs_of, trade_table
from routing.value import dataclass

__all__ = ["SizingNumbers", "pocket_factors", "sizing", "source_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingNumbers:
    """Every number that the sizing uses; meaning, unit and source in ``sizing.csv``."""

    large_orifice_cd: float
    small_orifice_cd: float
    gas_ratio: float
    gas_constant: float
    air_temperature_c: float
    fill_velocity_m_s: float
    fill_pressure_pa: float
    unknown_pipe_vacuum_pa: float
    dissolved_air: float
    open_vent_friction: float
    open_vent_entry_k: float
    open_vent_bends_k: float
    drain_cd: float
    drain_hours: float
    drain_time_error: float
    flush_velocity_m_s: float
    flush_most: float
    relief_cd: float
    relief_above_static: float
    relief_step: float
    relief_bore_share: float
    relief_one_bore: float
    relief_most_valves: float
    carry_slope: float
    carry_safety: float
    sanks_base: float
    sanks_slope: float
    water_heat_j_kg_k: float
    water_density_kg_m3: float
    fusion_j_kg: float
    soil_conductivity_w_m_k: float
    soil_dry_density_kg_m3: float
    soil_moisture: float
    bare_surface: float
    film_w_m2_k: float
    insulation_w_m_k: float
    drain_within_s: float
    assumed_roughness_m: float


@cache
def sizing() -> SizingNumbers:
    """Return the numbers that the sizing uses.

    >>> sizing().large_orifice_cd
    0.7
    """
    return numbers_of(SizingNumbers, __file__, "sizing.csv")


def source_of(name: str) -> str:
    """Return where a number comes from, with how sure that is.

    >>> source_of("fill_velocity_m_s")
    'AWWA C605 and C600 (from memory of AWWA C605)'
    """
    row = next(row for row in trade_table(__file__, "sizing.csv") if row["name"] == name)
    return f"{row['source']} ({row['status']})" if row["source"] else row["status"]


def pocket_factors() -> tuple[tuple[float, float], ...]:
    """Return the factors of air pockets: largest pocket 4 V / (pi D3) and factor, rising."""
    return pairs_of(__file__, "pocket_factors.csv", "pocket_up_to", "factor")

"""The tables of this room, read from its data files once."""

from __future__ import annotations

from functools import cache

from routing.trade_table import numbers_of, rows_of, scaled, trade_table
from routing.units import FOOT
from routing.value import dataclass

__all__ = [
    "AnchorLimits",
    "Formula",
    "SlopeCentres",
    "SpanStress",
    "anchor_limits",
    "formulas",
    "made_angles_deg",
    "slope_centres",
    "span_stress",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """One formula of this room: what it gives, on which side it errs, on whose word."""

    id: str
    what: str
    equation: str
    safe_side: str
    source: str
    address: str
    status: str


@cache
def formulas() -> dict[str, Formula]:
    """Return every formula of this room by its id.

    >>> formulas()["thrust.bend"].safe_side
    'the angle in space, never the plan angle alone'
    """
    return {each.id: each for each in rows_of(Formula, __file__, "formulas.csv")}


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorLimits:
    """Every number that the rules of this room use; meaning, unit and source in ``limits.csv``."""

    block_safety: float
    concrete_n_m3: float
    block_friction: float
    block_height_share: float
    block_least_around_m: float
    block_step_m: float
    block_cure_days: float
    block_concrete_mpa: float
    anchor_key_m: float
    anchor_thick_m: float
    footing_depth_m: float
    pipe_friction: float
    mitre_deg: float
    unknown_soil_psf: float
    velocity_m_s: float
    saturated_n_m3: float
    peat_n_m3: float
    soil_shoulder: float
    flotation_safety: float
    saddle_friction: float
    anchor_straight_m: float
    sag_share: float
    wind_pa: float
    published_most: float
    rope_safety: float
    rope_share: float
    rope_sag_share: float
    flood_clearance_m: float
    joint_gap_m: float
    pe_gap_per_c: float
    steel_yield_pa: float


@cache
def anchor_limits() -> AnchorLimits:
    """Return the numbers that the rules of this room use.

    >>> anchor_limits().block_safety
    1.5
    """
    return numbers_of(AnchorLimits, __file__, "limits.csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeCentres:
    """Anchors on ground of this grade and more stand no further apart than this."""

    from_grade: float
    centres_m: float
    source: str
    status: str


@cache
def slope_centres() -> tuple[SlopeCentres, ...]:
    """Return the spacing of anchors on steep ground, gentlest first."""
    centres = scaled("centres_ft", FOOT)
    return rows_of(SlopeCentres, __file__, "slope_anchors.csv", centres_m=centres)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanStress:
    """What a span of one material may be stressed to, and which stress that is."""

    material: str
    basis: str
    allowable_pa: float | None
    share_of_yield: float | None
    yield_pa: float | None
    source: str
    status: str


@cache
def span_stress() -> dict[str, SpanStress]:
    """Return the allowable stresses of spans by family of material."""
    rows = rows_of(
        SpanStress,
        __file__,
        "span_stress.csv",
        allowable_pa=scaled("allowable_mpa", 1e6),
        yield_pa=scaled("yield_mpa", 1e6),
    )
    return {each.material: each for each in rows}


@cache
def made_angles_deg() -> tuple[float, ...]:
    """Return the angles that bends are made in, largest first [deg]."""
    return tuple(
        sorted(
            (float(row["angle_deg"]) for row in trade_table(__file__, "fittings.csv")), reverse=True
        )
    )

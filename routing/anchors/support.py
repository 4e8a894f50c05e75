"""The spans of a line judged, with their supports, anchors, expansion and longest bay."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from routing.anchors.beam import Support, support_reactions_n, weight_n_m
from routing.anchors.given import Requirement
from routing.anchors.restraint import downslope_force_n
from routing.anchors.saddle import published_span_m
from routing.anchors.span import (
    PipeBody,
    SpanConditions,
    held_force_n,
    span_loads_n_m,
    span_requirements,
)
from routing.anchors.thermal import joint_opening_m, thermal_movement_m
from routing.anchors.trade_data import anchor_limits, material_family
from routing.arrays import FloatArray
from routing.errors import InputError
from routing.need import need
from routing.trench import Span

__all__ = ["SpanCheck", "check_spans"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanCheck:
    """One span judged; lengths along the slope of the pipe.

    ``longest_m`` is the greatest distance between supports that keeps every requirement but the
    published spacing; ``reactions_n`` the load of each support, first to last.
    """

    from_m: float
    to_m: float
    length_m: float
    bay_m: float
    bays: int
    support: Support
    weight_n_m: float
    load_n_m: float
    reactions_n: tuple[float, ...]
    requirements: tuple[Requirement, ...]
    longest_m: float
    published_m: float | None
    movement_m: float
    restrained_n: float
    anchor_pull_n: float
    expansion_joints: int
    joint_opening_m: float

    @property
    def passed(self) -> bool:
        """Return whether every requirement is kept."""
        return all(each.passed for each in self.requirements)


def check_spans(
    spans: Sequence[Span],
    station_m: FloatArray,
    pipe_m: FloatArray,
    *,
    bodies: Sequence[PipeBody],
    pressure_pa: Sequence[float],
    conditions: SpanConditions | None = None,
) -> tuple[SpanCheck, ...]:
    """Judge every span of a line, and find how far apart its supports may stand.

    Parameters
    ----------
    spans : sequence of Span
        The stretches above ground, by station [m]
    station_m, pipe_m : FloatArray
        Stations, strictly rising, and centreline of the pipe, shape (n,) [m]
    bodies : sequence of PipeBody
        The pipe of each span
    pressure_pa : sequence of float
        Greatest pressure in each span, >= 0 [Pa]
    conditions : SpanConditions, optional
        Supports, loads and temperatures; None takes the defaults

    Returns
    -------
    checks : tuple of SpanCheck
        One per span

    Raises
    ------
    InputError
        If the sequences differ in length or a value is outside the bounds of the formulas.

    Notes
    -----
    Valid for: pipe bridges of moderate span; the structure is for a licensed engineer to design.
    Without expansion joints in spans of up to 30 m the anchors take the force of heat and cold.
    Checked by ``tests/routing/anchors/test_support.py``.

    Examples
    --------
    >>> from routing.anchors import Section
    >>> pvc = PipeBody(material="PVC", density_kg_m3=1400.0, elastic_long_pa=1.0e9,
    ...     section=Section(outside_diameter_m=0.16828, inside_diameter_m=0.1528),
    ...     elastic_short_pa=2.758e9, expansion_per_c=5.4e-5)
    >>> check = check_spans([Span(from_m=0.0, to_m=12.0)], np.array([0.0, 12.0]),
    ...                     np.array([10.0, 9.0]), bodies=[pvc], pressure_pa=[3.0e5])[0]
    >>> check.passed, check.longest_m
    (False, 2.2584)

    References
    ----------
    .. [1] As the single formulas.
    """
    if not len(spans) == len(bodies) == len(pressure_pa):
        raise InputError(
            f"{len(spans)} spans have {len(bodies)} pipes and {len(pressure_pa)} pressures.",
            "Give one of each per span.",
        )
    given = conditions or SpanConditions()
    return tuple(
        _check(span, station_m, pipe_m, body, pressure, given)
        for span, body, pressure in zip(spans, bodies, pressure_pa, strict=True)
    )


def _check(
    span: Span, station_m: FloatArray, pipe_m: FloatArray, body: PipeBody, pressure_pa: float,
    conditions: SpanConditions,
) -> SpanCheck:  # fmt: skip
    numbers = anchor_limits()
    top, bottom = np.interp([span.from_m, span.to_m], station_m, pipe_m).tolist()
    plan, fall = span.to_m - span.from_m, top - bottom
    length = math.hypot(plan, fall)
    bays = 1
    if conditions.spacing_m is not None:
        need("The distance between supports", conditions.spacing_m, above=0.0, unit="m")
        bays = max(1, math.ceil(length / conditions.spacing_m - 1e-9))
    bay = length / bays
    support = conditions.support or ("continuous" if bays >= 3 else "simple")
    held = length <= numbers.anchor_straight_m
    asked = span_requirements(
        body, conditions, bay_m=bay, support=support, pressure_pa=pressure_pa,
        grade=fall / plan, held=held,
    )  # fmt: skip
    weight, load = span_loads_n_m(body, conditions)
    empty = weight_n_m(
        body.section, pipe_density_kg_m3=body.density_kg_m3, full=False,
        gravity_m_s2=conditions.gravity_m_s2, extra_n_m=conditions.extra_n_m,
    )  # fmt: skip
    expansion = body.expansion_per_c
    if material_family(body.material) == "PE":
        expansion = max(expansion, numbers.pe_gap_per_c)
    colder = conditions.fitting_c - conditions.coldest_c
    hotter = conditions.hottest_c - conditions.fitting_c
    joints = 0 if held else math.ceil(length / numbers.anchor_straight_m - 1e-9)
    served = length / max(joints, 1)
    return SpanCheck(
        from_m=span.from_m, to_m=span.to_m, length_m=length, bay_m=bay, bays=bays,
        support=support, weight_n_m=weight, load_n_m=load,
        reactions_n=support_reactions_n(weight, bay, bays), requirements=asked,
        longest_m=_longest_m(body, conditions, support, pressure_pa, fall / plan, held),
        published_m=published_span_m(
            material_family(body.material), body.section.outside_diameter_m, conditions.water_c
        ),
        movement_m=thermal_movement_m(expansion, length, colder + hotter),
        restrained_n=max(held_force_n(body, colder), held_force_n(body, hotter)),
        anchor_pull_n=downslope_force_n(
            pipe_n_m=empty, water_n_m=weight - empty, length_m=served,
            slope_deg=math.degrees(math.atan2(abs(fall), plan)),
        ),
        expansion_joints=joints,
        joint_opening_m=joint_opening_m(
            expansion, served, conditions.hottest_c, conditions.fitting_c
        ),
    )  # fmt: skip


def _longest_m(
    body: PipeBody, conditions: SpanConditions, support: Support, pressure_pa: float, grade: float,
    held: bool,
) -> float:  # fmt: skip
    """Return the longest bay that keeps every requirement that depends on its length."""

    def keeps(bay_m: float) -> bool:
        asked = span_requirements(
            body, conditions, bay_m=bay_m, support=support, pressure_pa=pressure_pa, grade=grade,
            held=held,
        )  # fmt: skip
        return all(each.passed for each in asked)

    low, high = 0.05, 100.0
    if not keeps(low):
        return 0.0
    # Every demand grows with the bay faster than its limit, so halving finds the one change.
    while high - low > 1e-4:
        middle = (low + high) / 2.0
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return low

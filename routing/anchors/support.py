"""The spans of a line judged, with their supports, anchors, expansion and longest bay."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from routing.anchors.beam import Support, sag_m, support_reactions_n, weight_n_m
from routing.anchors.cable import CablePull, cable_pull
from routing.anchors.given import pipe_at
from routing.anchors.requirements import asked
from routing.anchors.restraint import downslope_force_n
from routing.anchors.saddle import published_span_m
from routing.anchors.span import (
    PipeBody,
    SpanConditions,
    body_of,
    held_force_n,
    span_loads_n_m,
    span_requirements,
)
from routing.anchors.thermal import joint_opening_m, thermal_movement_m
from routing.anchors.trade_data import anchor_limits
from routing.arrays import FloatArray
from routing.check import Check
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import Pipe, material_family
from routing.trench import Span
from routing.value import dataclass

__all__ = ["SpanCheck", "check_spans", "gap_expansion_per_c", "span_pipe"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanCheck:
    """One span judged; lengths along the slope of the pipe.

    ``longest_m`` is the greatest distance between supports that keeps every requirement but the
    published spacing; ``reactions_n`` the load of each support, first to last; ``checks`` all that
    is asked of it.
    """

    from_m: float
    to_m: float
    length_m: float
    bay_m: float
    bays: int
    support: Support
    weight_n_m: float
    empty_n_m: float
    load_n_m: float
    sags_m: tuple[float, float, float]
    """Sag of a bay: empty, full at once, and full for years as plastic creeps."""
    reactions_n: tuple[float, ...]
    checks: tuple[Check, ...]
    longest_m: float
    published_m: float | None
    movement_m: float
    restrained_n: float
    anchor_pull_n: float
    expansion_joints: int
    joint_opening_m: float
    rope: CablePull | None = None
    """The ropes it hangs from; None where it stands on supports."""

    @property
    def passed(self) -> bool:
        """Return whether every requirement is kept."""
        return all(each.passed for each in self.checks)


def span_pipe(line: LaidLine, span: Span) -> Pipe:
    """Return the pipe that lies on a span, by its upper end."""
    return pipe_at(line, int(np.searchsorted(line.station_m, span.from_m - 1e-6)))


def check_spans(
    line: LaidLine, pressure_pa: FloatArray, conditions: SpanConditions | None = None
) -> tuple[SpanCheck, ...]:
    """Judge every span of a line, and find how far apart its supports may stand.

    Parameters
    ----------
    line : LaidLine
        The line as laid; a span whose pipe's stiffness nobody knows is left out [-]
    pressure_pa : FloatArray
        Governing pressure, (n,), >= 0 [Pa]
    conditions : SpanConditions, optional
        Loads and temperatures; None takes the defaults. Supports stand as the span says [-]

    Returns
    -------
    checks : tuple of SpanCheck
        In order of station

    Raises
    ------
    InputError
        If a value is outside the bounds of the formulas.

    Notes
    -----
    Valid for: pipe bridges of moderate span; the structure is for a licensed engineer to design.
    Without expansion joints in spans of up to 30 m the anchors take the force of heat and cold.
    Checked by ``tests/routing/anchors/test_support.py``.

    References
    ----------
    .. [1] As the single formulas.
    """
    given = replace(
        conditions or SpanConditions(),
        water_density_kg_m3=line.water.density_kg_m3,
        gravity_m_s2=line.water.gravity_m_s2,
    )
    found = []
    for span in line.pipe.spans:
        body = body_of(span_pipe(line, span))
        if body is None:
            continue
        station = line.station_m
        inside = (station >= span.from_m - 1e-6) & (station <= span.to_m + 1e-6)
        held = replace(given, spacing_m=span.support_spacing_m)
        found.append(_check(line, span, body, float(np.max(pressure_pa[inside])), held))
    return tuple(found)


def gap_expansion_per_c(body: PipeBody) -> float:
    """Return the expansion by which gaps are made: of polyethylene the most that is published.

    Parameters
    ----------
    body : PipeBody
        The pipe [-]

    Returns
    -------
    expansion_per_c : float
        Growth of a metre in one degree [1/degC]
    """
    if material_family(body.material) == "PE":
        return max(body.expansion_per_c, anchor_limits().pe_gap_per_c)
    return body.expansion_per_c


def _sags(
    body: PipeBody, bay_m: float, support: Support, loads_n_m: tuple[float, float]
) -> tuple[float, float, float]:
    """Return the sag of a bay empty and full, as it is filled, and full for years [m]."""
    inertia, (empty, full) = body.section.inertia_m4, loads_n_m
    at_once, long = body.elastic_short_pa * inertia, body.elastic_long_pa * inertia
    return (
        sag_m(empty, bay_m, at_once, support),
        sag_m(full, bay_m, at_once, support),
        sag_m(full, bay_m, long, support),
    )


def _check(
    line: LaidLine, span: Span, body: PipeBody, pressure_pa: float, conditions: SpanConditions
) -> SpanCheck:
    numbers = anchor_limits()
    ends = np.interp([span.from_m, span.to_m], line.station_m, line.pipe_m).tolist()
    plan, fall = span.to_m - span.from_m, ends[0] - ends[1]
    length = math.hypot(plan, fall)
    bays = 1
    if conditions.spacing_m is not None:
        need("The distance between supports", conditions.spacing_m, above=0.0, unit="m")
        bays = max(1, math.ceil(length / conditions.spacing_m - 1e-9))
    bay = length / bays
    support = conditions.support or ("continuous" if bays >= 3 else "simple")
    held = length <= numbers.anchor_straight_m
    judged = span_requirements(
        body, conditions, bay_m=bay, support=support, pressure_pa=pressure_pa,
        grade=fall / plan, held=held,
    )  # fmt: skip
    longest = _longest_m(body, conditions, support, pressure_pa, fall / plan, held)
    published = published_span_m(
        material_family(body.material), body.section.outside_diameter_m, conditions.water_c
    )
    weight, load = span_loads_n_m(body, conditions)
    empty = weight_n_m(
        body.section, pipe_density_kg_m3=body.density_kg_m3, full=False,
        gravity_m_s2=conditions.gravity_m_s2, extra_n_m=conditions.extra_n_m,
    )  # fmt: skip
    expansion = gap_expansion_per_c(body)
    colder = conditions.fitting_c - conditions.coldest_c
    hotter = conditions.hottest_c - conditions.fitting_c
    joints = 0 if held else math.ceil(length / numbers.anchor_straight_m - 1e-9)
    served = length / max(joints, 1)
    return SpanCheck(
        from_m=span.from_m, to_m=span.to_m, length_m=length, bay_m=bay, bays=bays,
        support=support, weight_n_m=weight, empty_n_m=empty, load_n_m=load,
        sags_m=_sags(body, bay, support, (empty, weight)),
        reactions_n=support_reactions_n(weight, bay, bays),
        checks=(
            *_said(judged, span, bay, longest), *_spacing(span, bay, published), *_hang(span)
        ),
        longest_m=longest,
        published_m=published,
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
        rope=_rope(span, load),
    )  # fmt: skip


def _rope(span: Span, load_n_m: float) -> CablePull | None:
    """Return the pull of the ropes under the pipe, the wind and their own weight."""
    if span.rope_sag_m is None:
        return None
    load = load_n_m * (1.0 + anchor_limits().rope_share)
    return cable_pull(load, span.to_m - span.from_m, span.rope_sag_m)


def _hang(span: Span) -> tuple[Check, ...]:
    """Return whether the ropes are flat enough for their pull to be that of a parabola."""
    if span.rope_sag_m is None:
        return ()
    most = (span.to_m - span.from_m) * anchor_limits().rope_sag_share
    return (
        asked("span_rope").judge(
            span.rope_sag_m,
            f"The ropes of the span from {span.from_m:.1f} m to {span.to_m:.1f} m sag by "
            f"{span.rope_sag_m:.2f} m, more than the {most:.2f} m up to which their pull is known. "
            "Take less sag, or let an engineer compute the ropes.",
            limit=most,
            place=f"span from {span.from_m:.1f} m",
            station_m=span.from_m,
        ),
    )


def _said(checks: Iterable[Check], span: Span, bay_m: float, longest_m: float) -> Iterable[Check]:
    """Return the checks with their place and what each says where it fails."""
    remedy = (
        f"Stand them no more than {longest_m:.1f} m apart, or take stiffer pipe."
        if longest_m > 0.0
        else "No distance between them would do: take stiffer pipe."
    )
    for check in checks:
        sense = "at most" if check.at_most else "at least"
        yield replace(
            check,
            place=f"span from {span.from_m:.1f} m",
            station_m=span.from_m,
            message=(
                f"Supports {bay_m:.1f} m apart do not do for the span from {span.from_m:.1f} m to "
                f"{span.to_m:.1f} m: its {check.subject.removeprefix('span: ')} is "
                f"{_figure(check.demand, check.unit)}, where {sense} "
                f"{_figure(check.limit, check.unit)} is asked. {remedy} "
                "A licensed engineer must settle it."
            ),
        )


def _figure(value: float, unit: str) -> str:
    """Return a demand or limit in words.

    >>> _figure(3.52e6, "Pa"), _figure(0.0125, "-")
    ('3.52 MPa', '0.0125')
    """
    scale, name = {"Pa": (1e-6, "MPa"), "N": (1e-3, "kN"), "-": (1.0, "")}.get(unit, (1.0, unit))
    return f"{value * scale:.3g} {name}".rstrip()


def _spacing(span: Span, bay_m: float, published_m: float | None) -> tuple[Check, ...]:
    """Return the distance between supports held against what is published."""
    if published_m is None:
        return ()
    where = f"the span from {span.from_m:.1f} m to {span.to_m:.1f} m"
    most = anchor_limits().published_most
    apart = f"Supports {bay_m:.1f} m apart are beyond the published {published_m:.1f} m for {where}"
    if bay_m > most * published_m:
        row, limit, rest = (
            asked("span_spacing_most"),
            most * published_m,
            f", by more than {most:g} times: no pipe bridge any more. Hang the pipe from ropes or "
            "carry it on a beam.",
        )
    else:
        row, limit, rest = (
            asked("span_spacing"),
            published_m,
            "; its stress, sag and ring decide, and an engineer must look at them.",
        )
    return (
        row.judge(
            bay_m,
            f"{apart}{rest} A licensed engineer must settle it.",
            limit=limit,
            place=f"span from {span.from_m:.1f} m",
            station_m=span.from_m,
        ),
    )


def _longest_m(
    body: PipeBody, conditions: SpanConditions, support: Support, pressure_pa: float, grade: float,
    held: bool,
) -> float:  # fmt: skip
    """Return the longest bay that keeps every requirement that depends on its length."""

    def keeps(bay_m: float) -> bool:
        checks = span_requirements(
            body, conditions, bay_m=bay_m, support=support, pressure_pa=pressure_pa, grade=grade,
            held=held,
        )  # fmt: skip
        return all(each.passed for each in checks)

    low, high = 0.05, 100.0
    if not keeps(low):
        return 0.0
    # Every demand grows with the bay faster than its limit, so halving finds the one change.
    while high - low > 1e-4:
        middle = (low + high) / 2.0
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return low

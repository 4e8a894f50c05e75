"""Blocks along a line: one for every bend, end, change of diameter, valve, tee and wall anchor."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from routing.anchors.block import (
    bearing_area_m2,
    bearing_block_volume_m3,
    block_height_m,
    gravity_block,
    soil_hold_n,
)
from routing.anchors.inputs import AnchorInputs
from routing.anchors.soil import Bearing, bearing_of_soil
from routing.anchors.thrust import Arm, Thrust, bend_thrust, fitting_thrust
from routing.anchors.trade_data import anchor_limits
from routing.anchors.way import way_at
from routing.trench import Bend, trench_width_m

__all__ = ["Block", "place_blocks"]

Place = Literal["bend", "end", "reducer", "valve", "tee", "wall anchor"]
Hold = Literal["block", "gravity block", "anchor block", "joint", "pipe", "no ground"]
SAME_OUTSIDE_M = 5e-4
"""Outside diameters nearer than this are one [m]."""
LEAST_BLOCK_N = 1.0
"""Thrust below which nothing is listed [N]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What holds one fitting: the thrust on it and the block, joint or pipe that takes it.

    ``across_n`` is the horizontal thrust square to the line, ``along_n`` that in its direction.
    ``hold`` says what takes the thrust: a block against the ground, one that holds by its weight,
    an anchor block above ground, the joint in firm ground, the pipe itself, or "no ground" where
    the soil bears nothing and joints must be restrained back to firm ground. Faces and weight are
    None where they play no part; ``floor_m2`` is the face on the trench floor. ``others`` pairs
    each other table of soils that bears anything with the face it would ask for.
    """

    id: str
    place: Place
    bend_id: str | None
    station_m: float
    index: int
    cover_m: float
    deflection_deg: float | None
    pressure_pa: float
    thrust: Thrust
    across_n: float
    along_n: float
    hold: Hold
    bearing: Bearing
    face_m2: float | None
    floor_m2: float | None
    height_m: float | None
    width_m: float | None
    weight_n: float | None
    weight_governs: str | None
    volume_m3: float | None
    soil_hold_n: float | None
    others: tuple[tuple[str, float], ...]
    formulas: tuple[str, ...]


def place_blocks(inputs: AnchorInputs) -> tuple[Block, ...]:
    """Return what holds every fitting of a line, in order of station, ids T1, T2 and so on.

    Every bend is listed with its thrust in space, also where the joint or the pipe takes it: a turn
    within the joint's allowance is left to the joint in firm ground that holds it with the factor
    of safety over one stick; a fused or welded pipe carries its own thrust and is anchored where it
    meets gasketed pipe and at the lower end. Sideways thrust goes to a face against the wall of the
    trench, downward thrust to its floor, upward thrust and what is left along the trench to the
    weight of the block; a dead end, valve or reducer bears on the ground in the line. Above ground
    everything is held by weight.

    Parameters
    ----------
    inputs : AnchorInputs
        The laid pipe with the governing pressures

    Returns
    -------
    blocks : tuple of Block
        Forces [N], faces [m2], concrete [m3]

    Raises
    ------
    InputError
        If no table knows the soil or a joint, or a value is outside the bounds of the formulas.

    Notes
    -----
    Valid for: undisturbed ground beside the trench and a pipe at rest. A block is for a licensed
    engineer to settle where its failure can hurt.
    Checked by ``tests/routing/anchors/test_place.py``.

    References
    ----------
    .. [1] As the single formulas, by their ids in ``data/formulas.csv``.
    """
    blocks = [
        *(_bend_block(inputs, bend) for bend in inputs.bends),
        *_line_blocks(inputs),
        *_branch_blocks(inputs),
    ]
    kept = [block for block in blocks if block.thrust.total_n >= LEAST_BLOCK_N]
    kept.sort(key=lambda block: block.station_m)
    return tuple(replace(block, id=f"T{n}") for n, block in enumerate(kept, start=1))


def _arm(inputs: AnchorInputs, index: int, bearing: float, slope: float, **more: bool) -> Arm:
    assert inputs.velocity_m_s is not None
    return Arm(
        bearing_deg=bearing,
        slope_deg=slope,
        outside_diameter_m=float(inputs.outside_diameter_m[index]),
        inside_diameter_m=float(inputs.inside_diameter_m[index]),
        pressure_pa=float(inputs.pressure_pa[index]),
        velocity_m_s=float(inputs.velocity_m_s[index]),
        **more,
    )


def _bend_block(inputs: AnchorInputs, bend: Bend) -> Block:
    way = way_at(inputs, bend.station_m, bend)
    before = _arm(inputs, bend.index, way.bearing, way.slope)
    thrust = bend_thrust(before, way.bearing_after, way.slope_after, inputs.water_density_kg_m3)
    block = _held(inputs, "bend", bend.index, thrust, way.middle, bears_along=False)
    block = replace(
        block, bend_id=bend.id, deflection_deg=bend.deflection_deg, station_m=bend.station_m
    )
    joint = inputs.joint_at(bend.index)
    if joint.carries_thrust and not inputs.in_span[bend.index]:
        return _without_block(block, "pipe")
    if bend.deflection_deg <= inputs.allowance_deg(bend.index) and (
        block.soil_hold_n is not None
        and block.bearing.firm
        and block.soil_hold_n >= anchor_limits().block_safety * thrust.total_n
    ):
        return _without_block(block, "joint")
    return block


def _without_block(block: Block, hold: Hold) -> Block:
    formulas = ("thrust.bend", "block.joint") if hold == "joint" else ("thrust.bend",)
    return replace(
        block, hold=hold, face_m2=None, floor_m2=None, height_m=None, width_m=None,
        weight_n=None, weight_governs=None, volume_m3=None, others=(), formulas=formulas,
    )  # fmt: skip


def _line_blocks(inputs: AnchorInputs) -> list[Block]:
    """Return what holds valves, changes of pipe, and the lower end of the line."""
    blocks = []
    last = inputs.station_m.size - 1
    for valve_m in inputs.valves_m:
        at = inputs.index_at(valve_m)
        if at != last:
            blocks.append(_dead_end(inputs, "valve", at))
    od = inputs.outside_diameter_m
    for at in (np.flatnonzero(np.abs(np.diff(od)) > SAME_OUTSIDE_M) + 1).tolist():
        way = way_at(inputs, float(inputs.station_m[at]))
        arms = [
            replace(
                _arm(inputs, at - 1, way.bearing, way.slope),
                pressure_pa=float(inputs.pressure_pa[at]),
            ),
            _arm(inputs, at, way.bearing, way.slope, outflow=True),
        ]
        thrust = fitting_thrust(arms, inputs.water_density_kg_m3)
        blocks.append(_held(inputs, "reducer", at, thrust, way.bearing, bears_along=True))
    for from_m, _ in inputs.joints[1:]:
        at = inputs.index_at(from_m)
        if at > 0 and inputs.joint_at(at - 1).carries_thrust != inputs.joint_at(at).carries_thrust:
            blocks.append(_dead_end(inputs, "wall anchor", at))
    carried = inputs.joint_at(last).carries_thrust
    blocks.append(_dead_end(inputs, "wall anchor" if carried else "end", last))
    return blocks


def _dead_end(inputs: AnchorInputs, place: Place, at: int) -> Block:
    """Return what holds a closed end, or a wall anchor against that and heat and cold."""
    way = way_at(inputs, float(inputs.station_m[at]))
    thrust = fitting_thrust([_arm(inputs, at, way.bearing, way.slope)], inputs.water_density_kg_m3)
    if place == "wall anchor":
        d, bore = float(inputs.outside_diameter_m[at]), float(inputs.inside_diameter_m[at])
        heat = (
            inputs.elastic_short_pa * math.pi / 4.0 * (d**2 - bore**2)
            * inputs.expansion_per_c * abs(inputs.restrained_change_c)
        )  # fmt: skip
        bearing, slope = math.radians(way.bearing), math.radians(way.slope)
        thrust = Thrust(
            east_n=thrust.east_n + heat * math.cos(slope) * math.sin(bearing),
            north_n=thrust.north_n + heat * math.cos(slope) * math.cos(bearing),
            up_n=thrust.up_n + heat * math.sin(slope),
        )
    return _held(inputs, place, at, thrust, way.bearing, bears_along=True)


def _branch_blocks(inputs: AnchorInputs) -> list[Block]:
    blocks = []
    for branch in inputs.branches:
        at = inputs.index_at(branch.station_m)
        way = way_at(inputs, branch.station_m)
        turn = {"left": -90.0, "right": 90.0}.get(branch.side, 0.0)
        slope = {"up": 90.0, "down": -90.0}.get(branch.side, 0.0)
        arm = Arm(
            bearing_deg=way.bearing + turn, slope_deg=slope,
            outside_diameter_m=branch.outside_diameter_m,
            inside_diameter_m=branch.inside_diameter_m,
            pressure_pa=float(inputs.pressure_pa[at]),
            velocity_m_s=anchor_limits().velocity_m_s, outflow=True,
        )  # fmt: skip
        thrust = fitting_thrust([arm], inputs.water_density_kg_m3)
        blocks.append(_held(inputs, "tee", at, thrust, way.bearing, bears_along=True))
    return blocks


def _held(
    inputs: AnchorInputs, place: Place, at: int, thrust: Thrust, bearing_deg: float, *,
    bears_along: bool,
) -> Block:  # fmt: skip
    """Return the block that takes a thrust; ``bears_along`` where ground stands in the line."""
    od = float(inputs.outside_diameter_m[at])
    depth = float(inputs.ground_m[at] - inputs.pipe_m[at])
    buried = not inputs.in_span[at] and depth > od / 2.0
    along = thrust.along_n(bearing_deg)
    across = thrust.along_n(bearing_deg + 90.0)
    along, across = (0.0 if abs(part) < LEAST_BLOCK_N else part for part in (along, across))
    bearing = bearing_of_soil(inputs.soil, max(depth, 0.0), inputs.soil_set)
    against_wall = (thrust.horizontal_n if bears_along else abs(across)) if buried else 0.0
    sliding = 0.0 if bears_along else abs(along)
    if not buried:
        sliding = thrust.horizontal_n
    pressed = max(-thrust.up_n, 0.0) if abs(thrust.up_n) >= LEAST_BLOCK_N and buried else 0.0
    water = inputs.water_density_kg_m3 * inputs.gravity_m_s2
    weight = gravity_block(
        thrust.up_n, sliding, buoyancy_n_m3=water if buried and inputs.flooded else 0.0
    )
    face = bearing_area_m2(against_wall, bearing.bearing_pa) if buried else None
    floor = bearing_area_m2(pressed, bearing.bearing_pa)
    height = block_height_m(depth) if buried else None
    formulas = ["thrust.bend" if place == "bend" else "thrust.fitting"]
    formulas += ["anchor.wall"] * (place == "wall anchor") + ["block.bearing"] * bool(face)
    formulas += ["block.gravity"] * (weight.weight_n > 0.0) + ["block.floor"] * (floor > 0.0)
    hold: Hold = "gravity block" if weight.weight_n > 0.0 else "block"
    hold = hold if buried else "anchor block"
    if math.isinf(max(face or 0.0, floor)):
        hold, face, height, floor = "no ground", None, None, 0.0
    return Block(
        id="", place=place, bend_id=None, station_m=float(inputs.station_m[at]), index=at,
        cover_m=depth - od / 2.0, deflection_deg=None, pressure_pa=float(inputs.pressure_pa[at]),
        thrust=thrust,
        across_n=abs(across), along_n=along, hold=hold,
        bearing=bearing, face_m2=face, floor_m2=floor if floor > 0.0 else None,
        height_m=height, width_m=None if face is None or height is None else face / height,
        weight_n=weight.weight_n if weight.weight_n > 0.0 else None,
        weight_governs=weight.governs if weight.weight_n > 0.0 else None,
        volume_m3=_volume(face, height, od, weight.volume_m3),
        soil_hold_n=_soil_hold(inputs, at, bearing, thrust) if buried else None,
        others=tuple(
            (other.set, bearing_area_m2(against_wall, other.bearing_pa))
            for other in bearing.others
            if other.bearing_pa > 0.0
        ) if buried else (),
        formulas=tuple(formulas),
    )  # fmt: skip


def _volume(face: float | None, height: float | None, od: float, by_weight_m3: float) -> float:
    """Return the greater of the concrete that reaches the face and that which weighs enough."""
    if not face or height is None:
        return by_weight_m3
    gap = (trench_width_m(od) - od) / 2.0
    return max(by_weight_m3, bearing_block_volume_m3(face, height, od, gap))


def _soil_hold(inputs: AnchorInputs, at: int, bearing: Bearing, thrust: Thrust) -> float:
    """Return what the ground holds of a turn at a joint; by weight alone as soon as it lifts."""
    numbers = anchor_limits()
    od = float(inputs.outside_diameter_m[at])
    peat = inputs.soil is not None and inputs.soil.strip().lower() == "peat"
    usual = numbers.peat_n_m3 if peat else numbers.saturated_n_m3
    saturated = usual if inputs.saturated_n_m3 is None else inputs.saturated_n_m3
    water = inputs.water_density_kg_m3 * inputs.gravity_m_s2
    return soil_hold_n(
        cover_m=max(float(inputs.ground_m[at] - inputs.pipe_m[at]) - od / 2.0, 0.0),
        outside_diameter_m=od,
        stick_m=numbers.stick_m if inputs.stick_m is None else inputs.stick_m,
        bearing_pa=bearing.bearing_pa,
        submerged_n_m3=max(saturated - water, 1.0),
        upward=thrust.up_n > 0.1 * thrust.total_n,
    )

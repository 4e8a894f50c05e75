"""Blocks along a line: one for every bend, end, change of diameter, valve, tee and wall anchor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from routing.anchors.curve import Curve, check_curves
from routing.anchors.given import pipe_at
from routing.anchors.ground import Ground
from routing.anchors.held import Block, Place, Standing, held, restrained_m, without_block
from routing.anchors.thrust import (
    Arm,
    arm_force_n,
    bend_thrust,
    bend_thrust_n,
    fitting_thrust,
)
from routing.anchors.trade_data import anchor_limits
from routing.anchors.way import way_at
from routing.arrays import FloatArray
from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.trench import Bend
from routing.value import dataclass

__all__ = ["Branch", "place_blocks"]

SAME_OUTSIDE_M = 5e-4
"""Outside diameters nearer than this are one [m]."""
LEAST_BLOCK_N = 1.0
"""Thrust below which nothing is listed [N]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A tee in the line: where it stands, the pipe that leaves, and to which side."""

    station_m: float
    outside_diameter_m: float
    side: Literal["left", "right", "up", "down"]


def place_blocks(
    line: LaidLine,
    pressure_pa: FloatArray,
    ground: Ground,
    *,
    velocity_m_s: FloatArray | None = None,
    valves_m: Sequence[float] = (),
    branches: Sequence[Branch] = (),
) -> tuple[Block, ...]:
    """Return what holds every fitting of a line, in order of station, ids T1, T2 and so on.

    Every bend is listed with its thrust in space, also where the joint or the pipe takes it: a turn
    that the joints lay within their allowance is left to them in firm ground that holds each with
    the factor of safety over one stick; pipe whose joints hold together carries its own thrust over
    a restrained length on both sides, and is anchored where it meets joints that do not and at the
    lower end. Sideways thrust goes to a face against the wall of the trench, downward thrust to its
    floor, upward thrust and what is left along the trench to the weight of the block; a dead end,
    valve or reducer bears on the ground in the line. Above ground everything is held by weight.

    Parameters
    ----------
    line : LaidLine
        The line as laid; each pipe with its joints [-]
    pressure_pa : FloatArray
        Governing pressure (:func:`governing_pressure`), (n,), >= 0 [Pa]
    ground : Ground
        The ground beside and below the line, taken as full of water [-]
    velocity_m_s : FloatArray, optional
        Velocity of the water, (n,); None takes 3 m/s [m/s]
    valves_m : sequence of float
        Stations of valves in the line [m]
    branches : sequence of Branch
        Tees in the line [-]

    Returns
    -------
    blocks : tuple of Block
        Forces [N], faces [m2], concrete [m3]; a block that is cast has no side of zero

    Raises
    ------
    InputError
        If no table knows the soil, or a value is outside the bounds of the formulas.

    Notes
    -----
    Valid for: undisturbed ground beside the trench and a pipe at rest. A block is for a licensed
    engineer to settle where its failure can hurt.
    Checked by ``tests/routing/anchors/test_place.py``.

    References
    ----------
    .. [1] As the single formulas, by their ids in ``data/formulas.csv``.
    """
    speed = np.full(line.station_m.size, anchor_limits().velocity_m_s)
    standing = Standing(
        line=line,
        pressure_pa=_column(line, pressure_pa, "pressure"),
        velocity_m_s=speed if velocity_m_s is None else _column(line, velocity_m_s, "velocity"),
        ground=ground,
    )
    curves = {curve.bend_id: curve for curve in check_curves(line)}
    blocks = [
        *(_bend_block(standing, bend, curves[bend.id]) for bend in line.bends),
        *_line_blocks(standing, [_index(line, place, "valve") for place in valves_m]),
        *_branch_blocks(standing, branches),
    ]
    kept = [block for block in blocks if block.thrust.total_n >= LEAST_BLOCK_N]
    kept.sort(key=lambda block: block.station_m)
    return tuple(replace(block, id=f"T{n}") for n, block in enumerate(kept, start=1))


def _column(line: LaidLine, values: FloatArray, what: str) -> FloatArray:
    column = np.asarray(values, dtype=np.float64)
    if column.shape != line.station_m.shape:
        raise InputError(
            f"The {what} has shape {column.shape}, but the line has {line.station_m.size} "
            "stations.",
            "Give one value per station.",
        )
    bad = ~(np.isfinite(column) & (column >= 0.0))
    if bad.any():
        at = int(np.argmax(bad))
        raise InputError(
            f"The {what} is {column[at]:g} at station {line.station_m[at]:.1f} m.",
            "Give every station a value of zero or more.",
            station_m=float(line.station_m[at]),
        )
    return column


def _index(line: LaidLine, place_m: float, what: str) -> int:
    """Return the index of the station nearest to a place on the line."""
    first, last = float(line.station_m[0]), float(line.station_m[-1])
    if not first <= place_m <= last:
        raise InputError(
            f"The {what} at station {place_m:g} m does not lie on the line, which runs from "
            f"{first:.1f} to {last:.1f} m.",
            "Give its distance from the intake along the line.",
            station_m=float(place_m),
        )
    return int(np.argmin(np.abs(line.station_m - place_m)))


def _arm(standing: Standing, index: int, bearing: float, slope: float, **more: bool) -> Arm:
    return Arm(
        bearing_deg=bearing,
        slope_deg=slope,
        outside_diameter_m=float(standing.line.outside_diameter_m[index]),
        inside_diameter_m=float(standing.line.inside_diameter_m[index]),
        pressure_pa=float(standing.pressure_pa[index]),
        velocity_m_s=float(standing.velocity_m_s[index]),
        **more,
    )


def _end_force_n(standing: Standing, arm: Arm) -> float:
    return arm_force_n(
        arm.pressure_pa, arm.outside_diameter_m, arm.inside_diameter_m, arm.velocity_m_s,
        standing.line.water.density_kg_m3,
    )  # fmt: skip


def _bend_block(standing: Standing, bend: Bend, curve: Curve) -> Block:
    line = standing.line
    way = way_at(line, bend.index, bend)
    before = _arm(standing, bend.index, way.bearing, way.slope)
    end = _end_force_n(standing, before)
    thrust = bend_thrust(before, way.bearing_after, way.slope_after, line.water.density_kg_m3)
    block = replace(
        held(standing, "bend", bend.index, thrust, way.middle, bears_along=False),
        bend_id=bend.id,
        deflection_deg=bend.deflection_deg,
        restrained_m=restrained_m(standing, bend.index, end, bend.deflection_deg),
    )
    if pipe_at(line, bend.index).jointing.joint.carries_thrust and block.buried:
        return without_block(block, "pipe")
    turn = curve.joint_turn_deg
    if turn is None:
        return block
    # Joints that share a turn share its thrust, each over its own stick.
    wanted = anchor_limits().block_safety * bend_thrust_n(end, turn)
    if block.bearing.firm and block.soil_hold_n is not None and block.soil_hold_n >= wanted:
        return without_block(block, "joint")
    return replace(
        block,
        remedy="the joints alone can lay this turn: in ground that is known to be firm and to "
        "hold them it needs no block",
    )


def _carried(line: LaidLine, index: int) -> bool:
    return pipe_at(line, index).jointing.joint.carries_thrust


def _line_blocks(standing: Standing, valves: Sequence[int]) -> list[Block]:
    """Return what holds valves, changes of pipe, and the lower end of the line."""
    line = standing.line
    last = line.station_m.size - 1
    blocks = [_dead_end(standing, "valve", at) for at in valves if at != last]
    od = line.outside_diameter_m
    for at in (np.flatnonzero(np.abs(np.diff(od)) > SAME_OUTSIDE_M) + 1).tolist():
        way = way_at(line, at)
        arms = [
            replace(
                _arm(standing, at - 1, way.bearing, way.slope),
                pressure_pa=float(standing.pressure_pa[at]),
            ),
            _arm(standing, at, way.bearing, way.slope, outflow=True),
        ]
        thrust = fitting_thrust(arms, line.water.density_kg_m3)
        block = held(standing, "reducer", at, thrust, way.bearing, bears_along=True)
        blocks.append(_in_line(standing, block, thrust.total_n))
    for run in line.pipes.runs[1:]:
        at = _index(line, run.from_m, "change of pipe")
        if at > 0 and _carried(line, at - 1) != _carried(line, at):
            blocks.append(_dead_end(standing, "wall anchor", at))
    blocks.append(_dead_end(standing, "wall anchor" if _carried(line, last) else "end", last))
    return blocks


def _dead_end(standing: Standing, place: Place, at: int) -> Block:
    """Return what holds a closed end, or a wall anchor against it."""
    way = way_at(standing.line, at)
    arm = _arm(standing, at, way.bearing, way.slope)
    thrust = fitting_thrust([arm], standing.line.water.density_kg_m3)
    block = held(standing, place, at, thrust, way.bearing, bears_along=True)
    return _in_line(standing, block, thrust.total_n)


def _in_line(standing: Standing, block: Block, force_n: float) -> Block:
    """Return the block with the length of joints that holds as much, and what carries it."""
    line, at = standing.line, block.index
    block = replace(block, restrained_m=restrained_m(standing, at, force_n, None))
    within = block.place in ("reducer", "valve") and block.buried
    if within and _carried(line, at) and _carried(line, max(at - 1, 0)):
        return without_block(block, "pipe")
    return block


def _branch_blocks(standing: Standing, branches: Sequence[Branch]) -> list[Block]:
    blocks = []
    for branch in branches:
        at = _index(standing.line, branch.station_m, "branch")
        way = way_at(standing.line, at)
        turn = {"left": -90.0, "right": 90.0}.get(branch.side, 0.0)
        slope = {"up": 90.0, "down": -90.0}.get(branch.side, 0.0)
        arm = Arm(
            bearing_deg=way.bearing + turn, slope_deg=slope,
            outside_diameter_m=branch.outside_diameter_m,
            # Its bore is not known; all but the outside diameter is on the safe side.
            inside_diameter_m=0.999 * branch.outside_diameter_m,
            pressure_pa=float(standing.pressure_pa[at]),
            velocity_m_s=anchor_limits().velocity_m_s, outflow=True,
        )  # fmt: skip
        thrust = fitting_thrust([arm], standing.line.water.density_kg_m3)
        blocks.append(held(standing, "tee", at, thrust, way.bearing, bears_along=True))
    return blocks

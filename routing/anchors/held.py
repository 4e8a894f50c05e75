"""What takes one thrust: the block against ground and by weight, the joint, or the pipe itself."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from routing.anchors.block import bearing_area_m2, block_height_m, gravity_block, soil_hold_n
from routing.anchors.cast import CastBlock, cast_block
from routing.anchors.given import pipe_at
from routing.anchors.ground import Ground
from routing.anchors.requirements import asked
from routing.anchors.restraint import restrained_length_m, soil_drag_n_m
from routing.anchors.soil import Bearing
from routing.anchors.thrust import Thrust
from routing.anchors.trade_data import anchor_limits
from routing.arrays import FloatArray
from routing.laid_line import LaidLine
from routing.trench import trench_width_m
from routing.value import dataclass

__all__ = ["Block", "Hold", "Place", "Standing", "held", "restrained_m", "without_block"]

Place = Literal["bend", "end", "reducer", "valve", "tee", "wall anchor"]
Hold = Literal["block", "gravity block", "anchor block", "joint", "pipe", "no ground"]
LEAST_PART_N = 1.0
"""Part of a thrust below which nothing is built for it [N]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A line with the pressure that its fittings must hold, and the ground they stand in, (n,)."""

    line: LaidLine
    pressure_pa: FloatArray
    velocity_m_s: FloatArray
    ground: Ground


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What holds one fitting: the thrust on it and the block, joint or pipe that takes it.

    ``across_n`` is the horizontal thrust square to the line, ``along_n`` that in its direction;
    ``bearing_deg`` the way it pushes, clockwise from true north. ``hold`` says what takes the
    thrust: a block against the ground, one that holds by its weight, an anchor block above ground,
    the joint in firm ground, the pipe itself, or "no ground" where the soil bears nothing and
    joints must be restrained back to firm ground. ``cast`` is the block as cast, None where none
    is; ``least_face_m2`` what the wall must give and ``weight_n`` what it must weigh, under water
    where it is buried. ``ground_pa`` is the pressure on the ground with the factor of safety.
    ``restrained_m`` is how far on each side joints must hold together where no block is built, and
    ``remedy`` what would do as well or better. ``others`` pairs each other table of soils that
    bears anything with the face it would ask for.
    """

    id: str
    place: Place
    bend_id: str | None
    station_m: float
    index: int
    cover_m: float
    buried: bool
    deflection_deg: float | None
    pressure_pa: float
    thrust: Thrust
    bearing_deg: float
    across_n: float
    along_n: float
    hold: Hold
    bearing: Bearing
    cast: CastBlock | None
    least_face_m2: float | None
    ground_pa: float | None
    weight_n: float | None
    soil_hold_n: float | None
    restrained_m: float | None
    remedy: str | None
    others: tuple[tuple[str, float], ...]
    formulas: tuple[str, ...]

    @property
    def up(self) -> Literal["up", "down", "level"]:
        """Return whether the thrust lifts or presses down."""
        if abs(self.thrust.up_n) < LEAST_PART_N / 2.0:
            return "level"
        return "up" if self.thrust.up_n > 0.0 else "down"

    @property
    def cast_weight_n(self) -> float | None:
        """Return what the block weighs in air [N]."""
        return None if self.cast is None else self.cast.volume_m3 * anchor_limits().concrete_n_m3


def without_block(block: Block, hold: Hold) -> Block:
    """Return the same fitting, held by something that is not cast."""
    how = ("block.joint",) if hold == "joint" else ("restraint.length", "restraint.drag")
    formulas = ("thrust.bend" if block.place == "bend" else "thrust.fitting", *how)
    return replace(
        block, hold=hold, cast=None, least_face_m2=None, ground_pa=None, weight_n=None,
        others=(), formulas=formulas,
        restrained_m=None if hold == "joint" else block.restrained_m,
    )  # fmt: skip


def held(
    standing: Standing, place: Place, at: int, thrust: Thrust, bearing_deg: float, *,
    bears_along: bool,
) -> Block:  # fmt: skip
    """Return the block that takes a thrust; ``bears_along`` where ground stands in the line."""
    line = standing.line
    od = float(line.outside_diameter_m[at])
    depth = float(line.ground_m[at] - line.pipe_m[at])
    buried = not line.pipe.in_span[at] and depth > od / 2.0
    along = thrust.along_n(bearing_deg)
    across = thrust.along_n(bearing_deg + 90.0)
    along, across = (0.0 if abs(part) < LEAST_PART_N else part for part in (along, across))
    bearing = standing.ground.bearing(depth)
    against_wall = (thrust.horizontal_n if bears_along else abs(across)) if buried else 0.0
    sliding = 0.0 if bears_along and buried else abs(along)
    if not buried:
        sliding = thrust.horizontal_n
    pressed = max(-thrust.up_n, 0.0) if buried else 0.0
    weight = gravity_block(
        thrust.up_n, sliding, buoyancy_n_m3=line.water.weight_n_m3 if buried else 0.0
    )
    against_wall, pressed = (
        0.0 if part < LEAST_PART_N else part for part in (against_wall, pressed)
    )
    face = bearing_area_m2(against_wall, bearing.bearing_pa)
    floor = bearing_area_m2(pressed, bearing.bearing_pa)
    formulas = ["thrust.bend" if place == "bend" else "thrust.fitting"]
    formulas += ["anchor.wall"] * (place == "wall anchor")
    formulas += ["block.bearing", "block.height"] * (face > 0.0)
    formulas += ["block.gravity"] * (weight.weight_n > 0.0) + ["block.floor"] * (floor > 0.0)
    hold: Hold = "gravity block" if weight.weight_n > 0.0 else "block"
    cast: CastBlock | None = None
    if not buried:
        hold = "anchor block"
    if math.isinf(max(face, floor)):
        hold = "no ground"
    else:
        cast = cast_block(
            face_m2=face, floor_m2=floor, volume_m3=weight.volume_m3,
            tallest_m=block_height_m(max(depth, od / 2.0)), outside_diameter_m=od,
            gap_m=(trench_width_m(od) - od) / 2.0,
        )  # fmt: skip
    level = thrust.horizontal_n < LEAST_PART_N
    return Block(
        id="", place=place, bend_id=None, station_m=float(line.station_m[at]), index=at,
        cover_m=depth - od / 2.0, buried=buried, deflection_deg=None,
        pressure_pa=float(standing.pressure_pa[at]), thrust=thrust,
        bearing_deg=bearing_deg % 360.0 if level else thrust.bearing_deg,
        across_n=abs(across), along_n=along, hold=hold, bearing=bearing, cast=cast,
        least_face_m2=face if cast is not None and face > 0.0 else None,
        ground_pa=_on_ground_pa(cast, depth, against_wall, pressed),
        weight_n=weight.weight_n if weight.weight_n > 0.0 else None,
        soil_hold_n=_soil_hold_n(standing, at, bearing, thrust) if buried else None,
        restrained_m=None, remedy=None,
        others=tuple(
            (other.set, bearing_area_m2(against_wall, other.bearing_pa))
            for other in bearing.others
            if other.bearing_pa > 0.0
        ) if buried else (),
        formulas=tuple(formulas),
    )  # fmt: skip


def _on_ground_pa(
    cast: CastBlock | None, depth_m: float, against_wall_n: float, pressed_n: float
) -> float | None:
    """Return the pressure that wall or floor must bear, with the factor of safety [Pa].

    Where the ground bears nothing: that beside a block as wide and as tall as any may be.
    """
    safety = anchor_limits().block_safety
    if cast is None:
        most = asked("block_width").bound
        beside = most * block_height_m(depth_m)
        return safety * max(against_wall_n / beside, pressed_n / most**2)
    parts = [
        safety * force / area
        for force, area in ((against_wall_n, cast.face_m2), (pressed_n, cast.floor_m2))
        if area is not None
    ]
    return max(parts, default=0.0) or None


def _soil_hold_n(standing: Standing, at: int, bearing: Bearing, thrust: Thrust) -> float:
    """Return what the ground holds of a turn at a joint; by weight alone as soon as it lifts."""
    line = standing.line
    return soil_hold_n(
        cover_m=max(float(line.cover_m[at]), 0.0),
        outside_diameter_m=float(line.outside_diameter_m[at]),
        stick_m=pipe_at(line, at).jointing.stick_m,
        bearing_pa=bearing.bearing_pa,
        submerged_n_m3=max(standing.ground.submerged_n_m3(line.water), 1.0),
        upward=thrust.up_n > 0.1 * thrust.total_n,
    )


def restrained_m(
    standing: Standing, at: int, end_force_n: float, deflection_deg: float | None
) -> float | None:
    """Return how far on each side joints must hold together to do without a block [m].

    Parameters
    ----------
    standing : Standing
        The line and its ground
    at : int
        Index of the station
    end_force_n : float
        Force through the end of the pipe, >= 0 [N]
    deflection_deg : float or None
        Turn of a bend; None for a dead end, valve or reducer [deg]

    Returns
    -------
    restrained_m : float or None
        Length on each side [m]

    Notes
    -----
    ``deflection_deg`` is None for a dead end, valve or reducer. The soil and the full pipe are
    weighed under water; None where nothing drags on the pipe.
    """
    line, ground = standing.line, standing.ground
    if line.pipe.in_span[at] or line.cover_m[at] <= 0.0:
        return None
    pipe, water = pipe_at(line, at), line.water
    wall = (pipe.mass_kg_m or 0.0) * water.gravity_m_s2
    inside = math.pi / 4.0 * pipe.inside_diameter_m**2 * water.weight_n_m3
    lifted = math.pi / 4.0 * pipe.outside_diameter_m**2 * water.weight_n_m3
    numbers = anchor_limits()
    drag = soil_drag_n_m(
        cover_m=float(line.cover_m[at]),
        outside_diameter_m=pipe.outside_diameter_m,
        pipe_n_m=max(wall + inside - lifted, 0.0),
        soil_n_m3=max(ground.submerged_n_m3(water), 1.0),
        friction=numbers.pipe_friction,
    )
    if deflection_deg is None:
        return numbers.block_safety * end_force_n / drag
    return restrained_length_m(end_force_n, deflection_deg, drag_n_m=drag)

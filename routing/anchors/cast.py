"""The block that a mason casts: sides in even steps that no check finds too small."""

from __future__ import annotations

import math
from dataclasses import replace

from routing.anchors.block import bearing_block_volume_m3
from routing.anchors.trade_data import anchor_limits
from routing.value import dataclass

__all__ = ["CastBlock", "cast_block"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CastBlock:
    """A block as cast.

    ``width_m`` lies square to the way the thrust pushes, ``length_m`` in it, both level. The face
    against the wall of the trench counts up to half the depth to its base, and is None where the
    wall takes nothing; so is the floor where neither pressure nor weight goes to it. ``volume_m3``
    is concrete without the pipe.
    """

    width_m: float
    height_m: float
    length_m: float
    face_m2: float | None
    floor_m2: float | None
    volume_m3: float


def cast_block(
    *,
    face_m2: float,
    floor_m2: float,
    volume_m3: float,
    tallest_m: float,
    outside_diameter_m: float,
    gap_m: float,
) -> CastBlock:
    """Return the block that gives a face, a floor and a volume, its sides rounded up to 0.05 m.

    A block against the wall is a wedge that opens from the fitting to a face as near to a square as
    its greatest height allows, if it stands on enough ground and weighs enough. Any other is a box
    that encloses the pipe with 0.1 m of concrete under and beside it, spreads a pressure downward
    at 45 degrees at most, and grows along its shortest side until it weighs enough.

    Parameters
    ----------
    face_m2, floor_m2, volume_m3 : float
        What wall, floor and weight ask for, zero where they ask for nothing [m2], [m2], [m3]
    tallest_m : float
        Greatest height of a face against the wall, > 0 [m]
    outside_diameter_m : float
        Outside diameter of the pipe, > 0 [m]
    gap_m : float
        Space between the pipe and the wall of the trench, >= 0 [m]

    Returns
    -------
    block : CastBlock
        No side is zero

    Notes
    -----
    Valid for: ordering and setting out. Common practice, no source.
    Checked by ``tests/routing/anchors/test_cast.py``.

    Examples
    --------
    >>> block = cast_block(face_m2=0.587, floor_m2=0.0, volume_m3=0.0, tallest_m=0.6667,
    ...                    outside_diameter_m=0.2191, gap_m=0.2)
    >>> block.width_m, block.height_m, block.length_m, block.face_m2
    (0.95, 0.65, 0.4, 0.6175)
    """
    od, around = outside_diameter_m, anchor_limits().block_least_around_m
    enclosing = _up(od + 2.0 * around)
    aside = floor_m2 == 0.0 and volume_m3 == 0.0
    wedge = None
    if face_m2 > 0.0:
        wedge = _wedge(face_m2, tallest_m, od, gap_m, under_m=0.0 if aside else enclosing)
        if aside:
            return replace(wedge, floor_m2=None)
        if (wedge.floor_m2 or 0.0) >= floor_m2 and wedge.volume_m3 >= volume_m3:
            return wedge
    width = length = enclosing
    height = _up(od / 2.0 + max(around, (math.sqrt(floor_m2) - od) / 2.0))
    counted = 0.0
    if wedge is not None:
        counted = min(wedge.height_m, max(_down(tallest_m), _step_m()))
        width, length = max(width, wedge.width_m), max(length, wedge.length_m)
        height = max(height, wedge.height_m)
    width = max(width, _up(math.sqrt(floor_m2)))
    length = max(length, _up(floor_m2 / width))
    if volume_m3 > 0.0:
        height = max(height, enclosing)
    while _concrete_m3(width, height, length, od) < volume_m3:
        shortest = min(width, height, length)
        width, height, length = (
            _up(side + _step_m() / 2.0) if side == shortest else side
            for side in (width, height, length)
        )
    return CastBlock(
        width_m=width,
        height_m=height,
        length_m=length,
        face_m2=None if wedge is None else width * counted,
        floor_m2=width * length,
        volume_m3=_concrete_m3(width, height, length, od),
    )


def _wedge(
    face_m2: float, tallest_m: float, od_m: float, gap_m: float, under_m: float
) -> CastBlock:
    """Return the block that opens from the fitting to a face.

    One that reaches under the pipe is at least ``under_m`` tall; what that adds below the greatest
    height of a face does not count.
    """
    height = max(_up(math.sqrt(face_m2)), _up(od_m), under_m)
    counted = min(height, max(_down(tallest_m), _step_m()))
    width = max(_up(face_m2 / counted), _up(od_m))
    height = max(counted, under_m)
    length = _up(max(gap_m, (width - od_m) / 2.0))
    return CastBlock(
        width_m=width,
        height_m=height,
        length_m=length,
        face_m2=width * counted,
        floor_m2=(od_m + width) / 2.0 * length,
        volume_m3=bearing_block_volume_m3(width * height, height, od_m, length),
    )


def _step_m() -> float:
    return anchor_limits().block_step_m


def _up(size_m: float) -> float:
    """Return a size rounded up to the next step, at least one."""
    step = _step_m()
    return round(max(math.ceil(size_m / step - 1e-9), 1) * step, 6)


def _down(size_m: float) -> float:
    step = _step_m()
    return round(math.floor(size_m / step + 1e-9) * step, 6)


def _concrete_m3(width_m: float, height_m: float, length_m: float, od_m: float) -> float:
    """Return the concrete of a box through which the pipe runs its longer way."""
    pipe = math.pi / 4.0 * od_m**2 * max(width_m, length_m)
    if height_m < od_m + anchor_limits().block_least_around_m:
        # It reaches up to the springline only.
        pipe /= 2.0
    return width_m * height_m * length_m - pipe

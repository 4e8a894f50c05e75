"""Classes of ground as areas of a layer: the stretches of a line that lie in each."""

from __future__ import annotations

from collections.abc import Sequence

from routing.land.crossing import GROUND, Layer
from routing.land.inside import stretches_inside
from routing.land.track import track_of
from routing.line import GroundProfile

__all__ = ["ground_stretches"]


def ground_stretches(
    profile: GroundProfile, layers: Sequence[Layer]
) -> tuple[tuple[float, float, str], ...]:
    """Return the stretches of a line within areas of ground: from, to [m], and class.

    The class is the name of the area. They come in the order of the layers, of which the first
    holds where two lie over each other.
    """
    shapes = [shape for layer in layers if layer.kind == GROUND for shape in layer.shapes]
    if not shapes:
        return ()
    track = track_of(profile)
    return tuple(
        (first, last, shape.name)
        for shape in shapes
        for first, last in stretches_inside(track, shape.parts)
    )

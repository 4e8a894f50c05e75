"""The supports of pipe above ground, one by one, as they are set out and founded."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from routing.anchors.block import bearing_area_m2
from routing.anchors.ground import Ground
from routing.anchors.span import SpanConditions
from routing.anchors.support import SpanCheck
from routing.anchors.trade_data import anchor_limits
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["Stand", "place_stands"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A support of a span: where it stands, how high, what it carries and on how much ground.

    ``height_m`` is from the ground to the underside of the pipe, zero where the pipe leaves the
    ground; ``load_n`` the full pipe without wind; ``floor_m2`` the least footing at the depth of
    ``footing_depth_m``, None where the ground bears nothing there.
    """

    id: str
    station_m: float
    span_from_m: float
    height_m: float
    load_n: float
    saddle_deg: float
    floor_m2: float | None


def place_stands(line: LaidLine, spans: Sequence[SpanCheck], ground: Ground) -> tuple[Stand, ...]:
    """Return the supports of all spans in order of station, both ends of each among them.

    The pipe of a span is straight, so that even distances along it are even in plan.
    """
    bearing_pa = ground.bearing(anchor_limits().footing_depth_m).bearing_pa
    found: list[Stand] = []
    for span in spans:
        places = np.linspace(span.from_m, span.to_m, span.bays + 1)
        pipe, soil, od = (
            np.interp(places, line.station_m, values)
            for values in (line.pipe_m, line.ground_m, line.outside_diameter_m)
        )
        clear = np.maximum(pipe - od / 2.0 - soil, 0.0)
        for at, height, load in zip(places.tolist(), clear.tolist(), span.reactions_n, strict=True):
            floor = bearing_area_m2(load, bearing_pa)
            found.append(
                Stand(
                    id=f"SP{len(found) + 1}", station_m=at, span_from_m=span.from_m,
                    height_m=height, load_n=load, saddle_deg=SpanConditions().saddle_deg,
                    floor_m2=floor if math.isfinite(floor) else None,
                )
            )  # fmt: skip
    return tuple(found)

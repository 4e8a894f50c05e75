"""Everything that holds a line where it lies, judged in one pass."""

from __future__ import annotations

from collections.abc import Sequence

from routing.anchors.arc import judge_arcs
from routing.anchors.curve import Curve, check_curves, judge_turns
from routing.anchors.findings import (
    block_findings,
    judge_blocks,
    slope_findings,
    span_findings,
)
from routing.anchors.flotation import FloatingReach, check_flotation, judge_uplift
from routing.anchors.ground import Ground
from routing.anchors.held import Block
from routing.anchors.place import Branch, place_blocks
from routing.anchors.slope import SlopeAnchor, judge_slopes, place_slope_anchors
from routing.anchors.stand import Stand, place_stands
from routing.anchors.support import SpanCheck, check_spans
from routing.arrays import FloatArray
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["Anchorage", "hold_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchorage:
    """What holds a line, what it was held against, and what is worth saying."""

    blocks: tuple[Block, ...]
    curves: tuple[Curve, ...]
    slope_anchors: tuple[SlopeAnchor, ...]
    floating: tuple[FloatingReach, ...]
    spans: tuple[SpanCheck, ...]
    stands: tuple[Stand, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def hold_line(
    line: LaidLine,
    pressure_pa: FloatArray,
    ground: Ground,
    *,
    velocity_m_s: FloatArray | None = None,
    valves_m: Sequence[float] = (),
    branches: Sequence[Branch] = (),
) -> Anchorage:
    """Return blocks, curves, slope anchors, uplift and spans of a line under its pressures.

    ``pressure_pa`` is the governing pressure and ``velocity_m_s`` that of the design flow, None
    where there is none, (n,); ``valves_m`` are stations of valves.
    """
    blocks = place_blocks(
        line,
        pressure_pa,
        ground,
        velocity_m_s=velocity_m_s,
        valves_m=valves_m,
        branches=branches,
    )
    slopes = place_slope_anchors(line)
    spans = check_spans(line, pressure_pa)
    checks = (
        *judge_blocks(blocks),
        *judge_turns(line),
        *judge_arcs(line),
        *judge_slopes(line),
        *judge_uplift(line, ground),
        *(check for span in spans for check in span.checks),
    )
    return Anchorage(
        blocks=blocks,
        curves=check_curves(line),
        slope_anchors=slopes,
        floating=check_flotation(line, ground),
        spans=spans,
        stands=place_stands(line, spans, ground),
        checks=checks,
        findings=(
            *failed_findings(checks),
            *block_findings(blocks),
            *slope_findings(slopes),
            *span_findings(line, spans),
        ),
    )

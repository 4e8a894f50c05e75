"""What the blocks and spans of a line are held against, and what is worth saying of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.anchors.held import Block
from routing.anchors.requirements import asked
from routing.anchors.slope import SlopeAnchor
from routing.anchors.soil import PSF_PA, soil_names
from routing.anchors.span import body_of
from routing.anchors.support import SpanCheck, span_pipe
from routing.anchors.trade_data import anchor_limits, span_stress
from routing.check import Check
from routing.finding import Finding
from routing.laid_line import LaidLine
from routing.pipe import material_family

__all__ = ["block_findings", "judge_blocks", "slope_findings", "span_findings"]

SETTLE = "A licensed engineer must settle it."


def judge_blocks(blocks: Sequence[Block]) -> tuple[Check, ...]:
    """Return the ground, the cover and the width of blocks, held against what is asked.

    Each row speaks of every block that fails it, else of the one nearest to failing.
    """
    pressing = [_ground(block, block.ground_pa) for block in blocks if block.ground_pa is not None]
    faced = [block for block in blocks if block.cast is not None and block.least_face_m2]
    cast = [block for block in blocks if block.cast is not None]
    return (
        *_told(pressing),
        *_told([_cover(block) for block in faced]),
        *_told([_width(block) for block in cast]),
    )


def _told(checks: Sequence[Check]) -> tuple[Check, ...]:
    failed = sorted((check for check in checks if not check.passed), key=lambda each: each.margin)
    return tuple(failed or sorted(checks, key=lambda each: each.margin)[:1])


def _ground(block: Block, asked_pa: float) -> Check:
    return asked("ground").judge(
        block.bearing.bearing_pa / 1e3,
        f"{(block.bearing.soil or 'The ground').capitalize()} bears "
        f"{block.bearing.bearing_pa / 1e3:.1f} kPa, but {block.id} at station "
        f"{block.station_m:.1f} m pushes on it with {block.thrust.total_n / 1e3:.1f} kN. Restrain "
        f"the joints back to firm ground, or found the block on it. {SETTLE}",
        limit=asked_pa / 1e3,
        place=block.id,
        station_m=block.station_m,
    )


def _cover(block: Block) -> Check:
    row = asked("block_cover")
    return row.judge(
        block.cover_m,
        f"The tables of soils hold from {row.bound:.1f} m of cover on, but block {block.id} at "
        f"station {block.station_m:.1f} m has {block.cover_m:.2f} m. Lay the pipe deeper there, or "
        "let an engineer size it.",
        place=block.id,
        station_m=block.station_m,
    )


def _width(block: Block) -> Check:
    assert block.cast is not None
    row = asked("block_width")
    size = max(block.cast.width_m, block.cast.length_m)
    return row.judge(
        size,
        f"Block {block.id} at station {block.station_m:.1f} m would be {size:.2f} m wide and hold "
        f"{block.cast.volume_m3:.1f} m3 of concrete. {_instead(block)} {SETTLE}",
        place=block.id,
        station_m=block.station_m,
    )


def _instead(block: Block) -> str:
    """Return in words what would do in place of a block that is too wide."""
    ways = ["name the soil if it is better than assumed"] if block.bearing.soil is None else []
    if block.restrained_m is not None and block.place != "wall anchor":
        side = "above it" if block.place == "end" else "on each side of it"
        ways.append(f"restrain the joints over {block.restrained_m:.0f} m {side}")
    if block.place == "bend":
        ways.append("make the turn of several smaller ones")
    elif block.place in ("end", "wall anchor"):
        ways.append("cast it in one with a foundation that takes the thrust")
    words = ", or ".join(ways) or "let reinforced concrete take it"
    return f"{words[0].upper()}{words[1:]}."


def block_findings(blocks: Sequence[Block]) -> tuple[Finding, ...]:
    """Return that nobody named the soil, where a block bears on it."""
    numbers = anchor_limits()
    bearing = [block for block in blocks if block.hold not in ("pipe", "joint")]
    if not any(block.bearing.soil is None for block in bearing):
        return ()
    spared = sum(1 for block in bearing if block.remedy is not None)
    turns = (
        f" In firm ground {spared} of the blocks may fall away, because the joints alone can lay "
        "those turns."
        if spared
        else ""
    )
    return (
        Finding(
            code="soil_unknown",
            severity="warning",
            message=(
                f"No soil was named, so blocks were sized for {numbers.unknown_soil_psf:g} psf "
                f"({numbers.unknown_soil_psf * PSF_PA / 1e3:.1f} kPa), that of the weakest usual "
                f"ground. Name the soil: {'; '.join(soil_names())}.{turns}"
            ),
        ),
    )


def slope_findings(anchors: Sequence[SlopeAnchor]) -> tuple[Finding, ...]:
    """Return that steep reaches are anchored."""
    if not anchors:
        return ()
    steepest = max(anchors, key=lambda anchor: anchor.grade)
    return (
        Finding(
            code="slope_anchors",
            severity="warning",
            message=(
                f"The pipe lies as steep as {steepest.grade * 100:.0f} % and creeps downhill "
                f"unless it is anchored: {len(anchors)} anchors, the first at station "
                f"{anchors[0].station_m:.1f} m."
            ),
            station_m=anchors[0].station_m,
        ),
    )


def span_findings(line: LaidLine, spans: Sequence[SpanCheck]) -> tuple[Finding, ...]:
    """Return what a pipe above ground needs said aloud beside its checks."""
    return tuple(_span_findings(line, spans))


def _span_findings(line: LaidLine, spans: Sequence[SpanCheck]) -> Iterator[Finding]:
    numbers = anchor_limits()
    for span in line.pipe.spans:
        where = f"the span from {span.from_m:.1f} m to {span.to_m:.1f} m"
        pipe = span_pipe(line, span)
        family = material_family(pipe.material)
        yield Finding(
            code="span_structure",
            severity="note",
            message=(
                f"The structure of {where} is for a licensed engineer: keep it "
                f"{numbers.flood_clearance_m:g} m above the design flood, and drain or insulate it "
                "against frost."
            ),
            station_m=span.from_m,
        )
        if family not in span_stress() or body_of(pipe) is None:
            yield Finding(
                code="span_unchecked",
                severity="warning",
                message=(
                    f"Nothing is known of the stiffness of {pipe.label} or of the stress that it "
                    f"bears, so {where} is not judged. {SETTLE}"
                ),
                station_m=span.from_m,
            )
        if family in ("PVC", "PE"):
            yield Finding(
                code="span_plastic",
                severity="warning",
                message=(
                    f"Plastic pipe lies open on {where}: the sun ages it, frost and falling stones "
                    "break it. Cover or paint it, or use steel there."
                ),
                station_m=span.from_m,
            )
    for check in spans:
        if check.rope is not None:
            yield Finding(
                code="span_ropes",
                severity="note",
                message=(
                    f"The span from {check.from_m:.1f} m to {check.to_m:.1f} m hangs from ropes: "
                    f"together they pull with {check.rope.greatest_n / 1e3:.1f} kN at their ends, "
                    f"{check.rope.horizontal_n / 1e3:.1f} kN of it level, which towers and anchors "
                    f"must hold, and break at no less than {check.rope.breaking_n / 1e3:.0f} kN. "
                    f"Wind that swings the pipe is not judged. {SETTLE}"
                ),
                station_m=check.from_m,
            )
        if check.expansion_joints:
            yield Finding(
                code="span_expansion",
                severity="note",
                message=(
                    f"The span from {check.from_m:.1f} m to {check.to_m:.1f} m grows and shrinks "
                    f"by {check.movement_m * 1000:.0f} mm: {check.expansion_joints} anchored "
                    "lengths, each with an expansion joint just below its upper anchor, opened by "
                    f"{check.joint_opening_m * 1000:.0f} mm when fitted."
                ),
                station_m=check.from_m,
            )

"""What the structures of a line need said aloud."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.anchors.curve import Curve
from routing.anchors.flotation import FloatingReach
from routing.anchors.place import Block
from routing.anchors.slope import SlopeAnchor
from routing.anchors.soil import PSF_PA, soil_names
from routing.anchors.support import SpanCheck
from routing.anchors.trade_data import anchor_limits, material_family, span_stress
from routing.finding import Finding

__all__ = [
    "block_findings",
    "curve_findings",
    "flotation_findings",
    "slope_findings",
    "span_findings",
]

SETTLE = "A licensed engineer must settle it."


def block_findings(blocks: Sequence[Block]) -> tuple[Finding, ...]:
    """Return what is doubtful about blocks: unknown or soft ground, sharp bends, little cover."""
    return tuple(_block_findings(blocks))


def _block_findings(blocks: Sequence[Block]) -> Iterator[Finding]:
    numbers = anchor_limits()
    bearing = [block for block in blocks if block.hold not in ("pipe", "joint")]
    if any(block.bearing.soil is None for block in bearing):
        yield Finding(
            code="soil_unknown",
            severity="warning",
            message=(
                f"No soil was named, so blocks were sized for {numbers.unknown_soil_psf:g} psf "
                f"({numbers.unknown_soil_psf * PSF_PA / 1e3:.1f} kPa), that of the weakest usual "
                f"ground. Name the soil: {'; '.join(soil_names())}."
            ),
        )
    loose = [block for block in blocks if block.hold == "no ground"]
    if loose:
        worst = max(loose, key=lambda block: block.thrust.total_n)
        yield Finding(
            code="soil_no_bearing",
            severity="fault",
            message=(
                f"{worst.bearing.soil} bears nothing, but {len(loose)} of the line's fittings push "
                f"on it, most of all {worst.id} at station {worst.station_m:.1f} m with "
                f"{worst.thrust.total_n / 1e3:.1f} kN. Restrain the joints back to firm ground, or "
                f"found the blocks on it. {SETTLE}"
            ),
            station_m=worst.station_m,
        )
    for block in blocks:
        if block.deflection_deg is not None and block.deflection_deg > numbers.sharp_bend_deg:
            yield Finding(
                code="bend_sharp",
                severity="warning",
                message=(
                    f"The line turns by {block.deflection_deg:.0f} degrees at station "
                    f"{block.station_m:.1f} m, more than one fitting makes. Redraw it there, or "
                    "make the turn of two bends with a block each."
                ),
                station_m=block.station_m,
            )
    shallow = [
        block for block in bearing if block.face_m2 and block.cover_m < numbers.block_cover_m
    ]
    if shallow:
        worst = min(shallow, key=lambda block: block.cover_m)
        yield Finding(
            code="block_shallow",
            severity="note",
            message=(
                "The tables of soils hold from 0.6 m of cover on, but the blocks "
                f"{', '.join(block.id for block in shallow)} have less, {worst.id} only "
                f"{worst.cover_m:.2f} m. Lay the pipe deeper there, or let an engineer size them."
            ),
            station_m=worst.station_m,
        )


def slope_findings(anchors: Sequence[SlopeAnchor]) -> tuple[Finding, ...]:
    """Return that steep reaches need anchors, and where they are too steep for that."""
    if not anchors:
        return ()
    steepest = max(anchors, key=lambda anchor: anchor.grade)
    found = [
        Finding(
            code="slope_anchors",
            severity="warning",
            message=(
                f"The pipe lies as steep as {steepest.grade * 100:.0f} % and creeps downhill "
                f"unless it is anchored: {len(anchors)} anchors, the first at station "
                f"{anchors[0].station_m:.1f} m."
            ),
            station_m=anchors[0].station_m,
        )
    ]
    if steepest.grade > anchor_limits().steep_grade:
        found.append(
            Finding(
                code="slope_steep",
                severity="warning",
                message=(
                    f"The pipe falls more steeply than 1 in 1 near station "
                    f"{steepest.station_m:.1f} m, where it is hard to lay and to anchor. Draw the "
                    f"line across the slope, or keep it above ground on anchors. {SETTLE}"
                ),
                station_m=steepest.station_m,
            )
        )
    return tuple(found)


def curve_findings(curves: Sequence[Curve]) -> tuple[Finding, ...]:
    """Return, as one finding, the turns that no fitting and joint make together."""
    left = [
        (abs(curve.made.rest_deg), curve, curve.made)
        for curve in curves
        if curve.verdict == "cannot be made" and curve.made is not None
    ]
    if not left:
        return ()
    rest, worst, made = max(left, key=lambda each: each[0])
    fittings = " + ".join(f"{angle:g}" for angle in made.fittings_deg)
    several = f"{len(left)} turns of the line are" if len(left) > 1 else "One turn of the line is"
    return (
        Finding(
            code="turn_cannot_be_made",
            severity="warning",
            message=(
                f"{several} no angle that fittings are made in, and joints may turn by "
                f"{worst.allowance_deg:g} degrees. Most is left at {worst.bend_id}, station "
                f"{worst.station_m:.1f} m: {rest:.1f} of its {worst.deflection_deg:.1f} degrees "
                f"beyond fittings of {fittings or 'none'}. Give the maker's joint allowance, move "
                "vertices to made angles, draw wider curves, or order bends to measure."
            ),
            station_m=worst.station_m,
        ),
    )


def flotation_findings(reaches: Sequence[FloatingReach]) -> tuple[Finding, ...]:
    """Return the reaches where an empty pipe would come up."""
    return tuple(
        Finding(
            code="pipe_floats",
            severity="warning",
            message=(
                f"An empty pipe would float up between stations {reach.from_m:.1f} m and "
                f"{reach.to_m:.1f} m once the ground is full of water: the cover of "
                f"{reach.cover_m:.2f} m at station {reach.station_m:.1f} m holds "
                f"{reach.factor:.2f} times the uplift. Lay it under {reach.needed_cover_m:.2f} m, "
                "weigh it down, or drain the trench."
            ),
            station_m=reach.station_m,
        )
        for reach in reaches
    )


def span_findings(checks: Sequence[SpanCheck], materials: Sequence[str]) -> tuple[Finding, ...]:
    """Return what is wrong or doubtful about spans, each of the material given beside it."""
    return tuple(
        found
        for check, material in zip(checks, materials, strict=True)
        for found in _span_findings(check, material_family(material))
    )


def _span_findings(check: SpanCheck, family: str) -> Iterator[Finding]:
    numbers = anchor_limits()
    where = f"the span from {check.from_m:.1f} m to {check.to_m:.1f} m"
    yield Finding(
        code="span_structure",
        severity="note",
        message=(
            f"The structure of {where} is for a licensed engineer: keep it "
            f"{numbers.flood_clearance_m:g} m above the design flood, and drain or insulate it "
            "against frost."
        ),
        station_m=check.from_m,
    )
    failed = [each.name for each in check.requirements if not each.passed]
    if failed:
        yield Finding(
            code="span_fails",
            severity="fault",
            message=(
                f"Supports {check.bay_m:.1f} m apart are too far for {where}: "
                f"{', '.join(failed)}. Stand them no more than {check.longest_m:.1f} m apart, or "
                f"take stiffer pipe. {SETTLE}"
            ),
            station_m=check.from_m,
        )
    published = check.published_m
    if published is not None and check.bay_m > published:
        far = check.bay_m > numbers.published_most * published
        yield Finding(
            code="span_long",
            severity="fault" if far else "warning",
            message=(
                f"Supports {check.bay_m:.1f} m apart are beyond the published {published:.1f} m "
                f"for {where}"
                + (
                    f", by more than {numbers.published_most:g} times: no pipe bridge any more. "
                    "Hang the pipe from ropes or carry it on a beam. "
                    if far
                    else "; its stress, sag and ring decide, and an engineer must look at them. "
                )
                + SETTLE
            ),
            station_m=check.from_m,
        )
    if family not in span_stress():
        yield Finding(
            code="span_unchecked",
            severity="warning",
            message=(
                f"Nothing is known of the stress that the material of {where} bears. {SETTLE}"
            ),
            station_m=check.from_m,
        )
    if family in ("PVC", "PE"):
        yield Finding(
            code="span_plastic",
            severity="warning",
            message=(
                f"Plastic pipe lies open on {where}: the sun ages it, frost and falling stones "
                "break it. Cover or paint it, or use steel there."
            ),
            station_m=check.from_m,
        )
    if check.expansion_joints:
        yield Finding(
            code="span_expansion",
            severity="note",
            message=(
                f"{where[0].upper()}{where[1:]} grows and shrinks by "
                f"{check.movement_m * 1000:.0f} mm: {check.expansion_joints} anchored lengths, "
                "each with an expansion joint just below its upper anchor, opened by "
                f"{check.joint_opening_m * 1000:.0f} mm when fitted."
            ),
            station_m=check.from_m,
        )

"""Room of the anchors: everything that holds a pipe where it lies.

``thrust`` gives the force of the water on a fitting, ``soil`` and ``ground`` what the ground bears,
``block`` and ``restraint`` what stands against it and ``cast`` the block as a mason casts it;
``held``, ``slope`` and ``place`` put anchors and blocks along a line. ``beam``, ``saddle`` and
``thermal`` are the mechanics of pipe above ground, ``span`` and ``support`` judge it. ``flotation``
holds an empty pipe down, ``joint`` and ``curve`` lay it round corners. ``anchorage`` does all of it
for a line. Every result names its formula by an id of ``data/formulas.csv``, which gives source and
safe side; what is asked of it is a row of ``data/requirements.csv``.
"""

from routing.anchors.anchorage import Anchorage, hold_line
from routing.anchors.arc import GradeBreak, arc_departure_m, arc_moves_m, check_breaks, judge_arcs
from routing.anchors.beam import (
    Section,
    Support,
    frequency_hz,
    moment_n_m,
    sag_m,
    support_reactions_n,
    weight_n_m,
)
from routing.anchors.block import (
    GravityBlock,
    bearing_area_m2,
    bearing_block_volume_m3,
    block_height_m,
    gravity_block,
    soil_hold_n,
)
from routing.anchors.cable import CablePull, cable_pull
from routing.anchors.cast import CastBlock, cast_block
from routing.anchors.curve import (
    Curve,
    MadeBend,
    available_radius_m,
    check_curves,
    judge_turns,
    mitre_cuts,
    split_deflection,
)
from routing.anchors.findings import block_findings, judge_blocks, slope_findings, span_findings
from routing.anchors.flotation import (
    FloatingReach,
    check_flotation,
    flotation_factor,
    judge_uplift,
    least_cover_against_uplift_m,
)
from routing.anchors.governing import governing_pressure
from routing.anchors.ground import Ground
from routing.anchors.held import Block
from routing.anchors.joint import joint_offset_m, joint_radius_m, least_bend_radius_m
from routing.anchors.place import Branch, place_blocks
from routing.anchors.restraint import (
    downslope_force_n,
    restrained_length_m,
    soil_drag_n_m,
)
from routing.anchors.saddle import column_buckling_n, published_span_m, saddle_stress_pa
from routing.anchors.slope import SlopeAnchor, judge_slopes, place_slope_anchors
from routing.anchors.soil import Bearing, bearing_of_soil, soil_names
from routing.anchors.span import PipeBody, SpanConditions, span_requirements
from routing.anchors.support import SpanCheck, check_spans
from routing.anchors.thermal import joint_opening_m, restrained_force_n, thermal_movement_m
from routing.anchors.thrust import (
    Arm,
    Thrust,
    arm_force_n,
    bend_thrust,
    bend_thrust_n,
    fitting_thrust,
)
from routing.anchors.trade_data import Formula, anchor_limits, formulas

__all__ = [
    "Anchorage",
    "Arm",
    "Bearing",
    "Block",
    "Branch",
    "CablePull",
    "CastBlock",
    "Curve",
    "FloatingReach",
    "Formula",
    "GradeBreak",
    "GravityBlock",
    "Ground",
    "MadeBend",
    "PipeBody",
    "Section",
    "SlopeAnchor",
    "SpanCheck",
    "SpanConditions",
    "Support",
    "Thrust",
    "anchor_limits",
    "arc_departure_m",
    "arc_moves_m",
    "arm_force_n",
    "available_radius_m",
    "bearing_area_m2",
    "bearing_block_volume_m3",
    "bearing_of_soil",
    "bend_thrust",
    "bend_thrust_n",
    "block_findings",
    "block_height_m",
    "cable_pull",
    "cast_block",
    "check_breaks",
    "check_curves",
    "check_flotation",
    "check_spans",
    "column_buckling_n",
    "downslope_force_n",
    "fitting_thrust",
    "flotation_factor",
    "formulas",
    "frequency_hz",
    "governing_pressure",
    "gravity_block",
    "hold_line",
    "joint_offset_m",
    "joint_opening_m",
    "joint_radius_m",
    "judge_arcs",
    "judge_blocks",
    "judge_slopes",
    "judge_turns",
    "judge_uplift",
    "least_bend_radius_m",
    "least_cover_against_uplift_m",
    "mitre_cuts",
    "moment_n_m",
    "place_blocks",
    "place_slope_anchors",
    "published_span_m",
    "restrained_force_n",
    "restrained_length_m",
    "saddle_stress_pa",
    "sag_m",
    "slope_findings",
    "soil_drag_n_m",
    "soil_hold_n",
    "soil_names",
    "span_findings",
    "span_requirements",
    "split_deflection",
    "support_reactions_n",
    "thermal_movement_m",
    "weight_n_m",
]

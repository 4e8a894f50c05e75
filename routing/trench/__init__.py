"""Room of the trench: where the pipe may lie, and where it is laid.

``corridor`` turns cover, depth limit and spans into a highest and a lowest line; ``reach`` and
``grade_line`` find the best line between them, ``straight`` and ``grades`` the straights that a
crew sets out, ``ease`` moves their corners; ``laid`` puts the pieces together as one value;
``offers`` prices the humps that could be dug through, ``deeper`` a deeper trench all along;
``excavation`` and ``bends`` measure the result;
``built`` holds levels as built against the plan.
"""

from routing.trench.bench import Bench, BenchStretch, bench_area_m2, lay_bench
from routing.trench.bends import (
    LEAST_BEND_DEG,
    Bend,
    Bends,
    deflections_deg,
    find_bends,
    indices_of,
    vertex_turns_rad,
)
from routing.trench.built import (
    BuiltLevels,
    BuiltTurn,
    built_assumptions,
    built_pipe,
    carry_levels,
    judge_built,
    level_tolerance_m,
    turns_of,
)
from routing.trench.corridor import (
    DEFAULT_MAX_DEPTH_M,
    Corridor,
    LimitStretch,
    Span,
    TrenchLimits,
    build_corridor,
    least_cover_m,
)
from routing.trench.deeper import DepthOffer, depth_offers
from routing.trench.ease import corners_moved
from routing.trench.excavation import (
    Excavation,
    embedment_m2,
    embedment_over_m,
    excavate,
    trench_width_m,
)
from routing.trench.front import GradeChoice, grade_choices
from routing.trench.grade_line import GradeLine, best_grade_line
from routing.trench.grades import Grade, usual_break
from routing.trench.ground_judge import ground_slope, judge_bench, judge_steep_ground
from routing.trench.judge import judge_trench
from routing.trench.laid import BelowGrade, LaidPipe, lay_pipe, pipe_at_levels
from routing.trench.offers import DigOffer

__all__ = [
    "DEFAULT_MAX_DEPTH_M",
    "LEAST_BEND_DEG",
    "BelowGrade",
    "Bench",
    "BenchStretch",
    "Bend",
    "Bends",
    "BuiltLevels",
    "BuiltTurn",
    "Corridor",
    "DepthOffer",
    "DigOffer",
    "Excavation",
    "Grade",
    "GradeChoice",
    "GradeLine",
    "LaidPipe",
    "LimitStretch",
    "Span",
    "TrenchLimits",
    "bench_area_m2",
    "best_grade_line",
    "build_corridor",
    "built_assumptions",
    "built_pipe",
    "carry_levels",
    "corners_moved",
    "deflections_deg",
    "depth_offers",
    "embedment_m2",
    "embedment_over_m",
    "excavate",
    "find_bends",
    "grade_choices",
    "ground_slope",
    "indices_of",
    "judge_bench",
    "judge_built",
    "judge_steep_ground",
    "judge_trench",
    "lay_bench",
    "lay_pipe",
    "least_cover_m",
    "level_tolerance_m",
    "pipe_at_levels",
    "trench_width_m",
    "turns_of",
    "usual_break",
    "vertex_turns_rad",
]

"""The safety texts that stand in every output a person may act on."""

from __future__ import annotations

from routing.trade_table import trade_table

__all__ = ["DEEP_TRENCH_M", "cautions_for"]

DEEP_TRENCH_M = 1.2
"""Depth from which some national rules treat a trench that people enter as deep [m].

British Columbia, Occupational Health and Safety Regulation, part 20 (excavations).
"""
VERY_DEEP_TRENCH_M = 6.096
"""Depth beyond which protection is designed by a registered engineer: 20 ft [m].

29 CFR 1926 subpart P (United States, excavations).
"""


def cautions_for(
    *,
    spans: bool,
    depth_over_m: float,
    flow: bool,
    plastic: bool,
    surge: bool = False,
    residual: bool = False,
    signed: bool = False,
) -> tuple[dict[str, str], ...]:
    """Return the safety texts that belong to a study, as ``{"id", "text"}``, in reading order.

    ``spans``: some pipe lies above ground; ``depth_over_m``: the deepest trench [m]; ``flow``: a
    design flow was given; ``plastic``: some pipe is plastic; ``surge``, ``residual``: surge and
    residual flow were checked; ``signed``: somebody put a name to a study that leaves nothing open.

    >>> [c["id"] for c in cautions_for(spans=False, depth_over_m=1.0, flow=False, plastic=False)][0]
    'review'
    """
    holds = {
        "always": True,
        "unsigned": not signed,
        "signed": signed,
        "spans": spans,
        "surge_unknown": flow and not surge,
        "surge_known": flow and surge,
        "residual_unknown": not residual,
        "residual_known": residual,
        "plastic": plastic,
        "deep_trench": depth_over_m >= DEEP_TRENCH_M,
        "very_deep_trench": depth_over_m > VERY_DEEP_TRENCH_M,
    }
    return tuple(
        {"id": row["id"], "text": row["text"]}
        for row in trade_table(__file__, "cautions.csv")
        if holds[row["applies"]]
    )

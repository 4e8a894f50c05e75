"""The intake: what the stream gives, what it keeps, and how water enters the pipe without air.

``weir`` turns a head over a notch into a flow and back; ``gauging`` says whether the reading was
within the formula's range; ``mouth`` how deep the pipe's mouth lies; ``screen`` the bars before it;
``settling`` the basin that keeps grains out and the flushing that removes them; ``share`` what of
the stream may be taken; ``storage`` the water at hand for opening, and the crest for tripping;
``built`` gathers what is known of one intake, and judges it by ``data/requirements.csv``.
"""

from routing.flow.intake.built import (
    IntakeResult,
    Settling,
    check_bars,
    check_crest,
    check_settling,
)
from routing.flow.intake.gauging import Gauging, gauge_stream
from routing.flow.intake.mouth import MouthCheck, check_mouth, mouth_depths_m
from routing.flow.intake.screen import Screen, bar_gap_m, size_screen
from routing.flow.intake.settling import (
    basin_area_m2,
    flushed_grain_m,
    settling_velocity_m_s,
)
from routing.flow.intake.share import (
    StreamShare,
    residual_check,
    residual_notch_head_m,
    share_stream,
)
from routing.flow.intake.storage import (
    check_storage,
    crest_width_m,
    start_up_volume_m3,
)
from routing.flow.intake.weir import (
    cipolletti_flow_m3_s,
    v_notch_flow_m3_s,
    v_notch_head_m,
    v_notch_us_flow_m3_s,
    weir_contracted_flow_m3_s,
    weir_suppressed_flow_m3_s,
)

__all__ = [
    "Gauging",
    "IntakeResult",
    "MouthCheck",
    "Screen",
    "Settling",
    "StreamShare",
    "bar_gap_m",
    "basin_area_m2",
    "check_bars",
    "check_crest",
    "check_mouth",
    "check_settling",
    "check_storage",
    "cipolletti_flow_m3_s",
    "crest_width_m",
    "flushed_grain_m",
    "gauge_stream",
    "mouth_depths_m",
    "residual_check",
    "residual_notch_head_m",
    "settling_velocity_m_s",
    "share_stream",
    "size_screen",
    "start_up_volume_m3",
    "v_notch_flow_m3_s",
    "v_notch_head_m",
    "v_notch_us_flow_m3_s",
    "weir_contracted_flow_m3_s",
    "weir_suppressed_flow_m3_s",
]

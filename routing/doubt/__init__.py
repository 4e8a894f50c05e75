"""Doubt: what the raster cannot know of the ground, and which levels would settle it."""

from routing.doubt.chances import Chances, Count, chances, settled_by_levels
from routing.doubt.depths import DepthStep, summits_by_depth
from routing.doubt.doubt import Doubt, doubt_of
from routing.doubt.error import (
    ElevationError,
    bend_rms_m,
    bounded_error,
    find_error,
    whole_units,
)
from routing.doubt.interval import exceeded_head_m, head_sd_m, head_sds_m, length_excess_m
from routing.doubt.likely import is_doubtful, likely_words
from routing.doubt.line import DoubtedLine, Levels
from routing.doubt.rough import rough_probability
from routing.doubt.settled import Question, questions_settled
from routing.doubt.shoot import Shot, expected_wrong, levels_to_shoot
from routing.doubt.sounding import Sounding, sound, there
from routing.doubt.trade_data import limits, local_classes
from routing.doubt.zigzag import Turns, forced_turns

__all__ = [
    "Chances",
    "Count",
    "DepthStep",
    "Doubt",
    "DoubtedLine",
    "ElevationError",
    "Levels",
    "Question",
    "Shot",
    "Sounding",
    "Turns",
    "bend_rms_m",
    "bounded_error",
    "chances",
    "doubt_of",
    "exceeded_head_m",
    "expected_wrong",
    "find_error",
    "forced_turns",
    "head_sd_m",
    "head_sds_m",
    "is_doubtful",
    "length_excess_m",
    "levels_to_shoot",
    "likely_words",
    "limits",
    "local_classes",
    "questions_settled",
    "rough_probability",
    "settled_by_levels",
    "sound",
    "summits_by_depth",
    "there",
    "whole_units",
]

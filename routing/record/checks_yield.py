"""The intake's requirements, as rows of the list of checks."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from routing.check import Check
from routing.judge.intake_side import IntakeResult, Settling

__all__ = ["intake_checks"]

check = partial(Check, place="intake", station_m=0.0)


def intake_checks(intake: IntakeResult) -> Iterator[Check]:
    """Return every requirement of an intake that enough is known for."""
    if intake.mouth is not None:
        yield check(
            subject="water over the mouth of the pipe",
            code="mouth_too_shallow",
            severity="warning",
            demand=intake.mouth.depth_m,
            limit=intake.mouth.depths.least_m,
            unit="m",
            rule="Gordon's depth over the crown or 0.3 m, at the lowest working level",
            source="Gordon 1970, from memory; 0.3 m common practice",
            at_most=False,
        )
    if intake.share is not None and intake.residual_m3_s is not None:
        yield check(
            subject="flow left in the bed",
            code="residual_first",
            severity="warning",
            demand=intake.share.residual_m3_s * 1000.0,
            limit=intake.residual_m3_s * 1000.0,
            unit="L/s",
            rule="the residual flow at the least flow gauged",
            source="residual of the settings, which is the permit's",
            at_most=False,
        )
    if intake.screen is not None and intake.screen_built_m2 is not None:
        yield check(
            subject="area of the screen",
            code="screen_small",
            severity="warning",
            demand=intake.screen_built_m2,
            limit=intake.screen.gross_m2,
            unit="m2",
            rule=f"{intake.screen.velocity_m_s:g} m/s through the openings with "
            f"{100.0 * intake.screen.clogged_share:g} % of them blocked",
            source="common practice",
            at_most=False,
        )
    if intake.bar_gap_m is not None and intake.widest_gap_m is not None:
        yield check(
            subject="gap between the bars",
            code="bars_wide",
            severity="warning",
            demand=intake.bar_gap_m * 1000.0,
            limit=intake.widest_gap_m * 1000.0,
            unit="mm",
            rule="a fifth of the nozzle's bore, half of a runner's passage",
            source="ESHA layman's guide to small hydro, from memory",
        )
    if intake.settling is not None:
        yield from _grains(intake.settling)
    if intake.storage_m3 is not None and intake.storage_least_m3 is not None:
        yield check(
            subject="water stored at the intake",
            code="storage_small",
            severity="warning",
            demand=intake.storage_m3,
            limit=intake.storage_least_m3,
            unit="m3",
            rule="a minute of design flow over the mouth's least depth",
            source="common practice",
            at_most=False,
        )
    if intake.crest_width_m is not None and intake.crest_needed_m is not None:
        yield check(
            subject="width of the overflow crest",
            code="crest_narrow",
            severity="warning",
            demand=intake.crest_width_m,
            limit=intake.crest_needed_m,
            unit="m",
            rule="passes the design flow at the head allowed when the machine trips",
            source="broad crest, Q = 1.7 b h^1.5, from memory of handbooks",
            at_most=False,
        )


def _grains(settling: Settling) -> Iterator[Check]:
    if settling.built_m2 is not None:
        yield check(
            subject="area of the settling basin",
            code="grains_stay",
            severity="warning",
            demand=settling.built_m2,
            limit=settling.needed_m2,
            unit="m2",
            rule=f"grains of {settling.grain_m * 1000.0:g} mm settle, with 2 for turbulence",
            source="Ferguson and Church 2004, from memory; factor common practice",
            at_most=False,
        )
    if settling.flushed_grain_m is not None:
        yield check(
            subject="grain moved by flushing",
            code="grains_stay",
            severity="warning",
            demand=settling.flushed_grain_m * 1000.0,
            limit=settling.grain_m * 1000.0,
            unit="mm",
            rule="flushing moves what settles",
            source="Shields, threshold 0.05, from memory",
            at_most=False,
        )

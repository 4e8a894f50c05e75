"""An intake as built: what is known of it, and what is asked of it."""

from __future__ import annotations

from routing.check import Check
from routing.finding import Finding
from routing.flow.intake.gauging import Gauging
from routing.flow.intake.mouth import MouthCheck
from routing.flow.intake.requirements import judge
from routing.flow.intake.screen import Screen
from routing.flow.intake.share import StreamShare
from routing.value import dataclass

__all__ = ["IntakeResult", "Settling", "check_bars", "check_crest", "check_settling"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """A basin for grains of one size: how they sink, its plan area, and what its flushing moves."""

    grain_m: float
    velocity_m_s: float
    needed_m2: float
    built_m2: float | None
    flushed_grain_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeResult:
    """What is known of an intake; each part is None where too little was stated for it."""

    residual_m3_s: float | None
    notch_angle_deg: float
    notch_head_m: float | None
    gaugings: tuple[Gauging, ...]
    share: StreamShare | None
    mouth: MouthCheck | None
    screen: Screen | None
    screen_built_m2: float | None
    bar_gap_m: float | None
    widest_gap_m: float | None
    settling: Settling | None
    storage_m3: float | None
    storage_least_m3: float | None
    storage_advised_m3: float | None
    crest_width_m: float | None
    crest_needed_m: float | None
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def check_settling(settling: Settling | None) -> tuple[Check, ...]:
    """Return whether a basin holds its grains back, and whether its flushing moves them."""
    if settling is None:
        return ()
    grain, checks = f"grains of {settling.grain_m * 1000:.2f} mm", []
    if settling.built_m2 is not None:
        checks.append(
            judge(
                "basin_area",
                settling.built_m2,
                f"The basin's {settling.built_m2:.1f} m2 do not hold {grain} back; "
                f"{settling.needed_m2:.1f} m2 do. Enlarge it, or take the wear of the machine.",
                settling.needed_m2,
                f"{grain} settle, with 2 for turbulence",
            )
        )
    if settling.flushed_grain_m is not None:
        checks.append(
            judge(
                "grains_flushed",
                settling.flushed_grain_m * 1000.0,
                f"Flushing moves grains up to {settling.flushed_grain_m * 1000:.2f} mm; {grain} "
                "stay. Lay the floor steeper, or flush deeper.",
                settling.grain_m * 1000.0,
            )
        )
    return tuple(checks)


def check_bars(gap_m: float | None, widest_m: float | None) -> tuple[Check, ...]:
    """Return whether the bars keep from the machine what it does not pass."""
    if gap_m is None or widest_m is None:
        return ()
    return (
        judge(
            "bars",
            gap_m * 1000.0,
            f"The gap of {gap_m * 1000:.1f} mm between the bars lets through what the machine does "
            f"not pass; {widest_m * 1000:.1f} mm is the widest. Set the bars closer.",
            widest_m * 1000.0,
        ),
    )


def check_crest(width_m: float | None, needed_m: float | None) -> tuple[Check, ...]:
    """Return whether the overflow crest passes the design flow when the machine trips."""
    if width_m is None or needed_m is None:
        return ()
    return (
        judge(
            "crest",
            width_m,
            f"The overflow crest of {width_m:.2f} m does not pass the design flow at the head "
            f"allowed; {needed_m:.2f} m does. When the machine trips the water leaves over the "
            "walls: widen the crest.",
            needed_m,
        ),
    )

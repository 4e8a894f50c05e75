"""What is doubtful about the chosen pipes, and which of them cannot be or do not mate."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from routing.check import Check
from routing.finding import Finding
from routing.pipe.catalogue import diameter_family, load_catalogue
from routing.pipe.derating import derating
from routing.pipe.material import find_material, is_plastic
from routing.pipe.pipe import Pipe
from routing.pipe.rating import rating_by_wall_pa
from routing.pipe.requirements import asked
from routing.pipe.schedule import PipeRun, PipeSchedule

__all__ = ["joint_assumptions", "pipe_checks", "pipe_findings"]

WARM_C = 23.0
"""Water warmer than this needs a lower rating for plastic [degC]."""

SAME_BORE = 0.005
"""Bores nearer than this to each other count as one [-]."""


def pipe_findings(schedule: PipeSchedule, temperature_c: float) -> tuple[Finding, ...]:
    """Return what the user should confirm about the pipes along the line.

    Parameters
    ----------
    schedule : PipeSchedule
        The pipes along the line [-]
    temperature_c : float
        Temperature of the water [degC]

    Returns
    -------
    findings : tuple of Finding
        Missing ratings, bores that look nominal, ratings lowered for temperature and values to
        confirm; each kind of pipe is named once

    Raises
    ------
    InputError
        If the water is too warm for a pipe's material.

    Examples
    --------
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> pipe = load_catalogue().find("PE100-SDR17-200")
    >>> [each.code for each in pipe_findings(schedule_pipes([(0.0, pipe)], 500.0), 28.0)]
    ['rating_derated']
    """
    findings: list[Finding] = []
    seen: set[Pipe] = set()
    for run in schedule.runs:
        if run.pipe not in seen:
            seen.add(run.pipe)
            findings.extend(_about(run, temperature_c))
    return tuple(findings)


def _about(run: PipeRun, temperature_c: float) -> Iterator[Finding]:
    pipe = run.pipe
    if pipe.rating_pa is None:
        yield Finding(
            code="no_rating",
            severity="warning",
            message=f"{pipe.label} has no pressure rating, so whether it holds was not checked. "
            "Give pipe.pressure_rating from the maker's sheet.",
            station_m=run.from_m,
        )
    lowered = derating(pipe, temperature_c)
    if pipe.rating_pa is not None and lowered.factor < 1.0:
        yield Finding(
            code="rating_derated",
            severity="note",
            message=f"The rating of {pipe.label} was multiplied by {lowered.factor:.3f} for water "
            f"of {temperature_c:g} degC ({lowered.table}; {lowered.source}).",
            station_m=run.from_m,
        )
    if temperature_c > WARM_C and find_material(pipe.material) is None:
        yield Finding(
            code="temperature_high",
            severity="warning",
            message=f"No table says what {pipe.label} holds in water of {temperature_c:g} degC. "
            "Ask the maker for its rating at this temperature.",
            station_m=run.from_m,
        )
    nominal = None if pipe.id is not None else _nominal_alike(pipe)
    if nominal is not None:
        yield Finding(
            code="nominal_bore",
            severity="warning",
            message=f"An inside diameter of {pipe.inside_diameter_m * 1000:.1f} mm is the nominal "
            f"size {nominal.nominal}, not a bore: {nominal.label} has a bore of "
            f"{nominal.inside_diameter_m * 1000:.1f} mm. Give a catalogue id or the real bore.",
            station_m=run.from_m,
        )
    if "FROM MEMORY" in (pipe.rating_status, pipe.dimension_status):
        yield Finding(
            code="catalogue_memory",
            severity="note",
            message=f"A value of {pipe.label} is from memory of its source "
            f"({pipe.rating_source}). Confirm it with the maker before ordering.",
            station_m=run.from_m,
        )


def _nominal_alike(pipe: Pipe) -> Pipe | None:
    """Return a made pipe whose nominal size a bore repeats, if no pipe of that size has it."""
    bore_m = pipe.inside_diameter_m
    sizes: dict[str, list[Pipe]] = {}
    for made in load_catalogue().select(material=pipe.material):
        if abs(_nominal_m(made) - bore_m) < 0.0002 + 0.0005 * bore_m:
            sizes.setdefault(made.nominal or "", []).append(made)
    for alike in sizes.values():
        if all(abs(made.inside_diameter_m - bore_m) > SAME_BORE * bore_m for made in alike):
            return alike[0]
    return None


def _nominal_m(pipe: Pipe) -> float:
    words = (pipe.nominal or "").split()
    return float(words[0]) * 0.0254 if words[-1] == "in" else float(words[-1]) / 1000.0


def pipe_checks(schedule: PipeSchedule) -> tuple[Check, ...]:
    """Return whether ratings given by hand can be, and whether pipes that meet mate.

    Parameters
    ----------
    schedule : PipeSchedule
        The pipes along the line [-]

    Returns
    -------
    checks : tuple of Check
        One for each rating by hand of a known material, one for each joint of unlike pipes

    Notes
    -----
    Checked by ``tests/reference/test_ratings.py``.

    Examples
    --------
    >>> from routing.pipe import pipe_by_hand, schedule_pipes
    >>> bold = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005, rating_pa=3e6)
    >>> [round(check.demand, 2) for check in pipe_checks(schedule_pipes([(0.0, bold)], 500.0))]
    [4.24]
    """
    hand = {run.pipe: run for run in reversed(schedule.runs) if run.pipe.id is None}
    return (
        *(check for run in reversed(hand.values()) for check in _rating_by_hand(run)),
        *(_mates(above.pipe, below) for above, below in pairwise(schedule.runs)),
    )


def _rating_by_hand(run: PipeRun) -> Iterator[Check]:
    pipe, stress = run.pipe, run.pipe.design_stress_pa
    if pipe.rating_pa is None or stress is None:
        return
    if is_plastic(pipe.material):
        bears = rating_by_wall_pa(stress, pipe.outside_diameter_m, pipe.wall_m)
    else:
        bears = 2.0 * stress * pipe.wall_m / pipe.outside_diameter_m
    yield asked("rating_by_hand").judge(
        pipe.rating_pa / bears,
        f"{pipe.rating_pa / 1000:.0f} kPa is more than the wall of {pipe.label} can be rated for, "
        f"{bears / 1000:.0f} kPa at the {stress / 1e6:.4g} MPa that its material is designed for. "
        "Check wall and rating and their units; a stronger material needs its maker's certificate "
        "and a waiver.",
        place=pipe.label,
        station_m=run.from_m,
    )


def _mates(above: Pipe, below: PipeRun) -> Check:
    families = diameter_family(above), diameter_family(below.pipe)
    outsides = above.outside_diameter_m, below.pipe.outside_diameter_m
    apart = 100.0 * abs(outsides[0] - outsides[1]) / max(outsides)
    known, alike = None not in families, families[0] == families[1]
    return asked("families_mate" if known and not alike else "diameters_mate").judge(
        0.0 if known and alike else apart,
        f"At {below.from_m:.1f} m {above.label} ({outsides[0] * 1000:.1f} mm outside) meets "
        f"{below.pipe.label} ({outsides[1] * 1000:.1f} mm outside): they do not mate. Order an "
        "adapter for this joint.",
        place=f"joint at {below.from_m:.1f} m",
        station_m=below.from_m,
    )


def joint_assumptions(schedule: PipeSchedule) -> tuple[str, ...]:
    """Return in words what is taken of joints and sticks because it was not given.

    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> pipe = load_catalogue().find("STEEL-B3610-STD-8in")
    >>> joint_assumptions(schedule_pipes([(0.0, pipe)], 500.0))[0][:58]
    'Joints of STEEL Sch STD 8 in, ASME B36.10M: welded steel, '
    """
    said = []
    for pipe in dict.fromkeys(run.pipe for run in schedule.runs):
        found = pipe.jointing
        words = {
            "joint": f"{found.joint.what}",
            "joint_allowance": f"turning by {found.allowance_deg:g} degrees each",
            "stick": f"in lengths of {found.stick_m:g} m",
        }
        if found.assumed:
            said.append(
                f"Joints of {pipe.label}: {', '.join(words[key] for key in found.assumed)}; usual "
                f"for {pipe.material} (common practice; allowance: {found.joint.source})."
            )
    return tuple(said)

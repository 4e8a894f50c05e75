"""What is doubtful about the chosen pipes, and where they are too weak."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray
from routing.finding import Finding
from routing.pipe.catalogue import diameter_family, load_catalogue
from routing.pipe.derating import derated_rating_pa, derating
from routing.pipe.material import find_material
from routing.pipe.pipe import Pipe
from routing.pipe.schedule import PipeRun, PipeSchedule

__all__ = ["joint_assumptions", "over_rating_findings", "pipe_findings"]

WARM_C = 23.0
"""Water warmer than this needs a lower rating for plastic [degC]."""

SAME_BORE = 0.005
"""Bores nearer than this to each other count as one [-]."""

SAME_OUTSIDE = 0.005
"""Outside diameters nearer than this to each other mate [-]."""


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
        Mixed diameter families, missing ratings, bores that look nominal, ratings lowered for
        temperature and values to confirm; each kind of pipe is named once

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
    for above, below in pairwise(schedule.runs):
        findings.extend(_about_joint(above.pipe, below))
    return tuple(findings)


def _about(run: PipeRun, temperature_c: float) -> Iterator[Finding]:
    pipe = run.pipe
    if pipe.rating_pa is None:
        yield Finding(
            code="no_rating",
            severity="warning",
            message=f"{pipe.label} has no pressure rating, so whether it holds was not checked. "
            "Give pressure_rating from the maker's sheet.",
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


def _about_joint(above: Pipe, below: PipeRun) -> Iterator[Finding]:
    families = diameter_family(above), diameter_family(below.pipe)
    outsides = above.outside_diameter_m, below.pipe.outside_diameter_m
    if None not in families:
        mate = families[0] == families[1]
    else:
        mate = abs(outsides[0] - outsides[1]) <= SAME_OUTSIDE * max(outsides)
    if not mate:
        yield Finding(
            code="diameters_mixed",
            severity="warning",
            message=f"At {below.from_m:.1f} m {above.label} ({outsides[0] * 1000:.1f} mm outside) "
            f"meets {below.pipe.label} ({outsides[1] * 1000:.1f} mm outside): they do not mate. "
            "Order an adapter for this joint.",
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


def over_rating_findings(
    schedule: PipeSchedule,
    station_m: FloatArray,
    pressure_pa: FloatArray,
    temperature_c: float,
) -> tuple[Finding, ...]:
    """Return one fault for each run of pipe that the pressure at rest is too much for.

    Parameters
    ----------
    schedule : PipeSchedule
        The pipes along the line [-]
    station_m : FloatArray
        Stations, (n,) rising [m]
    pressure_pa : FloatArray
        Pressure at rest at each station, (n,) gauge [Pa]
    temperature_c : float
        Temperature of the water [degC]

    Returns
    -------
    findings : tuple of Finding
        A fault per run, at its highest pressure, naming the weakest pipe of the catalogue of the
        same kind and size that would hold

    Raises
    ------
    InputError
        If the water is too warm for a pipe's material.

    Notes
    -----
    Valid for: pressure at rest alone; surge comes on top of it.

    Examples
    --------
    >>> import numpy as np
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> line = schedule_pipes([(0.0, load_catalogue().find("PE100-SDR26-200"))], 500.0)
    >>> ends, pressure = np.array([0.0, 500.0]), np.array([0.0, 700e3])
    >>> [each.station_m for each in over_rating_findings(line, ends, pressure, 10.0)]
    [500.0]
    """
    findings = []
    for run in schedule.runs:
        rating_pa = derated_rating_pa(run.pipe, temperature_c)
        # A joint loads both pipes that meet there, so both ends of the run count.
        inside = (station_m >= run.from_m) & (station_m <= run.to_m)
        if rating_pa is None or not inside.any():
            continue
        worst = int(np.argmax(np.where(inside, pressure_pa, -np.inf)))
        worst_pa = float(pressure_pa[worst])
        if worst_pa > rating_pa:
            findings.append(
                Finding(
                    code="over_rating",
                    severity="fault",
                    message=f"At {station_m[worst]:.1f} m the pressure at rest is "
                    f"{worst_pa / 1000:.0f} kPa, above the {rating_pa / 1000:.0f} kPa that "
                    f"{run.pipe.label} holds in water of {temperature_c:g} degC. "
                    f"{_stronger(run.pipe, worst_pa, temperature_c)}",
                    station_m=float(station_m[worst]),
                )
            )
    return tuple(findings)


def _stronger(pipe: Pipe, needed_pa: float, temperature_c: float) -> str:
    """Return advice: the weakest pipe of the same standard and size that would hold."""
    if pipe.id is None:
        return "Choose a pipe with a higher rating from here up to where the pressure allows it."
    holding = [
        (rating_pa, made)
        for made in load_catalogue().select(
            material=pipe.material, standard=pipe.standard, nominal=pipe.nominal
        )
        if (rating_pa := derated_rating_pa(made, temperature_c)) is not None
        and rating_pa >= needed_pa
    ]
    if not holding:
        return "No pipe of this kind and size in the catalogue holds it: choose another material."
    best = min(holding, key=lambda each: each[0])[1]
    return f"{best.id} would hold it."

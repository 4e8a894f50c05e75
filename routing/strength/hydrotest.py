"""The pressure of the test with water, and whether every stretch may bear it."""

from __future__ import annotations

from typing import Literal

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.check import Check
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import Pipe, derated_rating_pa, material_family
from routing.strength.requirements import asked
from routing.strength.trade_data import HydrotestRule, hydrotest_rules
from routing.value import dataclass

__all__ = [
    "Hydrotest",
    "HydrotestBounds",
    "RuleName",
    "check_hydrotest",
    "hydrotest_bounds",
    "most_in_test_pa",
    "usual_rule",
]

RuleName = Literal["municipal", "EN 805", "polyethylene", "Indian"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hydrotest:
    """The test of the whole line as one section, (n,) [Pa], by which rule, and its checks.

    ``factor`` is the pressure at the lowest point over the highest one at rest; ``bounds`` are what
    the test was made from, for a line that is cut into sections.
    """

    rule: RuleName
    factor: float
    bottom_pa: float
    pressure_pa: FloatArray
    bounds: HydrotestBounds
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HydrotestBounds:
    """What the rule of the test asks of every point, and what every point may bear, (n,) [Pa].

    ``allowed_pa`` is that of the pipe from each station to the next, NaN where none is rated.
    """

    rule: RuleName
    asked_pa: FloatArray
    allowed_pa: FloatArray


def usual_rule(line: LaidLine) -> RuleName:
    """Return the rule by the material: polyethylene where nothing else lies, else municipal.

    >>> from routing.laid_line import simple_line
    >>> usual_rule(simple_line([0.0, 500.0], [400.0, 329.0], "PE100-SDR26-200", intake_m=400.0))
    'polyethylene'
    """
    fused = all(_fused_polyethylene(run.pipe) for run in line.pipes.runs)
    return "polyethylene" if fused else "municipal"


def check_hydrotest(
    line: LaidLine,
    *,
    flood_rise_m: float = 0.0,
    rise_m: FloatArray | None = None,
    rule: RuleName | None = None,
    factor: float | None = None,
) -> Hydrotest:
    r"""Return the test pressure along the line, and whether its classes bear it.

    .. math::
        p_\mathrm{bottom} = f\, p_\mathrm{static}, \qquad
        p(s) = p_\mathrm{bottom} - \rho g (z - z_\mathrm{bottom})

    Parameters
    ----------
    line : LaidLine
        The line with its pipes [-]
    flood_rise_m : float
        Highest level at the intake over its usual one, >= 0 [m]
    rise_m : FloatArray, optional
        Rise of head in the worst surge, (n,) >= 0, which EN 805 and the Indian rule count; None
        where it was not computed [m]
    rule : str, optional
        "municipal", "EN 805", "polyethylene" or "Indian"; None takes the one usual for the
        material [-]
    factor : float, optional
        Test pressure at the lowest point over the highest static one, 1 to 2; None takes the
        rule's. EN 805 has its own: 100 kPa over the highest pressure with surge; without one the
        lesser of 1.5 times and 500 kPa more; the Indian rule asks for no less than rest and surge
        together [-]

    Returns
    -------
    test : Hydrotest
        Pressures [Pa], and one check for each rated run

    Raises
    ------
    InputError
        If a number is outside the bound given above, or the water too warm for a pipe.

    Notes
    -----
    Valid for: water, the line as one section. Fused polyethylene without gasketed parts may be
    tested to 1.5 times its rating by a procedure of its own; any other pipe, and fittings of its
    class, to its rating. Checked by ``tests/reference/test_hydrotest.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [400.0, 329.0], "PVC-D2241IPS-SDR26-8in", intake_m=400.0)
    >>> test = check_hydrotest(line)
    >>> round(test.bottom_pa / 1000), [check.passed for check in test.checks]
    (1044, [True])

    References
    ----------
    .. [1] Rules and their sources: ``data/test_rules.csv``.
    """
    bounds = hydrotest_bounds(
        line, flood_rise_m=flood_rise_m, rise_m=rise_m, rule=rule, factor=factor
    )
    name, chosen = bounds.rule, hydrotest_rules()[bounds.rule]
    weight = line.water.weight_n_m3
    rest_pa = np.maximum(line.static_pressure_pa + flood_rise_m * weight, 0.0)
    highest, bottom = float(np.max(rest_pa)), float(np.max(bounds.asked_pa))
    above = (line.pipe_m - line.pipe_m.min()) * weight
    pressure = np.maximum(bottom - above, 0.0)
    return Hydrotest(
        rule=name,
        factor=bottom / highest if highest > 0.0 else chosen.factor,
        bottom_pa=bottom,
        pressure_pa=frozen(pressure),
        bounds=bounds,
        checks=_checks(line, pressure, bottom, name, chosen),
    )


def hydrotest_bounds(
    line: LaidLine,
    *,
    flood_rise_m: float = 0.0,
    rise_m: FloatArray | None = None,
    rule: RuleName | None = None,
    factor: float | None = None,
) -> HydrotestBounds:
    """Return what a test asks of each point by its own pressure, and what each may bear.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes [-]
    flood_rise_m : float
        Highest level at the intake over its usual one, >= 0 [m]
    rise_m : FloatArray, optional
        Rise of head in the worst surge, (n,) >= 0 [m]
    rule : str, optional
        "municipal", "EN 805", "polyethylene" or "Indian"; None takes the one usual for the
        material [-]
    factor : float, optional
        Test pressure over that at rest, 1 to 2; None takes the rule's [-]

    Returns
    -------
    bounds : HydrotestBounds
        The rule, and both columns [Pa]

    Raises
    ------
    InputError
        As :func:`check_hydrotest`.

    Notes
    -----
    Valid for: water. The lowest point of a stretch, tested as one, is where the most is asked.
    Checked by ``tests/reference/test_hydrotest.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [400.0, 329.0], "PVC-D2241IPS-SDR26-8in", intake_m=400.0)
    >>> bounds = hydrotest_bounds(line)
    >>> [round(float(each[1]) / 1000) for each in (bounds.asked_pa, bounds.allowed_pa)]
    [1044, 1103]

    References
    ----------
    .. [1] Rules and their sources: ``data/test_rules.csv``.
    """
    need("The flood level over the usual one", flood_rise_m, least=0.0)
    if factor is not None:
        need("The factor of the test", factor, least=1.0, most=2.0)
    name = rule or usual_rule(line)
    chosen = hydrotest_rules()[name]
    weight = line.water.weight_n_m3
    rest_pa = np.maximum(line.static_pressure_pa + flood_rise_m * weight, 0.0)
    asked = rest_pa * (factor or chosen.factor)
    if chosen.most_pa is not None:
        asked = np.minimum(chosen.factor * rest_pa, rest_pa + chosen.most_pa)
    if chosen.surge_pa is not None and rise_m is not None:
        need("The surge", rise_m, least=0.0)
        surged = rest_pa + weight * rise_m + chosen.surge_pa
        asked = surged if chosen.most_pa is not None else np.maximum(asked, surged)
    warm = line.water.temperature_c
    most = [most_in_test_pa(run.pipe, warm, name) for run in line.pipes.runs]
    allowed = np.array([np.nan if each is None else each for each in most])
    return HydrotestBounds(
        rule=name,
        asked_pa=frozen(asked),
        allowed_pa=frozen(allowed[line.run_index]),
    )


def most_in_test_pa(pipe: Pipe, temperature_c: float, rule: RuleName) -> float | None:
    """Return the most that a pipe and its fittings may bear in a test.

    Fused polyethylene may be tested over its rating by its own rule, anything else to its rating.

    Parameters
    ----------
    pipe : Pipe
        The pipe with its rating [-]
    temperature_c : float
        Temperature of the water [degC]
    rule : str
        Name of the rule of the test [-]

    Returns
    -------
    most_pa : float or None
        Gauge pressure; None without a rating [Pa]

    Notes
    -----
    Valid for: the pipe; valves and restraint may bear less.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> most_in_test_pa(load_catalogue().find("PE100-SDR17-200"), 10.0, "polyethylene")
    1500000.0
    """
    rating = derated_rating_pa(pipe, temperature_c)
    over = hydrotest_rules()[rule].over_rating if _fused_polyethylene(pipe) else 1.0
    return None if rating is None else rating * over


def _checks(
    line: LaidLine, pressure: FloatArray, bottom: float, name: RuleName, rule: HydrotestRule
) -> tuple[Check, ...]:
    checks = []
    for number, run in enumerate(line.pipes.runs):
        most = most_in_test_pa(run.pipe, line.water.temperature_c, name)
        if most is None:
            continue
        # The run reaches to its last joint, which is the first station of the next one.
        first, last = np.searchsorted(line.run_index, [number, number + 1])
        here = slice(int(first), min(int(last) + 1, line.station_m.size))
        worst = int(first) + int(np.argmax(pressure[here]))
        most_bottom = most + bottom - float(pressure[worst])
        checks.append(
            asked("test_class").judge(
                float(pressure[worst]) / 1000.0,
                f"A test of the whole line with {bottom / 1000:.0f} kPa at its lowest point puts "
                f"{pressure[worst] / 1000:.0f} kPa on {run.pipe.label} and its fittings at "
                f"{line.station_m[worst]:.1f} m, more than the {most / 1000:.0f} kPa that they may "
                f"bear in a test ({name}). Test in sections, with no more than "
                f"{most_bottom / 1000:.0f} kPa at the lowest point, or take a stronger class here.",
                limit=most / 1000.0,
                place=run.pipe.label,
                station_m=float(line.station_m[worst]),
                source=rule.source,
            )
        )
    return tuple(checks)


def _fused_polyethylene(pipe: Pipe) -> bool:
    jointing = pipe.jointing
    return material_family(pipe.material) == "PE" and jointing.joint.carries_thrust

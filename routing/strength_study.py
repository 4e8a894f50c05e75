"""The strength of a study's pipes: class -> vacuum -> low pressure -> test, as the settings ask."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.check import Check
from routing.flow.surge import SurgeCase
from routing.laid_line import LaidLine
from routing.pipe import pipe_checks
from routing.settings import Settings
from routing.strength import (
    BurialCredit,
    Hydrotest,
    VacuumCheck,
    check_class,
    check_hydrotest,
    check_low_pressure,
    check_rest,
    check_steepening,
    check_vacuum,
)
from routing.value import dataclass

__all__ = ["Strength", "rest_checks", "strength_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What the pipes bear under their surges, a vacuum and the test; and all checks of it."""

    vacuum: VacuumCheck
    test: Hydrotest
    checks: tuple[Check, ...]


def rest_checks(settings: Settings, line: LaidLine) -> tuple[Check, ...]:
    """Return whether the pipes can be and mate, and hold the pressure at rest; none without."""
    if line.schedule is None:
        return ()
    return (*pipe_checks(line.schedule), *check_rest(line, settings.site.flood_rise))


def strength_of(settings: Settings, line: LaidLine, surges: Sequence[SurgeCase]) -> Strength:
    """Judge the pipes of a line under every surge; the pressure at rest is judged with the line.

    Parameters
    ----------
    settings : Settings
        Surge factor, flood, vents, soil and test as the user stated them
    line : LaidLine
        The line as laid, with its pipes
    surges : sequence of SurgeCase
        The ways in which the flow may stop; none without a flow

    Returns
    -------
    Strength
        Vacuum and test with their values, and the checks of all four
    """
    site = settings.site
    classes = check_class(
        line, surges, flood_rise_m=site.flood_rise, surge_factor=settings.surge.factor
    )
    vacuum = check_vacuum(line, _vents_may_freeze(settings), _burial(settings, line))
    low = [
        check
        for case in surges
        for check in check_low_pressure(line, case.lowest_head_m, emergency=case.emergency)
    ]
    test = check_hydrotest(
        line,
        flood_rise_m=site.flood_rise,
        rise_m=np.max([case.rise_m for case in surges], axis=0) if surges else None,
        rule=settings.test.rule,
        factor=site.test_factor,
    )
    steepens = check_steepening(line) if surges else ()
    return Strength(
        vacuum=vacuum,
        test=test,
        checks=(*classes, *vacuum.checks, *low, *steepens, *test.checks),
    )


def _vents_may_freeze(settings: Settings) -> bool | None:
    """Return what was stated of the vents; None where nobody said anything."""
    stated = settings.site.vents_may_freeze
    return None if stated and "vents_may_freeze" not in settings.given.get("site", {}) else stated


def _burial(settings: Settings, line: LaidLine) -> BurialCredit | None:
    """Return the support of the soil where the user asks for it, the ground full of water."""
    if settings.site.soil_modulus is None:
        return None
    cover = np.maximum(line.cover_m, 0.0)
    return BurialCredit(soil_modulus_pa=settings.site.soil_modulus, cover_m=cover, water_m=cover)

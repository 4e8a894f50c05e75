"""What gauge readings say of a line: which cause fits, with what odds, and what to read next."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.works.causes import Gauges, explanations
from routing.works.evidence import Fitted, Guesses, fit
from routing.works.gauge import Tap, gauge_error_pa
from routing.works.odds import PREDICTED, Diagnosis, reading_errors_m, weigh

__all__ = ["GaugeReading", "diagnose"]

FLOWS_TRIED = 24
"""Flows that are tried where a line runs at a flow that nobody measured [-]."""


class GaugeReading(NamedTuple):
    """One reading: at which tap, the pressure [Pa], and whether water ran."""

    tap: Tap
    gauge_pa: float
    running: bool


def diagnose(
    line: LaidLine,
    readings: Sequence[GaugeReading],
    taps: Sequence[Tap],
    vents: Mapping[str, float] = MappingProxyType({}),
    *,
    flow_m3_s: float | None = None,
    design_m3_s: float | None = None,
) -> Diagnosis:
    """Return what gauge readings say of a line.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    readings : sequence of GaugeReading
        At least one
    taps : sequence of Tap
        All taps that may be read next
    vents : mapping of str to float
        Stations that the vents serve, by their ids, by which trapped air is named [m]
    flow_m3_s : float, optional
        Flow while it ran; None where it is not known [m3/s]
    design_m3_s : float, optional
        Design flow, near which an unknown flow is looked for [m3/s]

    Returns
    -------
    diagnosis : Diagnosis
        Causes by their odds

    Raises
    ------
    InputError
        If there is no reading, one cannot be, or the line ran at a flow that nothing tells of.

    Notes
    -----
    Every single cause and every pair is tried in all places and sizes; what readings weigh with
    each, by the errors of the gauges and of the levels, gives the odds. A level that is off shifts
    the readings shut and running alike, so their difference is surer than either. A blockage shows
    only while water runs. Checked by ``tests/routing/works/test_diagnose.py`` against lines with
    faults of known kind, place and size.

    References
    ----------
    .. [1] Bayes' theorem; weights before any reading are common practice.
    """
    _possible(line, readings, flow_m3_s)
    runs = any(each.running for each in readings)
    flows: list[float | None] = [flow_m3_s or design_m3_s]
    if runs and not flow_m3_s:
        if not design_m3_s:
            raise InputError(
                "A reading was taken while water ran, but the flow is not known.",
                'Give --flow, as in --flow "12 L/s".',
            )
        flows = [float(q) for q in design_m3_s * np.linspace(0.05, 1.4, FLOWS_TRIED)]
    shown = {tap.id: tap for tap in [*taps, *(each.tap for each in readings)]}
    places = list(shown.values())
    station = np.array([tap.station_m for tap in places])
    spots = [places.index(each.tap) + len(places) * each.running for each in readings]
    above = [each for each in readings if each.gauge_pa > 0.0]
    wet = [spot for spot, each in zip(spots, readings, strict=True) if each.gauge_pa > 0.0]
    seen = np.array([e.gauge_pa / line.water.weight_n_m3 + e.tap.level_m for e in above])
    cover = np.asarray(np.linalg.inv(_covariance(line, above)), dtype=np.float64)
    dry = _Dry(
        [spot for spot in spots if spot not in wet],
        np.array([tap.level_m for tap in places]),
        reading_errors_m(line, places),
    )
    parts = _parts(places)
    found: list[tuple[Fitted, Gauges]] = []
    for flow in flows:
        gauges = Gauges(line, station, flow)
        for guesses in [_none(gauges), *explanations(gauges, parts, runs=runs)]:
            fitted = fit(guesses, seen - gauges.base_m[wet], wet, cover)
            found.append((dry.held_against(fitted, gauges), gauges))
    return weigh(line, found, places, spots, vents)


class _Dry(NamedTuple):
    """Readings of zero, which say only that the head stands no higher than the gauge."""

    spots: list[int]
    level_m: FloatArray
    error_m: FloatArray

    def held_against(self, fitted: Fitted, gauges: Gauges) -> Fitted:
        """Return an explanation with what these readings say of its guesses."""
        if not self.spots:
            return fitted
        own = [spot % self.level_m.size for spot in self.spots]
        over = gauges.base_m[self.spots] + fitted.heads_m[:, self.spots] - self.level_m[own]
        square = np.sum(np.square(np.maximum(over, 0.0) / self.error_m[own]), axis=1)
        return replace(
            fitted, log_weight=fitted.log_weight - 0.5 * square, misfit=fitted.misfit + square
        )


def _possible(line: LaidLine, readings: Sequence[GaugeReading], flow_m3_s: float | None) -> None:
    if not readings:
        raise InputError("There is no reading.", "Give at least one, as in --shut 640@M3.")
    if flow_m3_s is not None and not (math.isfinite(flow_m3_s) and flow_m3_s > 0.0):
        raise InputError(f"The flow is {flow_m3_s:g} m3/s.", "Give a flow above zero.")
    for each in readings:
        limit = 1.5 * max(each.tap.full_scale_pa, 1.0)
        if not (math.isfinite(each.gauge_pa) and 0.0 <= each.gauge_pa <= limit):
            raise InputError(
                f"{each.gauge_pa / 1e3:g} kPa at {each.tap.id} cannot be: water at rest gives "
                f"{each.tap.static_pa / 1e3:.0f} kPa there.",
                "Check the unit and the gauge's zero; readings are in kPa.",
                station_m=each.tap.station_m,
            )


def _covariance(line: LaidLine, readings: Sequence[GaugeReading]) -> FloatArray:
    """Return the covariance of the readings: gauges apart, the level of a tap in common [m2]."""
    weight = line.water.weight_n_m3
    gauge = [gauge_error_pa(each.tap.full_scale_pa) / weight for each in readings]
    cover = np.diag(np.square(gauge))
    for i, one in enumerate(readings):
        for j, two in enumerate(readings):
            if one.tap.id == two.tap.id:
                cover[i, j] += one.tap.level_sd_m**2
    return np.asarray(cover)


def _parts(taps: Sequence[Tap]) -> list[tuple[float, float]]:
    """Return the stretches from the intake down, between gauges."""
    ends = sorted({tap.station_m for tap in taps} - {0.0})
    return list(pairwise([0.0, *ends]))


def _none(gauges: Gauges) -> Guesses:
    return Guesses(
        causes=(PREDICTED,),
        effect_m=np.zeros((1, gauges.at_m.size)),
        weight=np.ones(1),
        place=np.zeros((1, 2)),
        size=np.zeros(1),
        limb=np.full(1, -1.0),
    )

"""The pipes of a proposal, chosen by the full check of their class, surges included."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.flow.design import design_flow
from routing.inputs import find_pipes
from routing.pipe import schedule_pipes
from routing.search.lines import Line, deepest_head, laid
from routing.search.rules import rules
from routing.search.site import Site
from routing.settings import settings_from_mapping
from routing.strength import check_class
from routing.surge_study import stopped_flow

__all__ = ["settled"]

SHARES = (1.15, 1.3, 1.6, 2.0, np.inf, 0.9, 0.8)
"""Heads at rest for which pipes are put in, over the true ones, in the order they are tried [-]."""
ROOMS = (1.05, 1.25)
"""By how much more than the first pipes' surges the next ones are put in for [-]."""
ENOUGH = 0.003
"""Room in the class check with which pipes are studied in full, as share of the limit [-]."""
LEAST_NET = 0.9
"""Stronger pipe is narrower; of the first pipes' net head it must leave this much [-]."""
EXCEEDED = "class_exceeded"
"""Finding of a class that does not hold its surges."""

Pipes = list[dict[str, Any]]


class Tried(NamedTuple):
    """Pipes along a line: room in the tightest class [-], rise over rest (n,), net head [m]."""

    pipes: Pipes
    margin: float
    rise_m: FloatArray
    net_m: float


def settled(site: Site, line: Line) -> Line:
    """Return a line with its full study, its pipes put in so that they hold their own surges.

    Stronger pipe is stiffer and makes higher surges, so that more of it is not always better: pipes
    are put in for several heads, and the first that hold are taken, else those that fail by least.
    Pipes that spend much of the net head for it are not taken.
    """
    if line.study.flow is None or not site.ladder.varies:
        return laid(site, line.way, full=True)
    best: Tried | None = None
    least_m = -np.inf
    for tried in _offers(site, line):
        if tried.net_m < least_m:
            continue
        if best is None:
            least_m = LEAST_NET * tried.net_m
        if best is None or tried.margin > best.margin:
            best = tried
        if tried.margin >= ENOUGH:
            found = laid(site, line.way, full=True, pipes=tried.pipes)
            if EXCEEDED not in found.faults:  # the full study looks closer at the levels
                return found
    return laid(site, line.way, full=True, pipes=None if best is None else best.pipes)


def _offers(site: Site, line: Line) -> Iterator[Tried]:
    """Yield pipes along a line, none twice: for the head at rest, the surge then, and more head."""
    station, head = deepest_head(site, line.route, line.way)
    first = _tried(line, site.ladder.runs(station, head))
    yield first
    rise = np.interp(station, line.study.line.station_m, first.rise_m)
    used = 1.0 - rules()["surge_share"]
    heads = [np.maximum(head, used * (head + room * rise)) for room in ROOMS]
    heads += [np.where(head > 0.0, head * share, head) for share in SHARES]
    seen = [first.pipes]
    for each in heads:
        pipes = site.ladder.runs(station, each)
        if pipes not in seen:
            seen.append(pipes)
            yield _tried(line, pipes)


def _tried(line: Line, pipes: Pipes) -> Tried:
    """Return what is left to the class of some pipes along a line in their surges."""
    study = line.study
    settings = settings_from_mapping({**line.tables, "pipe": pipes})
    schedule = schedule_pipes(find_pipes(settings), float(study.profile.station_m[-1]))
    held = study.line.with_pipes(schedule)
    flow = design_flow(
        held,
        float(settings.flow.design or 0.0),
        efficiency=settings.turbine.efficiency,
        turbine_kind=settings.turbine.kind,
    )
    surges = stopped_flow(settings, held, flow)
    checks = check_class(
        held,
        surges,
        flood_rise_m=settings.site.flood_rise,
        surge_factor=settings.surge.factor,
    )
    return Tried(
        pipes,
        min((each.margin for each in checks), default=np.inf),
        np.max([case.rise_m for case in surges], axis=0, initial=0.0),
        flow.net_head_m,
    )

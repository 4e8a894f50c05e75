"""The order of candidates: the best that are not the same again, and a check by studies."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.errors import LeatlineError
from routing.land import GROUND
from routing.line import Route
from routing.search.grid import steps_m
from routing.search.hillside import STATION_BOUND, STATION_BOUND_TRENCH
from routing.search.ladder import Ladder, sizes_on_offer
from routing.search.prices import PriceBook
from routing.search.valley.chain import Rated
from routing.search.valley.land import CROSSED
from routing.search.valley.places import Chains
from routing.search.valley.purse import purse_of
from routing.settings import Settings, settings_from_mapping
from routing.study import Study, run_study
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["Checked", "best_apart", "candidate_study", "checked", "route_of"]

Report = Callable[[float, str], None]
CELLS_A_POINT = 3
"""Cells of a stream for each point of a line along it [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Candidates that were studied: their numbers, the score of the screening and of the study.

    ``correlation`` is Spearman's between the two, None for fewer than three.
    """

    numbers: IntArray
    screened: FloatArray
    studied: FloatArray
    correlation: float | None


def best_apart(
    rated: Rated, chains: Chains, terrain: Terrain, apart_m: float, most: int
) -> list[int]:
    """Return the best candidates by number, none with both ends near those of a better one."""
    rows, cols = terrain.shape
    south, east = steps_m(terrain.reference, rows / 2.0, cols / 2.0)
    start = chains.first[rated.intake]
    ends = [(chains.row[at] * south, chains.col[at] * east) for at in (start, rated.stop)]
    order = np.lexsort((rated.stop, rated.intake, -rated.score))
    open_ = np.ones(order.size, dtype=np.bool_)
    found: list[int] = []
    while len(found) < most and open_.any():
        best = int(order[np.argmax(open_)])
        found.append(best)
        near = np.ones(order.size, dtype=np.bool_)
        for y, x in ends:
            near &= np.hypot(y[order] - y[best], x[order] - x[best]) < apart_m
        open_ &= ~near
        open_[order == best] = False
    return found


def route_of(terrain: Terrain, chains: Chains, rated: Rated, number: int) -> Route:
    """Return the line of a candidate: straight, or by every third cell of the stream."""
    first, last = int(chains.first[rated.intake[number]]), int(rated.stop[number])
    if rated.straight[number]:
        at = np.array([first, last])
    else:
        at = np.unique(np.append(np.arange(first, last, CELLS_A_POINT), last))
    lon, lat = terrain.reference.to_lonlat(chains.row[at] * 1.0, chains.col[at] * 1.0)
    return Route(name=f"candidate {number}", lon=lon, lat=lat)


def candidate_study(
    terrain: Terrain,
    settings: Settings,
    ladder: Ladder,
    route: Route,
    flow_m3_s: float,
    *,
    straight: bool,
) -> Study:
    """Return the study of a candidate's line with the pipe that the screening gave it.

    A line along a stream is not charged for crossing it at each bend.
    """
    tables = candidate_tables(settings, flow_m3_s)
    tables.pop("pipe", None)
    asked = (GROUND, *(kind for kind in CROSSED if straight or kind != "stream"))
    ground = [each for each in settings.given.get("layer", ()) if each["kind"] in asked]
    if ground:
        tables["layer"] = ground
    study = run_study(terrain, route, settings_from_mapping(tables), pressures=False)
    line = study.line
    tables["pipe"] = ladder.runs(line.station_m, line.static_head_m)
    return run_study(terrain, route, settings_from_mapping(tables), pressures=False)


def candidate_tables(settings: Settings, flow_m3_s: float) -> dict[str, Any]:
    """Return the settings that hold for any line of the valley, with this one's flow."""
    tables = {
        key: value
        for key, value in settings.given.items()
        if key not in (*STATION_BOUND, "search", "catchment", "layer")
    }
    for end in ("intake", "outlet"):
        told = {key: value for key, value in tables.pop(end, {}).items() if key != "level"}
        if told:
            tables[end] = told
    trench = {
        key: value
        for key, value in tables.pop("trench", {}).items()
        if key not in STATION_BOUND_TRENCH
    }
    if trench:
        tables["trench"] = trench
    if flow_m3_s > 0.0:
        tables["flow"] = {**tables.get("flow", {}), "design": f"{flow_m3_s * 1000.0:.6g} L/s"}
    return tables


def checked(
    terrain: Terrain,
    settings: Settings,
    book: PriceBook,
    chains: Chains,
    flow: FloatArray,
    rated: Rated,
    say: Report,
) -> Checked:
    """Study candidates from all over the ranking and compare the two orders.

    The lines are those of the screening, so that nothing but its short form is judged.
    """
    purse, ladders = purse_of(settings), sizes_on_offer(settings, book)
    order = np.lexsort((rated.stop, rated.intake, -rated.score))
    count = min(settings.screen.sample, order.size)
    picked = order[np.unique(np.linspace(0, order.size - 1, count).astype(np.int64))]
    numbers, scores = [], []
    for at, number in enumerate(picked.tolist()):
        say(0.72 + 0.13 * at / count, f"checking the ranking, study {at + 1} of {count}")
        ladder = ladders[int(rated.size[number])]
        own = float(flow[rated.intake[number]])
        route = route_of(terrain, chains, rated, number)
        try:
            straight = bool(rated.straight[number])
            study = candidate_study(terrain, settings, ladder, route, own, straight=straight)
        except LeatlineError:
            continue
        numbers.append(number)
        scores.append(_score(study, book, purse.rank, purse.worth, purse.recovery))
    screened = rated.score[numbers] if numbers else np.zeros(0)
    return Checked(
        numbers=np.array(numbers, dtype=np.int64),
        screened=screened,
        studied=np.array(scores),
        correlation=_spearman(screened, np.array(scores)),
    )


def _score(study: Study, book: PriceBook, rank: int, worth: float, recovery: float) -> float:
    """Return the score of a study's line, as the screening counts it."""
    cost = book.of_study(study, 0.0)
    power = 0.0 if study.flow is None else study.flow.power_kw
    if rank == 0:
        return power * worth - cost * recovery
    if rank == 1:
        return power / cost
    return study.line.gross_head_m / float(study.line.slope_station_m[-1])


def _spearman(one: FloatArray, other: FloatArray) -> float | None:
    """Return Spearman's rank correlation, None where it says nothing."""
    if one.size < 3 or np.ptp(one) == 0.0 or np.ptp(other) == 0.0:
        return None
    return float(np.corrcoef(_ranks(one), _ranks(other))[0, 1])


def _ranks(values: FloatArray) -> FloatArray:
    """Return the ranks from 1, equal values sharing their mean.

    >>> _ranks(np.array([5.0, 2.0, 5.0])).tolist()
    [2.5, 1.0, 2.5]
    """
    _, at, count = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(count) - 0.5 * (count - 1))[at])

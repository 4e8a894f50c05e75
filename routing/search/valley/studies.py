"""The best candidates of a screening, each with a line sought between its ends and studied in full.

A place that was screened stands for the stream about it: where no line leads from it, intakes a
cell or two up and down the stream are tried. A candidate without a line gives its place to the
next.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from routing.catchment import StreamNetwork
from routing.errors import LeatlineError, NoLine
from routing.line import geodesic_stations
from routing.record import study_document
from routing.rounding import metres
from routing.search.grid import Place
from routing.search.ladder import sizes_on_offer
from routing.search.propose import Proposals, propose
from routing.search.valley.rank import candidate_tables
from routing.search.valley.screen import Report, Screened
from routing.settings import settings_from_mapping

__all__ = ["TRIED_EACH", "best_studies"]

TRIED_EACH = 4
"""Candidates that may be tried for each line asked for [-]."""
MOVES = (1, -1, 2, -2)
"""Cells up the stream by which an intake is moved, in the order they are tried [-]."""

Tables = dict[str, Any]


def best_studies(
    found: Screened, document: Tables, report: Report
) -> Iterator[tuple[Tables, Tables]]:
    """Yield the best candidates, each with the document of a line sought between its ends.

    As many as [screen] top asks for, as long as there are candidates and no more than
    :data:`TRIED_EACH` are tried for each. Those without a line get ``no_line``, the reason; those
    whose intake was moved get ``intake_moved_m``, up the stream, those with a line ``faults``, the
    codes of what is wrong with its study; the notes tell of all.
    """
    wanted = found.settings.screen.top
    tried = document["candidates"][: TRIED_EACH * wanted]
    laid = unlaid = 0
    moved, faulty = [], []
    for each in tried:
        if laid == wanted:
            break
        report(0.85 + 0.14 * laid / wanted, f"a line for candidate {each['rank']}")
        study = _study(found, each)
        if study is None:
            unlaid += 1
            continue
        laid += 1
        if "intake_moved_m" in each:
            moved.append(each["rank"])
        if each["faults"]:
            faulty.append(each["rank"])
        yield each, study
    document["notes"] += _told(wanted, laid, unlaid, moved, faulty)


def _told(
    wanted: int, laid: int, unlaid: int, moved: Sequence[int], faulty: Sequence[int]
) -> Iterator[str]:
    """Yield what must be known of the lines laid."""
    if unlaid:
        fewer = "" if laid == wanted else f" {wanted} lines were asked for and {laid} found."
        yield (
            f"No line could be laid between the ends of {unlaid} of the best {laid + unlaid} "
            f"candidates; each says why, and the next took its place.{fewer}"
        )
    if moved:
        yield (
            "No line led from the intake that was screened, so that it was moved a little along "
            f"its stream: {_named(moved)}."
        )
    if faulty:
        yield (
            "The studies of these have a fault that stronger or other pipe, a slower valve or a "
            f"line of your own must mend: {_named(faulty)}."
        )


def _named(ranks: Sequence[int]) -> str:
    return ", ".join(f"candidate {rank}" for rank in ranks)


def _study(found: Screened, candidate: Tables) -> Tables | None:
    """Return the document of the best line of a candidate; None where there is none."""
    tables = candidate_tables(found.settings, candidate["flow_m3_s"] or 0.0)
    layers = found.settings.given.get("layer")
    if layers:
        tables["layer"] = layers
    asked = found.settings.given.get("search")
    tables["search"] = {**(asked or {}), "alternatives": 1}
    try:
        lines = _sought(found, candidate, tables)
    except LeatlineError as error:
        candidate["no_line"] = error.problem
        return None
    study = study_document(lines.lines[0].study)
    candidate["faults"] = sorted(set(lines.lines[0].faults))
    study["name"] = f"Candidate {candidate['rank']}"
    del study["settings"]["search"]
    if asked is not None:
        study["settings"]["search"] = asked
    return study


def _sought(found: Screened, candidate: Tables, tables: Tables) -> Proposals:
    """Return the line of a candidate in the pipe it was screened with, its intake moved if need be.

    Raises
    ------
    NoLine
        Of the place that was screened, where no place near it has a line either.
    """
    at = found.best[candidate["rank"] - 1]
    size = sizes_on_offer(found.settings, found.book)[int(found.rated.size[at])]
    if size.kind == "chosen" and candidate["flow_m3_s"]:
        pipes = [each.table for each in size.rungs]
        tables["pipe"] = [{**each, "from": f"{n} m"} for n, each in enumerate(pipes)]
        tables["search"].pop("pipe", None)
    settings = settings_from_mapping(tables)
    start, *_, end = (tuple(each) for each in candidate["route"]["geometry"]["coordinates"])
    try:
        return propose(found.terrain, start, end, settings)
    except NoLine:
        for moved_m, place in _near(found, at):
            try:
                lines = propose(found.terrain, place, end, settings)
            except LeatlineError:
                continue
            candidate["intake_moved_m"] = metres(moved_m)
            return lines
        raise


def _near(found: Screened, number: int) -> Iterator[tuple[float, Place]]:
    """Yield intakes near that of a candidate, and how far up the stream they lie [m]."""
    network, first = found.network, found.chains.first[found.rated.intake[number]]
    here = network.find(int(found.chains.row[first]), int(found.chains.col[first]))
    for cells in MOVES:
        way = [here]
        while len(way) <= abs(cells) and way[-1] >= 0:
            way.append(_above(network, way[-1]) if cells > 0 else int(network.below[way[-1]]))
        if way[-1] < 0:
            continue
        row, col = network.places(np.array(way))
        lon, lat = found.terrain.reference.to_lonlat(row * 1.0, col * 1.0)
        moved_m = float(geodesic_stations(lon, lat)[-1])
        yield math.copysign(moved_m, cells), (float(lon[-1]), float(lat[-1]))


def _above(network: StreamNetwork, at: int) -> int:
    """Return the cell from which most water comes to one of a network, -1 where it begins."""
    above = np.flatnonzero(network.below == at)
    return int(above[np.argmax(network.area_m2[above])]) if above.size else -1

"""Several lines in one study: which there are, each computed in full, and kept while unchanged."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import orjson

from routing import __version__
from routing.errors import LeatlineError
from routing.line import Route, read_route, read_routes
from routing.record import ROW_MEMBERS, line_row, study_document, with_lines
from routing.settings import Settings
from routing.study import run_study
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["LineRows", "Lines", "document_of_lines"]

EVERY = "all"
"""The choice that takes every line of a file."""
MOST_KEPT = 200
"""Most rows that a service keeps in memory [-]; each takes some kilobytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Route files of one study.

    ``choice`` says which of several lines in the first file is the one to study; where it is "all"
    they stand side by side, as the lines of further files do.
    """

    paths: tuple[Path, ...]
    choice: str | None = None

    def routes(self, choice: str | None = None) -> tuple[Route, ...]:
        """Return the lines, the one to study first; ``choice`` is that of the settings."""
        path, everything = self.paths[0], self.choice == EVERY
        choice = choice if self.choice is None or everything else self.choice
        others: list[Route] = []
        if not everything:
            first = read_route(path, line=choice)
        elif choice is None:
            first, *others = read_routes(path)
        else:
            first = read_route(path, line=choice)
            others = [each for each in read_routes(path) if not _same(each, first)]
        return (first, *others, *(read_route(each) for each in self.paths[1:]))


def _same(one: Route, other: Route) -> bool:
    return (
        one.name == other.name
        and one.lon.tobytes() == other.lon.tobytes()
        and one.lat.tobytes() == other.lat.tobytes()
    )


def document_of_lines(
    terrain: Terrain, lines: Sequence[Route], settings: Settings
) -> dict[str, Any]:
    """Return the study of the first line, with the others beside it, all by the same settings."""
    document = study_document(run_study(terrain, lines[0], settings))
    others = [_row(line.name, partial(_short, terrain, line, settings)) for line in lines[1:]]
    own = {table: rows for table, rows in settings.given.items() if table != "layer"}
    land = {"same_land": True} if own.keys() != settings.given.keys() else {}
    given = [
        {"name": line.name, "route": _feature(line), "settings": dict(own), **land}
        for line in lines[1:]
    ]
    return {**with_lines(document, others), **({"alternatives": given} if given else {})}


def _short(terrain: Terrain, line: Route, settings: Settings) -> dict[str, Any]:
    return study_document(run_study(terrain, line, settings), ROW_MEMBERS)


def _row(name: str, compute: Callable[[], Mapping[str, Any]]) -> dict[str, Any]:
    """Return the row of a line, or its name and why it cannot be computed."""
    try:
        return line_row(compute(), name)
    except LeatlineError as error:
        return {"name": name, "problem": str(error)}


def _feature(line: Route) -> dict[str, Any]:
    places = [[x, y] for x, y in zip(line.lon.tolist(), line.lat.tolist(), strict=True)]
    geometry = {"type": "LineString", "coordinates": places}
    return {"type": "Feature", "properties": {"name": line.name}, "geometry": geometry}


class LineRows:
    """Rows of lines that were computed, found again by all that they hang on."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, bytes] = OrderedDict()
        self._lock = threading.Lock()

    def row(
        self, name: str, asked: Mapping[str, Any], compute: Callable[[], Mapping[str, Any]]
    ) -> dict[str, Any]:
        """Return a line's row, computed only if nothing that ``asked`` says is new."""
        key = hashlib.sha256(orjson.dumps([__version__, asked])).hexdigest()
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
        if kept is None:
            row = _row(name, compute)
            kept = orjson.dumps(row, option=orjson.OPT_SERIALIZE_NUMPY)
            with self._lock:
                self._kept[key] = kept
                while len(self._kept) > MOST_KEPT:
                    self._kept.popitem(last=False)
        found: dict[str, Any] = orjson.loads(kept)
        return {**found, "name": name}

    def keep(self, asked: Mapping[str, Any], document: Mapping[str, Any]) -> None:
        """Keep the row of a study that was computed anyway, for when its line is another's."""
        self.row("", asked, lambda: document)

"""Names that last: what is set keeps its name while its place lasts from revision to revision."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.errors import StudyFileError
from routing.line.ground.station import SEMI_MAJOR_M
from routing.trade_table import trade_table

__all__ = ["MOVED_M", "keep_names", "keep_names_if_any", "was_named"]

MOVED_M = 0.5
"""A thing has moved if its station changed by more [m]: common practice, no source."""
OTHER_RULE = 0.5
"""Share of the distance by which a thing under another rule counts as farther away [-]."""
_WORDLESS = frozenset(
    {"settings", "route", "stations", "name", "label", "generator", "terrain", "pipes", "plan"}
    | {"alternatives", "lines", "records", "changes", "assumptions", "cautions", "scope"}
    | {"source", "rule"}
)
"""Members that hold no names of ours, or words of somebody else's."""
_NAME = re.compile(r"(?<![\w.'-])([A-Z]{1,3})([0-9]{1,6})(?!\w|[.-]\w)")

Item = Mapping[str, Any]


def keep_names(new: Mapping[str, Any], old: Mapping[str, Any]) -> dict[str, Any]:
    """Return a study whose things are named as in the revision before it, with ``changes``.

    Of each kind the pairs of one old and one new thing nearest to each other are the same thing,
    up to the distance that ``data/identity.csv`` states (for summits and sags 25 m or two cells of
    the raster, whichever is more); one under another rule counts as half that distance farther
    away. What is new takes the next number that no revision has used, so that no tick, note or
    photograph of what went is ever read as its own. Names in sentences are changed with them.

    Parameters
    ----------
    new : Mapping
        The document just computed, its things numbered by station
    old : Mapping
        The document of the revision before

    Returns
    -------
    document : dict
        ``new`` under lasting names; ``changes`` has moved, new, gone and the last number used
    """
    cell_m = float((new.get("terrain") or old["terrain"])["cell_m"])
    last = dict((old.get("changes") or {}).get("last_numbers") or {})
    names: dict[str, str] = {}
    moved: list[dict[str, Any]] = []
    fresh: list[str] = []
    gone: list[str] = []
    for row in trade_table(__file__, "identity.csv"):
        ours, theirs = (list(doc.get(row["section"]) or ()) for doc in (new, old))
        for item in theirs:
            letters, number = _parts(str(item["id"]))
            last[letters] = max(last.get(letters, 0), number)
        within = max(float(row["within_m"]), float(row["cells"]) * cell_m)
        same = _pairs(ours, theirs, within)
        for index, item in enumerate(ours):
            if index in same:
                before = theirs[same[index]]
                names[str(item["id"])] = str(before["id"])
                was, now = float(before["station_m"]), float(item["station_m"])
                if abs(now - was) > MOVED_M:
                    moved.append({"id": str(before["id"]), "was_m": was, "now_m": now})
                continue
            letters, _ = _parts(str(item["id"]))
            last[letters] = last.get(letters, 0) + 1
            names[str(item["id"])] = f"{letters}{last[letters]}"
            fresh.append(f"{letters}{last[letters]}")
        kept = set(same.values())
        gone += [str(item["id"]) for index, item in enumerate(theirs) if index not in kept]
    others = {name: now for name, now in names.items() if now != name}
    renamed = {
        key: value if key in _WORDLESS or not others else _renamed(value, others)
        for key, value in new.items()
    }
    changes = {"moved": moved, "new": fresh, "gone": gone, "last_numbers": last}
    return {**renamed, "changes": changes}


def keep_names_if_any(new: Mapping[str, Any], old: Mapping[str, Any]) -> dict[str, Any]:
    """Return :func:`keep_names`, or the study as it is where no vent or drain lasts.

    So a study of another line does not go on from the numbers of one it has nothing to do with.
    """
    named = keep_names(new, old)
    fresh = set(named["changes"]["new"])
    lasts = any(item["id"] not in fresh for key in ("vents", "drains") for item in named[key])
    return named if lasts else dict(new)


def was_named(doc: Mapping[str, Any], name: str) -> bool:
    """Return whether a thing of this name was ever in a study: it is now, or its number is used."""
    for row in trade_table(__file__, "identity.csv"):
        if any(item["id"] == name for item in doc.get(row["section"]) or ()):
            return True
    letters, number = _parts(name)
    last = (doc.get("changes") or {}).get("last_numbers") or {}
    return 0 < number <= int(last.get(letters, 0))


def _parts(name: str) -> tuple[str, int]:
    match = _NAME.fullmatch(name)
    if match is None:
        raise StudyFileError(
            f"The study calls a fitting {name!r}, which is no name such as V1.",
            "Run the study again and export the new file.",
        )
    return match[1], int(match[2])


def _pairs(ours: Sequence[Item], theirs: Sequence[Item], within_m: float) -> dict[int, int]:
    """Return for each of ours that was there before its index in theirs, the nearest first."""
    if not ours or not theirs:
        return {}
    apart = _apart_m(ours, theirs)
    rule, old_rule = (
        np.array([str(item.get("rule") or item.get("relation")) for item in each])
        for each in (ours, theirs)
    )
    cost = apart + OTHER_RULE * within_m * (rule[:, None] != old_rule)
    near_ours, near_theirs = np.nonzero(apart <= within_m)
    order = np.argsort(cost[near_ours, near_theirs], kind="stable")
    same: dict[int, int] = {}
    taken: set[int] = set()
    for i, j in zip(near_ours[order].tolist(), near_theirs[order].tolist(), strict=True):
        if i not in same and j not in taken:
            same[i] = j
            taken.add(j)
    return same


def _apart_m(ours: Sequence[Item], theirs: Sequence[Item]) -> FloatArray:
    """Return how far things lie apart, (ours, theirs); along the line where any states no place.

    On the plane that touches the Earth there: what counts is some tens of metres.
    """
    if any(item.get("lon") is None for item in (*ours, *theirs)):
        at, was = (np.array([item["station_m"] for item in each]) for each in (ours, theirs))
        return np.asarray(np.abs(at[:, None] - was))
    (lon, lat), (was_lon, was_lat) = (
        np.radians([[item["lon"], item["lat"]] for item in each]).T for each in (ours, theirs)
    )
    turn = np.remainder(lon[:, None] - was_lon + np.pi, 2.0 * np.pi) - np.pi
    east, north = turn * np.cos(was_lat), lat[:, None] - was_lat
    return np.asarray(SEMI_MAJOR_M * np.hypot(east, north))


def _renamed(value: Any, names: Mapping[str, str]) -> Any:
    """Return a value with the names in it changed, all at once."""
    if isinstance(value, str):
        return _NAME.sub(lambda match: names.get(match[0], match[0]), value)
    if isinstance(value, Mapping):
        return {
            key: part if key in _WORDLESS else _renamed(part, names) for key, part in value.items()
        }
    if isinstance(value, list | tuple):
        return [_renamed(part, names) for part in value]
    return value

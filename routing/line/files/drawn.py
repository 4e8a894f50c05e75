"""From what a file holds to the one line a study needs: choosing, and joining parts end to end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.errors import RouteError
from routing.line.route import MEAN_RADIUS_M, Route, local_distance_m
from routing.value import dataclass

__all__ = ["JOIN_DISTANCE_M", "MAX_POINTS", "DrawnLine", "LineChoice", "route_from_drawn"]

LineChoice = str | int | None
"""Which line of several to take: its name, its number from 1, or None where there is but one."""

JOIN_DISTANCE_M: Final = 1.0
"""Ends of two parts of one line closer than this are the same place [m]."""

SEGMENT_GAP_M: Final = 50.0
"""Widest gap between parts of a track that is walked straight [m]; receivers lose the signal."""

MAX_POINTS: Final = 1_000_000
"""Most points that a file's lines may have [-]."""

MAX_PARTS: Final = 2000
"""Most parts that one drawn line is joined from [-]."""

NAMED_AT_MOST: Final = 12
NAME_LENGTH: Final = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """One line as a file holds it: its name, if any, and its parts as (n, 2) arrays of lon, lat."""

    name: str | None
    parts: tuple[FloatArray, ...]
    recorded: bool = False


def route_from_drawn(
    lines: Sequence[DrawnLine],
    *,
    source: str,
    name: str,
    others: Counter[str] | None = None,
    line: LineChoice = None,
) -> Route:
    """Return the one line in ``lines``, or the one chosen, as a route.

    ``source`` names the file in messages, ``name`` serves a line without a name of its own, and
    ``others`` counts what else the file holds. Parts of a recorded track come in order; those of a
    drawn line are put in order, the first part keeping its direction.
    """
    lines = [drawn for drawn in lines if any(len(part) for part in drawn.parts)]
    if not lines:
        found = ", ".join(f"{count} {kind}" for kind, count in (others or Counter()).items())
        raise RouteError(
            f"{source} holds no line{f', only {found}' if found else ''}.",
            "Draw the pipeline as one line from the intake to the outlet and save that.",
        )
    chosen = _choose(lines, line, source)
    points = sum(len(part) for part in chosen.parts)
    if points > MAX_POINTS:
        raise RouteError(
            f"The line in {source} has {points} points, more than {MAX_POINTS}.", "Simplify it."
        )
    parts = [part for part in chosen.parts if len(part)]
    places = _in_order(parts, source) if chosen.recorded else _end_to_end(parts, source)
    return Route(
        name=_clean(chosen.name) or _clean(name) or "route",
        lon=places[:, 0],
        lat=places[:, 1],
        recorded=chosen.recorded,
    )


def _choose(lines: Sequence[DrawnLine], line: LineChoice, source: str) -> DrawnLine:
    """Return the line of that name or number, or the only one."""
    if line is None and len(lines) == 1:
        return lines[0]
    named = [_clean(drawn.name) or f"line {at + 1}" for at, drawn in enumerate(lines)]
    shown = ", ".join(named[:NAMED_AT_MOST])
    if len(lines) > NAMED_AT_MOST:
        shown += f" and {len(lines) - NAMED_AT_MOST} more"
    if line is None:
        several = RouteError(
            f"{source} holds {len(lines)} lines: {shown}.",
            'Say which with --line, or line = "..." under [study], by name or by number; compare '
            "them by --line all; or keep the one line to study, in a file of its own.",
        )
        several.lines = tuple(named)
        raise several
    wanted = str(line).strip()
    hits = [at for at, called in enumerate(named) if called.casefold() == wanted.casefold()]
    if not hits and wanted.isdecimal() and 1 <= int(wanted[:9]) <= len(lines):
        hits = [int(wanted[:9]) - 1]
    if len(hits) == 1:
        return lines[hits[0]]
    raise RouteError(
        f"{source} holds {f'{len(hits)} lines' if hits else 'no line'} of the name or number "
        f"{wanted[:NAME_LENGTH]!r}; names in it: {shown}.",
        f"Choose one of these names, or a number from 1 to {len(lines)}.",
    )


def _clean(name: str | None) -> str:
    """Return a name on one line, without control characters, at a length that fits a title."""
    printable = "".join(c if c.isprintable() else " " for c in name or "")
    return " ".join(printable.split())[:NAME_LENGTH]


def _gap_m(end: FloatArray, start: FloatArray) -> float:
    """Return the distance between two places [m]."""
    pair = np.array([end, start])
    return float(local_distance_m(pair[:, 0], pair[:, 1])[0])


def _concatenate(parts: Sequence[FloatArray]) -> FloatArray:
    """Return the parts as one, a shared end standing once."""
    kept = [parts[0]]
    for part in parts[1:]:
        kept.append(part[1:] if np.array_equal(kept[-1][-1], part[0]) else part)
        if not len(kept[-1]):
            kept.pop()
    return np.concatenate(kept)


def _in_order(parts: Sequence[FloatArray], source: str) -> FloatArray:
    """Join the parts of a recorded track in the order they came in."""
    for at, (part, following) in enumerate(pairwise(parts)):
        gap = _gap_m(part[-1], following[0])
        if gap > SEGMENT_GAP_M:
            raise RouteError(
                f"The line in {source} is broken: part {at + 2} starts {gap:.1f} m from the end of"
                f" part {at + 1}.",
                "Join the parts where the pipe is to go, and save them as one line.",
                lon=float(part[-1, 0]),
                lat=float(part[-1, 1]),
            )
    return _concatenate(parts)


def _end_to_end(parts: Sequence[FloatArray], source: str) -> FloatArray:
    """Join parts that share their ends, whatever their order and direction."""
    if len(parts) > MAX_PARTS:
        raise RouteError(
            f"The line in {source} comes in {len(parts)} parts, more than {MAX_PARTS}.",
            "Join them into one line from the intake to the outlet.",
        )
    ends = np.array([[part[0], part[-1]] for part in parts])
    left = np.ones(len(parts), dtype=np.bool_)
    left[0] = False
    before: list[FloatArray] = []
    after = [parts[0]]
    while left.any():
        head, tail = (before or after)[-1 if before else 0][0], after[-1][-1]
        behind, ahead = _touching(tail, ends, left), _touching(head, ends, left)
        for place, found in ((tail, behind), (head, ahead)):
            if len(found) > 1:
                raise RouteError(
                    f"The line in {source} branches at ({place[0]:.6f}, {place[1]:.6f}).",
                    "A study follows one pipe: keep one way from the intake to the outlet.",
                    lon=float(place[0]),
                    lat=float(place[1]),
                )
        if behind:
            at, starts = behind[0]
            after.append(parts[at] if starts else parts[at][::-1])
        elif ahead:
            at, starts = ahead[0]
            before.append(parts[at][::-1] if starts else parts[at])
        else:
            raise RouteError(
                f"The line in {source} comes in {len(parts)} parts that do not join end to end:"
                f" {int(left.sum())} of them lie more than {JOIN_DISTANCE_M:g} m from the rest.",
                "Join them into one line from the intake to the outlet, or keep the one to study.",
            )
        left[at] = False
    return _concatenate([*before[::-1], *after])


def _touching(place: FloatArray, ends: FloatArray, left: BoolArray) -> list[tuple[int, bool]]:
    """Return which of the parts left have an end at ``place``, and whether it is their start."""
    turn = ends[:, :, 0] - place[0]
    turn = turn - 360.0 * np.round(turn / 360.0)
    east = np.radians(turn) * np.cos(np.radians(0.5 * (ends[:, :, 1] + place[1])))
    apart = np.hypot(east, np.radians(ends[:, :, 1] - place[1])) * MEAN_RADIUS_M
    near = (apart <= JOIN_DISTANCE_M) & left[:, None]
    return [(int(at), bool(near[at, 0])) for at in np.flatnonzero(near.any(axis=1))]

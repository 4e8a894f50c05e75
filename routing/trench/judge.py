"""What is asked of a trench: cover, depth, least grades and free spans, as rows of data."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from routing.check import Check, requirements_of
from routing.trench.laid import LaidPipe

__all__ = ["judge_trench"]

asked = requirements_of(Path(__file__).parent)

ROUNDED = 6
"""Decimals [m] to which depths are judged: a limit met exactly is kept."""


def judge_trench(pipe: LaidPipe) -> tuple[Check, ...]:
    """Return whether a pipe as laid keeps cover, depth, least grades and its spans free.

    The cover is never thinned; where it does not fit into the depth allowed, the depth fails. A
    stretch below the least grade is one check, and so is a span.
    """
    return (*_cover_and_depth(pipe), _entry(pipe), *_grades(pipe), *_spans(pipe))


def _cover_and_depth(pipe: LaidPipe) -> Iterator[Check]:
    limits, station = pipe.limits, pipe.station_m
    buried = ~pipe.in_span
    if not buried.any():
        return
    cover = pipe.ground_m - pipe.pipe_m - limits.outside_diameter_m / 2.0
    wanted, allowed = limits.cover_at_m(station), limits.max_depth_at_m(station)
    # Where the limits change along the line, the place that keeps them least counts.
    least = int(np.argmin(np.where(buried, cover - wanted, np.inf)))
    yield asked("cover").judge(
        round(float(cover[least]), ROUNDED),
        f"At station {station[least]:.1f} m the pipe has {cover[least]:.2f} m of cover, less than "
        f"the {wanted[least]:.2f} m asked. Lay it deeper there.",
        limit=float(wanted[least]),
        place="trench",
        station_m=float(station[least]),
    )
    depth = pipe.excavation.depth_m
    deepest = int(np.argmax(np.where(buried, depth - allowed, -np.inf)))
    yield asked("trench_depth").judge(
        round(float(depth[deepest]), ROUNDED),
        f"At station {station[deepest]:.1f} m cover {wanted[deepest]:.2f} m, pipe "
        f"{limits.outside_diameter_m:.3f} m and bedding {limits.bedding_m:.2f} m need "
        f"{depth[deepest]:.2f} m, more than the depth limit of {allowed[deepest]:.2f} m. Cover was "
        "kept; raise trench.max_depth (with shoring or sloped sides) or accept less cover.",
        limit=float(allowed[deepest]),
        place="trench",
        station_m=float(station[deepest]),
    )


def _entry(pipe: LaidPipe) -> Check:
    depth, station = pipe.excavation.depth_m, pipe.station_m
    deepest, limit = int(np.argmax(depth)), asked("entry_depth").bound
    deep = depth > limit + 10.0**-ROUNDED
    length = float(np.sum(np.diff(station)[deep[:-1] & deep[1:]]))
    return asked("entry_depth").judge(
        round(float(depth[deepest]), ROUNDED),
        f"The trench is deeper than {limit:.1f} m over {length:.0f} m and reaches "
        f"{depth[deepest]:.2f} m at station {station[deepest]:.1f} m. Nobody enters it there "
        "unless it is shored or sloped back by the rules of your country.",
        place="trench",
        station_m=float(station[deepest]),
    )


def _grades(pipe: LaidPipe) -> Iterator[Check]:
    limits = pipe.limits
    for piece in pipe.below_grade:
        least = limits.min_grade if piece.grade > 0.0 else limits.min_grade_falling
        yield asked("least_grade").judge(
            100.0 * abs(piece.grade),
            f"From station {piece.from_m:.1f} m to {piece.to_m:.1f} m the pipe lies at "
            f"{abs(piece.grade) * 100:.2f} %, below the least grade of "
            f"{limits.min_grade * 100:.2f} % rising and {limits.min_grade_falling * 100:.2f} % "
            "falling: air moves badly there. Allow a deeper trench, or place a vent at its higher "
            "end.",
            limit=100.0 * least,
            place=f"{piece.from_m:.1f} m to {piece.to_m:.1f} m",
            station_m=piece.from_m,
        )


def _spans(pipe: LaidPipe) -> Iterator[Check]:
    station = pipe.station_m
    for span in pipe.spans:
        inside = (station > span.from_m + 1e-6) & (station < span.to_m - 1e-6)
        if not inside.any():
            continue
        clearance = np.where(inside, pipe.pipe_m - pipe.ground_m, np.inf)
        worst = int(np.argmin(clearance))
        below = inside & (pipe.pipe_m < pipe.ground_m)
        length = float(np.sum(np.diff(station)[below[:-1] & below[1:]]))
        yield asked("span_free").judge(
            100.0 * length / (span.to_m - span.from_m),
            f"The span from {span.from_m:.1f} m to {span.to_m:.1f} m runs below ground over "
            f"{length:.1f} m of its length, by up to {-clearance[worst]:.2f} m at station "
            f"{station[worst]:.1f} m. Move the ends of the span or bury this stretch.",
            place=f"span from {span.from_m:.1f} m",
            station_m=float(station[worst]),
        )

"""What is asked of crossings: no-go areas, consents, cover, angle and distance, as rows of data."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from routing.check import Check, requirements_of
from routing.laid_line import LaidLine
from routing.land.crossing import Crossing
from routing.land.kinds import KINDS
from routing.land.measure import least_cover, on_span
from routing.trade_table import named_numbers

__all__ = ["LIMITS", "asked", "bed_cover_m", "crosses", "judge_crossings"]

asked = requirements_of(Path(__file__).parent)
LIMITS = named_numbers(__file__, "limits.csv")
"""Numbers of the trade that are no requirement of their own."""
ROUNDED = 6
"""Decimals to which covers and distances are judged [m]: a limit met exactly is kept."""


def crosses(crossing: Crossing) -> bool:
    """Return whether the pipe really lies in, under or over it, and not only beside it."""
    return crossing.relation in ("inside", "crosses")


def bed_cover_m(crossing: Crossing) -> float:
    """Return the cover asked below the bed of a stream, below its scour where it is wide [m]."""
    least = asked("bed_cover").bound
    if crossing.width_m is None or crossing.width_m <= LIMITS["wide_stream_m"]:
        return least
    return least + LIMITS["scour_share"] * (crossing.flood_m or 0.0)


def judge_crossings(line: LaidLine, crossings: Sequence[Crossing]) -> tuple[Check, ...]:
    """Return whether the line keeps to what each crossing asks."""
    return tuple(check for crossing in crossings for check in _judged(line, crossing))


def _judged(line: LaidLine, crossing: Crossing) -> Iterator[Check]:
    place = {"place": f"{crossing.id}, {crossing.called}", "station_m": crossing.from_m}
    if crossing.kind == "no-go":
        # An area is crossed over a length; a line that must not be crossed, at a place.
        yield asked("no_go").judge(
            max(crossing.length_m, 0.001),
            f"The line crosses {crossing.called} {_where(crossing)}. Lead it round, or take the "
            "area out of the settings if it may be crossed.",
            **place,  # type: ignore[arg-type]
        )
        return
    yield _consent(crossing, place)
    if crossing.relation == "along":
        yield asked("along").judge(
            round(crossing.length_m, ROUNDED),
            f"The line runs along {crossing.called} {_where(crossing)}. Keep off its edge, or ask "
            "whoever keeps it how near a trench may come.",
            **place,  # type: ignore[arg-type]
        )
    if not crosses(crossing):
        return
    if crossing.angle_deg is not None and KINDS[crossing.kind].angle:
        yield asked("angle").judge(
            round(crossing.angle_deg, ROUNDED),
            f"The line crosses {crossing.called} {_where(crossing)} at "
            f"{crossing.angle_deg:.0f} degrees. Turn the line so that it crosses more squarely; "
            "the crossing gets shorter.",
            **place,  # type: ignore[arg-type]
        )
    if on_span(line, crossing):
        return
    if crossing.kind in ("stream", "road"):
        yield _cover(line, crossing)
    if crossing.kind == "service" and crossing.top_m is not None:
        yield _clearance(line, crossing)


def _consent(crossing: Crossing, place: dict[str, object]) -> Check:
    key = "protected" if crossing.kind == "protected" else "owner"
    return asked(key).judge(
        0.0 if crossing.consent else 1.0,
        f"The line meets {crossing.called} {_where(crossing)} and no consent is named. Ask for it, "
        "and give its reference as consent in the layer.",
        **place,  # type: ignore[arg-type]
    )


def _cover(line: LaidLine, crossing: Crossing) -> Check:
    cover, station = least_cover(line, crossing)
    first, last = max(crossing.from_m - 3.0, 0.0), crossing.to_m + 3.0
    if crossing.kind == "road":
        row, limit, below = asked("road_cover"), asked("road_cover").bound, "under"
    else:
        limit, below = bed_cover_m(crossing), "below the bed of"
        row = asked("scour_cover" if limit > asked("bed_cover").bound else "bed_cover")
    return row.judge(
        round(cover, ROUNDED),
        f"The pipe has {_short_of(cover):.2f} m of cover {below} {crossing.called} at station "
        f"{station:.1f} m, less than the {limit:.2f} m asked. Ask for it there: [[trench.limit]] "
        f'from = "{first:.0f} m", to = "{last:.0f} m", cover = "{limit:.2f} m".',
        limit=limit,
        place=f"{crossing.id}, {crossing.called}",
        station_m=station,
    )


def _short_of(cover_m: float) -> float:
    """Return cover in whole centimetres, rounded down: what is short must not read as enough."""
    return math.floor(round(cover_m, ROUNDED) * 100.0 + 1e-9) / 100.0


def _clearance(line: LaidLine, crossing: Crossing) -> Check:
    """Hold the level of a service against pipe that passes over or under it."""
    cover, station = least_cover(line, crossing)
    top = crossing.top_m or 0.0
    at = int(min(range(line.station_m.size), key=lambda k: abs(line.station_m[k] - station)))
    outside = float(line.outside_diameter_m[at])
    gap = max(cover - top, top - (cover + outside))
    return asked("clearance").judge(
        round(gap, ROUNDED),
        f"{crossing.called} lies {top:.2f} m deep at station {station:.1f} m, and the pipe from "
        f"{cover:.2f} m to {cover + outside:.2f} m: too near. Lay the pipe deeper or higher there.",
        place=f"{crossing.id}, {crossing.called}",
        station_m=station,
    )


def _where(crossing: Crossing) -> str:
    if crossing.length_m <= 0.0:
        return f"at station {crossing.at_m:.1f} m"
    return f"from station {crossing.from_m:.1f} m to {crossing.to_m:.1f} m"

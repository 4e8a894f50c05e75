"""What a crossing asks of those who build it, in words, from rows of data."""

from __future__ import annotations

from routing.laid_line import LaidLine
from routing.land.crossing import Crossing
from routing.land.judge import LIMITS, asked, bed_cover_m, crosses
from routing.land.measure import on_span, outside_m
from routing.trade_table import trade_table

__all__ = ["asks_of"]


def asks_of(line: LaidLine, crossing: Crossing) -> tuple[str, ...]:
    """Return what a crossing asks: sleeve, cover, valves, consent; in metric units.

    A line that only runs along something asks for its owner's leave alone.
    """
    span = on_span(line, crossing)
    wide = crossing.width_m is not None and crossing.width_m > LIMITS["wide_stream_m"]
    unscoured = wide and not span and crossing.flood_m is None
    holds = {"any": True, "buried": not span, "span": span, "wide": wide, "unscoured": unscoured}
    sleeve = outside_m(line, crossing) + LIMITS["sleeve_room_m"]
    numbers = {
        "sleeve": f"{sleeve * 1000.0:.0f} mm",
        "road_cover": f"{asked('road_cover').bound:.2f} m",
        "bed_cover": f"{bed_cover_m(crossing):.2f} m",
        "clearance": f"{asked('clearance').bound:.2f} m",
    }
    rows = trade_table(__file__, "asks.csv")
    words = [
        row["words"].format(**numbers)
        for row in rows
        if row["kind"] == crossing.kind
        and holds[row["when"]]
        and (crosses(crossing) or "leave" in row["words"] or "owner" in row["words"])
    ]
    return tuple(words)

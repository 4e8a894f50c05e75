"""How wide, how tall and how strong a vent must be, in words for the person who buys it."""

from __future__ import annotations

from routing.fittings.place.vent import VentKind
from routing.fittings.size.vent_size import VentSize
from routing.fittings.sizes import size_text
from routing.fittings.trade_data import limits
from routing.units import UnitSystem, show

__all__ = ["frost_note", "vent_size_text"]

_CASE = {
    "filling": "air leaving while the line is filled",
    "draining": "air entering while the drains beside it run wide open",
    "break": "air entering after a break below it",
}


def vent_size_text(size: VentSize, units: UnitSystem) -> str:
    """Return what a vent must be, in whole sentences."""
    bore = size_text(size.bore_m, units)
    if size.governing == "table":
        sentences = [f"Bore {bore}, the least for this pipe; no flow of air asks for more."]
    else:
        case = next(case for case in size.cases if case.name == size.governing)
        needed = show(size.needed_m, "diameter", units)
        air = show(case.air_m3_s, "flow", units)
        at = show(case.pressure_difference_pa, "pressure", units)
        sentences = [
            f"Bore {bore}: {_CASE[case.name]} ({air} at a difference of {at}) asks for {needed}."
        ]
    if size.kind == "open vent":
        sentences.append(
            f"Open vent with its top at {show(size.open_top_m, 'elevation', units)}, "
            f"{show(size.open_height_m, 'depth', units)} tall, {size.support}."
        )
    else:
        rating = show(size.rating_pa, "pressure", units)
        sentences.append(f"The {size.kind} bears at least {rating} ({size.rating_basis}).")
    if size.release_m is not None:
        orifice = 1e3 * size.release_m
        width = f"{orifice:.1f} mm" if units == "metric" else f"{orifice / 25.4:.3f} in"
        sentences.append(f"Its small orifice for air in service: {width} or wider.")
    if size.seals is False:
        least = show(limits().seal_head_m, "head", units)
        sentences.append(
            f"Only {show(size.seal_head_m, 'head', units)} of head shuts it, where a float valve "
            f"needs about {least}: take one made to seal at low pressure."
        )
    return " ".join(sentences)


def frost_note(kind: VentKind) -> str:
    """Return what frost does to a vent and what to do about it."""
    if kind == "open vent":
        return (
            "Frost: water stands in it to the static level and freezes first, and a frozen vent is "
            "a shut one. Insulate it, or drain the line in winter."
        )
    return (
        "Frost: it holds still water and freezes first, and a frozen vent is a shut one. Set it in "
        "an insulated, drained pit."
    )

"""How wide, how tall and how strong a vent must be, in words for the person who buys it."""

from __future__ import annotations

from routing.fittings.place.vent import VentKind
from routing.fittings.requirements import seal_head_m
from routing.fittings.size.vent_size import VentSize
from routing.fittings.sizes import size_text
from routing.units import UnitSystem, show

__all__ = ["frost_note", "vent_size_text"]

_CASE = {
    "filling": "Air leaving while the line is filled",
    "draining": "Air entering while the drains beside it run wide open",
    "break": "Air entering after a break below it",
}


def vent_size_text(size: VentSize, bore_m: float, on_pipe: bool, units: UnitSystem) -> str:
    """Return what to fit and why, in whole sentences; ``bore_m`` is that of the pipe.

    ``on_pipe`` is whether an open vent stands on the pipe and not on the ground.
    """
    bore, rating = size_text(size.bore_m, units), show(size.rating_pa, "pressure", units)
    tall = show(size.height_m, "depth", units)
    if size.kind == "open vent":
        guyed = ", guyed" if size.support == "guyed" else ""
        sentences = [
            f"Open vent of {bore}{guyed}: top at {show(size.open_top_m, 'elevation', units)}, "
            f"{tall} above the {'pipe' if on_pipe else 'ground'}, over the highest water that "
            "stands in it. "
            f"Tee and foot at least {size_text(size.foot_m or size.bore_m, units)} wide for "
            f"{show(bore_m, 'depth', units)} above the centreline; the tee bears {rating} "
            f"({size.rating_basis})."
        ]
    else:
        sentences = [
            f"Fit a {size.kind} of {bore} that bears {rating} ({size.rating_basis}); an open "
            f"vent would have to be {tall} tall."
        ]
    if size.governing == "table":
        sentences.append(f"{bore} is the least for this pipe; no flow of air asks for more.")
    else:
        case = next(case for case in size.cases if case.name == size.governing)
        needed = show(size.needed_m, "diameter", units)
        air = show(case.air_m3_s, "air", units)
        at = show(case.pressure_difference_pa, "pressure", units)
        sentences.append(
            f"{_CASE[case.name]} ({air} at a difference of {at}) asks for a bore of {needed}."
        )
    if size.release_m is not None:
        orifice = 1e3 * size.release_m
        width = f"{orifice:.1f} mm" if units == "metric" else f"{orifice / 25.4:.3f} in"
        sentences.append(f"Its small orifice for air in service: {width} or wider.")
    if size.seals is False:
        least = show(seal_head_m(), "head", units)
        sentences.append(
            f"Only {show(size.seal_head_m, 'head', units)} of head shuts it, where a float valve "
            f"needs about {least}: take one made to seal at low pressure."
        )
    if size.frost_note is not None:
        sentences.append(size.frost_note)
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

"""A kit in words: what belongs to a thing, how far down the line, and the stakes beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from routing.papers.cast import unsized_words
from routing.papers.document import Document, plain, units_of
from routing.papers.facts import Facts, place_text
from routing.papers.given import sheet_text
from routing.papers.plane import SurveySystem, survey_system
from routing.units import show

__all__ = ["grid_text", "kit_facts"]


def kit_facts(doc: Document) -> Callable[[str, float, float], Facts]:
    """Return what tells of a thing, by its name and place, beyond what it is: grid, kit, stakes."""
    survey = survey_system(doc, sheet_text(doc, "crs") or None)
    kits = {plain(kit["of"]): kit for kit in doc.get("kits") or ()}
    open_ = {plain(each["id"]) for each in doc.get("blocks") or () if unsized_words(doc, each)}

    def told(name: str, lon: float, lat: float) -> Facts:
        facts = [("Grid", grid_text(survey, lon, lat))]
        kit = kits.get(name)
        if kit is None:
            return facts
        return [*facts, *_along(doc, kit), *_pieces(kit, name in open_), *_stakes(doc, kit, survey)]

    return told


def grid_text(survey: SurveySystem, lon: float, lat: float) -> str:
    """Return a place in the coordinates of the sheets, to a centimetre."""
    east, north = (float(each) for each in survey.forward(lon, lat))
    unit = {"metre": "m", "foot": "ft", "US survey foot": "US survey ft"}[survey.unit]
    return f"E {east:.2f}, N {north:.2f} {unit}, {survey.name.split(' (')[0]}"


def _pieces(kit: Mapping[str, Any], left_open: bool) -> Facts:
    """Return a line for each piece; only the first is labelled. No concrete of what is left open.

    >>> _pieces({"pieces": [{"what": "concrete", "size": "40 m³", "count": 1}]}, left_open=True)
    [('Kit', 'concrete, left open')]
    """
    words = (
        (f"{piece['count']} × " if piece["count"] != 1 else "")
        + ", ".join(_named(piece, left_open))
        for piece in kit["pieces"]
    )
    return [("" if number else "Kit", piece) for number, piece in enumerate(words)]


def _named(piece: Mapping[str, Any], left_open: bool) -> list[str]:
    what, size = plain(piece["what"]), plain(piece["size"])
    if left_open and what.startswith("concrete"):
        size = "left open"
    return [words for words in (what, size) if words]


def _along(doc: Document, kit: Mapping[str, Any]) -> Facts:
    if kit.get("along_pipe_m") is None:
        return []
    units = units_of(doc)
    pipe, ground = (show(kit[key], "station", units) for key in ("along_pipe_m", "along_ground_m"))
    return [("Along the pipe", f"{pipe} from the intake, {ground} along the ground")]


def _stakes(doc: Document, kit: Mapping[str, Any], survey: SurveySystem) -> Facts:
    offset = kit.get("offset")
    if offset is None:
        return []
    units = units_of(doc)
    away = [show(stake["distance_m"], "length", units) for stake in offset["stakes"]]
    facts = [
        (
            "Offset stakes",
            f"{away[0]} and {away[1]} {plain(offset['side'])} of the pipe, looking down the line; "
            f"it lies at {float(offset['bearing_deg']):.0f}° from north as seen from them",
        )
    ]
    for number, stake in enumerate(offset["stakes"], start=1):
        place = place_text(stake["lon"], stake["lat"])
        facts.append(
            (f"Stake {number}", f"{grid_text(survey, stake['lon'], stake['lat'])}; {place}")
        )
    level, of = float(offset["level_m"]), plain(offset["level_of"])
    below = (
        f"{show(abs(depth), 'depth', units)} {'below' if depth >= 0.0 else 'above'} stake {number}"
        for number, stake in enumerate(offset["stakes"], start=1)
        if stake["ground_m"] is not None
        for depth in [float(stake["ground_m"]) - level]
    )
    words = ", about ".join([show(level, "elevation", units), " and ".join(below)])
    return [*facts, (f"Level of the {of}", words.removesuffix(", about "))]

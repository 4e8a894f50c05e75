"""Kits: what each thing to set is made of, from the study itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict
from itertools import pairwise
from typing import Any

import numpy as np

from routing.fittings import size_text
from routing.papers.offsets import Beside
from routing.trade_table import trade_table
from routing.units import UnitSystem, show
from routing.us_units import in_system

__all__ = ["kits_of"]

Item = Mapping[str, Any]
LEAST_POST_M = 0.05
"""A support lower than this is a saddle on the ground, without a post [m] (our own estimate)."""
_REST = ("relief_valves", "blocks", "anchors", "supports")
MOST_THREADED_MM = 50.0
"""Largest bore that is joined by a thread; larger ones have flanges [mm]: common practice."""


def kits_of(doc: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the pieces of every fitting, block, anchor, support, bend and change of pipe.

    Which pieces stand in ``data/kit_pieces.csv``; their sizes, in the study's units, are those
    that the study found. A thing whose size it did not find has none. A piece whose size comes out
    empty, as that of flanges on a thread, is none of the kit. With each go its station, how far it
    lies along the slope of pipe and ground, and two stakes beside the trench.
    """
    beside, along = Beside(doc), _along(doc)
    return [
        {"of": str(item["id"]), "pieces": pieces, **along(item), **_stakes(beside, item)}
        for item, kind, words in _things(doc)
        if (pieces := _pieces(kind, words))
    ]


def _along(doc: Mapping[str, Any]) -> Callable[[Item], dict[str, float]]:
    """Return what tells how far down the line a thing lies: in plan, along pipe and ground [m]."""
    station, pipe, ground = (
        np.asarray(doc["stations"][key], dtype=np.float64)
        for key in ("station_m", "pipe_m", "ground_m")
    )
    lengths = [
        np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(station), np.diff(level)))])
        for level in (pipe, ground)
    ]

    def told(item: Item) -> dict[str, float]:
        at = float(item["station_m"])
        along_pipe, along_ground = (float(np.interp(at, station, length)) for length in lengths)
        return {"station_m": at, "along_pipe_m": along_pipe, "along_ground_m": along_ground}

    return told


def _stakes(beside: Beside, item: Item) -> dict[str, Any]:
    """Return the two stakes beside the trench, and the level to dig or build to from them."""
    found = beside.at(float(item["station_m"]))
    return {"offset": None if found is None else asdict(found)}


def _things(doc: Mapping[str, Any]) -> Iterator[tuple[Item, str, list[dict[str, str]]]]:
    """Yield item, kind and the words for the sizes of each thing; several words, several sets."""
    units = doc["units"]
    for section in ("vents", "drains", "valves", "taps", *_REST):
        for item in doc.get(section) or ():
            if section == "blocks" and not item.get("length_m"):
                continue
            open_vent = section == "vents" and item.get("open_top_m") is not None
            kind = "open vent" if open_vent else section.removesuffix("s")
            yield item, kind, [_words(doc, item, units)]
    for curve in doc.get("curves") or ():
        angles = curve["fittings_deg"] if curve["verdict"] == "fittings" else ()
        if curve["verdict"] == "mitred":
            angles = (round(float(curve["deflection_deg"]), 1),)
        if angles:
            pipe = _pipe(doc, float(curve["station_m"]))
            words = [{"pipe": pipe, "angle": f"{float(angle):g}°"} for angle in angles]
            yield {**curve, "id": curve["bend_id"]}, "bend", words
    for number, (above, below) in enumerate(pairwise(doc.get("pipes") or ()), start=1):
        item = {"id": f"P{number}", "station_m": below["from_m"]}
        yield item, "pipe", [{"pipe": str(above["label"]), "below": str(below["label"])}]


def _pieces(kind: str, sets: list[dict[str, str]]) -> list[dict[str, Any]]:
    counts = Counter(
        (row["what"].format(**words), size)
        for words in sets
        for row in trade_table(__file__, "kit_pieces.csv")
        if row["kind"] == kind
        for size in [row["size"].format(**words)]
        if size or not row["size"]
    )
    return [{"what": what, "size": size, "count": n} for (what, size), n in counts.items()]


def _words(doc: Mapping[str, Any], item: Item, units: UnitSystem) -> dict[str, str]:
    """Return everything that a size may be made of; what the item has not is "not sized"."""
    station = float(item["station_m"])
    stress, factor = in_system("MPa", units)

    def said(key: str, kind: Any, scale: float = 1.0) -> str:
        value = item.get(key)
        return "not sized" if value is None else show(float(value) * scale, kind, units)

    pressure = float(
        np.interp(station, doc["stations"]["station_m"], doc["stations"]["static_pressure_kpa"])
    )
    at_rest = f"for {show(pressure * 1e3, 'pressure', units)} at rest and the test"
    bears = said("rating_kpa", "pressure", 1e3)
    rated = item.get("rating_kpa") is not None
    size, mpa, height = (item.get(key) for key in ("size_mm", "concrete_mpa", "height_m"))
    sold = "" if size is None else size_text(float(size) / 1e3, units)
    stands = height is None or float(height) >= LEAST_POST_M
    threaded = size is not None and float(size) <= MOST_THREADED_MM
    return {
        "name": str(item.get("id") or ""),
        "thread": f"{sold}, tapered thread" if threaded else "",
        "flange": ""
        if threaded or not sold
        else f"{sold}, {bears if rated else 'for the test pressure'}",
        "pipe": _pipe(doc, station),
        "size": "not sized" if size is None else size_text(float(size) / 1e3, units),
        "rating": bears,
        "open": said("open_height_m", "depth"),
        # Above the water of the intake the pipe sucks, which no rating tells.
        "bears": bears if rated and pressure >= 0.0 else at_rest,
        "concrete": "" if mpa is None else f"{float(mpa) * factor:.0f} {stress}",
        "setting": said("setting_kpa", "pressure", 1e3),
        "volume": said("volume_m3", "concrete"),
        "saddle": f"{float(item.get('saddle_deg') or 0.0):.0f}°",
        "height": f"{said('height_m', 'depth')} high" if stands else "",
    }


def _pipe(doc: Mapping[str, Any], station_m: float) -> str:
    """Return what the pipe at a station is called."""
    label = "pipe not chosen"
    for pipe in doc.get("pipes") or ():
        if float(pipe["from_m"]) <= station_m + 1e-6:
            label = str(pipe["label"])
    return label

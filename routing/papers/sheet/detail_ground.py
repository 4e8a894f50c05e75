"""Details in the ground: trenches, crossings, blocks, anchors, supports and bridges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from routing.papers.cast import cast_shape, unsized_words
from routing.papers.document import Document, at_station, column, plain, units_of
from routing.papers.land_facts import crossing_words
from routing.papers.schedule import block_sides, cast_blocks
from routing.papers.set_facts import force_text
from routing.papers.sheet.detail import Detail, bore_at
from routing.papers.sheet.detail_trench import trench_section, trench_sections
from routing.papers.sheet.sketch import Sketch
from routing.papers.station import station_text
from routing.units import show, unit_of

__all__ = ["ground_details"]

MOST_ALIKE = 3
"""Sections of one kind that are drawn, the first along the line [-]."""


def ground_details(doc: Document) -> Iterator[Detail]:
    """Return what stands in the ground, in the order of the work."""
    trench = doc.get("trench") or {}
    yield from trench_sections(doc)
    bench = trench.get("bench") or {}
    if bench.get("stretches"):
        yield _bench(doc, bench)
    for kind in ("road", "stream"):
        alike = [each for each in doc.get("crossings") or () if each["kind"] == kind]
        for crossing in [each for each in alike if float(each["cover_m"]) > 0.0][:1]:
            yield _road(doc, crossing) if kind == "road" else _stream(doc, crossing)
    cast = cast_blocks(doc)
    for hold in dict.fromkeys(str(each["hold"]) for each in cast):
        alike = [each for each in cast if each["hold"] == hold]
        sized = [each for each in alike if not unsized_words(doc, each)]
        if sized:
            yield _block(doc, max(sized, key=lambda each: float(each["volume_m3"])))
        else:
            yield _unsized(doc, alike[0])
    if doc.get("anchors"):
        yield _anchor(doc, doc["anchors"][0])
    for span in (trench.get("spans") or ())[:MOST_ALIKE]:
        yield _bridge(doc, span)
    supports = [each for each in doc.get("supports") or () if each.get("floor_m2")]
    if supports:
        yield _support(doc, max(supports, key=lambda each: float(each["height_m"])))


def _road(doc: Document, crossing: Mapping[str, Any]) -> Detail:
    title = f"{plain(crossing['id'])}: {crossing_words(crossing)}, section of the trench"
    notes = _asked(crossing)
    at, cover = float(crossing["station_m"]), float(crossing["cover_m"])
    notes.append("The road is restored as its owner asks.")
    return trench_section(doc, title, at, cover, notes)


def _asked(crossing: Mapping[str, Any]) -> list[str]:
    """Return what a crossing asks, each as a sentence."""
    asks = [plain(each) for each in crossing.get("asks") or ()]
    return [f"{each[:1].upper()}{each[1:].removesuffix('.')}." for each in asks][:3]


def _bench(doc: Document, bench: Mapping[str, Any]) -> Detail:
    """Draw the steepest cross-slope with the bench that is dug before the trench."""
    worst = max(bench["stretches"], key=lambda each: float(each["steepest"]))
    at, slope = float(worst["steepest_station_m"]), float(worst["steepest"])
    wide, (outside, inside) = float(bench["width_m"]), bore_at(doc, at)
    trench = doc.get("trench") or {}
    half, bed = float(trench.get("width_m") or outside + 0.4) / 2.0, trench.get("bedding_m") or 0.0
    deep = abs(float(at_station(doc, "depth_m", at) or 1.0)) + float(bed)
    reach = wide / 2.0 + 0.5

    def draw(on: Sketch) -> None:
        # The bench is level with the ground on the line; uphill of it the ground is cut.
        on.line(-reach, -slope * reach, 0.0, 0.0, "edge")
        on.line(0.0, 0.0, reach, slope * reach, "hidden")
        on.poly([(0.0, 0.0), (wide / 2.0, 0.0), (wide / 2.0, slope * wide / 2.0),
                 (reach, slope * reach)], "edge", close=False)  # fmt: skip
        on.line(-wide / 2.0, 0.0, 0.0, 0.0, "edge")
        on.line(-wide / 2.0, 0.0, -wide / 2.0 - 0.4, -slope * (wide / 2.0 + 0.4), "hidden")
        on.rect(-half, -deep, half, 0.0, "blank")
        on.pipe_end(0.0, -deep + float(bed) + outside / 2.0, outside, inside)
        on.across(-wide / 2.0, wide / 2.0, 0.16)
        on.up(-deep, 0.0, half + 0.12)

    notes = [
        f"Steepest at {station_text(doc, at)}: {100.0 * slope:.0f} % across the line; in all "
        f"{show(float(bench['volume_m3']), 'volume', units_of(doc))} in place. The fill below the "
        "bench carries no pipe; its slope and the water behind it are for an engineer to judge.",
    ]
    return Detail("Bench on a side slope", draw, notes)


def _stream(doc: Document, crossing: Mapping[str, Any]) -> Detail:
    """Draw the bed of a stream, square to the water, over the pipe at its cover."""
    at, cover = float(crossing["station_m"]), float(crossing["cover_m"])
    outside, inside = bore_at(doc, at)
    wide = float(crossing.get("width_m") or crossing["length_m"] or 1.0)
    bank = max(0.3, 0.12 * wide)
    side = wide / 2.0 + 1.5 * bank

    def draw(on: Sketch) -> None:
        bed = [(-wide / 2.0, 0.0), (wide / 2.0, 0.0)]
        banks = [(-side - bank, bank), (-wide / 2.0 - bank, bank), *bed,
                 (wide / 2.0 + bank, bank), (side + bank, bank)]  # fmt: skip
        level = 0.45 * bank
        water = [*bed, (wide / 2.0 + level, level), (-wide / 2.0 - level, level)]
        on.poly(water, "water")
        on.poly(banks, "edge", close=False)
        on.rect(-side - bank, -cover - outside, side + bank, -cover, "blank")
        on.line(-side - bank, -cover - outside / 2.0, side + bank, -cover - outside / 2.0, "centre")
        on.line(-side - bank, -cover - (outside - inside) / 2.0, side + bank,
                -cover - (outside - inside) / 2.0, "fine")  # fmt: skip
        on.across(-wide / 2.0, wide / 2.0, -cover - outside - 0.1 - 0.03 * wide)
        on.up(-cover, 0.0, 0.0, f"{show(cover, 'depth', on.units)} below the bed")

    known = crossing.get("angle_deg")
    angle = "" if known is None else f", {float(known):.0f}° to the water"
    notes = [
        f"At {station_text(doc, at)}{angle}; bed {plain(crossing['name'] or 'without a name')}"
        f", width {'as drawn' if crossing.get('width_m') else 'not known: length along the line'}; "
        "water and banks are a sketch.",
        *_asked(crossing),
        "Scour is judged by an engineer; bed and banks are restored as the consent asks.",
    ]
    return Detail(f"{plain(crossing['id'])}: crossing below the stream", draw, notes)


def _block(doc: Document, block: Mapping[str, Any]) -> Detail:
    """Draw the largest block of its kind: its face along the thrust, and its plan."""
    outside, inside = bore_at(doc, float(block["station_m"]))
    wide = float(block["width_m"])
    shape = cast_shape(block, outside)
    assert shape is not None  # only what is cast has a detail
    deep = float(block["ground_m"]) - float(block["pipe_m"])
    sides = " × ".join(block_sides(doc, block)) + f" {unit_of('depth', units_of(doc))}"
    top = max(deep, shape.high_m + 0.1)
    weighty = block["hold"] == "gravity block" or shape.start_m < 0.0

    def draw(on: Sketch) -> None:
        on.ground(-wide / 2.0 - 0.2, wide / 2.0 + 0.2, top)
        on.rect(-wide / 2.0, shape.low_m, wide / 2.0, shape.high_m, "concrete")
        on.pipe_end(0.0, 0.0, outside, inside)
        on.across(-wide / 2.0, wide / 2.0, shape.low_m - 4.0 / on.mm)
        on.up(shape.low_m, shape.high_m, wide / 2.0 + 3.0 / on.mm)
        on.up(0.0, top, -wide / 2.0 - 3.0 / on.mm, left=True)
        # The plan stands below the face: the pipe runs across, the thrust points down the sheet.
        axis = shape.low_m - 14.0 / on.mm - max(outside / 2.0, -shape.start_m)
        start, end = axis - shape.start_m, axis - shape.end_m
        near = wide if weighty else outside
        on.poly([(-near / 2.0, start), (near / 2.0, start), (wide / 2.0, end),
                 (-wide / 2.0, end)], "concrete")  # fmt: skip
        on.rect(-wide / 2.0 - 0.15, axis - outside / 2.0, wide / 2.0 + 0.15, axis + outside / 2.0,
                "blank")  # fmt: skip
        on.up(end, start, wide / 2.0 + 3.0 / on.mm)
        on.note(0.0, (start + end) / 2.0, "thrust", -0.6 * wide * on.mm, 3.0)

    thrust = force_text(doc, float(block["thrust_kn"]))
    spread = "" if weighty else " It spreads from the fitting to the face, as the plan shows."
    volume = show(block["volume_m3"], "concrete", units_of(doc))
    notes = [
        f"Wide × high × long {sides}, {volume}; thrust {thrust} towards "
        f"{float(block['bearing_deg']):.0f}°. The largest of its kind: face and plan.{spread}",
        "Reinforcement is left to the engineer. Pipe wrapped where concrete holds it.",
    ]
    return Detail(f"{plain(block['hold']).capitalize()} {plain(block['id'])}", draw, notes)


def _unsized(doc: Document, block: Mapping[str, Any]) -> Detail:
    """Draw the pipe alone where a block must stand whose size is not known."""
    outside, inside = bore_at(doc, float(block["station_m"]))
    deep = float(block["ground_m"]) - float(block["pipe_m"])
    reach = max(2.0 * outside, 0.6 * deep)

    def draw(on: Sketch) -> None:
        on.ground(-reach, reach, deep)
        on.pipe_end(0.0, 0.0, outside, inside)
        on.up(0.0, deep, reach + 3.0 / on.mm)

    thrust = force_text(doc, float(block["thrust_kn"]))
    notes = [
        f"{plain(block['id'])} {unsized_words(doc, block)}.",
        f"Thrust {thrust} towards {float(block['bearing_deg']):.0f}°.",
    ]
    return Detail(f"{plain(block['hold']).capitalize()} {plain(block['id'])}", draw, notes)


def _anchor(doc: Document, anchor: Mapping[str, Any]) -> Detail:
    outside, _ = bore_at(doc, float(anchor["station_m"]))
    high, thick = float(anchor["height_m"]), float(anchor["length_m"])
    grade, long = float(anchor["grade"]), 3.2 * float(anchor["length_m"])

    def draw(on: Sketch) -> None:
        fall = grade * long / 2.0
        for side in (-0.5, 0.5):
            rise = side * outside
            on.line(-long / 2, fall + rise, long / 2, -fall + rise)
        on.rect(-thick / 2.0, -high / 2.0, thick / 2.0, high / 2.0, "concrete")
        on.line(-long / 2, fall, long / 2, -fall, "centre")
        on.across(-thick / 2.0, thick / 2.0, high / 2.0 + 2.0 / on.mm)
        on.up(-high / 2.0, high / 2.0, long / 2.0 + 3.0 / on.mm)

    wide = show(float(anchor["width_m"]), "depth", units_of(doc))
    notes = [
        f"Wall {wide} wide, keyed into the trench's sides; the next no further than "
        f"{show(float(anchor['centres_m']), 'length', units_of(doc))} along the slope.",
        "Sizes are common practice; reinforcement is left to the engineer.",
    ]
    return Detail("Anchor on steep ground", draw, notes)


def _bridge(doc: Document, span: Mapping[str, Any]) -> Detail:
    """Draw a span from the side, true to scale: ground, pipe and every support."""
    first, last = float(span["from_m"]), float(span["to_m"])
    outside, _ = bore_at(doc, first)
    station, ground, pipe = (column(doc, key) for key in ("station_m", "ground_m", "pipe_m"))
    margin = max(0.12 * (last - first), 1.0)
    at = np.concatenate([[first - margin], station[(station > first - margin)
                         & (station < last + margin)], [last + margin]])  # fmt: skip
    at = np.unique(np.clip(at, station[0], station[-1]))
    level = float(np.interp(first, station, pipe))
    low = float(np.min(np.interp(at, station, ground))) - level
    known = [
        each for each in doc.get("supports") or () if first <= float(each["station_m"]) <= last
    ]

    def draw(on: Sketch) -> None:
        x = (at - first).tolist()
        over = (np.interp(at, station, ground) - level).tolist()
        on.poly(list(zip(x, over, strict=True)), "ground", close=False)
        line = (np.interp(at, station, pipe) - level).tolist()
        above = [(a, b + outside / 2.0) for a, b in zip(x, line, strict=True)]
        below = [(a, b - outside / 2.0) for a, b in zip(x, line, strict=True)]
        for each in known:
            place, foot = float(each["station_m"]) - first, float(each["ground_m"]) - level
            if float(each["height_m"]) > 0.02:
                on.line(place, foot, place, float(each["pipe_m"]) - outside / 2.0 - level)
        on.poly([*above, *reversed(below)], "blank")
        on.across(0.0, last - first, low - 5.0 / on.mm)
        on.up(float(np.interp((first + last) / 2.0, station, ground)) - level,
              float(np.interp((first + last) / 2.0, station, pipe)) - outside / 2.0 - level,
              (last - first) / 2.0)  # fmt: skip

    bridges = [each for each in doc.get("bridges") or () if float(each["from_m"]) == first]
    bays = ""
    if bridges:
        bay = show(float(bridges[0]["bay_m"]), "length", units_of(doc))
        bays = f"{bridges[0]['bays']} bays of {bay}. "
    reach = f"{station_text(doc, first)} to {station_text(doc, last)}"
    notes = [
        f"{bays}Seen across the line, the ground from the raster. The structure, its floods "
        "and its joints are for a licensed engineer to design.",
    ]
    return Detail(f"Pipe above ground, {reach}", draw, notes)


def _support(doc: Document, support: Mapping[str, Any]) -> Detail:
    outside, inside = bore_at(doc, float(support["station_m"]))
    high, found = float(support["height_m"]), float(support["founded_m"])
    side = math.sqrt(float(support["floor_m2"]))
    foot = max(side, 0.25)
    reach = max(foot, outside) / 2.0

    def draw(on: Sketch) -> None:
        on.ground(-reach - 0.5, reach + 0.5, 0.0)
        on.rect(-foot / 2, -found, foot / 2, -found + 0.2, "concrete")
        post = min(0.15, 0.6 * foot)
        on.rect(-post / 2, -found + 0.2, post / 2, high, "concrete")
        on.rect(-outside / 2 - 0.03, high, outside / 2 + 0.03, high + 0.25 * outside, "concrete")
        on.pipe_end(0.0, high + outside / 2.0, outside, inside)
        on.up(0.0, high, reach + 3.0 / on.mm)
        on.up(-found, 0.0, -reach - 3.0 / on.mm, left=True)

    load = force_text(doc, float(support["load_kn"]))
    notes = [
        f"{plain(support['id'])}, the highest: carries {load}; footing at least "
        f"{show(side, 'depth', units_of(doc))} square on the ground named; saddle "
        f"{float(support['saddle_deg']):.0f}° with a liner.",
        "The structure is for a licensed engineer to design.",
    ]
    return Detail("Support", draw, notes)

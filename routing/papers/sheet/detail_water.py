"""Details of what the water passes: vents, drains, valves, intake, basin, screen, powerhouse."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from routing.fittings import size_text
from routing.papers.cast import unsized_words
from routing.papers.document import Document, at_station, column, plain, units_of
from routing.papers.schedule import cast_blocks
from routing.papers.set_facts import force_text
from routing.papers.sheet.detail import Detail, bore_at
from routing.papers.sheet.sketch import Sketch
from routing.papers.station import station_text
from routing.units import INCH, parse_quantity, show
from routing.us_units import in_system

__all__ = ["water_details"]

BASIN_SHAPE = 4.0
"""Length of a settling basin over its width where only its area is known [-]: common practice."""
BARS = 7
"""Bars of a screen that are drawn [-]."""


def water_details(doc: Document) -> Iterator[Detail]:
    """Return what the water passes, fittings first, then both ends of the line."""
    valves = [each for each in doc["vents"] if each.get("open_height_m") is None]
    if valves:
        yield _pit(doc, max(valves, key=lambda each: float(each.get("size_mm") or 0.0)))
    opened = [each for each in doc["vents"] if each.get("open_height_m") is not None]
    if opened:
        yield _open_vent(doc, max(opened, key=lambda each: float(each["open_height_m"])))
    sizes = [each for each in doc.get("drain_sizes") or () if each.get("bore_mm")]
    if sizes:
        yield _drain(doc, max(sizes, key=lambda each: float(each["jet_m_s"])))
    for valve in (doc.get("valves") or ())[:1]:
        yield _valve(doc, valve)
    yield _intake(doc)
    told = doc.get("intake") or {}
    given = (doc.get("settings") or {}).get("intake") or {}
    if told.get("settling"):
        yield _basin(doc, told["settling"])
    if told.get("screen") and told.get("bar_gap_m"):
        yield _screen(doc, told, given)
    yield _powerhouse(doc)


def _deep(doc: Document, station: float) -> float:
    return abs(float(at_station(doc, "depth_m", station) or 1.0))


def _pit(doc: Document, item: Mapping[str, Any]) -> Detail:
    station = float(item["station_m"])
    outside, inside = bore_at(doc, station)
    deep, half = _deep(doc, station), max(0.45, outside)
    size = float(item.get("size_mm") or 50.0) / 1000.0

    def draw(on: Sketch) -> None:
        low = -deep - (outside - inside) / 2.0
        on.rect(-half, low - 0.1, half, 0.0, "blank")
        on.ground(-half - 0.25, -half, 0.0)
        on.ground(half, half + 0.25, 0.0)
        centre = low + outside / 2.0
        on.pipe_end(0.0, centre, outside, inside)
        shut = centre + outside / 2.0 + 0.12
        on.rect(-size / 2, centre + outside / 2, size / 2, shut + 0.35, "blank")
        on.valve(0.0, shut + 0.06, 1.2 * size, upright=True)
        head = min(shut + 0.25, -0.35)
        on.rect(-size, head, size, min(head + 2.5 * size, -0.05), "concrete")
        on.rect(-half, -0.02, half, 0.03, "concrete")
        on.up(-deep, 0.0, half + 3.0 / on.mm, f"to invert {show(deep, 'depth', on.units)}")
        on.across(-half, half, low - 0.1 - 4.0 / on.mm)
        on.note(-size, head + size, size_text(size, on.units), -6.0, -3.0)

    kind = plain(item.get("kind") or "valve")
    notes = [
        f"{plain(item['id'])} at {station_text(doc, station)}, the largest: {kind} over its "
        "own shut-off. Clear width of the pit to suit the valve and a person; drained or with a "
        "sump, lid locked.",
        "A pit is a confined space: test its air and never enter alone.",
    ]
    return Detail(f"Pit: {kind}", draw, notes)


def _valve(doc: Document, item: Mapping[str, Any]) -> Detail:
    """Draw an isolating valve in its pit, along the pipe."""
    station = float(item["station_m"])
    outside, inside = bore_at(doc, station)
    deep, half = _deep(doc, station), max(0.6, 2.2 * outside)

    def draw(on: Sketch) -> None:
        low = -deep - (outside - inside) / 2.0
        centre = low + outside / 2.0
        on.rect(-half, low - 0.15, half, 0.0, "blank")
        on.ground(-half - 0.25, -half, 0.0)
        on.ground(half, half + 0.25, 0.0)
        on.rect(-half - 0.25, low, half + 0.25, low + outside, "blank")
        on.line(-half - 0.25, centre, half + 0.25, centre, "centre")
        for flange in (-0.9, 0.9):
            on.rect((flange - 0.08) * outside, centre - 0.75 * outside,
                    (flange + 0.08) * outside, centre + 0.75 * outside, "concrete")  # fmt: skip
        on.valve(0.0, centre, 0.8 * outside)
        on.line(0.0, centre, 0.0, min(centre + 2.0 * outside, -0.12))
        on.rect(-half, -0.02, half, 0.03, "concrete")
        on.up(-deep, 0.0, half + 0.25 + 3.0 / on.mm, f"to invert {show(deep, 'depth', on.units)}")
        on.across(-half, half, low - 0.15 - 4.0 / on.mm)
        on.note(-0.9 * outside, centre + 0.7 * outside, "flange adapter", -5.0, -5.0)

    kpa = at_station(doc, "static_pressure_kpa", station)
    said = "" if kpa is None else f", static {show(kpa * 1e3, 'pressure', units_of(doc))}"
    notes = [
        f"{plain(item['id'])} at {station_text(doc, station)}{said}; for a pipe of "
        f"{show(outside, 'diameter', units_of(doc))} outside. Anchored against the push when shut; "
        "opened and shut slowly.",
        "A pit is a confined space: test its air and never enter alone.",
    ]
    return Detail("Isolating valve", draw, notes)


def _open_vent(doc: Document, vent: Mapping[str, Any]) -> Detail:
    station = float(vent["station_m"])
    outside, inside = bore_at(doc, station)
    deep, tall = abs(float(vent.get("depth_m") or 1.0)), float(vent["open_height_m"])
    size = float(vent.get("size_mm") or 50.0) / 1000.0
    sized = [each for each in doc.get("vent_sizes") or () if each["vent_id"] == vent["id"]]
    support = plain(sized[0].get("support") or "") if sized else ""
    guyed = "guy" in support
    reach = max(0.5, 0.6 * tall) if guyed else 0.5

    def draw(on: Sketch) -> None:
        on.ground(-reach, -size, 0.0)
        on.ground(size, reach, 0.0)
        centre = -deep + inside / 2.0
        on.pipe_end(0.0, centre, outside, inside)
        on.rect(-size / 2, centre + outside / 2, size / 2, tall, "blank")
        bend = [(-size / 2, tall), (-size / 2, tall + 1.6 * size), (2.2 * size, tall + 1.6 * size),
                (2.2 * size, tall - 0.6 * size), (1.2 * size, tall - 0.6 * size),
                (1.2 * size, tall + 0.6 * size), (size / 2, tall + 0.6 * size),
                (size / 2, tall)]  # fmt: skip
        on.poly(bend, "blank")
        on.up(0.0, tall, -max(0.2, 1.5 * size), left=True)
        on.up(-deep, 0.0, max(0.3, outside), f"to invert {show(deep, 'depth', on.units)}")
        if guyed:
            for side in (-1.0, 1.0):
                on.line(0.0, 0.7 * tall, side * reach, 0.0, "fine")

    notes = [
        f"{plain(vent['id'])} at {station_text(doc, station)}: bore "
        f"{size_text(size, units_of(doc))}, top at "
        f"{show(vent.get('open_top_m'), 'elevation', units_of(doc))}, screened, turned down.",
        (support or "stands by itself").capitalize() + ".",
    ]
    return Detail("Open vent", draw, notes)


def _drain(doc: Document, size: Mapping[str, Any]) -> Detail:
    station = float(size["station_m"])
    outside, inside = bore_at(doc, station)
    deep, bore = _deep(doc, station), float(size["bore_mm"]) / 1000.0
    still = outside / 2.0 + 0.95

    def draw(on: Sketch) -> None:
        centre = -deep + inside / 2.0
        on.ground(-0.5, still - 0.1, 0.0)
        on.ground(still + 0.8, still + 1.1, 0.0)
        on.pipe_end(0.0, centre, outside, inside)
        level = centre - inside / 2.0 + bore / 2.0
        on.rect(still, level - 0.35, still + 0.7, level + 0.45, "blank")
        on.rect(still, level - 0.35, still + 0.7, level + 0.15, "water")
        on.rect(outside / 2.0, level - bore / 2, still + 0.25, level + bore / 2, "blank")
        on.valve(outside / 2.0 + 0.45, level, 1.6 * bore)
        on.up(-deep, 0.0, -0.35, f"to invert {show(deep, 'depth', on.units)}", left=True)
        said = size_text(bore, on.units)
        on.note(outside / 2.0 + 0.45, level + 1.6 * bore, said, 4.0, -6.0)
        on.note(still + 0.35, level - 0.35, "stilling", -6.0, 5.0)

    push = force_text(doc, float(size["reaction_n"]) / 1000.0)
    notes = [
        f"{plain(size['drain_id'])} at {station_text(doc, station)}: jet up to "
        f"{show(size['jet_m_s'], 'velocity', units_of(doc))}, pushes with {push}; outlet anchored.",
        "Stilling pipe or basin and riprap sized by the engineer; never towards bank or path.",
    ]
    return Detail("Drain with stilling", draw, notes)


def _intake(doc: Document) -> Detail:
    """Draw the weir, the screen and the mouth of the pipe below the water, as far as known."""
    outside, _ = bore_at(doc, 0.0)
    units, summary, told = units_of(doc), doc["summary"], doc.get("intake") or {}
    level = show(summary["intake_level_m"], "elevation", units)
    water = float(summary["intake_level_m"]) - float(column(doc, "pipe_m")[0])
    mouth, crest = told.get("mouth") or {}, told.get("crest_width_m")
    least, notch = mouth.get("least_m"), told.get("notch_head_m")
    tall, long = max(water, outside) + 0.3, max(1.2, 0.8 * water)

    def draw(on: Sketch) -> None:
        low = -outside / 2.0 - 0.35
        on.rect(-long, low, 0.0, water, "water")
        on.line(-long, low, 0.8, low)
        on.poly([(0.0, low), (0.0, tall), (0.25, tall), (0.35, low)], "concrete")
        on.rect(-0.15, -outside / 2, 0.8, outside / 2, "blank")
        on.line(-0.3, 0.0, 0.9, 0.0, "centre")
        on.line(-0.4, low, -0.65, water + 0.15, "hidden")
        if water > outside / 2.0:
            on.up(outside / 2.0, water, -long - 2.0 / on.mm, left=True)
        on.note(-0.55, water - 0.35, "screen", -5.0, 4.0)
        on.note(-long + 0.1, water, level, 3.0, -4.0)
        if least is not None and water > 0.0:
            on.line(
                -0.35, outside / 2.0 + float(least), 0.0, outside / 2.0 + float(least), "hidden"
            )
            on.up(outside / 2.0, outside / 2.0 + float(least), 0.35 + 2.0 / on.mm,
                  f"least {show(float(least), 'depth', on.units)}")  # fmt: skip
        if notch is not None:
            on.line(0.0, water - float(notch), 0.28, water - float(notch), "hidden")

    notes = [
        "Mouth below lowest water: "
        + (f"at least {show(least, 'depth', units)}." if least is not None else "not stated.")
        + (f" Crest {show(float(crest), 'length', units)} wide as built." if crest else ""),
        *([] if notch is None else [
            f"The residual flow passes a notch of {float(told['notch_angle_deg']):.0f}° whose "
            f"point lies {show(float(notch), 'depth', units)} below the intake level."]),
        "Weir, wing walls, gate and flushing are not designed here; water can drown.",
    ]  # fmt: skip
    return Detail("Intake: weir, screen and mouth", draw, notes)


def _area(doc: Document, value: float) -> str:
    unit, factor = in_system("m²", units_of(doc))
    return f"{value * factor:.2f} {unit}"


def _basin(doc: Document, settling: Mapping[str, Any]) -> Detail:
    """Draw the plan of the settling basin; only its area is known."""
    built = settling.get("built_m2")
    area = float(built or settling["needed_m2"])
    wide = math.sqrt(area / BASIN_SHAPE)
    long = BASIN_SHAPE * wide

    def draw(on: Sketch) -> None:
        on.rect(-0.15, -0.15, long + 0.15, wide + 0.15, "concrete")
        on.rect(0.0, 0.0, long, wide, "water")
        for at in (0.0, long):
            on.line(at, 0.25 * wide, at, 0.75 * wide, "hidden")
        on.across(0.0, long, -0.15 - 4.0 / on.mm)
        on.up(0.0, wide, long + 0.15 + 2.0 / on.mm)
        on.note(0.85 * long, 0.0, "flushing", 3.0, 5.0)

    grain_m = float(settling["grain_m"])
    us = units_of(doc) == "us"
    grain = f"{grain_m / INCH:.3f} in" if us else f"{1000.0 * grain_m:.2f} mm"
    notes = [
        f"Plan, {'as built' if built else 'the area needed'}: {_area(doc, area)}; "
        f"{_area(doc, float(settling['needed_m2']))} are needed for grains of {grain}, sinking at "
        f"{show(float(settling['velocity_m_s']), 'velocity', units_of(doc))}.",
        f"Drawn {BASIN_SHAPE:g} times as long as wide, common practice; depth, inlet and flushing "
        "are for the engineer.",
    ]
    return Detail("Settling basin", draw, notes)


def _screen(doc: Document, told: Mapping[str, Any], given: Mapping[str, Any]) -> Detail:
    """Draw a few bars of the screen across, with the gap between them."""
    screen, gap = told["screen"], float(told["bar_gap_m"])
    bar = parse_quantity(given["bar"], "length", name="intake.bar") if "bar" in given else 0.5 * gap
    pitch = gap + bar

    def draw(on: Sketch) -> None:
        for number in range(BARS):
            on.rect(number * pitch, 0.0, number * pitch + bar, 5.0 * bar, "concrete")
        thick, clear = (show(each, "diameter", on.units) for each in (bar, gap))
        on.across(3 * pitch + bar, 4 * pitch, -3.0 / on.mm, f"gap {clear}")
        last = BARS * pitch - gap
        on.across(last - bar, last, 5.0 * bar + 3.0 / on.mm, f"bar {thick}")

    built = screen.get("built_m2")
    notes = [
        f"Section of the bars. Area {_area(doc, float(screen['gross_m2']))} in all, "
        f"{_area(doc, float(screen['net_m2']))} of openings"
        + (f"; {_area(doc, float(built))} as built." if built else "."),
        f"At most {show(float(screen['velocity_m_s']), 'velocity', units_of(doc))} through the "
        f"openings, {100.0 * float(screen['clogged_share']):.0f} % of them blocked.",
    ]
    return Detail("Screen", draw, notes)


def _powerhouse(doc: Document) -> Detail:
    station, units = float(column(doc, "station_m")[-1]), units_of(doc)
    outside, inside = bore_at(doc, station)
    rise = float(doc["summary"]["outlet_level_m"]) - float(column(doc, "pipe_m")[-1])
    deep = _deep(doc, station)
    ground = deep - inside / 2.0
    walls = [each for each in cast_blocks(doc) if each["place"] == "wall anchor"]
    reason = unsized_words(doc, walls[-1]) if walls else ""
    end = walls[-1] if walls and not reason else None
    half, long = (float(end[key]) for key in ("height_m", "length_m")) if end else (0.0, 0.0)

    def draw(on: Sketch) -> None:
        wall = 0.2
        on.ground(-long - 0.9, 0.0, ground)
        on.rect(0.0, min(-0.5, -outside), wall, max(ground, rise, outside) + 0.3, "concrete")
        on.rect(-long - 0.9, -outside / 2, wall + 0.4, outside / 2, "blank")
        if end is not None:
            on.rect(-long, -half / 2.0, 0.0, half / 2.0, "concrete")
        on.line(-long - 1.0, 0.0, wall + 0.4, 0.0, "centre")
        at = wall + 0.4
        on.rect(at, -0.7 * outside, at + 0.15 * outside, 0.7 * outside, "concrete")
        on.valve(at + 0.8 * outside, 0.0, 0.6 * outside)
        out = at + 1.4 * outside
        on.rect(out, -outside / 2.0, out + 0.5, outside / 2.0, "blank")
        if abs(rise) > 0.02:
            on.line(out, rise, out + 0.5, rise, "centre")
            on.up(0.0, rise, out + 0.5 + 2.0 / on.mm, f"outlet {show(rise, 'depth', on.units)} up")
        on.up(-inside / 2, ground, -long - 0.9 - 2.0 / on.mm, left=True)
        on.note(at + 0.8 * outside, -0.3 * outside, "valve, shut slowly", 3.0, 6.0)

    kpa = doc["summary"].get("static_pressure_kpa")
    told = f"{plain(end['id'])} holds the end. " if end is not None else ""
    if reason:
        told = f"{plain(walls[-1]['id'])}, which holds the end, {reason}. "
    relief = "".join(
        f" {plain(each['id'])} opens at {show(each['setting_kpa'] * 1e3, 'pressure', units)}."
        for each in doc.get("relief_valves") or ()
    )
    notes = [
        f"{told}Static {show(None if kpa is None else kpa * 1e3, 'pressure', units)} at the "
        f"outlet.{relief}",
        "Machine, drain-off and building are not designed here.",
    ]  # fmt: skip
    return Detail("Powerhouse connection", draw, notes)

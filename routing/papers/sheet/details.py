"""Detail sheets: the study's own dimensions to scale, what it does not know left to others."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from routing.papers.document import Document, at_station, column, plain, units_of
from routing.papers.schedule import block_sides, cast_blocks
from routing.papers.set_facts import force_text
from routing.papers.sheet.diagram import draw_diagram
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.sketch import Sketch, caption
from routing.papers.station import station_text
from routing.units import show, unit_of

__all__ = ["draw_details"]

MARGIN_MM, EDGE = 4.0, 11.0
"""Room between details, and between a detail and what is drawn in it, for dimensions [mm]."""
LEAST_WIDE, LEAST_HIGH = 92.0, 96.0
"""Size of the box of a detail [mm], about."""

Extent = tuple[float, float, float, float]


class Detail(NamedTuple):
    """A detail: its title, how far it reaches [m], how it is drawn, and what is said below it."""

    title: str
    extent: Extent
    draw: Callable[[Sketch], None]
    notes: Sequence[str]


def draw_details(doc: Document, paper: Paper) -> list[Drawing]:
    """Return the detail sheets of a study; the diagram of the water way comes first."""
    details = list(_details(doc))
    inner = Box(3.0, 3.0, paper.frame_width - 3.0, paper.frame_height - 3.0)
    down = max(int((inner.bottom - inner.top) / LEAST_HIGH), 1)
    usual = max(int((inner.right - inner.left) / LEAST_WIDE), 1)
    # One more beside each other where that saves a sheet that would be nearly empty.
    across = min(
        (usual, usual + 1), key=lambda count: math.ceil((len(details) + count) / (count * down))
    )
    wide, high = (inner.right - inner.left) / across, (inner.bottom - inner.top) / down
    sheets = [Drawing(paper.frame_width, paper.frame_height + paper.strip)]
    # The diagram takes the first row of the first sheet.
    strip = Box(inner.left, inner.top, inner.right, inner.top + high - MARGIN_MM)
    draw_diagram(sheets[0], doc, paper, strip)
    for number, detail in enumerate(details, start=across):
        place = number % (across * down)
        if place == 0:
            sheets.append(Drawing(paper.frame_width, paper.frame_height + paper.strip))
        row, column_ = divmod(place, across)
        left, top = inner.left + column_ * wide, inner.top + row * high
        box = Box(left, top, left + wide - MARGIN_MM, top + high - MARGIN_MM)
        _draw(sheets[-1], doc, paper, box, detail)
    return sheets


def _draw(ink: Drawing, doc: Document, paper: Paper, box: Box, detail: Detail) -> None:
    units = units_of(doc)
    foot = caption(ink, paper, box, "", detail.notes)
    head = 2.6 * paper.letter
    room = Box(box.left + EDGE, box.top + head + 4.0, box.right - EDGE, box.bottom - foot - 6.0)
    sketch = Sketch(ink, room, paper, units, detail.extent)
    detail.draw(sketch)
    caption(ink, paper, box, f"{detail.title}, 1:{sketch.scale}", ())


def _details(doc: Document) -> Iterator[Detail]:
    yield _trench(doc)
    for crossing in doc.get("crossings") or ():
        if crossing["kind"] in ("road", "stream"):
            yield _trench(doc, crossing)
            break
    cast = cast_blocks(doc)
    if cast:
        yield _block(doc, max(cast, key=lambda each: float(each["volume_m3"])))
    if doc.get("anchors"):
        yield _anchor(doc, doc["anchors"][0])
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
        yield _pit(doc, {**valve, "kind": "isolating valve"})
    supports = [each for each in doc.get("supports") or () if each.get("floor_m2")]
    if supports:
        yield _support(doc, max(supports, key=lambda each: float(each["height_m"])))
    yield _intake(doc)
    yield _powerhouse(doc)


def _bore(doc: Document, station_m: float) -> tuple[float, float]:
    """Return outside diameter and bore of the pipe at a station [m]."""
    runs = [run for run in doc.get("pipes") or () if float(run["from_m"]) <= station_m + 1e-6]
    if not runs:
        outside = float((doc.get("trench") or {}).get("outside_diameter_m") or 0.2)
        return outside, 0.9 * outside
    return float(runs[-1]["outside_diameter_m"]), float(runs[-1]["inside_diameter_m"])


def _trench(doc: Document, crossing: Mapping[str, Any] | None = None) -> Detail:
    trench = doc.get("trench") or {}
    at = float(crossing["station_m"]) if crossing else 0.0
    outside, inside = _bore(doc, at)
    wide = float(trench.get("width_m") or outside + 0.4)
    bed = float(trench.get("bedding_m") or 0.0)
    cover = float(crossing["cover_m"] if crossing else trench.get("cover_m") or 0.8)
    over = 0.15 + outside

    def draw(on: Sketch) -> None:
        deep = cover + outside + bed
        half = wide / 2.0
        on.rect(-half, -deep, half, 0.0, "blank")
        on.rect(-half, -deep, half, -deep + bed, "sand")
        on.rect(-half, -deep + bed, half, min(-deep + bed + over, 0.0), "sand")
        on.ground(-wide, -half, 0.0)
        on.ground(half, wide, 0.0)
        on.pipe_end(0.0, -deep + bed + outside / 2.0, outside, inside)
        on.across(-half, half, -deep - 0.14)
        on.up(-cover, 0.0, half + 0.12, f"cover {show(cover, 'depth', on.units)}")
        if bed > 0.0:
            on.up(-deep, -deep + bed, half + 0.12, f"bedding {show(bed, 'depth', on.units)}")
        on.up(-deep, 0.0, -half - 0.12, left=True)

    title = "Trench, least cover"
    notes = ["Side fill and bedding to the pipe's standard; no stones against the pipe.",
             "Upright walls only where they stand or are shored."]  # fmt: skip
    if crossing:
        name = plain(crossing["name"]) or plain(crossing["kind"])
        title = f"Crossing {plain(crossing['id'])}: {name}"
        notes = [plain(each) for each in crossing.get("asks") or ()][:2]
        notes.append("Bed and banks, or road, restored as the owner's consent asks.")
    deep = cover + outside + bed
    return Detail(title, (-wide, -deep - 0.2, wide, 0.1), draw, notes)


def _block(doc: Document, block: Mapping[str, Any]) -> Detail:
    outside, inside = _bore(doc, float(block["station_m"]))
    wide, high = float(block["width_m"]), float(block["height_m"])
    deep = float(block["ground_m"]) - float(block["pipe_m"])
    sides = " × ".join(block_sides(doc, block)) + f" {unit_of('depth', units_of(doc))}"

    def draw(on: Sketch) -> None:
        top = max(deep, high / 2.0 + 0.1)
        on.ground(-wide, wide, top)
        on.rect(-wide / 2.0, -high / 2.0, wide / 2.0, high / 2.0, "concrete")
        on.pipe_end(0.0, 0.0, outside, inside)
        on.across(-wide / 2.0, wide / 2.0, -high / 2.0 - 0.15)
        on.up(-high / 2.0, high / 2.0, wide / 2.0 + 0.12)
        on.up(0.0, top, -wide / 2.0 - 0.12, left=True)

    notes = [
        f"Wide × high × long {sides}; thrust {force_text(doc, float(block['thrust_kn']))} towards "
        f"{float(block['bearing_deg']):.0f}°. Face seen along the thrust; the largest block.",
        "Reinforcement is left to the engineer. Pipe wrapped where concrete holds it.",
    ]
    top = max(deep, high / 2.0 + 0.1)
    extent = (-wide, -high / 2.0 - 0.25, wide, top + 0.05)
    return Detail(f"Thrust block {plain(block['id'])}", extent, draw, notes)


def _anchor(doc: Document, anchor: Mapping[str, Any]) -> Detail:
    outside, _ = _bore(doc, float(anchor["station_m"]))
    high, thick = float(anchor["height_m"]), float(anchor["length_m"])
    grade = float(anchor["grade"])
    long = max(4.0 * thick, 1.6)

    def draw(on: Sketch) -> None:
        fall = grade * long / 2.0
        for side in (-0.5, 0.5):
            rise = side * outside
            on.poly([(-long / 2, fall + rise), (long / 2, -fall + rise)], "edge", close=False)
        on.rect(-thick / 2.0, -high / 2.0, thick / 2.0, high / 2.0, "concrete")
        on.poly([(-long / 2, fall), (long / 2, -fall)], "centre", close=False)
        on.across(-thick / 2.0, thick / 2.0, high / 2.0 + 0.12)
        on.up(-high / 2.0, high / 2.0, thick / 2.0 + 0.1)

    fall = abs(grade) * long / 2.0
    tall = max(high / 2.0 + 0.2, fall + outside)
    wide = show(float(anchor["width_m"]), "depth", units_of(doc))
    notes = [
        f"Wall {wide} wide, keyed into the trench's sides; the next no further than "
        f"{show(float(anchor['centres_m']), 'length', units_of(doc))} along the slope.",
        "Sizes are common practice; reinforcement is left to the engineer.",
    ]
    return Detail("Anchor on steep ground", (-long / 2, -tall, long / 2, tall), draw, notes)


def _pit(doc: Document, item: Mapping[str, Any]) -> Detail:
    station = float(item["station_m"])
    outside, inside = _bore(doc, station)
    deep = abs(float(at_station(doc, "depth_m", station) or 1.0))
    size = float(item.get("size_mm") or 1000.0 * inside) / 1000.0

    def draw(on: Sketch) -> None:
        half = max(0.45, outside)
        low = -deep - (outside - inside) / 2.0
        on.rect(-half, low - 0.1, half, 0.0, "blank")
        on.ground(-2.0 * half, -half, 0.0)
        on.ground(half, 2.0 * half, 0.0)
        centre = low + outside / 2.0
        on.pipe_end(0.0, centre, outside, inside)
        head = min(centre + outside / 2.0 + 0.25, -0.15)
        on.rect(-size / 2, centre + outside / 2, size / 2, head, "blank")
        on.rect(-size, head, size, min(head + 2.0 * size, -0.03), "concrete")
        on.rect(-half, -0.02, half, 0.03, "concrete")
        on.up(-deep, 0.0, half + 0.1, f"to invert {show(deep, 'depth', on.units)}")
        on.note(size, head + 0.5 * size, show(size, "diameter", on.units), 5.0, -3.0)

    kind = plain(item.get("kind") or "valve")
    notes = [
        f"{plain(item['id'])} at {station_text(doc, station)}: {kind}. Clear width of the pit to "
        "suit the valve and a person; drained or with a sump, lid locked.",
        "A pit is a confined space: test its air and never enter alone.",
    ]
    half = 2.0 * max(0.45, outside)
    return Detail(f"Pit: {kind}", (-half, -deep - outside - 0.15, half, 0.15), draw, notes)


def _open_vent(doc: Document, vent: Mapping[str, Any]) -> Detail:
    station = float(vent["station_m"])
    outside, inside = _bore(doc, station)
    deep, tall = abs(float(vent.get("depth_m") or 1.0)), float(vent["open_height_m"])
    size = float(vent.get("size_mm") or 50.0) / 1000.0
    sized = [each for each in doc.get("vent_sizes") or () if each["vent_id"] == vent["id"]]
    support = sized[0].get("support") if sized else None

    def draw(on: Sketch) -> None:
        reach = max(0.5, 0.6 * tall)
        on.ground(-reach, -size, 0.0)
        on.ground(size, reach, 0.0)
        centre = -deep + inside / 2.0
        on.pipe_end(0.0, centre, outside, inside)
        on.rect(-size / 2, centre + outside / 2, size / 2, tall, "blank")
        bend = [(size / 2, tall), (size / 2, tall + 1.2 * size), (2.2 * size, tall + 1.2 * size),
                (2.2 * size, tall - 0.6 * size)]  # fmt: skip
        on.poly(bend, "edge", close=False)
        on.up(0.0, tall, -max(0.25, 2.0 * size), left=True)
        on.up(-deep, 0.0, reach * 0.8, f"to invert {show(deep, 'depth', on.units)}")
        if support and "guy" in str(support):
            for side in (-1.0, 1.0):
                on.poly([(0.0, 0.7 * tall), (side * reach, 0.0)], "fine", close=False)

    notes = [
        f"{plain(vent['id'])} at {station_text(doc, station)}: bore "
        f"{show(size, 'diameter', units_of(doc))}, top at "
        f"{show(vent.get('open_top_m'), 'elevation', units_of(doc))}, screened, turned down.",
        plain(support or "stands by itself").capitalize() + ".",
    ]
    reach = max(0.5, 0.6 * tall)
    return Detail("Open vent", (-reach, -deep - outside, reach, tall + 2.0 * size), draw, notes)


def _drain(doc: Document, size: Mapping[str, Any]) -> Detail:
    station = float(size["station_m"])
    outside, inside = _bore(doc, station)
    deep = abs(float(at_station(doc, "depth_m", station) or 1.0))
    bore = float(size["bore_mm"]) / 1000.0
    long = 1.8

    def draw(on: Sketch) -> None:
        centre = -deep + inside / 2.0
        on.ground(-0.5, long + 0.6, 0.0)
        on.pipe_end(0.0, centre, outside, inside)
        level = centre - inside / 2.0 + bore / 2.0
        on.rect(outside / 2.0, level - bore / 2, long - 0.4, level + bore / 2, "blank")
        on.rect(0.55, level - 1.2 * bore, 0.55 + 2.4 * bore, level + 1.2 * bore, "concrete")
        on.rect(long - 0.4, level - 0.35, long + 0.5, level + 0.45, "blank")
        on.rect(long - 0.4, level - 0.35, long + 0.5, level + 0.1, "water")
        on.up(-deep, 0.0, -0.35, f"to invert {show(deep, 'depth', on.units)}", left=True)
        on.note(0.55 + bore, level + 1.2 * bore, show(bore, "diameter", on.units), 4.0, -5.0)
        on.note(long + 0.1, level + 0.1, "stilling", 3.0, -6.0)

    push = force_text(doc, float(size["reaction_n"]) / 1000.0)
    notes = [
        f"{plain(size['drain_id'])} at {station_text(doc, station)}: jet up to "
        f"{show(size['jet_m_s'], 'velocity', units_of(doc))}, pushes with {push}; outlet anchored.",
        "Stilling pipe or basin and riprap sized by the engineer; never towards bank or path.",
    ]
    extent = (-0.6, -deep - outside - 0.3, long + 0.6, 0.1)
    return Detail("Drain with stilling", extent, draw, notes)


def _support(doc: Document, support: Mapping[str, Any]) -> Detail:
    outside, inside = _bore(doc, float(support["station_m"]))
    high, found = float(support["height_m"]), float(support["founded_m"])
    side = math.sqrt(float(support["floor_m2"]))
    foot = max(side, 0.25)

    def draw(on: Sketch) -> None:
        on.ground(-1.5 * foot - outside, 1.5 * foot + outside, 0.0)
        on.rect(-foot / 2, -found, foot / 2, -found + 0.2, "concrete")
        post = min(0.15, 0.6 * foot)
        on.rect(-post / 2, -found + 0.2, post / 2, high, "concrete")
        on.rect(-outside / 2 - 0.03, high, outside / 2 + 0.03, high + 0.25 * outside, "concrete")
        on.pipe_end(0.0, high + outside / 2.0, outside, inside)
        on.up(0.0, high, foot / 2 + outside + 0.05)
        on.up(-found, 0.0, -foot / 2 - outside - 0.05, left=True)

    notes = [
        f"{plain(support['id'])}, the highest: carries "
        f"{force_text(doc, float(support['load_kn']))}; "
        f"footing at least {show(side, 'depth', units_of(doc))} square on the ground named; saddle "
        f"{float(support['saddle_deg']):.0f}° with a liner.",
        "The structure is for a licensed engineer to design.",
    ]
    reach = 1.5 * foot + outside
    return Detail("Support", (-reach, -found - 0.05, reach, high + outside + 0.1), draw, notes)


def _intake(doc: Document) -> Detail:
    outside, _ = _bore(doc, 0.0)
    level = show(doc["summary"]["intake_level_m"], "elevation", units_of(doc))
    water = float(doc["summary"]["intake_level_m"]) - float(column(doc, "pipe_m")[0])
    told = doc.get("intake") or {}
    mouth = (told.get("mouth") or {}).get("least_m")
    screen = told.get("screen") or {}
    tall = max(water, outside) + 0.3
    long = max(2.0, 1.6 * tall)

    def draw(on: Sketch) -> None:
        low = -outside / 2.0 - 0.35
        on.rect(-long / 2, low, 0.0, water, "water")
        on.poly([(-long / 2, low), (long / 2, low)], "edge", close=False)
        on.poly([(0.0, low), (0.0, tall), (0.25, tall), (0.35, low)], "concrete")
        on.rect(-0.15, -outside / 2, long / 2, outside / 2, "blank")
        on.poly([(-0.15, 0.0), (long / 2, 0.0)], "centre", close=False)
        on.poly([(-0.45, low), (-0.75, tall - 0.05)], "hidden", close=False)
        if water > 0.0:
            on.up(outside / 2.0, water, -long / 2 + 0.15)
        on.note(-0.65, tall - 0.3, "screen", -5.0, -4.0)
        on.note(-long / 4, water, level, 4.0, -4.0)

    units = units_of(doc)
    notes = [
        "Mouth below lowest water: "
        + (f"at least {show(mouth, 'depth', units)}." if mouth is not None else "not stated.")
        + (
            f" Screen of at least {float(screen['gross_m2']):.2f} m² in all."
            if screen.get("gross_m2") is not None and units == "metric"
            else ""
        ),
        "Weir, wing walls, gate and flushing are not designed here.",
    ]
    low = -outside / 2.0 - 0.4
    return Detail("Intake", (-long / 2, low, long / 2, tall + 0.1), draw, notes)


def _powerhouse(doc: Document) -> Detail:
    station = float(column(doc, "station_m")[-1])
    outside, inside = _bore(doc, station)
    rise = float(doc["summary"]["outlet_level_m"]) - float(column(doc, "pipe_m")[-1])
    deep = abs(float(at_station(doc, "depth_m", station) or 1.0))
    ground = deep - inside / 2.0
    walls = [each for each in cast_blocks(doc) if each["place"] == "wall anchor"]
    end = walls[-1] if walls else None

    def draw(on: Sketch) -> None:
        on.ground(-2.0, 1.0, ground)
        on.rect(-2.0, -outside / 2, 0.6, outside / 2, "blank")
        on.poly([(-2.0, 0.0), (1.2, 0.0)], "centre", close=False)
        if end is not None:
            half, long = float(end["height_m"]) / 2.0, float(end["length_m"])
            on.rect(-long / 2 - 0.4, -half, long / 2 - 0.4, half, "concrete")
        on.rect(0.6, -0.8 * outside, 0.6 + 1.2 * outside, 0.8 * outside, "concrete")
        on.rect(0.6 + 1.2 * outside, -inside / 2, 1.4 + outside, inside / 2, "blank")
        if abs(rise) > 0.02:
            on.up(0.0, rise, 1.6 + outside, f"outlet {show(rise, 'depth', on.units)} up")
        on.up(-inside / 2, ground, -2.1, left=True)
        on.note(0.6 + 0.6 * outside, 0.8 * outside, "valve", 2.0, -6.0)

    units = units_of(doc)
    kpa = doc["summary"].get("static_pressure_kpa")
    told = f"{plain(end['id'])} holds the end. " if end is not None else ""
    notes = [
        f"{told}Static {show(None if kpa is None else kpa * 1e3, 'pressure', units)} at the "
        "outlet.",
        "Machine, relief, drain-off and building are not designed here.",
    ]
    tall = max(ground, rise, outside) + 0.1
    return Detail("Powerhouse connection", (-2.3, -max(outside, 0.5), 2.2, tall), draw, notes)

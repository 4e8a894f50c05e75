"""The one list of what is to be found and set on the line; every paper and file reads it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import field, replace
from itertools import pairwise
from typing import Any, Literal

from routing.fittings import size_text
from routing.papers.cast import unsized_words
from routing.papers.crew_facts import crew_facts
from routing.papers.document import Document, at_station, column, near_meridian, plain, units_of
from routing.papers.facts import (
    NEED_WORDS,
    Facts,
    bend_facts,
    drain_facts,
    intake_facts,
    level_facts,
    need_words,
    outlet_facts,
    place_text,
    vent_facts,
)
from routing.papers.kit_facts import kit_facts
from routing.papers.land_facts import crossing_brief, crossing_facts
from routing.papers.schedule import to_set
from routing.papers.set_facts import (
    anchor_facts,
    bend_beside,
    block_facts,
    card_caution,
    item_place,
    relief_facts,
    sides_text,
    support_facts,
    valve_facts,
)
from routing.papers.signs import LOOKS, Look, SignKind
from routing.papers.subject import Column, Subject
from routing.trench import LEAST_BEND_DEG
from routing.units import convert, show, unit_of
from routing.value import dataclass
from routing.words import Said, said, said_caution

__all__ = ["Thing", "ThingKind", "made_once", "things", "things_subject"]

ThingKind = Literal[
    "vent",
    "drain",
    "valve",
    "tap",
    "relief",
    "block",
    "anchor",
    "support",
    "bend",
    "pipe",
    "level",
    "crossing",
    "end",
]
_NEEDS = {look: NEED_WORDS[need] for need, look in LOOKS.items()}
_Brief = Callable[[Document, Mapping[str, Any]], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing to set: where, in words, and all that is to be known at the place.

    ``look`` tells what is needed from what is advised; ``ground_m`` is the elevation of the ground.
    ``facts`` is what every paper tells of it, ``kit`` what only those tell who set it need.
    """

    id: str
    kind: ThingKind
    title: str
    brief: str
    station_m: float
    lon: float
    lat: float
    ground_m: float | None
    sign: SignKind
    look: Look
    facts: Facts
    kit: Facts = field(default_factory=list)

    @property
    def words(self) -> str:
        """Return name and kind in one line.

        A note beside a stake, a name on a drawing.
        """
        return f"{self.id} {self.brief}".strip()


_MADE: ContextVar[dict[int, tuple[Document, list[Thing]]] | None] = ContextVar("made", default=None)


@contextmanager
def made_once() -> Iterator[None]:
    """Make the list of a document once, while all papers of documents that stay are written."""
    token = _MADE.set({})
    try:
        yield
    finally:
        _MADE.reset(token)


def things(doc: Document) -> list[Thing]:
    """Return intake, everything to set by station, and powerhouse."""
    made = _MADE.get()
    if made is None:
        return _things(doc)
    if id(doc) not in made:
        made[id(doc)] = (doc, _things(doc))  # the document stays, so that no other gets its place
    return list(made[id(doc)][1])


def _things(doc: Document) -> list[Thing]:
    found = [thing for kind in _KINDS for thing in _listed(doc, kind)]
    found += _changes(doc)
    found.sort(key=lambda thing: (thing.station_m, thing.id))
    first, last = _ends(doc)
    kit, said = kit_facts(doc), crew_facts(doc)
    return [
        replace(
            each,
            facts=[*each.facts, *said.get(each.id, ())],
            kit=kit(each.id, each.lon, each.lat),
        )
        for each in (first, *found, last)
    ]


def things_subject(doc: Document) -> Subject:
    """Return the list as a table in the study's units, the ends left out."""
    units = units_of(doc)
    metre = convert(1.0, "length", units)
    text = {key: Column(key=key, title=key, unit="", digits=None) for key in ("id", "kind")}
    columns = (
        *text.values(),
        Column(key="need", title="need", unit="", digits=None),
        Column(key="station_m", title="station", unit=unit_of("length", units), digits=3),
        Column(key="lon", title="longitude", unit="°", digits=8),
        Column(key="lat", title="latitude", unit="°", digits=8),
        Column(key="ground_m", title="ground", unit=unit_of("length", units), digits=3),
        Column(key="words", title="words", unit="", digits=None),
        Column(key="facts", title="to know", unit="", digits=None),
    )
    rows = tuple(
        (
            thing.id,
            thing.kind,
            _NEEDS[thing.look],
            thing.station_m * metre,
            thing.lon,
            thing.lat,
            None if thing.ground_m is None else thing.ground_m * metre,
            thing.brief,
            Said("; ".join(map(_told, (*thing.facts, *thing.kit)))),
        )
        for thing in things(doc)
        if thing.kind != "end"
    )
    return Subject(name="things to set", columns=columns, rows=rows)


def _told(fact: tuple[str, str]) -> str:
    label, value = fact
    told = said_caution(value) if label == "Caution" else said(value)
    return f"{said(label)}: {told}" if label else told


def _fitting_brief(kind: str) -> _Brief:
    def brief(doc: Document, item: Mapping[str, Any]) -> str:
        words = [plain(item.get("kind") or kind)]
        if item.get("size_mm") is not None:
            words.append(size_text(item["size_mm"] / 1e3, units_of(doc)))
        if item["need"] != "must":
            words.append(need_words(item))
        return ", ".join(words)

    return brief


def _block_brief(doc: Document, item: Mapping[str, Any]) -> str:
    if reason := unsized_words(doc, item):
        return f"block {reason}"
    if item.get("length_m"):
        return f"block {sides_text(doc, item)}"
    return f"no block holds: joints held together beside the {plain(item['place'])}"


def _level_brief(doc: Document, item: Mapping[str, Any]) -> str:
    settles = ", ".join(plain(each) for each in item["settles"])
    return f"level before buying, settles {settles}" if settles else "level before buying"


def _support_brief(doc: Document, item: Mapping[str, Any]) -> str:
    return f"support, {show(item['height_m'], 'depth', units_of(doc))} high"


def _relief_brief(doc: Document, item: Mapping[str, Any]) -> str:
    units = units_of(doc)
    size, opens = size_text(item["size_mm"] / 1e3, units), item["setting_kpa"] * 1e3
    return f"relief valve, {size}, set to {show(opens, 'pressure', units)}"


_KINDS: dict[ThingKind, tuple[str, str, _Brief, Callable[[Document, Any], Facts]]] = {
    "vent": ("vents", "Vent", _fitting_brief("vent"), vent_facts),
    "drain": ("drains", "Drain", _fitting_brief("drain"), drain_facts),
    "valve": ("valves", "Valve", lambda _, item: "isolating valve", valve_facts),
    "tap": ("taps", "Gauge tap", lambda _, item: "gauge tap", valve_facts),
    "relief": ("relief_valves", "Relief valve", _relief_brief, relief_facts),
    "block": ("blocks", "Block", _block_brief, block_facts),
    "anchor": (
        "anchors",
        "Anchor",
        lambda doc, item: f"slope anchor {sides_text(doc, item)}",
        anchor_facts,
    ),
    "support": ("supports", "Support", _support_brief, support_facts),
    "level": ("levels_to_shoot", "Level to take", _level_brief, level_facts),
    "bend": (
        "bends",
        "Bend",
        lambda _, item: f"{item['deflection_deg']:.1f}° in space",
        bend_facts,
    ),
    "crossing": ("crossings", "Crossing", crossing_brief, crossing_facts),
}
"""Section of the document, title, words beside the name, and facts of each kind."""


def _listed(doc: Document, kind: ThingKind) -> Iterator[Thing]:
    key, title, brief, facts = _KINDS[kind]
    start = float(column(doc, "lon")[0])
    caution = card_caution(doc, kind)
    for number, item in enumerate(to_set(doc, key), start=1):
        if kind == "bend" and float(item["deflection_deg"]) < LEAST_BEND_DEG:
            continue
        beside = bend_beside(doc, item) if kind in ("vent", "drain", "tap", "relief") else []
        lon, lat = item_place(doc, item)
        identity = plain(item.get("id") or f"{title[0]}{number}")
        station, ground = float(item["station_m"]), item.get("ground_m")
        if ground is None:
            ground = at_station(doc, "ground_m", station)
        yield Thing(
            id=identity,
            kind=kind,
            title=f"{title} {identity}",
            brief=brief(doc, item),
            station_m=station,
            lon=near_meridian(lon, start),
            lat=lat,
            ground_m=None if ground is None else float(ground),
            sign=kind,  # type: ignore[arg-type]
            look=LOOKS[item.get("need", "must")],
            facts=[*facts(doc, item), *beside, *caution],
        )


def _changes(doc: Document) -> Iterator[Thing]:
    """Yield where one pipe ends and the next begins."""
    units, pipes = units_of(doc), list(doc.get("pipes") or ())
    for number, (above, below) in enumerate(pairwise(pipes), start=1):
        station = float(below["from_m"])
        lon, lat = item_place(doc, {"station_m": station})
        yield Thing(
            id=f"P{number}",
            kind="pipe",
            title=f"Pipe change P{number}",
            brief=f"to {plain(below['label'])}",
            station_m=station,
            lon=lon,
            lat=lat,
            ground_m=at_station(doc, "ground_m", station),
            sign="pipe",
            look="solid",
            facts=[
                ("Station", show(station, "station", units)),
                ("Where", place_text(lon, lat)),
                ("Above", plain(above["label"])),
                ("Below", plain(below["label"])),
                ("Dig to invert", show(at_station(doc, "depth_m", station), "depth", units)),
                *card_caution(doc, "pipe"),
            ],
        )


def _ends(doc: Document) -> tuple[Thing, Thing]:
    station, lon, lat, ground = (
        column(doc, name) for name in ("station_m", "lon", "lat", "ground_m")
    )
    start = float(lon[0])
    ends: tuple[tuple[str, SignKind, str, int, Callable[[Document], Facts]], ...] = (
        ("I1", "intake", "start of the line", 0, intake_facts),
        ("H1", "powerhouse", "end of the line", -1, outlet_facts),
    )
    first, last = (
        Thing(
            id=identity,
            kind="end",
            title=sign.capitalize(),
            brief=brief,
            station_m=float(station[at]),
            lon=near_meridian(float(lon[at]), start),
            lat=float(lat[at]),
            ground_m=float(ground[at]),
            sign=sign,
            look="solid",
            facts=facts(doc),
        )
        for identity, sign, brief, at, facts in ends
    )
    return first, last

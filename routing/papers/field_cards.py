"""The places an installer looks for, and a card for each, as HTML that reads without any script."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import Any, Literal

from routing.fittings import size_text
from routing.papers.document import Document, at_station, column, near_meridian, plain, units_of
from routing.papers.facts import (
    Facts,
    bend_facts,
    drain_facts,
    intake_facts,
    need_words,
    outlet_facts,
    place_text,
    vent_facts,
)
from routing.papers.signs import LOOKS, Look, SignKind, sign_svg
from routing.units import show

__all__ = ["LEAST_BEND_DEG", "Place", "card_html", "places"]

LEAST_BEND_DEG = 11.25
"""Deflection from which a bend gets a card: that of the slightest made fitting [deg].

Common practice, no source; slighter turns are made at the joints or by curving the pipe.
"""

JOINT_SIGN = (
    '<svg class="sign" width="{size}" height="{size}" viewBox="0 0 32 32" role="img" '
    'aria-label="pipe change"><g stroke="#000" stroke-width="2"><path d="M3 10H16V22H3Z" '
    'fill="#fff"/><path d="M16 7H29V25H16Z" fill="#56B4E9"/></g></svg>'
)
"""Two pipes of unlike size end to end."""

PlaceKind = Literal["vent", "drain", "bend", "pipe", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on the line to find, with what is to be known there."""

    id: str
    kind: PlaceKind
    title: str
    brief: str
    station_m: float
    lon: float
    lat: float
    sign: SignKind | None
    look: Look
    facts: Facts

    def svg(self, size: int) -> str:
        """Return its sign; a change of pipe has no sign on the other papers."""
        if self.sign is None:
            return JOINT_SIGN.format(size=size)
        label = self.id if self.kind in ("vent", "drain") else ""
        return sign_svg(self.sign, label, size, look=self.look)

    def data(self) -> dict[str, Any]:
        """Return what the page's script needs of it."""
        return {
            "id": self.id,
            "kind": self.kind,
            "advised": self.look != "solid",
            "title": self.title,
            "station": round(self.station_m, 3),
            "lon": round(self.lon, 8),
            "lat": round(self.lat, 8),
            "svg": self.svg(34),
        }


def places(doc: Document) -> list[Place]:
    """Return intake, fittings, bends, pipe changes and powerhouse by station."""
    found = [*_fittings(doc), *_bends(doc), *_changes(doc)]
    found.sort(key=lambda place: (place.station_m, place.id))
    first, last = _ends(doc)
    return [first, *found, last]


def _fittings(doc: Document) -> Iterator[Place]:
    units = units_of(doc)
    start = float(column(doc, "lon")[0])
    for kind, key, facts in (("vent", "vents", vent_facts), ("drain", "drains", drain_facts)):
        for item in doc[key]:
            size = item.get("size_mm")
            words = [plain(item.get("kind") or kind)]
            if size is not None:
                words.append(size_text(size / 1e3, units))
            if item["need"] != "must":
                words.append(need_words(item))
            yield Place(
                id=plain(item["id"]),
                kind="vent" if kind == "vent" else "drain",
                title=f"{kind.capitalize()} {plain(item['id'])}",
                brief=", ".join(words),
                station_m=float(item["station_m"]),
                lon=near_meridian(float(item["lon"]), start),
                lat=float(item["lat"]),
                sign="vent" if kind == "vent" else "drain",
                look=LOOKS[item["need"]],
                facts=facts(doc, item),
            )


def _bends(doc: Document) -> Iterator[Place]:
    start = float(column(doc, "lon")[0])
    for item in doc.get("bends") or ():
        if float(item["deflection_deg"]) < LEAST_BEND_DEG:
            continue
        yield Place(
            id=plain(item["id"]),
            kind="bend",
            title=f"Bend {plain(item['id'])}",
            brief=f"{item['deflection_deg']:.1f}° in space",
            station_m=float(item["station_m"]),
            lon=near_meridian(float(item["lon"]), start),
            lat=float(item["lat"]),
            sign="bend",
            look="solid",
            facts=bend_facts(doc, item),
        )


def _changes(doc: Document) -> Iterator[Place]:
    """Yield where one pipe ends and the next begins."""
    units, pipes = units_of(doc), list(doc.get("pipes") or ())
    for number, (above, below) in enumerate(pairwise(pipes), start=1):
        station = float(below["from_m"])
        lon = at_station(doc, "lon", station) or 0.0
        lat = at_station(doc, "lat", station) or 0.0
        yield Place(
            id=f"P{number}",
            kind="pipe",
            title=f"Pipe change P{number}",
            brief=f"to {plain(below['label'])}",
            station_m=station,
            lon=lon,
            lat=lat,
            sign=None,
            look="solid",
            facts=[
                ("Station", show(station, "station", units)),
                ("Where", place_text(lon, lat)),
                ("Above", plain(above["label"])),
                ("Below", plain(below["label"])),
                ("Dig to invert", show(at_station(doc, "depth_m", station), "depth", units)),
            ],
        )


def _ends(doc: Document) -> tuple[Place, Place]:
    station, lon, lat = (column(doc, name) for name in ("station_m", "lon", "lat"))
    start = float(lon[0])
    ends: tuple[tuple[str, str, str, int, SignKind, Callable[[Document], Facts]], ...] = (
        ("I1", "Intake", "start of the line", 0, "intake", intake_facts),
        ("H1", "Powerhouse", "end of the line", -1, "powerhouse", outlet_facts),
    )
    first, last = (
        Place(
            id=identity,
            kind="end",
            title=title,
            brief=brief,
            station_m=float(station[at]),
            lon=near_meridian(float(lon[at]), start),
            lat=float(lat[at]),
            sign=sign,
            look="solid",
            facts=facts(doc),
        )
        for identity, title, brief, at, sign, facts in ends
    )
    return first, last


def card_html(doc: Document, place: Place) -> str:
    """Return the card of a place; text is escaped here."""
    identity, station = escape(place.id), show(place.station_m, "station", units_of(doc))
    facts = "".join(
        f"<div><dt>{escape(label)}</dt><dd>{escape(value)}</dd></div>"
        for label, value in place.facts
    )
    return (
        f'<li class="card" data-id="{identity}"><details><summary>'
        f"{place.svg(40)}"
        f'<span class="what"><b>{escape(place.title)}</b> <span>{escape(place.brief)}</span></span>'
        f'<span class="at">{escape(station)}<span class="state" aria-live="polite"></span></span>'
        f"</summary><dl>{facts}</dl>"
        f'<div class="work" hidden><label class="done"><input type="checkbox"> Done</label>'
        f'<label class="note">Note<textarea rows="2" maxlength="4000"></textarea></label>'
        f'<label class="photo">Photograph<input type="file" accept="image/*" capture="environment">'
        f'</label><img alt="Photograph of {escape(place.title)}" hidden>'
        f'<button type="button" class="find">Show on the map</button></div></details></li>'
    )

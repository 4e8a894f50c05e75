"""A card for each thing to find and set, as HTML that reads without any script."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape
from typing import Any

from routing.papers.block_picture import block_svg
from routing.papers.crew_facts import CREW_LABELS
from routing.papers.document import Document, units_of
from routing.papers.facts import Facts
from routing.papers.given import answered
from routing.papers.signs import sign_svg
from routing.papers.things import Thing
from routing.papers.wording import plainly
from routing.units import show, unit_of

__all__ = ["card_data", "card_html"]

SEVERE = {"fault": "Fault", "warning": "Warning"}
"""Findings that stand on the cards they concern, and their labels."""
SAME_PLACE_M = 0.5
"""A finding nearer to a thing than this is of its place [m]."""
_NAMES = re.compile(r"\b(?:[VDTBSGMXLPR]|SP)[0-9]+\b")
_CAUTION = ' class="caution"'
_BOLD = ("Caution", *SEVERE.values())
_LETTERED = ("vent", "drain", "level")
"""Kinds whose sign has room for the name."""


def _svg(thing: Thing, size: int) -> str:
    label = thing.id if thing.kind in _LETTERED else ""
    return sign_svg(thing.sign, label, size, look=thing.look)


def _key(thing: Thing) -> str:
    """Return what records of a thing are kept by: levels by station, so readings stay apart."""
    return f"L{round(10.0 * thing.station_m)}" if thing.kind == "level" else thing.id


def _note(doc: Document, thing: Thing) -> str:
    """Return the box for a note, or for the reading of a level, which is kept like a note."""
    if thing.kind != "level":
        return 'Note<textarea rows="2" maxlength="4000"></textarea>'
    unit = unit_of("elevation", units_of(doc))
    return (
        f"Level of the ground read here, {unit}, in the heights of this study"
        f'<input inputmode="decimal" autocomplete="off" maxlength="24" data-unit="{unit}">'
    )


def _picture(doc: Document, thing: Thing) -> str:
    """Return the picture of what is cast, none for anything else."""
    if thing.kind not in ("block", "anchor"):
        return ""
    items = (item for item in doc.get(f"{thing.kind}s") or () if item["id"] == thing.id)
    return "".join(block_svg(doc, item) for item in items)


def _list(facts: Facts) -> str:
    """Return labels and values as HTML; text is escaped here."""
    return "<dl>{}</dl>".format(
        "".join(
            f"<div{_CAUTION if label in _BOLD else ''}>"
            f"<dt>{escape(label)}</dt><dd>{escape(value)}</dd></div>"
            for label, value in facts
        )
    )


def _findings(doc: Document, thing: Thing) -> Facts:
    """Return faults and warnings of the study that name a thing, or are of its very place.

    One that names things, as a drain, is told of further places too: there only of such things.
    """
    letters = thing.id.rstrip("0123456789")
    facts: Facts = []
    for found in doc.get("warnings") or ():
        if found["severity"] not in SEVERE:
            continue
        named = _NAMES.findall(str(found["message"]))
        here = any(abs(at - thing.station_m) <= SAME_PLACE_M for at in _places(found))
        alike = not named or letters in {name.rstrip("0123456789") for name in named}
        if thing.id in named or (here and alike):
            facts.append((SEVERE[found["severity"]], plainly(found["message"])))
            facts += [("Answered for", words) for words in _answers(doc, found)]
    return facts


def _answers(doc: Document, found: Mapping[str, Any]) -> list[str]:
    """Return who answers for a finding, and why."""
    codes = (each["code"] for each in doc.get("waivers") or ())
    told = answered(doc) if doc.get("waivers") else []
    return [who for code, (_, who) in zip(codes, told, strict=True) if code == found["code"]]


def _places(found: Mapping[str, Any]) -> list[float]:
    at = found.get("station_m")
    return [float(each) for each in (*(found.get("places_m") or ()), *([] if at is None else [at]))]


def card_data(thing: Thing) -> dict[str, Any]:
    """Return what the page's script needs of a thing."""
    return {
        "id": _key(thing),
        "name": thing.id,
        "kind": thing.kind,
        "advised": thing.look != "solid",
        "title": thing.title,
        "station": round(thing.station_m, 3),
        "lon": round(thing.lon, 8),
        "lat": round(thing.lat, 8),
        "svg": _svg(thing, 34),
    }


def card_html(doc: Document, thing: Thing) -> str:
    """Return the card of a thing; text is escaped here."""
    identity, station = escape(_key(thing)), show(thing.station_m, "station", units_of(doc))
    # What crews said is shown by the card itself.
    said = [fact for fact in thing.facts if fact[0] not in CREW_LABELS]
    facts = [*_findings(doc, thing), *said]
    kit = f"<details class=kit><summary>Kit and stakes</summary>{_list(thing.kit)}</details>"
    return (
        f'<li class="card" data-id="{identity}"><details><summary>'
        f"{_svg(thing, 40)}"
        f'<span class="what"><b>{escape(thing.title)}</b> <span>{escape(thing.brief)}</span></span>'
        f'<span class="at">{escape(station)}<span class="state" aria-live="polite"></span></span>'
        # With a script this is one text, not eighty elements, until the card is opened.
        f"</summary><noscript>{_list(facts)}{_picture(doc, thing)}{kit}"
        f'<div class="work" hidden><label class="done"><input type="checkbox"> Done</label>'
        f'<label class="note">{_note(doc, thing)}</label>'
        f'<label class="photo">Add photographs<input type="file" accept="image/*" multiple></label>'
        f'<div class="photos"></div>'
        f'<button type="button" class="find">Show on the map</button></div>'
        "</noscript></details></li>"
    )

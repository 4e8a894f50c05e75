"""The panel beside the map: title, figures, key, warnings, cautions; and the popups' inside."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np

from routing.papers.document import Document, column, plain, units_of
from routing.papers.facts import NEED_WORDS, Facts
from routing.papers.pressure import over_rating, pressure_classes
from routing.papers.signs import ABOVE_RATING, Look, SignKind, sign_svg
from routing.papers.study_facts import reached, summary_facts, terrain_facts, verdict_facts
from routing.papers.things import things
from routing.papers.wording import plainly
from routing.units import show

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = ["panel_html", "popup_html"]


def popup_html(title: str, facts: Facts) -> str:
    """Return a popup's inside; text is escaped here."""
    return f"<h3>{escape(title)}</h3>{_facts(facts)}"


def panel_html(doc: Document, relief: Relief | None) -> str:
    """Return the panel with everything on the sheet that is not drawn; text is escaped here."""
    name = escape(plain(doc.get("name") or "study"))
    summary, units = doc["summary"], units_of(doc)
    line = [
        f"{show(summary['pipe_length_m'], 'length', units)} of pipe",
        f"{show(summary['gross_head_m'], 'head', units)} gross head",
    ]
    if summary.get("power_kw") is not None:
        line.append(reached(doc, show(summary["power_kw"] * 1e3, "power", units)))
    line += _counted(doc)
    return (
        '<aside aria-label="What stands on this map">'
        '<details class="panel" id="panel" open><summary>'
        f'<h1 translate="no">{name}</h1><p class="brief">{escape(" · ".join(line))}</p>'
        '<span class="turn">Figures, key, cautions</span>'
        '<span class="turn">Back to the map</span></summary>'
        '<div class="sections">'
        + _section("Key", _key(doc, relief), opened=True)
        + _section("Warnings", _warnings(doc), opened=True)
        + _section("Figures", _facts([*summary_facts(doc), *verdict_facts(doc)]), opened=True)
        + _section("Elevations", _facts(terrain_facts(doc)))
        + _section("Assumed", _list([plainly(item) for item in doc.get("assumptions") or ()]))
        + _section(
            "Cautions",
            _list([plain(item["text"]) for item in doc.get("cautions") or ()], "cautions"),
            opened=True,
        )
        + "</div></details></aside>"
    )


def _counted(doc: Document) -> list[str]:
    """Return how many faults and warnings there are, for the top of the page."""
    found = [item["severity"] for item in doc.get("warnings") or ()]
    counts = ((found.count(word), word) for word in ("fault", "warning"))
    return [f"{count} {word}{'s' if count > 1 else ''}" for count, word in counts if count]


def _section(title: str, body: str, *, opened: bool = False) -> str:
    if not body:
        return ""
    state = " open" if opened else ""
    return (
        f'<details class="section {title.lower()}"{state}><summary><h2>{title}</h2></summary>'
        f"{body}</details>"
    )


def _facts(facts: Facts) -> str:
    rows = "".join(
        f"<tr><th>{escape(label)}</th><td>{escape(value)}</td></tr>" for label, value in facts
    )
    return f'<table class="facts">{rows}</table>'


def _list(items: list[str], kind: str = "") -> str:
    listed = "".join(f"<li>{escape(item)}</li>" for item in items)
    named = f' class="{kind}"' if kind else ""
    return f"<ul{named}>{listed}</ul>" if items else ""


def _warnings(doc: Document) -> str:
    items = []
    order = {"fault": 0, "warning": 1, "note": 2}
    for item in sorted(doc.get("warnings") or (), key=lambda found: order[found["severity"]]):
        at = item.get("station_m")
        where = f" Station {show(at, 'station', units_of(doc))}." if at is not None else ""
        severity = item["severity"]
        items.append(
            f'<li class="{severity}"><b>{severity.capitalize()}</b> '
            f"{escape(plainly(item['message']) + where)}</li>"
        )
    return f'<ul class="findings">{"".join(items)}</ul>' if items else ""


_SIGN_WORDS: tuple[tuple[SignKind, str], ...] = (
    ("valve", "isolating valve"),
    ("tap", "gauge tap"),
    ("relief", "relief valve"),
    ("block", "thrust block"),
    ("crossing", "crossing of road, stream or land"),
    ("anchor", "slope anchor (layer)"),
    ("support", "support of a span (layer)"),
    ("bend", "bend (layer)"),
    ("pipe", "change of pipe (layer)"),
)
"""What else the map shows where the line has it."""


def _key(doc: Document, relief: Relief | None) -> str:
    rows = [
        (sign_svg("intake", size=22), "intake"),
        (sign_svg("powerhouse", size=22), "powerhouse"),
        (sign_svg("vent", "V", 22), f"vent, {NEED_WORDS['must']}; numbered down the line"),
        (sign_svg("drain", "D", 22), f"drain, {NEED_WORDS['must']}; numbered down the line"),
        (_signs("half"), NEED_WORDS["level"]),
        (_signs("hollow"), NEED_WORDS["advise"]),
    ]
    drawn = {thing.kind for thing in things(doc)}
    rows += [(sign_svg(kind, size=18), words) for kind, words in _SIGN_WORDS if kind in drawn]
    rows.append(
        (sign_svg("high", size=18) + sign_svg("low", size=18), "high, low of the ground (layer)")
    )
    if doc.get("levels_to_shoot"):
        rows.append((sign_svg("level", "L", 20), "level to take, the one that settles most first"))
    if column(doc, "span").any():
        rows.append((_line("#111", 8, "#fff", "3 5"), "pipe above ground"))
    classes = pressure_classes(doc)
    used = set(np.unique(classes.of_leg).tolist())
    pressures = [
        (_line("#111", 8, colour), label)
        for number, (colour, label) in enumerate(zip(classes.colours, classes.labels, strict=True))
        if number in used
    ]
    if over_rating(doc).any():
        pressures.append((_line(ABOVE_RATING, 14, "#111"), "above the pipe's rating"))
    parts = _rows(rows) + "<h3>Static pressure in the pipe</h3>" + _rows(pressures)
    if relief is not None:
        low, high = (
            show(level, "elevation", units_of(doc)) for level in (relief.low_m, relief.high_m)
        )
        parts += (
            f"<p>Relief shaded from the study's own raster, {escape(low)} to {escape(high)}.</p>"
        )
    return parts


def _signs(look: Look) -> str:
    return sign_svg("vent", "V", 22, look) + sign_svg("drain", "D", 22, look)


def _rows(rows: list[tuple[str, str]]) -> str:
    items = "".join(f"<tr><td>{sign}</td><td>{escape(words)}</td></tr>" for sign, words in rows)
    return f'<table class="key">{items}</table>'


def _line(case: str, width: int, colour: str, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<svg width="40" height="16" aria-hidden="true"><path d="M2 8H38" stroke="{case}" '
        f'stroke-width="{width}"/><path d="M2 8H38" stroke="{colour}" stroke-width="5"{dashed}/>'
        "</svg>"
    )

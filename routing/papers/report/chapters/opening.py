"""The opening chapters: one page for everyone, then what the study stands on."""

from __future__ import annotations

from collections.abc import Iterator

from routing.papers.document import Document, plain, units_of
from routing.papers.facts import count_words
from routing.papers.given import standing
from routing.papers.report.basis import not_checked
from routing.papers.report.chapters.extras import Extras
from routing.papers.report.parts import Section, facts, items, pairs, text
from routing.papers.study_facts import terrain_facts
from routing.papers.wording import typeset, worded
from routing.units import show

__all__ = ["basis_chapter", "summary_chapter"]


def summary_chapter(doc: Document) -> Iterator[Section]:
    """Return the page for a lay reader: what would be built, what it gives, what stands open."""
    yield text(_story(doc))
    yield {"title": "", "picture": "map.svg", "words": "The line on the ground, intake to outlet."}
    yield {"title": "", "picture": "profile.svg", "words": "The same from the side, heights drawn "
           "larger than lengths."}  # fmt: skip
    yield text(_verdict(doc))
    open_words = standing(doc)
    yield text(
        f"{open_words}. Each is explained under Basis and assumptions and under Checks."
        if open_words
        else "No check stands open. A licensed engineer still has to review and sign."
    )


def _verdict(doc: Document) -> str:
    verdict = doc["verdict"]
    counts = [
        f"{verdict[key]} {word if verdict[key] == 1 else word + 's'}"
        for key, word in (("faults", "fault"), ("warnings", "warning"), ("notes", "note"))
    ]
    return (
        f"The study found {', '.join(counts)}; {verdict['failed_checks']} checks fail and "
        f"{verdict['unsettled_checks']} are still to settle."
    )


def _story(doc: Document) -> str:
    units, summary = units_of(doc), doc["summary"]
    flow, net, power = (summary.get(key) for key in ("flow_m3_s", "net_head_m", "power_kw"))
    water = show(flow, "flow", units) if flow is not None else "Water"
    words = (
        f"{water} {'of water ' if flow is not None else ''}would leave the stream at "
        f"{show(summary['intake_level_m'], 'elevation', units)} and run through "
        f"{show(summary['pipe_length_m'], 'length', units)} of pipe down to "
        f"{show(summary['outlet_level_m'], 'elevation', units)}: a fall of "
        f"{show(summary['gross_head_m'], 'head', units)}. "
    )
    if net is not None:
        words += f"Friction leaves {show(net, 'head', units)} of it"
        words += f", worth {show(power * 1e3, 'power', units)}. " if power is not None else ". "
        why = doc["verdict"].get("out_of_reach")
        words += f"As it stands this is out of reach: {why}. " if why else ""
    energy = (doc.get("energy") or {}).get("energy_kwh")
    if energy is not None:
        words += f"In a year of the flows given that is {energy:,.0f} kWh. ".replace(",", "\u202f")
    names = dict.fromkeys(plain(pipe["label"]) for pipe in doc.get("pipes") or ())
    if names:
        words += f"The pipe is {' and '.join(names)}. "
    words += (
        f"Its trench takes {show(summary.get('trench_volume_m3'), 'volume', units)} of digging. "
        f"Air is let out and in at vents ({count_words(doc['vents'])}), water and silt at drains "
        f"({count_words(doc['drains'])}). "
    )
    cost = doc.get("cost") or {}
    if cost.get("total") is not None:
        total = f"{cost['total']:,.0f} {plain(cost.get('currency') or '')}".replace(",", "\u202f")
        words += f"What has a price comes to {total.strip()}. "
    return words.strip()


def basis_chapter(doc: Document, extras: Extras) -> Iterator[Section]:
    """Return what was given, what was assumed, what the ground is known by, what is not checked."""
    given = extras.given or tuple(_settings(doc))
    yield facts("What was given", [(words, typeset(_short(value))) for words, value in given])
    yield items("What was assumed", [worded(each) for each in doc.get("assumptions") or ()])
    yield facts("Elevations", terrain_facts(doc))
    yield pairs("Warnings and notes", _warnings(doc))
    scope = doc.get("scope") or {}
    looked = [plain(each).replace("_", " ") for each in scope.get("checked") or ()]
    yield text(
        f"The study looked into: {', '.join(looked)}." if looked else "", "What was looked into"
    )
    left = [plain(each).replace("_", " ") for each in scope.get("not_checked") or ()]
    told = [f"Left out of this study: {', '.join(left)}."] if left else []
    yield items("What the tool does not check", [*told, *not_checked()])


MOST_LETTERS = 120
"""Letters of a given value that are printed; a long list is counted instead [-]."""


def _short(value: str) -> str:
    """Return a value as given, a long list by its count and its ends.

    >>> _short("; ".join(f"{k} L/s" for k in range(200)))
    '200 values, 0 L/s to 199 L/s'
    """
    parts = value.split("; ")
    if len(value) <= MOST_LETTERS or len(parts) < 4:
        return value
    return f"{len(parts)} values, {parts[0]} to {parts[-1]}"


def _settings(doc: Document) -> Iterator[tuple[str, str]]:
    """Return the settings as given where nobody put them into words; the title block left out."""
    for name, table in (doc.get("settings") or {}).items():
        if name in ("sheet", "layer"):
            continue
        entries = table if isinstance(table, list) else [table]
        for number, entry in enumerate(entries, start=1):
            where = name if len(entries) == 1 else f"{name} {number}"
            for key, value in entry.items() if isinstance(entry, dict) else ():
                yield f"{where}: {key}".replace("_", " "), _given(value)


def _given(value: object) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(_given(each) for each in value)
    if isinstance(value, dict):
        return ", ".join(f"{key} {_given(each)}".replace("_", " ") for key, each in value.items())
    if isinstance(value, bool):
        return "yes" if value else "no"
    return plain(value)


def _warnings(doc: Document) -> Iterator[tuple[str, str]]:
    for item in doc.get("warnings") or ():
        at = item.get("station_m")
        where = "" if at is None else show(at, "station", units_of(doc))
        told = worded(item["message"])
        yield f"{plain(item['severity'])} {where}".strip(), told[:1].upper() + told[1:]

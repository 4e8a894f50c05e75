"""The chapters of the water and of the alternatives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from routing.papers.document import Document, plain, units_of
from routing.papers.report.basis import Formula
from routing.papers.report.parts import Section, facts, formula_list, listed, table, text
from routing.papers.study_facts import currency
from routing.units import convert, show, unit_of
from routing.us_units import in_system

__all__ = ["alternatives_chapter", "water_chapter"]

CURVE_SHARES = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
"""Shares of the year at which the flow-duration curve is printed [-]."""


def water_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return the catchment, the gaugings, what stays in the bed, the intake, the year's energy."""
    units = units_of(doc)
    yield facts("Catchment", _catchment(doc))
    intake, energy = doc.get("intake") or {}, doc.get("energy") or {}
    yield listed(
        doc,
        "Gaugings",
        intake.get("gaugings") or (),
        [
            ("weir", "weir", None),
            ("head_m", "head", 3),
            ("flow_m3_s", "flow", 1),
            ("other_m3_s", "by the other formula", 1),
            ("read_upstream_m", "read upstream by", 2),
        ],
    )
    residual = energy.get("residual_m3_s", intake.get("residual_m3_s"))
    reach = show(doc["summary"]["plan_length_m"], "length", units)
    yield text(
        (
            f"At least {show(residual, 'flow', units)} stays in the bed."
            if residual is not None
            else "No residual flow was given: what must stay in the bed is not settled, and the "
            "permit will state it."
        )
        + " Between intake and outlet the stream is short of what the pipe takes, over about "
        f"{reach} along the pipe; the bed itself may be longer.",
        "Residual flow and the reach short of water",
    )
    yield facts("Intake", _intake(doc, intake))
    yield _curve(doc, energy)
    yield facts("Energy of a year", _energy(doc, energy))
    if energy.get("energy_kwh") is None:
        yield text(
            "The energy of a year was not estimated: it needs the flow of the stream over the year "
            "and what stays in its bed."
        )
    yield formula_list("How they were worked out", formulas)


def _catchment(doc: Document) -> Iterator[tuple[str, str]]:
    found = doc.get("catchment") or {}
    if found.get("area_m2") is not None:
        unit, factor = in_system("km²", units_of(doc))
        least = "at least " if found.get("at_least") else ""
        yield "Area above the intake", f"{least}{found['area_m2'] / 1e6 * factor:.2f} {unit}"
        yield "Found by", plain(found.get("method") or "the raster")
    if found.get("snapped_m") is not None:
        yield "Moved onto the stream by", show(found["snapped_m"], "length", units_of(doc))


def _intake(doc: Document, intake: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    units = units_of(doc)
    area, factor = in_system("m²", units)
    mouth, screen, settling = (intake.get(key) or {} for key in ("mouth", "screen", "settling"))
    share = intake.get("share") or {}
    if share.get("machine_m3_s") is not None:
        yield "Least flow gauged leaves the machine", show(share["machine_m3_s"], "flow", units)
    if mouth:
        yield "Crown of the mouth below lowest water", show(mouth["depth_m"], "depth", units)
        yield "Least depth of the mouth", show(mouth["least_m"], "depth", units)
    areas = (
        ("Screen, open area needed", screen.get("net_m2")),
        ("Screen, gross area needed", screen.get("gross_m2")),
        ("Screen as built", screen.get("built_m2")),
        ("Settling basin, plan area needed", settling.get("needed_m2")),
        ("Settling basin as built", settling.get("built_m2")),
    )
    yield from ((words, f"{m2 * factor:.2f} {area}") for words, m2 in areas if m2 is not None)
    if screen:
        yield "Velocity through its openings", show(screen["velocity_m_s"], "velocity", units)
        yield "Share of the openings that dirt blocks", f"{100.0 * screen['clogged_share']:.0f} %"
    if intake.get("bar_gap_m") is not None:
        yield "Gap between bars", show(intake["bar_gap_m"], "diameter", units)
    small, millimetre = in_system("mm", units)
    for words, key in (
        ("Grains held", "grain_m"),
        ("Grains that flushing moves", "flushed_grain_m"),
    ):
        if settling.get(key) is not None:
            yield words, f"from {settling[key] * 1e3 * millimetre:.2g} {small}"
    if intake.get("storage_m3") is not None:
        yield "Water held above the mouth", show(intake["storage_m3"], "volume", units)
    if intake.get("notch_head_m") is not None:
        yield "Notch for the residual flow, head", show(intake["notch_head_m"], "depth", units)
    if intake.get("crest_needed_m") is not None:
        yield "Overflow crest needed", show(intake["crest_needed_m"], "length", units)


def _curve(doc: Document, energy: Mapping[str, Any]) -> Section:
    curve, units = energy.get("curve"), units_of(doc)
    if not curve:
        return text("")
    share, flow = (np.asarray(curve[key], float) for key in ("exceeded_share", "flow_m3_s"))
    order = np.argsort(share)
    at = [each for each in CURVE_SHARES if share.min() <= each <= share.max()]
    flows = np.interp(at, share[order], flow[order]).tolist()
    rows = [
        [f"{100 * each:.0f}", show(value, "flow", units, unit=False)]
        for each, value in zip(at, flows, strict=True)
    ]
    days = int(energy.get("days") or 0)
    note = f"From {days} days of record." if days else "The curve as given."
    heads = ["exceeded in % of the year", f"flow of the stream, {unit_of('flow', units)}"]
    return table("Flow duration", heads, rows, [True, True], note, units=units)


def _energy(doc: Document, energy: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if energy.get("energy_kwh") is None:
        return
    rows = [
        ("Energy of a year", "energy_kwh", "{:,.0f} kWh"),
        ("Lost to friction", "lost_kwh", "{:,.0f} kWh"),
        ("Rated power all year", "rated_all_year_kwh", "{:,.0f} kWh"),
        ("Energy of a year as share of that", "capacity_factor", "{:.2f}"),
        ("Share of the year with the machine running", "running_share", "{:.2f}"),
        ("Share of time it can run", "availability", "{:.2f}"),
        ("Worth of a year at the price given", "worth_per_year", f"{{:,.0f}} {currency(doc)}"),
    ]
    for words, key, form in rows:
        if energy.get(key) is not None:
            yield words, form.format(float(energy[key])).replace(",", "\u202f").strip()
    if energy.get("volume_m3") is not None:
        used = f"{convert(float(energy['volume_m3']), 'volume', units_of(doc)):,.0f}"
        unit = unit_of("volume", units_of(doc))
        yield "Water used in a year", f"{used} {unit}".replace(",", "\u202f")


def alternatives_chapter(doc: Document) -> Iterator[Section]:
    """Return the other lines of the study beside this one."""
    lines = [
        {
            **(each.get("summary") or {}),
            "name": each.get("name"),
            "cost": (each.get("cost") or {}).get("total"),
            "crossing_count": each.get("crossing_count"),
            "consents_lacking": each.get("consents_lacking"),
            "problem": each.get("problem"),
        }
        for each in doc.get("lines") or ()
        if isinstance(each, Mapping)
    ]
    columns = [
        ("name", "line", None),
        ("pipe_length_m", "pipe", 1),
        ("gross_head_m", "gross head", 1),
        ("net_head_m", "net head", 1),
        ("power_kw", "power", 2),
        ("trench_volume_m3", "trench", 0),
        ("vent_count", "vents", 0),
        ("drain_count", "drains", 0),
        ("crossing_count", "crossings", 0),
        ("consents_lacking", "consents lacking", 0),
        ("cost", "cost", 0),
        ("problem", "why not worked out", None),
    ]
    yield listed(doc, "Lines compared", lines, columns, "The first is the one of these papers.")
    names = [plain(each["name"]) for each in doc.get("alternatives") or () if each.get("name")]
    if names:
        yield text(f"Kept in the study beside this line: {', '.join(names)}.")
    if not lines and not names:
        yield text(
            "The study holds this one line. A permit asks for the alternatives that were weighed, "
            "that of building nothing among them."
        )

"""A study's summary for the terminal, in the units of its reader."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TextIO

from routing.fittings import size_text
from routing.papers.facts import count_words
from routing.units import Kind, UnitSystem, show

__all__ = ["print_summary", "print_terrain", "print_warnings"]

MAIN_CAUTIONS = 3
"""Cautions printed in full; the rest are counted and stand in the files."""


def _shown(values: Mapping[str, Any], key: str, kind: Kind, units: UnitSystem) -> str:
    factor = 1000.0 if key.endswith(("_kpa", "_kw")) else 1.0
    value = values.get(key)
    return show(None if value is None else value * factor, kind, units)


def print_warnings(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print a study's faults, warnings and notes, the worst first, one line each."""
    units: UnitSystem = document["units"]
    for found in document["warnings"]:
        place = ""
        if found["station_m"] is not None:
            place = f" at {show(found['station_m'], 'station', units)}"
        others = len(found["places_m"]) - 1
        if others > 0:
            place += f" and {others} more places" if others > 1 else " and one more place"
        stream.write(f"{found['severity']}{place}: {found['message']}\n")


def print_summary(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print the figures, the vents and drains and the main cautions of a study."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(file=stream, highlight=False, width=None if stream.isatty() else 100)
    units: UnitSystem = document["units"]
    figures = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for label, value in _figures(document, units):
        figures.add_row(label, Text(value))
    console.print(Text(document["name"], style="bold"))
    console.print(figures)
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0))
    for title in ("", "station", "ground", "depth", "static", "need", "what", "size"):
        table.add_column(title, justify="right" if title in _RIGHT else "left")
    for item in sorted(
        [*document["vents"], *document["drains"]], key=lambda item: float(item["station_m"])
    ):
        table.add_row(*(Text(cell) for cell in _fitting(item, units)))
    console.print(table)
    cautions = document["cautions"]
    for caution in cautions[:MAIN_CAUTIONS]:
        console.print(Text(f"! {caution['text']}"))
    if len(cautions) > MAIN_CAUTIONS:
        console.print(f"! {len(cautions) - MAIN_CAUTIONS} more cautions stand in the files.")


_RIGHT = ("station", "ground", "depth", "static", "size")


def _fitting(item: Mapping[str, Any], units: UnitSystem) -> tuple[str, ...]:
    size = "–" if item["size_mm"] is None else size_text(item["size_mm"] / 1000.0, units)
    return (
        item["id"],
        show(item["station_m"], "station", units),
        show(item["ground_m"], "elevation", units),
        show(item["depth_m"], "depth", units),
        show(item["static_head_m"], "head", units),
        item["need"],
        item["kind"],
        size,
    )


def _figures(document: Mapping[str, Any], units: UnitSystem) -> list[tuple[str, str]]:
    summary = document["summary"]
    at = show(summary["max_static_station_m"], "station", units)
    rows = [
        ("Length in plan", _shown(summary, "plan_length_m", "length", units)),
        ("Length of pipe", _shown(summary, "pipe_length_m", "length", units)),
        ("Water level, intake", _shown(summary, "intake_level_m", "elevation", units)),
        ("Level, outlet", _shown(summary, "outlet_level_m", "elevation", units)),
        ("Gross head", _shown(summary, "gross_head_m", "head", units)),
        ("Static pressure, outlet", _shown(summary, "static_pressure_kpa", "pressure", units)),
        (
            "Highest static pressure",
            f"{_shown(summary, 'max_static_pressure_kpa', 'pressure', units)} at {at}",
        ),
        ("Trench", _shown(summary, "trench_volume_m3", "volume", units)),
    ]
    if document["flow"] is not None:
        rows += [
            ("Design flow", _shown(summary, "flow_m3_s", "flow", units)),
            ("Highest velocity", _shown(summary, "velocity_m_s", "velocity", units)),
            ("Head lost", _shown(summary, "head_loss_m", "head", units)),
            ("Net head", _shown(summary, "net_head_m", "head", units)),
            ("Power", _shown(summary, "power_kw", "power", units)),
        ]
    energy = document.get("energy") or {}
    if energy.get("energy_kwh") is not None:
        rows.append(
            (
                "Energy of a year",
                f"{energy['energy_kwh']:,.0f} kWh".replace(",", " ")
                + f", {100.0 * energy['capacity_factor']:.0f} % of rated power all year",
            )
        )
    for pipe in document["pipes"]:
        start, end = (show(pipe[key], "station", units) for key in ("from_m", "to_m"))
        rows.append(("Pipe", f"{start} to {end}: {pipe['label']}"))
    terrain = document["terrain"]
    rows.append(
        (
            "Terrain",
            f"{terrain['crs']}, cell {terrain['cell_m']:.3g} m, heights in "
            f"{terrain['unit']} ({terrain['unit_source']})",
        )
    )
    verdict = document["verdict"]
    rows.append(("Vents", count_words(document["vents"])))
    rows.append(("Drains", count_words(document["drains"])))
    counts = (verdict["faults"], verdict["warnings"], verdict["notes"])
    rows.append(("Faults, warnings, notes", ", ".join(map(str, counts))))
    rows.append(("Failed checks", str(verdict["failed_checks"])))
    for waiver in document["waivers"]:
        told = f"{waiver['code']}, by {waiver['name']}: {waiver['reason']}"
        rows.append(("Answered for", told))
    return rows


def print_terrain(facts: Mapping[str, Any], stream: TextIO) -> None:
    """Print what is understood of a raster, one fact a line."""
    width = max(len(name) for name in facts)
    for name, value in facts.items():
        stream.write(f"{name.replace('_', ' '):<{width}}  {_fact(value)}\n")


def _fact(value: Any) -> str:
    if value is None:
        return "not stated"
    if isinstance(value, float):
        return f"{value:.10g}" if math.isfinite(value) else "none"
    if isinstance(value, Mapping):
        known = {key: item for key, item in value.items() if item is not None}
        return ", ".join(f"{key.replace('_', ' ')} {_fact(item)}" for key, item in known.items())
    if isinstance(value, list | tuple):
        return ", ".join(_fact(item) for item in value) or "none"
    return str(value)

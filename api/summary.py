"""A study's summary for the terminal, in the units of its reader."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, TextIO

from routing.fittings import size_text
from routing.papers.facts import level_words, need_words
from routing.papers.given import code_words
from routing.papers.land_facts import crossing_line
from routing.papers.side_by_side import compared
from routing.papers.study_facts import summary_facts, verdict_facts
from routing.units import UnitSystem, show
from routing.words import caution_lines, said, said_message

__all__ = [
    "PAPERS_IN_ENGLISH",
    "TERRAIN_FACTS",
    "print_built",
    "print_conflicts",
    "print_summary",
    "print_terrain",
    "print_tests",
    "print_warnings",
]

PAPERS_IN_ENGLISH = (
    "The report, the drawing file, the stake-out list and the workbook's tables of figures "
    "are in English."
)
"""What is told of the papers of a study in another language."""
MAIN_CAUTIONS = 3
"""Cautions printed in full; the rest are counted and stand in the files."""


def print_warnings(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print a study's faults, warnings and notes, the worst first, a line each, as it is spoken."""
    units: UnitSystem = document["units"]
    for found in document["warnings"]:
        head = found["severity"].capitalize()
        if found["station_m"] is not None:
            head += f" at {show(found['station_m'], 'station', units)}"
        others = len(found["places_m"]) - 1
        more = said(f"({others} more place{'s' if others > 1 else ''}.)") if others > 0 else ""
        told, _ = said_message(code_words(found["code"]), found["message"])
        stream.write(f"{said(head)}: {told} {more}".rstrip() + "\n")


def print_summary(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print the figures, the vents and drains and the main cautions of a study."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(file=stream, highlight=False, width=None if stream.isatty() else 100)
    units: UnitSystem = document["units"]
    figures = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for label, value in _figures(document):
        figures.add_row(said(label), Text(said(value)))
    console.print(Text(document["name"], style="bold"))
    console.print(figures)
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0))
    for title in ("", "station", "ground", "depth", "static", "need", "what", "size"):
        table.add_column(said(title), justify="right" if title in _RIGHT else "left")
    for item in sorted(
        [*document["vents"], *document["drains"]], key=lambda item: float(item["station_m"])
    ):
        table.add_row(*(Text(said(cell)) for cell in _fitting(item, units)))
    console.print(table)
    if document.get("lines"):
        console.print(_side_by_side(document, Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0))))
    for crossing in document["crossings"]:
        console.print(Text(said(crossing_line(document, crossing))))
    for number, level in enumerate(document["levels_to_shoot"], start=1):
        console.print(Text(f"L{number}: {level_words(document, level)}."))
    cautions = document["cautions"]
    for caution in cautions[:MAIN_CAUTIONS]:
        for line in caution_lines(caution["text"]):
            console.print(Text(f"! {line}"))
    if len(cautions) > MAIN_CAUTIONS:
        left = f"{len(cautions) - MAIN_CAUTIONS} more cautions stand in the files."
        console.print(f"! {said(left)}")


def print_built(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print what levels as built changed: levels, turns and checks; where crews differ."""
    from routing.crew import conflicts

    built, units = document["as_built"], document["units"]
    off = [level for level in built["levels"] if level["beyond"]]
    tolerance = show(built["tolerance_m"], "depth", units)
    stream.write(f"{len(off)} of {len(built['levels'])} levels off the plan by over {tolerance}\n")
    for level in off:
        at = show(level["station_m"], "station", units)
        amount = show(abs(level["difference_m"]), "depth", units)
        side = "above" if level["difference_m"] > 0.0 else "below"
        stream.write(f"  {level['of'] or 'line'} at {at}: {amount} {side} the plan\n")
    for place in built["places"]:
        if place["moves"]:
            at = show(place["station_m"], "station", units)
            amount = show(abs(place["off_m"]), "length", units)
            side = "right" if place["off_m"] > 0.0 else "left"
            stream.write(f"  {place['of'] or 'line'} at {at}: {amount} {side} of the drawn line\n")
    for turn in built["turns"]:
        at, high = show(turn["station_m"], "station", units), show(turn["height_m"], "depth", units)
        what = "new" if turn["new"] else "gone"
        stream.write(f"  {what} {turn['turn']} at {at}, {high}\n")
    turned = Counter((check["subject"], check["passed"]) for check in built["checks"])
    for (subject, passed), count in turned.items():
        now = "passes now" if passed else "fails now"
        stream.write(f"  {subject} {now}{f', at {count} places' if count > 1 else ''}\n")
    stream.write(f"{built['carried']}\n")
    print_tests(document, stream)
    print_conflicts(conflicts(document.get("records") or ()), stream)


def print_tests(document: Mapping[str, Any], stream: TextIO) -> None:
    """Print what each section of which a step was read came to."""
    from routing.papers.works import told_tests

    for name, words in told_tests(document).items():
        stream.write(f"{name}: {words}\n")


def print_conflicts(found: Sequence[Mapping[str, Any]], stream: TextIO) -> None:
    """Print where the last words of two devices differ."""
    for each in found:
        said = "; ".join(
            f"{one['device']}: "
            + (("done" if one["done"] else "not done") if each["kind"] == "tick"
               else f"invert {one['invert_m']} m")
            for one in each["says"]
        )  # fmt: skip
        stream.write(f"{each['of']} differs: {said}; the last one counts\n")


def _side_by_side(document: Mapping[str, Any], table: Any) -> Any:
    """Return the figures of several lines as a table, a column each."""
    from rich.text import Text

    table.add_column("")
    for line in document["lines"]:
        table.add_column(Text(line["name"]), justify="right")
    for each in compared(document):
        style = "bold" if each.differs else ""
        table.add_row(said(each.label), *(Text(said(value), style=style) for value in each.values))
    if any(line["problem"] for line in document["lines"]):
        why = (Text(said(line["problem"] or "")) for line in document["lines"])
        table.add_row(said("Why not"), *why)
    return table


TERRAIN_FACTS = {
    "files": "files", "format": "format", "rows": "rows", "columns": "columns",
    "crs": "coordinate system", "cell_m": "side of a cell", "bounds_deg": "bounds, degrees",
    "west": "west", "south": "south", "east": "east", "north": "north",
    "data_type": "type of the numbers", "unit": "unit", "unit_source": "unit known from",
    "metres_per_unit": "metres per unit", "vertical_datum": "vertical datum",
    "rmse_m": "error (RMSE)", "missing_value": "missing value", "lowest_m": "lowest",
    "highest_m": "highest", "whole_units_only": "whole units only",
    "missing_share": "share missing", "read_share": "share read", "accuracy": "accuracy",
    "other_grids": "other grids", "kind": "kind", "kind_told_by": "kind known from",
    "le90_m": "90 % are within", "le95_m": "95 % are within", "error_told_by": "error known from",
    "source": "source", "status": "status",
}  # fmt: skip
"""What the facts of a raster are called."""
AS_IT_IS = ("files", "format", "crs", "data_type", "vertical_datum", "source", "kind")
"""Facts that are names."""
_RIGHT = ("station", "ground", "depth", "static", "size")


def _fitting(item: Mapping[str, Any], units: UnitSystem) -> tuple[str, ...]:
    size = "–" if item["size_mm"] is None else size_text(item["size_mm"] / 1000.0, units)
    return (
        item["id"],
        show(item["station_m"], "station", units),
        show(item["ground_m"], "elevation", units),
        show(item["depth_m"], "depth", units),
        show(item["static_head_m"], "head", units),
        need_words(item, short=True),
        item["kind"],
        size,
    )


def _figures(document: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the figures of every paper, in the same words, and the terrain in short."""
    terrain = document["terrain"]
    cell = show(terrain["cell_m"], "length", document["units"])
    read = f"{terrain['crs']}, cell {cell}, heights in {terrain['unit']} ({terrain['unit_source']})"
    return [*summary_facts(document), ("Terrain", read), *verdict_facts(document)]


def print_terrain(facts: Mapping[str, Any], stream: TextIO) -> None:
    """Print what is understood of a raster, one fact a line."""
    told = [
        (said(TERRAIN_FACTS.get(name, name)), _fact(name, value)) for name, value in facts.items()
    ]
    width = max(len(label) for label, _ in told)
    for label, words in told:
        stream.write(f"{label:<{width}}  {words}\n")


def _fact(name: str, value: Any) -> str:
    """Return a fact with its unit, which its name ends in, in words of the reader's language."""
    if value is None:
        return said("not stated")
    if isinstance(value, bool):
        return said("yes" if value else "no")
    if isinstance(value, Mapping):
        known = {key: item for key, item in value.items() if item is not None}
        return ", ".join(
            f"{said(TERRAIN_FACTS.get(key, key))} {_fact(key, item)}" for key, item in known.items()
        )
    if isinstance(value, list | tuple):
        return ", ".join(_fact(name, item) for item in value) or said("none")
    if isinstance(value, str):
        return value if name in AS_IT_IS else said(value)
    if not math.isfinite(value):
        return said("none")
    if name.endswith("_share"):
        return said(f"{100.0 * value:.6g} %")
    return said(f"{value:.10g}{' m' if name.endswith('_m') else ''}")

"""What the tests of the planning page do on it again and again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from leatline_command import clean, leatline

import sample_dem

HILLSIDE = (
    (-16.0689, 47.2979),
    (-16.0652, 47.2968),
    (-16.0630, 47.2958),
    (-16.0612, 47.2957),
    (-16.0594, 47.2952),
)
"""Places of a line across the sample hill."""


def settled(page: Any) -> None:
    """Wait until the newest line has been answered and painted."""
    page.wait_for_function(
        "() => leatline.live.idle && leatline.trace.painted === leatline.trace.asked "
        "&& leatline.trace.asked > 0"
    )


def set_settings(page: Any, settings: dict[str, Any]) -> None:
    """Give the line in hand other settings, as if they had been typed."""
    page.evaluate(
        "async told => { const { withLine } = await import('/js/plan.js');"
        " const { state } = leatline;"
        " state.change('Told', withLine(state.plan, { settings: told })); }",
        settings,
    )
    settled(page)


def plan_of(page: Any) -> dict[str, Any]:
    plan: dict[str, Any] = page.evaluate("() => leatline.state.plan")
    return plan


def points_of(page: Any) -> list[list[float]]:
    plan = plan_of(page)
    points: list[list[float]] = plan["lines"][plan["active"]]["points"]
    return points


def bring_line(page: Any, line: Path) -> None:
    page.set_input_files("#line-file", str(line))
    page.wait_for_function("() => leatline.state.model !== null")
    settled(page)


def pixel_of(page: Any, place: Any) -> tuple[float, float]:
    """Return where a place is on the screen."""
    box = page.locator("#map").bounding_box()
    at = page.evaluate("place => leatline.pixel(place)", list(place))
    return box["x"] + at["x"], box["y"] + at["y"]


def draw(page: Any) -> None:
    """Draw with the mouse; the last point ends the line with a double-click."""
    for place in HILLSIDE[:-1]:
        page.mouse.click(*pixel_of(page, place))
    page.mouse.dblclick(*pixel_of(page, HILLSIDE[-1]))
    page.wait_for_function("() => leatline.state.mode === 'edit'")
    settled(page)


def centre(page: Any, selector: str) -> tuple[float, float]:
    box = page.locator(selector).first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def from_terminal(
    points: list[list[float]], settings: dict[str, Any], folder: Path
) -> dict[str, Any]:
    """Return the study that the command line makes of the same line."""
    route = folder / "line.geojson"
    route.write_text(json.dumps({"type": "LineString", "coordinates": points}), encoding="utf-8")
    tables = folder / "line.toml"
    lines = []
    for table, rows in settings.items():
        if isinstance(rows, list):
            continue
        lines.append(f"[{table}]")
        lines += [
            f"{key} = {json.dumps(value)}"
            for key, value in rows.items()
            if not isinstance(value, list)
        ]
    for pipe in settings.get("pipe", []):
        lines.append("[[pipe]]")
        lines += [f"{key} = {json.dumps(value)}" for key, value in pipe.items()]
    tables.write_text("\n".join(lines), encoding="utf-8")
    terrain = sample_dem.sample_paths().terrain
    arguments = ["study", str(route), "--terrain", str(terrain), "--settings", str(tables)]
    done = leatline(*arguments, "--format", "json", "--out", "out", cwd=folder)
    clean(done, 0)
    study: dict[str, Any] = json.loads(done.stdout)
    return study

"""What every plan carries: grid of coordinates, north arrow, scale bar."""

from __future__ import annotations

import math

import numpy as np

from routing.papers.layout import nice_step
from routing.papers.plane import LocalPlane, SurveySystem
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.split import scale_text
from routing.papers.sheet.view import PlanView, letter
from routing.papers.typeset import cap_height, text_width
from routing.units import UnitSystem, convert, unit_of

__all__ = ["draw_furniture", "draw_grid", "north_arrow", "scale_bar"]


def draw_grid(
    ink: Drawing, free: Free, plane: LocalPlane, survey: SurveySystem, view: PlanView, paper: Paper
) -> None:
    """Mark round coordinates of the surveyor's system with crosses, lettered if there is room."""
    box = view.box
    px, py = (m.ravel() for m in np.meshgrid([box.left, box.right], [box.top, box.bottom]))
    east, north = survey.forward(*plane.inverse(*view.back(px, py)))
    # Both systems are conformal, so over one sheet each is a straight copy of the other.
    design = np.column_stack([east, north, np.ones(4)])
    to_sheet, *_ = np.linalg.lstsq(design, np.column_stack([px, py]), rcond=None)
    mm_per_unit = float(np.hypot(*to_sheet[0]))
    step = nice_step(
        float(np.ptp(east)), max(int(float(np.ptp(east)) * mm_per_unit / (20 * paper.letter)), 1)
    )
    for e in np.arange(math.ceil(east.min() / step), math.floor(east.max() / step) + 1) * step:
        for n in (
            np.arange(math.ceil(north.min() / step), math.floor(north.max() / step) + 1) * step
        ):
            x, y = (float(v) for v in np.array([e, n, 1.0]) @ to_sheet)
            if not (box.left < x < box.right and box.top < y < box.bottom):
                continue
            for axis in (0, 1):
                dx, dy = (float(v) * 0.5 * paper.letter / mm_per_unit for v in to_sheet[axis])
                ink.line(x - dx, y - dy, x + dx, y + dy, "fine")
            letter(
                ink,
                free,
                (x, y),
                f"E {e:.0f} N {n:.0f}",
                paper.small,
                layer="grid",
                reach=(0.45,),
            )


def draw_furniture(
    ink: Drawing,
    free: Free,
    paper: Paper,
    view: PlanView,
    along: int,
    units: UnitSystem,
    note: str = "",
) -> None:
    """Put north arrow and scale bar into corners that the line leaves free."""
    wide, high = 8.0 * paper.letter, 8.0 * paper.letter
    box = view.box.grown(-1.5)
    corners = [
        Box(box.right - wide, box.top, box.right, box.top + high),
        Box(box.left, box.top, box.left + wide, box.top + high),
        Box(box.right - wide, box.bottom - high, box.right, box.bottom),
        Box(box.left, box.bottom - high, box.left + wide, box.bottom),
    ]
    spot = next((corner for corner in corners if free.is_free(corner)), corners[0])
    north_arrow(ink, spot, view.turn_rad, paper)
    free.take(spot)
    length, words = _bar_length(along, units, 20.0 * paper.letter)
    tall = 3.4 * paper.letter
    bar = max(length, text_width(_told(along, units, note), paper.small)) + text_width(
        words, paper.small
    )
    bar += 4.0
    rows = [
        Box(box.left, box.bottom - tall, box.left + bar, box.bottom),
        Box(box.right - bar, box.bottom - tall, box.right, box.bottom),
        Box(box.left, box.top, box.left + bar, box.top + tall),
        Box(box.right - bar, box.top, box.right, box.top + tall),
    ]
    place = next((row for row in rows if free.is_free(row)), rows[0])
    scale_bar(ink, place, along, units, paper, note)
    free.take(place)


def north_arrow(ink: Drawing, box: Box, turn_rad: float, paper: Paper) -> None:
    """Draw an arrow to true north."""
    x, y = (box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0
    up_x, up_y = -math.sin(turn_rad), -math.cos(turn_rad)
    long = 2.4 * paper.letter

    def point(along: float, side: float) -> tuple[float, float]:
        return x + along * up_x - side * up_y, y + along * up_y + side * up_x

    tip, notch = point(long, 0.0), point(-0.62 * long, 0.0)
    ink.poly([tip, point(-long, 0.26 * long), notch], "black")
    ink.poly([tip, point(-long, -0.26 * long), notch], "reference")
    far = long + 0.85 * paper.letter
    ink.text(
        x + far * up_x,
        y + far * up_y + cap_height(paper.letter) / 2.0,
        "N",
        paper.letter,
        anchor="middle",
        bold=True,
        halo=True,
        layer="north",
    )


def _bar_length(along: int, units: UnitSystem, most_mm: float) -> tuple[float, str]:
    metres = 1.0 / convert(1.0, "length", units)
    most = most_mm * along / 1000.0 / metres
    power = 10.0 ** math.floor(math.log10(most))
    length = max(power * m for m in (1.0, 2.0, 5.0) if power * m <= most * (1 + 1e-9))
    return length * metres * 1000.0 / along, f"{length:g} {unit_of('length', units)}"


def scale_bar(
    ink: Drawing, box: Box, along: int, units: UnitSystem, paper: Paper, note: str = ""
) -> None:
    """Draw a bar of a round length, in alternating halves and tenths of black and white."""
    length, words = _bar_length(along, units, 20.0 * paper.letter)
    left, base = box.left + 0.8, box.top + 2.0 * paper.letter
    thick = 0.45 * paper.letter
    for number in range(10):
        part = Box(
            left + number * length / 10.0, base, left + (number + 1) * length / 10.0, base + thick
        )
        ink.rect(part, "black" if number % 2 == 0 else "blank")
    said = _told(along, units, note)
    ink.text(left, base - 0.5 * paper.letter, said, paper.small, halo=True, layer="bar")
    ink.text(left + length + 0.8, base + thick, words, paper.small, halo=True, layer="bar")


def _told(along: int, units: UnitSystem, note: str) -> str:
    """Return the scale of a plan as the title block states it, and what else is said of it."""
    told = scale_text(units, along)
    return f"{told}; {note}" if note else told

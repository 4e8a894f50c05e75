"""Static pressure along the line, sorted into a few classes with round limits."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.papers.document import Document, column, units_of
from routing.papers.layout import nice_step
from routing.papers.signs import BELOW_ZERO, PRESSURE_RAMP
from routing.units import convert, unit_of
from routing.value import dataclass

__all__ = ["PressureClasses", "over_rating", "pressure_classes", "shown_surge", "surge_lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureClasses:
    """The class of each leg between stations, with each class's colour and words."""

    of_leg: IntArray
    colours: tuple[str, ...]
    labels: tuple[str, ...]


def pressure_classes(doc: Document) -> PressureClasses:
    """Return the classes of static pressure, a leg counting by the higher of its two ends."""
    units = units_of(doc)
    unit = unit_of("pressure", units)
    shown = column(doc, "static_pressure_kpa") * 1e3 * convert(1.0, "pressure", units)
    of_leg = np.fmax(shown[:-1], shown[1:])
    greatest = max(float(np.nanmax(shown)), 1.0)
    step = nice_step(greatest, len(PRESSURE_RAMP))
    count = min(len(PRESSURE_RAMP), int(np.ceil(greatest / step * (1 - 1e-12))))
    limits = [step * number for number in range(count + 1)]
    numbers = np.clip(np.floor(of_leg / step), 0, count - 1).astype(np.int64) + 1
    numbers[of_leg < 0] = 0
    labels = [f"below 0 {unit}: above the static level"]
    labels += [f"{low:g} to {high:g} {unit}" for low, high in pairwise(limits)]
    return PressureClasses(
        of_leg=numbers, colours=(BELOW_ZERO, *PRESSURE_RAMP[:count]), labels=tuple(labels)
    )


def over_rating(doc: Document) -> BoolArray:
    """Return the legs on which a check of the study finds the pressure at rest over the rating.

    The check speaks of the worst place of a pipe; the flood that it counts stands everywhere.
    """
    static, rating = column(doc, "static_pressure_kpa"), column(doc, "rating_kpa")
    over = np.zeros(static.size, dtype=bool)
    for check in doc.get("checks", ()):
        if check["code"] != "over_rating" or check["passed"] or check["severity"] != "fault":
            continue
        worst = int(np.argmin(np.abs(column(doc, "station_m") - check["station_m"])))
        flood = check["demand"] - static[worst]
        over |= np.isclose(rating, check["limit"], rtol=1e-3) & (static + flood > check["limit"])
        over[worst] = True
    return over[:-1] | over[1:]


def surge_lines(doc: Document) -> list[FloatArray]:
    """Return elevations of the highest and the lowest head in the surge that is shown.

    Each is (n,) [m]; the list is empty where nothing surges.
    """
    weight = float(doc["water"]["density_kg_m3"]) * float(doc["water"]["gravity_m_s2"]) / 1000.0
    pipe = column(doc, "pipe_m")
    lines = [pipe + column(doc, name) / weight for name in ("surge_max_kpa", "surge_min_kpa")]
    return [line for line in lines if np.isfinite(line).all()]


def shown_surge(doc: Document) -> str:
    """Return which surge every paper shows, and from which state of the pipe; "" without one."""
    return str(doc["summary"].get("surge_case") or "")

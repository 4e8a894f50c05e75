"""Trench sections: one for each class of ground and band of cover that the line has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.papers.document import Document, column, plain, units_of
from routing.papers.sheet.detail import Detail, bore_at
from routing.papers.sheet.sketch import Sketch
from routing.papers.station import station_text
from routing.units import convert, show
from routing.value import dataclass
from routing.words import Said, said

__all__ = ["USUAL", "trench_section", "trench_sections"]

SURROUND_M = 0.15
"""Side fill above the crown [m]: common practice, no source."""
BAND = {"metric": 0.5, "us": 2.0}
"""Height of a band of cover, in the unit of depths [m or ft]."""
BORDER_M = 1e-3
"""A border of ground this near a station is that station [m]."""
MOST_NAMED = 4
"""Stretches of a section that are named by their stations, the longest [-]."""
USUAL = (
    "Side fill and bedding to the pipe's standard; no stones against the pipe.",
    "Upright walls only where they stand or are shored.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What is dug alike: its ground, its greatest cover and where, and its stretches [m]."""

    ground: str
    cover_m: float
    at_m: float
    stretches: Sequence[tuple[float, float]]


def trench_sections(doc: Document) -> Iterator[Detail]:
    """Return a section of the trench for each class of ground and band of cover."""
    for kind in _kinds(doc):
        title = f"Trench in “{kind.ground}”" if kind.ground else "Trench"
        title += f", cover up to {show(kind.cover_m, 'depth', units_of(doc))}"
        yield trench_section(doc, title, kind.at_m, kind.cover_m, (_where(doc, kind), *USUAL))


def _where(doc: Document, kind: _Kind) -> str:
    """Return which stretches of the line a section stands for."""
    longest = sorted(kind.stretches, key=lambda each: each[0] - each[1])[:MOST_NAMED]
    named = ", ".join(
        f"{station_text(doc, low)} – {station_text(doc, high)}" for low, high in sorted(longest)
    )
    total = show(sum(high - low for low, high in kind.stretches), "length", units_of(doc))
    left = len(kind.stretches) - len(longest)
    more = f", {said(f'and {left} shorter')}" if left else ""
    return Said(f"{said('Stations')} {said(named)}{more}; {said(f'{total} in all.')}")


def _kinds(doc: Document) -> Iterator[_Kind]:
    """Return what the line is dug through, the classes of ground as given, shallow bands first."""
    station, cover = column(doc, "station_m"), column(doc, "cover_m")
    # A piece between stations is as deep as its deeper end; what lies above ground has no trench.
    buried = np.where(column(doc, "span") > 0, -np.inf, cover)
    cover = np.maximum(buried, np.append(buried[1:], buried[-1]))
    edges, piece = _cut(doc, station)
    cover, hung = cover[piece], column(doc, "span")[piece] > 0
    names, ground = _grounds(doc, edges)
    height = BAND[units_of(doc)]
    depth = np.maximum(convert(1.0, "depth", units_of(doc)) * cover, 0.0)
    band = np.ceil(np.round(depth / height, 6)).astype(np.intp)
    band[hung] = -1
    alike = np.where(band < 0, -1, ground * 1000 + band)
    for code in sorted(set(alike.tolist()) - {-1}):
        here = np.flatnonzero(alike == code)
        ends = np.minimum(here + 1, len(edges) - 1)
        stretches = _joined(list(zip(edges[here].tolist(), edges[ends].tolist(), strict=True)))
        if not stretches:
            continue
        deepest = here[int(np.argmax(cover[here]))]
        yield _Kind(
            ground=names[code // 1000],
            cover_m=max(float(cover[deepest]), 0.0),
            at_m=float(edges[deepest]),
            stretches=stretches,
        )


def _cut(doc: Document, station: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the stations with every border of ground, and the number of the piece after each.

    A border within a millimetre of a station is that station.
    """
    given = doc["trench"].get("ground") or ()
    borders = np.array([each[key] for each in given for key in ("from_m", "to_m")], dtype=float)
    borders = borders[(borders > station[0]) & (borders < station[-1])]
    apart = np.abs(borders[:, None] - station[None, :]).min(axis=1, initial=np.inf) > BORDER_M
    edges = np.union1d(station, borders[apart])
    return edges, np.searchsorted(station, edges, side="right") - 1


def _grounds(doc: Document, station: FloatArray) -> tuple[list[str], IntArray]:
    """Return the classes of ground by name, the usual one first without, and that of each place."""
    names, ground = [""], np.zeros(len(station), dtype=np.intp)
    # Of two that overlap the first holds, as in the bill.
    for entry in reversed(doc["trench"].get("ground") or ()):
        name = plain(entry["kind"])
        if name not in names:
            names.append(name)
        here = (station >= entry["from_m"] - BORDER_M) & (station < entry["to_m"] - BORDER_M)
        ground[here] = names.index(name)
    return names, ground


def _joined(pieces: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return pieces with those that follow each other made one, those without length left out.

    >>> _joined([(0.0, 1.0), (1.0, 2.0), (5.0, 6.0), (9.0, 9.0)])
    [(0.0, 2.0), (5.0, 6.0)]
    """
    found: list[tuple[float, float]] = []
    for low, high in pieces:
        if found and low - found[-1][1] < 1e-6:
            found[-1] = (found[-1][0], high)
        elif high > low:
            found.append((low, high))
    return found


def trench_section(
    doc: Document, title: str, at: float, cover: float, notes: Sequence[str]
) -> Detail:
    """Return a section of the trench at a station with so much cover [m]."""
    trench = doc.get("trench") or {}
    outside, inside = bore_at(doc, at)
    wide = float(trench.get("width_m") or outside + 0.4)
    bed = float(trench.get("bedding_m") or 0.0)
    deep, half = cover + outside + bed, wide / 2.0

    def draw(on: Sketch) -> None:
        on.rect(-half, -deep, half, 0.0, "blank")
        on.rect(-half, -deep, half, -deep + bed, "sand")
        on.rect(-half, -deep + bed, half, min(-cover + SURROUND_M, 0.0), "sand")
        on.ground(-half - 0.25, -half, 0.0)
        on.ground(half, half + 0.25, 0.0)
        on.pipe_end(0.0, -deep + bed + outside / 2.0, outside, inside)
        on.across(-half, half, -deep - 0.14)
        on.up(-cover, 0.0, half + 0.12, f"cover {show(cover, 'depth', on.units)}")
        if bed > 0.0:
            on.up(-deep, -deep + bed, half + 0.12, f"bedding {show(bed, 'depth', on.units)}")
        on.up(-deep, 0.0, -half - 0.12, left=True)

    return Detail(title, draw, notes)

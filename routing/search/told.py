"""What is said of proposals: what each is best at, what was assumed, what is doubtful of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from routing.errors import NoLine
from routing.search.bans import MOST_FOLLOWED
from routing.search.ends import MOST_PLACES, End, worth_of_head
from routing.search.hillside import STATION_BOUND_TRENCH
from routing.search.lines import Line
from routing.search.site import Site
from routing.settings import Settings

__all__ = ["ends_note", "faulted", "names_of", "notes_on", "told_of"]


def names_of(lines: Sequence[Line], beds: Sequence[int]) -> tuple[str, ...]:
    """Return what each line is best at, in words; the first is the cheapest.

    ``beds`` are the streams that each line meets and no study counts [-].
    """

    def power(line: Line) -> float:
        flow = line.study.flow
        return -np.inf if flow is None else flow.power_kw

    met = dict(zip(map(id, lines), beds, strict=True))
    measures: list[tuple[str, Callable[[Line], float]]] = [
        ("Cheapest", lambda line: line.cost),
        ("shortest", lambda line: float(line.study.line.slope_station_m[-1])),
        ("fewest vents and drains", lambda line: _fittings(line)),
        ("fewest crossings", lambda line: float(len(line.study.crossings) + met[id(line)])),
        ("least digging", lambda line: line.study.line.pipe.excavation.volume_m3),
        ("most power", lambda line: -power(line)),
    ]
    words: list[list[str]] = [[] for _ in lines]
    for name, measure in measures:
        values = [measure(line) for line in lines]
        if name == "Cheapest" or (min(values) < max(values) and np.isfinite(min(values))):
            words[int(np.argmin(values))].append(name)
    names = []
    for at, word in enumerate(words, start=1):
        text = ", ".join(word) or f"another way {at}"
        names.append(text[:1].upper() + text[1:])
    return tuple(names)


def _fittings(line: Line) -> float:
    return float(len(line.study.fittings.vents) + len(line.study.fittings.drains))


def faulted(site: Site, line: Line) -> NoLine:
    """Return the error that the best line is faulted for what the graph cannot see."""
    if line.sharp:
        return NoLine(
            f"The best line found turns more sharply than an arc of {site.ground.radius_m:g} m.",
            "Lower least_radius under [search], or give a raster with smaller cells.",
        )
    found = next(
        each
        for each in line.study.findings
        if each.severity == "fault" and each.code in line.barred
    )
    return NoLine(
        f"The best line found has a fault that no proposal may have. {found.message}",
        "Lift what it names, or allow more (max_depth under [trench], longest_span and margin "
        "under [search]).",
        station_m=found.station_m,
    )


def ends_note(site: Site, asked: Sequence[End]) -> Iterator[str]:
    """Yield where the ends were put that could be anywhere along a stretch of a stream."""
    worth = worth_of_head(site.settings, site.book)
    if worth is None:
        by = "the line costs least for a metre of head, as nothing says what that is worth"
    else:
        money = f"{worth:.0f} {site.book.currency} a metre over the plant's life"
        by = f"its cost less the worth of the head, {money}, is least"
    ends = (site.places[0], site.places[-1])
    for name, end, (lon, lat) in zip(("intake", "powerhouse"), asked, ends, strict=True):
        if isinstance(end[0], tuple):
            yield (
                f"The {name} was put at {lon:.6f}, {lat:.6f}: of up to {MOST_PLACES} places along "
                f"the stretch of stream the one where {by}, by the prices of the search's grid."
            )


def told_of(site: Site, lines: Sequence[Line], apart: float) -> Iterator[str]:
    """Yield what must be known of the lines: too few or too near each other, and faults."""
    wanted = site.settings.search.alternatives
    if len(lines) < wanted:
        yield (
            f"{wanted} lines were asked for and {len(lines)} found. All others (cheap, short, with "
            f"few fittings, kept off those before) ran within {apart:.0f} m of one shown, on "
            "average: the open ground beside them is too narrow or too dear. A lesser apart or a "
            "greater reach under [search] looks for more."
        )
    sunk = [
        at for at, line in enumerate(lines, start=1) if line.tables.get("trench", {}).get("limit")
    ]
    if sunk:
        names = ", ".join(map(str, sunk))
        yield (
            f"In {'lines' if len(sunk) > 1 else 'line'} {names} the trench is deeper over a short "
            "way, as [[trench.limit]] of the settings says: else the pipe would lie above its "
            "hydraulic line there and draw air."
        )
    if lines[0].faults:
        yield "No line without a fault was found; those with the fewest faults come first."
    elif any(line.faults for line in lines):
        yield "Lines without a fault come first, whatever they cost; then those with one."


def notes_on(site: Site, settings: Settings) -> Iterator[str]:
    """Yield what was assumed or left out."""
    book, grid = site.book, site.grid
    yield (
        f"{book.told} The cost is the study's own bill of pipe, trench, bench, bends, bridges, "
        "vents and drains, the yearly visits to these, and what the land asks."
    )
    if grid.factor > 1:
        yield (
            f"The ground was searched in means of {grid.factor} x {grid.factor} cells of the raster"
            f" ({grid.cell_m:.1f} m); every line was then laid on the raster itself."
        )
    if site.ladder.kind == "assumed":
        yield (
            "No pipe was given; a metre of pipe is priced as PE100 of 200 mm in the class that the "
            "head at rest asks for."
        )
    if site.ladder.kind == "chosen":
        kinds = "; ".join(each.pipe.label for each in site.ladder.rungs)
        yield f"The pipe was chosen by the design flow and the head at rest: {kinds}."
    if not any(each.kind == "stream" for each in settings.layer):
        rows, cols = site.terrain.shape
        yield (
            "The raster is too large to follow its water here, so that nothing keeps lines out of "
            "stream beds: give the streams as a layer."
            if rows * cols > MOST_FOLLOWED
            else "Streams were found by following the water over the raster, and a line in or "
            "across their beds was priced as such; give them as a layer where you know better."
        )
    bound = ("valve", "branch", "tap", "relief", "survey", "waive")
    left = [key for key in bound if key in settings.given]
    trench = settings.given.get("trench", {})
    left += [f"trench.{key}" for key in STATION_BOUND_TRENCH if key in trench]
    if left:
        yield f"Left out, as they speak of stations of a drawn line: {', '.join(left)}."
    if len(settings.pipe) > 1 and site.ladder.kind == "given":
        yield (
            "The settings' pipes lie where the head at rest and each line's own surges ask for "
            "them, and not at the stations of a drawn line."
        )

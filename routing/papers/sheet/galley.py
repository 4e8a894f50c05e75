"""Tables and texts that flow over sheets in columns, each as wide as it needs."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace

from routing.papers.fit import fitted_mm
from routing.papers.sheet.ink import Anchor, Box, Drawing, Label, Table
from routing.papers.sheet.paper import Paper
from routing.papers.typeset import cap_height, wrapped
from routing.value import dataclass
from routing.words import Said, said, spoken

__all__ = ["AIRS", "FILLED", "Galley", "Legend", "Listing", "Notes", "well_filled"]

PT = 72.0 / 25.4
"""Points in a millimetre."""
GUTTER = 5.0
"""Room between columns [mm]."""
LEAST_COLUMN = 88.0
"""Width of a column [mm], about: sheets have as many as fit."""
LINE = 1.24
"""Height of a line of text, in sizes [-]."""
AIRS = (0.36, 0.28, 0.2, 0.12, 0.5, 0.65)
"""Room between the rows of a table that is tried for well filled sheets, in sizes [-]."""
FILLED = 0.6
"""Share of the last sheet that is used where the room between rows suits [-]."""
TOGETHER, BETWEEN = 0.34, 4.0
"""Share of a sheet's height up to which a block is not parted [-]; room below a block [mm]."""
LEAST_ROWS = 4
"""Rows of a table that stay with its head [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """A table with its title; columns of numbers are set to the right."""

    title: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    numeric: Sequence[bool]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """Sentences under a title, with a dash before each."""

    title: str
    items: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Legend:
    """Samples of signs and lines, each with its words; ``draw`` puts one into a box."""

    title: str
    rows: Sequence[tuple[Callable[[Drawing, Box], None], str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A piece of a block that is not parted: its height, and how it is drawn at (left, top).

    The row of a table gives back what stands in its cells.
    """

    height: float
    draw: Callable[[Drawing, float, float], Sequence[Sequence[Label]] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """A block as lines: ``head`` stands above it, ``again`` where it goes on, as high.

    ``widths`` are those of a table's columns [mm].
    """

    columns: int
    head: Sequence[_Line]
    again: Sequence[_Line]
    lines: Sequence[_Line]
    foot: Sequence[_Line]
    widths: Sequence[float] = ()


class Galley:
    """Sheets of columns: blocks are set one after the other, each where there is room first."""

    def __init__(self, paper: Paper, air: float = AIRS[0], *, drawn: bool = True) -> None:
        """Take the room between the rows of tables, and whether all is drawn or only measured."""
        self._paper, self._air, self._drawn = paper, air, drawn
        self._inner = Box(4.0, 3.0, paper.frame_width - 4.0, paper.frame_height - 3.0)
        across = self._inner.right - self._inner.left + GUTTER
        self.count = max(int(across / (LEAST_COLUMN + GUTTER)), 1)
        self.wide = across / self.count - GUTTER
        self.sheets: list[Drawing] = []
        self._used: list[list[float]] = []

    def columns(self) -> list[float]:
        """Return where the columns begin [mm]."""
        return [self._inner.left + each * (self.wide + GUTTER) for each in range(self.count)]

    def begin_with(self, ink: Drawing, tops: Sequence[float]) -> None:
        """Put a sheet first whose columns are used down to ``tops`` [mm]; it may take more."""
        self.sheets.insert(0, ink)
        self._used.insert(0, list(tops))

    def filled(self) -> float:
        """Return the share of the last sheet that is used [-]; 1 where the cover holds all."""
        if len(self._used) < 2:
            return 1.0
        top, bottom = self._inner.top, self._inner.bottom
        return sum(used - top for used in self._used[-1]) / (self.count * (bottom - top))

    def set(self, *blocks: Listing | Notes | Legend, starts: Sequence[int] = (0,)) -> None:
        """Set blocks, in order where that wastes no room.

        ``starts`` are columns from which on there is room for them, the best first.
        """
        for block in blocks:
            self._set(_made(block, self._paper, (self.wide, self.count), self._air), starts)

    def _set(self, block: _Block, starts: Sequence[int]) -> None:
        """Draw a block into the first columns that hold it, the rest of it into the next."""
        head, foot = (sum(line.height for line in part) for part in (block.head, block.foot))
        left = list(block.lines)
        while left:
            whole = head + sum(line.height for line in left) + foot
            few = head + sum(line.height for line in left[:LEAST_ROWS]) + foot
            short = whole < TOGETHER * (self._inner.bottom - self._inner.top)
            number, first, top = self._spot(block.columns, whole if short else few, starts)
            left = self._fill(block, left, number, first, top)
            block = replace(block, head=block.again)

    def _spot(self, columns: int, least: float, starts: Sequence[int]) -> tuple[int, int, float]:
        for start, (number, tops) in itertools.product(starts, enumerate(self._used)):
            for first in range(start, self.count - columns + 1):
                top = max(tops[first : first + columns])
                if top + least <= self._inner.bottom:
                    return number, first, top
        paper = self._paper
        self.sheets.append(Drawing(paper.frame_width, paper.frame_height + paper.strip))
        self._used.append([self._inner.top] * self.count)
        return len(self.sheets) - 1, 0, self._inner.top

    def _fill(
        self, block: _Block, left: list[_Line], number: int, first: int, top: float
    ) -> list[_Line]:
        """Draw what fits of a block from a place down; return what is left of it."""
        ink, x, y = self.sheets[number], self._inner.left + first * (self.wide + GUTTER), top
        foot = sum(line.height for line in block.foot)
        bottom = self._inner.bottom - foot + 1e-6
        taken = 0
        told: list[tuple[float, float, Sequence[Sequence[Label]]]] = []
        for line in [*block.head, *left]:
            is_row = taken >= len(block.head)
            if is_row and y + line.height > bottom and taken > len(block.head):
                break
            cells = self._draw(line, ink, x, y) if self._drawn else None
            if cells is not None:
                told.append((y, line.height, cells))
            y += line.height
            taken += 1
        if told:
            heights, rows = [high for _, high, _ in told], [cells for *_, cells in told]
            across = Box(x, y, x + sum(block.widths), y)
            left_edge = across.left if spoken()[1] == "ltr" else across.turned(self._inner).left
            ink.tables.append(Table(left_edge, told[0][0], block.widths, heights, rows))
        rest = left[taken - len(block.head) :]
        for line in block.foot if not rest else ():
            if self._drawn:
                self._draw(line, ink, x, y)
            y += line.height
        for column in range(first, first + block.columns):
            self._used[number][column] = y + BETWEEN
        return rest

    def _draw(
        self, line: _Line, ink: Drawing, x: float, y: float
    ) -> Sequence[Sequence[Label]] | None:
        with ink.reading(self._inner):
            return line.draw(ink, x, y)


def well_filled(paper: Paper, fill: Callable[[Galley], object]) -> Galley:
    """Return a galley whose last sheet is well filled, as far as ``AIRS`` bring that about.

    ``fill`` sets all blocks; it does so on measured galleys first, then on the one that is drawn.
    """

    def tried(air: float) -> Galley:
        galley = Galley(paper, air, drawn=False)
        fill(galley)
        return galley

    best, found = AIRS[0], tried(AIRS[0])
    count, most = len(found.sheets), found.filled()
    for air in AIRS[1:]:
        if most >= FILLED:
            break
        found = tried(air)
        # Room is no reason for one sheet more.
        if len(found.sheets) < count or (len(found.sheets) == count and found.filled() > most):
            best, count, most = air, len(found.sheets), found.filled()
    galley = Galley(paper, best)
    fill(galley)
    return galley


def _made(
    block: Listing | Notes | Legend, paper: Paper, columns: tuple[float, int], air: float
) -> _Block:
    """Return a block as lines; ``columns`` are how wide and how many a sheet's are."""
    wide = columns[0]
    if isinstance(block, Listing):
        return _table(_spoken(block), paper, columns, air)
    if isinstance(block, Notes):
        lines = [line for item in block.items for line in _sentence(item, paper, wide)]
    else:
        lines = [_sample(draw, words, paper, wide) for draw, words in block.rows]
    title, again = (_title(words, paper) for words in (block.title, _goes_on(block.title)))
    return _Block(columns=1, head=[title], again=[again], lines=lines, foot=[])


def _goes_on(title: str) -> str:
    """Return the title of what was parted, in the language of the paper."""
    return Said(f"{said(title)}, {said('continued')}")


def _spoken(block: Listing) -> Listing:
    """Return a table in the language of the paper, as its columns are as wide as its words."""
    heads, rows = map(said, block.heads), [list(map(said, row)) for row in block.rows]
    return replace(block, heads=list(heads), rows=rows)


def _title(words: str, paper: Paper) -> _Line:
    size = 1.12 * paper.letter

    def draw(ink: Drawing, x: float, y: float) -> None:
        ink.text(x, y + 1.2 + cap_height(size), words, size, bold=True, layer="galley")

    return _Line(height=1.2 + 1.5 * size, draw=draw)


def _sentence(words: str, paper: Paper, wide: float) -> list[_Line]:
    size, indent = paper.small, 1.1 * paper.small
    made = []
    for number, line in enumerate(wrapped(words, size, wide - indent)):

        def draw(
            ink: Drawing, x: float, y: float, line: str = line, first: bool = number == 0
        ) -> None:
            base = y + 0.2 * size + cap_height(size)
            if first:
                ink.text(x, base, "–", size, layer="galley")
            ink.text(x + indent, base, line, size, layer="galley")

        made.append(_Line(height=LINE * size, draw=draw))
    return made


def _sample(
    draw_sample: Callable[[Drawing, Box], None], words: str, paper: Paper, wide: float
) -> _Line:
    size, room = paper.small, 14.0
    lines = wrapped(words, size, wide - room)
    height = max(1.55 * paper.letter, len(lines) * LINE * size + 0.4)

    def draw(ink: Drawing, x: float, y: float) -> None:
        draw_sample(ink, Box(x, y, x + room - 2.5, y + height))
        top = y + (height - len(lines) * LINE * size) / 2.0
        for number, line in enumerate(lines):
            base = top + 0.2 * size + cap_height(size) + number * LINE * size
            ink.text(x + room, base, line, size, layer="galley")

    return _Line(height=height, draw=draw)


def _table(block: Listing, paper: Paper, room: tuple[float, int], air: float) -> _Block:
    """Return a table in the fewest columns in which no word is cut and few lines are broken."""
    size, (wide, most) = paper.small, room
    columns, widths = 1, list[float]()
    for columns in range(1, most + 1):
        across = columns * wide + (columns - 1) * GUTTER
        widths, fits = fitted_mm(block.heads, block.rows, size * PT, across)
        broken = [_height(row, widths, size) for row in block.rows[:40]]
        if fits and sum(broken) <= 1.6 * len(broken):
            break
    edges = [0.0]
    for width in widths:
        edges.append(edges[-1] + width)
    heads = _row(block.heads, edges, block.numeric, (size, air), bold=True)
    lines = [_row(row, edges, block.numeric, (size, air)) for row in block.rows]
    return _Block(
        columns=columns,
        head=[_title(block.title, paper), heads],
        again=[_title(_goes_on(block.title), paper), heads],
        lines=lines,
        foot=_sentence(block.note, paper, edges[-1] if edges[-1] > 60.0 else wide)
        if block.note
        else [],
        widths=widths,
    )


def _height(row: Sequence[str], widths: Sequence[float], size: float) -> int:
    """Return how many lines a row of a table takes."""
    return max(
        len(wrapped(words, size, width - 1.6)) for words, width in zip(row, widths, strict=True)
    )


def _row(
    row: Sequence[str],
    edges: Sequence[float],
    numeric: Sequence[bool],
    sizes: tuple[float, float],
    *,
    bold: bool = False,
) -> _Line:
    """Return a row of a table, or its head; ``sizes`` are that of lettering [mm] and the air."""
    size, air = sizes
    cells = [
        wrapped(words, size, edges[number + 1] - edges[number] - 1.6, bold=bold)
        for number, words in enumerate(row)
    ]
    deep = max(len(lines) for lines in cells)
    height = (deep * LINE + air) * size

    def draw(ink: Drawing, x: float, y: float) -> list[list[Label]]:
        made = []
        for number, lines in enumerate(cells):
            skip = deep - len(lines) if bold else 0
            # Figures stand to the right in any language, so that their units are one above another.
            far = numeric[number] and spoken()[1] == "ltr"
            side: Anchor = "end" if far else "start"
            at = x + (edges[number + 1] - 0.8 if far else edges[number] + 0.8)
            first = y + (0.5 * air + 0.2 + LINE * skip) * size + cap_height(size)
            made.append([
                ink.cell_text(at, first + LINE * index * size, words, size, anchor=side, bold=bold,
                              layer="galley")
                for index, words in enumerate(lines)
            ])  # fmt: skip
        ink.line(x, y + height, x + edges[-1], y + height, "edge" if bold else "hair")
        return made

    return _Line(height=height, draw=draw)

"""A detail drawn to scale: metres upwards in, millimetres of a sheet out, with its dimensions."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from routing.papers.sheet.ink import Anchor, Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.typeset import DESCENT, cap_height, line_height, shortened, text_width
from routing.units import UnitSystem, show

__all__ = ["NOTE_LINE", "Sketch", "caption", "fitted"]

SCALES = {
    "metric": (2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000),
    "us": (2, 4, 8, 12, 16, 24, 32, 48, 96, 120, 240, 480, 960),
}
"""Round scales of details; in the US inches to the foot and tens of them."""
NOTE_LINE = 1.24
"""Height of a line of the notes, in sizes of lettering [-]."""
TICK_MM = 1.2
"""Half the length of the tick at the end of a dimension [mm]."""


class Sketch:
    """One detail at a scale: shapes, dimensions and notes in metres, about a place of the sheet."""

    def __init__(
        self,
        ink: Drawing,
        paper: Paper,
        units: UnitSystem,
        scale: int,
        origin: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        """Take the scale's denominator and where on the sheet the place (0, 0) lies [mm]."""
        self.ink, self.paper, self.units, self.scale = ink, paper, units, scale
        self.mm = 1000.0 / scale
        self._x, self._y = origin

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place [m] lies on the sheet [mm]."""
        return self._x + x * self.mm, self._y - y * self.mm

    def line(self, x0: float, y0: float, x1: float, y1: float, style: str = "edge") -> None:
        """Draw a straight line."""
        self.ink.line(*self.at(x0, y0), *self.at(x1, y1), style)

    def rect(self, x0: float, y0: float, x1: float, y1: float, style: str) -> None:
        """Draw a rectangle from one corner to the other."""
        left, bottom = self.at(min(x0, x1), min(y0, y1))
        right, top = self.at(max(x0, x1), max(y0, y1))
        self.ink.rect(Box(left, top, right, bottom), style)

    def poly(
        self, points: Sequence[tuple[float, float]], style: str, *, close: bool = True
    ) -> None:
        """Draw a line through places."""
        self.ink.poly([self.at(*each) for each in points], style, close=close)

    def pipe_end(self, x: float, y: float, outside: float, inside: float) -> None:
        """Draw a pipe cut across."""
        self.ink.circle(*self.at(x, y), outside / 2.0 * self.mm, "concrete")
        self.ink.circle(*self.at(x, y), inside / 2.0 * self.mm, "blank")

    def valve(self, x: float, y: float, half: float, *, upright: bool = False) -> None:
        """Draw a valve as two triangles point to point, half its length from its middle."""
        wide = 0.6 * half
        ends = [(x - half, y - wide), (x - half, y + wide), (x + half, y - wide)]
        ends.append((x + half, y + wide))
        if upright:
            ends = [(x + (b - y), y + (a - x)) for a, b in ends]
        self.poly(ends, "blank")

    def across(self, x0: float, x1: float, y: float, words: str = "") -> None:
        """Dimension a width, lettered above its line or beside it where it is short."""
        (left, level), (right, _) = self.at(x0, y), self.at(x1, y)
        said = words or show(abs(x1 - x0), "depth", self.units)
        self.ink.line(left, level, right, level, "fine")
        for end in (left, right):
            self.ink.line(end, level - TICK_MM, end, level + TICK_MM, "fine")
        size = self.paper.small
        wide = text_width(said, size)
        if wide < right - left:
            middle = (left + right) / 2.0
            self._say(middle, level - 0.7, said, "middle")
        else:
            self._say(right + 1.2, level + 0.9, said)

    def up(self, y0: float, y1: float, x: float, words: str = "", *, left: bool = False) -> None:
        """Dimension a height, lettered beside its line."""
        (at, low), (_, high) = self.at(x, y0), self.at(x, y1)
        said = words or show(abs(y1 - y0), "depth", self.units)
        self.ink.line(at, low, at, high, "fine")
        for end in (low, high):
            self.ink.line(at - TICK_MM, end, at + TICK_MM, end, "fine")
        size = self.paper.small
        base = (low + high) / 2.0 + cap_height(size) / 2.0
        anchor: tuple[Anchor, float] = ("end", -1.2) if left else ("start", 1.2)
        self._say(at + anchor[1], base, said, anchor[0])

    def note(self, x: float, y: float, words: str, dx: float = 6.0, dy: float = -4.0) -> None:
        """Letter a place beside it, on a short leader [mm]."""
        at_x, at_y = self.at(x, y)
        end_x, end_y = at_x + dx, at_y + dy
        self.ink.line(at_x, at_y, end_x, end_y, "fine")
        anchor: Anchor = "start" if dx >= 0.0 else "end"
        shift = 0.6 if dx >= 0.0 else -0.6
        self._say(end_x + shift, end_y + 0.9, words, anchor)

    def _say(self, x: float, y: float, words: str, anchor: Anchor = "start") -> None:
        """Letter a dimension or note; what lies on another's lettering moves up or down."""
        size = self.paper.small
        wide = text_width(words, size)
        left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
        for step in (0, 1, -1, 2, -2, 3, -3):
            base = y + 1.05 * step * line_height(size)
            high, low = base - cap_height(size), base + DESCENT * size
            clear = all(
                label.box.right <= left
                or left + wide <= label.box.left
                or label.box.bottom <= high
                or low <= label.box.top
                for label in self.ink.labels
            )
            if clear:
                break
        self.ink.text(x, base, words, size, anchor=anchor, halo=True, layer="dim")

    def ground(self, x0: float, x1: float, y: float) -> None:
        """Draw the ground's surface with its ticks."""
        (left, level), (right, _) = self.at(x0, y), self.at(x1, y)
        self.ink.line(left, level, right, level, "edge")
        count = max(int((right - left) / 4.0), 1)
        for number in range(count):
            x = left + (number + 0.3) * (right - left) / count
            self.ink.line(x, level, x - 1.2, level + 1.2, "fine")


def fitted(
    draw: Callable[[Sketch], None],
    paper: Paper,
    units: UnitSystem,
    room: tuple[float, float],
    tried: dict[int, Box] | None = None,
) -> tuple[int, Box]:
    """Return the finest round scale at which a detail fits a room, with the box it then takes.

    The box is about the place (0, 0) of the detail, its lettering included [mm]. ``tried`` keeps
    what it took at each scale, for other rooms.
    """
    boxes = {} if tried is None else tried
    for scale in SCALES[units]:
        if scale not in boxes:
            ink = Drawing(0.0, 0.0)
            draw(Sketch(ink, paper, units, scale))
            boxes[scale] = ink.extent()
        box = boxes[scale]
        if box.right - box.left <= room[0] and box.bottom - box.top <= room[1]:
            break
    return scale, box


def caption(ink: Drawing, paper: Paper, box: Box, title: str, lines: Sequence[str]) -> None:
    """Frame a detail, its title at the top and its notes, in lines, at the foot."""
    ink.rect(box, "thin")
    with ink.reading(box):
        _words(ink, paper, box, title, lines)


def _words(ink: Drawing, paper: Paper, box: Box, title: str, lines: Sequence[str]) -> None:
    size, room = paper.small, box.right - box.left - 3.0
    said = shortened(title, paper.letter, room, bold=True)
    top = box.top + 1.2 + cap_height(paper.letter)
    ink.text(box.left + 1.5, top, said, paper.letter, bold=True, layer="detail")
    for number, line in enumerate(lines):
        base = box.bottom - 1.4 - (len(lines) - 1 - number) * NOTE_LINE * size
        ink.text(box.left + 1.5, base, line, size, layer="detail")

"""Where the line crosses, touches or runs along what the land holds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

from routing.land.contact import Contact, contacts
from routing.land.inside import stretches_inside
from routing.land.kinds import KINDS
from routing.land.near import stretches_near
from routing.land.shape import Shape
from routing.land.track import Track, track_of
from routing.line import GroundProfile
from routing.value import dataclass

__all__ = ["GROUND", "Crossing", "Layer", "Relation", "find_crossings"]

GROUND = "ground"
"""Kind of a layer whose areas are classes of ground: dug at a price of their own, not crossed."""
Relation = Literal["inside", "crosses", "touches", "along"]

ALONG_DEG = 20.0
"""A stretch beside a line that is longer than a crossing at this angle runs along it [deg]."""
SAME_PLACE_M = 0.05
"""How far from the end of a stretch the edge of its area is looked for [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Shapes of one kind and what is said of all of them; a shape's own word comes first.

    ``width_m`` is that of what lines stand for, ``beside_m`` how near the pipe lies along them,
    ``flood_m`` how deep a stream is in flood [m]; ``consent`` the reference of the owner's leave.
    """

    kind: str
    shapes: tuple[Shape, ...]
    width_m: float | None = None
    beside_m: float | None = None
    flood_m: float | None = None
    consent: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One crossing: from and to which station, where its middle line is met, and at which angle.

    ``from_m`` and ``to_m`` are the same where a line without width is met. ``relation`` is
    "inside" an area, "crosses" or "touches" a line, or runs "along" one. ``width_m`` is that of
    the line or, of an area, square to its edge; ``number`` tells shapes of one kind without name.
    """

    id: str
    kind: str
    name: str
    number: int
    relation: Relation
    from_m: float
    to_m: float
    at_m: float
    angle_deg: float | None = None
    width_m: float | None = None
    flood_m: float | None = None
    top_m: float | None = None
    consent: str | None = None

    @property
    def length_m(self) -> float:
        """Return the length of the line within, in plan [m]."""
        return self.to_m - self.from_m

    @property
    def called(self) -> str:
        """Return kind and name, or kind and number, in words."""
        words = KINDS[self.kind].words
        return f"{words} {self.name!r}" if self.name else f"{words} {self.number}"


def find_crossings(profile: GroundProfile, layers: Sequence[Layer]) -> tuple[Crossing, ...]:
    """Return all crossings of a line by station, named X1, X2, ... from the intake on.

    Parameters
    ----------
    profile : GroundProfile
        The line over the ground
    layers : sequence of Layer
        What the land holds

    Returns
    -------
    crossings : tuple of Crossing
        An area gives its stretches inside; a line the places where it is crossed or touched, as
        wide as it is said to be, and the stretches along it
    """
    if not layers:
        return ()
    track = track_of(profile)
    found: list[Crossing] = []
    counts: dict[str, int] = {}
    for layer in layers:
        for shape in () if layer.kind == GROUND else layer.shapes:
            counts[layer.kind] = counts.get(layer.kind, 0) + 1
            given = Crossing(
                id="",
                kind=layer.kind,
                name=shape.name,
                number=counts[layer.kind],
                relation="inside",
                from_m=0.0,
                to_m=0.0,
                at_m=0.0,
                width_m=layer.width_m if shape.width_m is None else shape.width_m,
                flood_m=layer.flood_m,
                top_m=shape.top_m,
                consent=shape.consent or layer.consent,
            )
            found += (_areas if shape.area else _lines)(track, shape, given, layer)
    found.sort(key=lambda each: (each.from_m, each.to_m, each.kind))
    return tuple(replace(each, id=f"X{n}") for n, each in enumerate(found, start=1))


def _areas(track: Track, shape: Shape, given: Crossing, layer: Layer) -> Iterator[Crossing]:
    stretches = stretches_inside(track, shape.parts)
    edges = contacts(track, shape.parts) if stretches and KINDS[layer.kind].angle else ()
    for first, last in stretches:
        angle = _least(each for each in edges if _near(each, first) or _near(each, last))
        width = given.width_m
        if width is None and angle is not None and first > 0.0 and last < track.station_m[-1]:
            width = (last - first) * math.sin(math.radians(angle))
        yield replace(
            given,
            from_m=first,
            to_m=last,
            at_m=(first + last) / 2.0,
            angle_deg=angle,
            width_m=width,
        )


def _lines(track: Track, shape: Shape, given: Crossing, layer: Layer) -> Iterator[Crossing]:
    met = contacts(track, shape.parts)
    width = given.width_m or 0.0
    if width > 0.0:
        yield from _wide(given, met, stretches_near(track, shape.parts, width / 2.0))
    else:
        for each in met:
            yield replace(
                given,
                relation="crosses" if each.crosses else "touches",
                from_m=each.station_m,
                to_m=each.station_m,
                at_m=each.station_m,
                angle_deg=each.angle_deg,
            )
    beside = KINDS[layer.kind].beside_m if layer.beside_m is None else layer.beside_m
    if beside <= 0.0:
        return
    distance = beside + width / 2.0
    for first, last in stretches_near(track, shape.parts, distance):
        if last - first > 2.0 * distance / math.sin(math.radians(ALONG_DEG)):
            yield replace(
                given, relation="along", from_m=first, to_m=last, at_m=(first + last) / 2.0
            )


def _wide(
    given: Crossing, met: Sequence[Contact], stretches: Sequence[tuple[float, float]]
) -> Iterator[Crossing]:
    """Yield the stretches within the width of a line, with the meetings that lie in each."""
    for first, last in stretches:
        inside = [each for each in met if first - 1e-6 <= each.station_m <= last + 1e-6]
        crossed = next((each for each in inside if each.crosses), None)
        at = crossed or next(iter(inside), None)
        yield replace(
            given,
            relation="crosses" if crossed else "touches",
            from_m=first,
            to_m=last,
            at_m=(first + last) / 2.0 if at is None else at.station_m,
            angle_deg=_least(inside),
        )


def _near(contact: Contact, station_m: float) -> bool:
    return abs(contact.station_m - station_m) <= SAME_PLACE_M


def _least(met: Iterator[Contact] | Sequence[Contact]) -> float | None:
    return min((each.angle_deg for each in met), default=None)

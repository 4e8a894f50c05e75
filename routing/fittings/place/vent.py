"""A vent: one place where the line lets air out and in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Need", "Vent", "VentKind"]

Need = Literal["must", "advise"]
VentKind = Literal["open vent", "combination air valve", "vacuum valve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vent:
    """One place where the line needs air let out and in; SI units.

    ``rules`` holds every rule that asks for it, ``rule`` the strongest. An open vent has the
    elevation of its top, its height above the ground (above the pipe on a span) and the bore of
    its foot; a valve has not. ``prominence_m`` and ``probability`` belong to summits, the latter
    to those over elevations of stated error. A ``minor`` summit is lower than one bore.
    """

    id: str
    station_m: float
    lon: float
    lat: float
    ground_m: float
    pipe_m: float
    depth_m: float
    static_head_m: float
    flowing_head_m: float | None
    rule: str
    rules: tuple[str, ...]
    need: Need
    reason: str
    kind: VentKind
    size_m: float
    size_source: str
    foot_size_m: float | None
    open_top_m: float | None
    open_height_m: float | None
    prominence_m: float | None
    minor: bool
    probability: float | None

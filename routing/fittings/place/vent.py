"""A vent: one place where the line lets air out and in."""

from __future__ import annotations

from typing import Literal

from routing.fittings.place.fitting import Fitting, Need
from routing.value import dataclass

__all__ = ["Advised", "Lost", "Vent", "VentKind"]

VentKind = Literal["open vent", "combination air valve", "vacuum valve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """What a line loses without one of its vents, the others being there; SI units.

    ``air_m3`` may gather at the place and hold back ``head_m``; a full break near it would draw
    ``vacuum_pa``, where the pipe beside it stands ``allowed_pa``.
    """

    air_m3: float = 0.0
    head_m: float = 0.0
    vacuum_pa: float = 0.0
    allowed_pa: float = 0.0

    @property
    def over_vacuum_pa(self) -> float:
        """Return by how much that vacuum is more than the pipe stands [Pa]."""
        return max(self.vacuum_pa - self.allowed_pa, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """A place where rules advise a vent and nothing measurable is lost without one."""

    station_m: float
    lon: float
    lat: float
    pipe_m: float
    rule: str
    rules: tuple[str, ...]
    reason: str
    need: Need = "advise"


@dataclass(frozen=True, slots=True, kw_only=True)
class Vent(Fitting):
    """One place where the line needs air let out and in; SI units.

    ``rules`` holds every rule that asks for it. It serves a summit or a break of grade;
    ``near_bend`` is the bend that it could not keep clear of. ``why`` is the placing's part of
    ``reason``. An open vent has the elevation of its top, its height above the
    ground (above the pipe on a span) and the bore of its foot; a valve has not. ``prominence_m``
    and ``probability`` belong to summits, the latter to those over elevations of stated error. A
    ``minor`` summit is lower than one bore. ``rank`` counts the advised ones, the one that saves
    most first.

    As placed, kind and size are the least of the tables and ``rating_pa`` is None; once it is
    sized all of them, and the reason, say what to fit.
    """

    rules: tuple[str, ...]
    need: Need
    rank: int | None
    lost: Lost
    why: str
    reason: str
    kind: VentKind
    size_m: float
    least_m: float
    size_source: str
    foot_size_m: float | None
    open_top_m: float | None
    open_height_m: float | None
    rating_pa: float | None
    rating_basis: str | None
    prominence_m: float | None
    minor: bool
    probability: float | None
    near_bend: str | None

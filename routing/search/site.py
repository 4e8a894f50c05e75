"""What a search knows before it begins: ground, prices, pipes, and where no line may go."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.errors import InputError
from routing.inputs import find_limits
from routing.search.bans import LEVEL, STEEP, closed_levels
from routing.search.graph import Field, Moves, Terms, field_of, moves_on
from routing.search.grid import Place, SearchGrid
from routing.search.hillside import Hillside
from routing.search.ladder import Ladder
from routing.search.legs import Ground
from routing.search.prices import PriceBook
from routing.search.rules import dug_through_m, rules
from routing.settings import Settings
from routing.terrain import Terrain
from routing.trench import TrenchLimits, trench_width_m
from routing.value import dataclass

__all__ = ["Site", "find_site", "intake_level_m", "outlet_level_m"]

BEND_FULL_DEG = 45.0
"""A turn on the graph from here up costs a whole bend, a lesser one in proportion [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One hillside and one task; ``stops`` are the cells that a line passes, both ends among them.

    ``shut`` has a bit for each reason why a cell is closed; ``tables`` are the settings that every
    proposal is studied with.
    """

    terrain: Terrain
    grid: SearchGrid
    places: tuple[Place, ...]
    stops: tuple[int, ...]
    tables: Mapping[str, Any]
    settings: Settings
    book: PriceBook
    ladder: Ladder
    limits: TrenchLimits
    terms: Terms
    moves: Moves
    ground: Ground
    shut: NDArray[np.uint8]
    tolls: NDArray[np.float32]
    beside: NDArray[np.float32]
    """What land costs by the metre that is not in a study's bill of crossings [money/m]."""
    dug: NDArray[np.float32]
    """What a metre of trench costs more by the class of the ground; the study's bill has it too."""
    intake_m: float
    outlet_m: float
    straight_m: float
    margin_m: float
    apart_m: float

    def field(
        self,
        *,
        strain: NDArray[np.float32] | None = None,
        shut: NDArray[np.uint8] | None = None,
    ) -> Field:
        """Return the hillside as the graph takes it, with some ground dearer or closed."""
        shape = self.grid.shape
        return field_of(
            self.grid.heights,
            self.shut if shut is None else shut,
            self.tolls + self.dug,
            np.ones(shape, dtype=np.float32) if strain is None else strain,
            self.ladder.by_head(self._most_head_m()),
        )

    def _most_head_m(self) -> float:
        return self.intake_m - float(np.nanmin(self.grid.heights)) + self.limits.max_depth_m


def find_site(hillside: Hillside, places: Sequence[Place], *, detour: float = 1.0) -> Site:
    """Return what a search between places needs to know.

    Parameters
    ----------
    hillside : Hillside
        The ground on which all of them lie
    places : sequence of Place
        Intake, places to pass through, powerhouse [deg]
    detour : float
        Length of a line over the straight distance that its loss of head is counted with, >= 1 [-]

    Returns
    -------
    Site
        Ground, prices, pipes and closed cells

    Raises
    ------
    InputError
        If both ends are one place.
    PipeError
        If a pipe is to be chosen and none holds and carries enough.
    """
    rule = rules()
    settings, book, grid = hillside.settings, hillside.book, hillside.grid
    asked = settings.search
    stops = tuple(grid.cell_of(place) for place in places)
    cols = grid.shape[1]
    away_m = _away_m(grid, stops[0])
    straight_m = float(away_m[stops[-1] // cols, stops[-1] % cols])
    if straight_m < 2.0 * grid.cell_m:
        raise InputError(
            f"The two ends lie {straight_m:.1f} m apart, within two cells of the raster.",
            "Give two places further apart, the intake first.",
        )
    intake_m = intake_level_m(hillside, stops[0])
    outlet_m = outlet_level_m(hillside, stops[-1])
    ladder = hillside.ladder(straight_m * rule["detour"], max(intake_m - outlet_m, 1.0))
    limits, _ = find_limits(settings.trench, ladder.outside_diameter_m)
    margin_m = rule["margin"] if asked.margin is None else asked.margin
    shut = hillside.shut | closed_levels(
        grid.heights,
        away_m,
        intake_m=intake_m,
        deepest_crown_m=limits.max_depth_m - limits.bedding_m - limits.outside_diameter_m,
        margin_m=margin_m,
        gradient=ladder.gradient * detour,
        head_most_m=ladder.most_head_m,
    )
    for cell in (stops[0], stops[-1]):  # an end lies where it was put; the study judges it
        shut[cell // cols, cell % cols] &= ~np.uint8(LEVEL | STEEP)
    apart_m = asked.apart or max(rule["apart_share"] * straight_m, 2.0 * grid.cell_m)
    return Site(
        terrain=hillside.terrain,
        grid=grid,
        places=tuple(places),
        stops=stops,
        tables=hillside.tables,
        settings=settings,
        book=book,
        ladder=ladder,
        limits=limits,
        terms=_terms(settings, book, limits, intake_m),
        moves=moves_on(grid.east_m, grid.south_m, _turn_price(settings, book, grid)),
        ground=hillside.ground,
        shut=np.ascontiguousarray(shut),
        tolls=hillside.tolls,
        beside=hillside.beside,
        dug=hillside.dearer_m3 * np.float32(_section_m2(limits)),
        intake_m=intake_m,
        outlet_m=outlet_m,
        straight_m=straight_m,
        margin_m=margin_m,
        apart_m=apart_m,
    )


def intake_level_m(hillside: Hillside, cell: int) -> float:
    """Return the level of the water with the intake in a cell [m]."""
    intake = hillside.settings.intake
    return _level(intake.level, intake.level_above_ground, hillside, cell)


def outlet_level_m(hillside: Hillside, cell: int) -> float:
    """Return the level of the outlet with the powerhouse in a cell [m]."""
    outlet = hillside.settings.outlet
    return _level(outlet.level, outlet.level_above_ground or 0.0, hillside, cell)


def _level(level: float | None, above: float, hillside: Hillside, cell: int) -> float:
    """Return a level as given, else over the ground of a cell."""
    ground = float(hillside.grid.heights.reshape(-1)[cell])
    return level if level is not None else ground + above


def _away_m(grid: SearchGrid, cell: int) -> NDArray[np.float64]:
    """Return the straight distance of every cell from one [m]."""
    rows, cols = grid.shape
    row = (np.arange(rows)[:, None] - cell // cols) * grid.south_m
    col = (np.arange(cols)[None, :] - cell % cols) * grid.east_m
    away: NDArray[np.float64] = np.hypot(row, col)
    return away


def _terms(settings: Settings, book: PriceBook, limits: TrenchLimits, intake_m: float) -> Terms:
    """Return what a metre costs on this site."""
    rule = rules()
    outside = limits.outside_diameter_m
    longest = settings.search.longest_span
    return Terms(
        intake_m=intake_m,
        depth_m=limits.cover_m + outside / 2.0,
        trench=book.trench_m3 * _section_m2(limits),
        bench=book.bench_m3 * settings.trench.bench_width**2 / 2.0,
        bench_from=settings.trench.bench_from,
        cut=settings.trench.bench_face,
        steep_from=rule["steep_from"],
        steep_factor=rule["steep_factor"],
        vent=book.vent,
        drain=book.drain,
        slack_m=dug_through_m(limits.max_depth_m - _depth_m(limits)),
        span=book.span_m,
        longest_m=rule["longest_span"] if longest is None else longest,
    )


def _depth_m(limits: TrenchLimits) -> float:
    """Return the depth of a trench at the least cover [m]."""
    return limits.cover_m + limits.outside_diameter_m + limits.bedding_m


def _section_m2(limits: TrenchLimits) -> float:
    """Return the section of such a trench [m2]."""
    return trench_width_m(limits.outside_diameter_m) * _depth_m(limits)


def _turn_price(settings: Settings, book: PriceBook, grid: SearchGrid) -> Callable[[float], float]:
    """Return the price of a turn on the graph; infinite where it is too sharp."""
    sharpest = rules()["sharpest_turn"]
    radius = settings.search.least_radius
    if radius:
        # On an arc a leg of length c turns by 2 asin(c / 2 R).
        chord = min(grid.east_m, grid.south_m)
        share = min(1.0, chord / (2.0 * radius))
        sharpest = min(sharpest, max(float(np.degrees(2.0 * np.arcsin(share))), 30.0))

    def price(angle_deg: float) -> float:
        if angle_deg > sharpest + 1.0:
            return float("inf")
        return book.bend * min(1.0, angle_deg / BEND_FULL_DEG)

    return price

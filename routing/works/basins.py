"""How an undulating line fills from its top: pools behind the summits, each to its lower rim.

The pipe is a chain of pools between summits. Water that enters at the intake runs down to the first
pool and fills it to the lower of its two rims. At the rim downstream it runs on into the next pool;
at the rim upstream it meets the water behind it, and both rise together. The shut end of the line
is a wall. The last stage fills everything to the water at the intake.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["Stage", "fill_stages", "pool_volume_m3"]

LEVEL_M = 1e-6
"""Levels closer than this are one level [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One pool rising without a break; volumes in the whole line.

    ``first`` and ``last`` are the stations (indices) between whose tops the pool lies, its rims
    included; ``before_m`` and ``level_m`` the level of its water (on the centreline) before and
    after, ``before_m3`` and ``after_m3`` the water in the line before and after.
    """

    first: int
    last: int
    before_m: float
    level_m: float
    before_m3: float
    after_m3: float

    def level_at(self, line: LaidLine, volume_m3: float) -> float:
        """Return the level of the pool when the line holds a volume within this stage [m]."""
        low, high = self.before_m, self.level_m
        start = pool_volume_m3(line, self.first, self.last, self.before_m)
        wanted = start + min(max(volume_m3 - self.before_m3, 0.0), self.after_m3 - self.before_m3)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if pool_volume_m3(line, self.first, self.last, middle) < wanted:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


def pool_volume_m3(line: LaidLine, first: int, last: int, level_m: float) -> float:
    """Return the water between two stations that stands below a level, the pipe as its centreline.

    >>> from routing.laid_line import simple_line
    >>> from routing.pipe import load_catalogue
    >>> pipe = load_catalogue().find("PE100-SDR17-200")
    >>> line = simple_line(np.array([0.0, 30.0, 70.0]), np.array([40.0, 0.0, 30.0]), pipe,
    ...                    intake_m=40.0)
    >>> area = np.pi / 4.0 * pipe.inside_diameter_m**2
    >>> round(pool_volume_m3(line, 0, 2, 30.0) / area, 3)  # 37.5 m and 50 m of pipe
    87.5
    """
    piece = slice(first, last)
    low, high = line.once(_piece_levels)
    part = (level_m - low[piece]) / np.maximum(high[piece] - low[piece], 1e-12)
    return float(np.sum(line.once(_piece_volumes)[piece] * np.clip(part, 0.0, 1.0)))


def _piece_levels(line: LaidLine) -> tuple[FloatArray, FloatArray]:
    z = line.pipe_m
    return frozen(np.minimum(z[:-1], z[1:])), frozen(np.maximum(z[:-1], z[1:]))


def _piece_volumes(line: LaidLine) -> FloatArray:
    """Return what the pipe holds between each station and the next, (n - 1,) [m3]."""
    area = np.pi / 4.0 * line.inside_diameter_m[:-1] ** 2
    return frozen(area * np.diff(line.slope_station_m))


@dataclass(slots=True)
class _Pool:
    first: int
    last: int
    level_m: float


def fill_stages(line: LaidLine) -> tuple[Stage, ...]:
    """Return the stages in which a line fills from its top, every vent open and its end shut.

    Parameters
    ----------
    line : LaidLine
        The line as laid, below its intake's water

    Returns
    -------
    stages : tuple of Stage
        In order of time, up to the level of the intake's water; a pipe that rises above it stays
        empty there, and the line beyond a summit above it is never reached

    Notes
    -----
    Valid for: vents that let all air out, and water that enters slowly enough to run down the empty
    limbs; the film that runs down holds little. Levels are those of the centreline.
    Checked by ``tests/routing/works/test_basins.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 150.0, 300.0], [50.0, 30.0, 35.0, 10.0], "PE100-SDR17-200",
    ...                    intake_m=51.0)
    >>> [stage.level_m for stage in fill_stages(line)]
    [35.0, 35.0, 51.0]

    References
    ----------
    .. [1] Balance of volume over the profile.
    """
    z, top = line.pipe_m, line.levels.intake_m
    rims = [0, *line.pipe.summits.tolist(), z.size - 1]
    pools: list[_Pool] = []
    stages: list[Stage] = []
    held = 0.0
    for first, last in pairwise(rims):
        pool = _Pool(first, last, float(z[first : last + 1].min()))
        while True:
            behind = float(z[pool.first]) if pool.first > 0 else np.inf
            ahead = float(z[pool.last]) if pool.last < z.size - 1 else np.inf
            rim = min(behind, ahead, top)
            held = _raise(line, pool, rim, held, stages)
            if rim == top and not behind <= top:
                return tuple(stages)
            if behind <= ahead and pools and behind <= top:
                pool = _Pool(pools.pop().first, pool.last, pool.level_m)
                continue
            break
        if ahead > top:
            return tuple(stages)
        pools.append(pool)
    return tuple(stages)


def _raise(line: LaidLine, pool: _Pool, to_m: float, held_m3: float, stages: list[Stage]) -> float:
    """Let a pool rise to a level; return what the line then holds."""
    if to_m <= pool.level_m + LEVEL_M:
        return held_m3
    more = pool_volume_m3(line, pool.first, pool.last, to_m)
    more -= pool_volume_m3(line, pool.first, pool.last, pool.level_m)
    stages.append(
        Stage(
            first=pool.first,
            last=pool.last,
            before_m=pool.level_m,
            level_m=to_m,
            before_m3=held_m3,
            after_m3=held_m3 + more,
        )
    )
    pool.level_m = to_m
    return held_m3 + more

"""A line cut into segments that a wave crosses in one time step, the same step in every pipe."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.errors import InputError
from routing.flow.air import HIGHEST_M, LOWEST_M, atmosphere_pa
from routing.flow.resistance import LineResistance, line_resistance
from routing.flow.surge.bounds import SurgeReach
from routing.flow.surge.inputs import MOST_SEGMENTS, SurgeInputs
from routing.flow.surge.wave import pipe_wave_speed_m_s
from routing.value import dataclass
from routing.water import Water

__all__ = ["WaveGrid", "boiling_head_m", "interlaced", "wave_grid"]

SPEED_TOLERANCE = 0.01
"""Share by which wave speeds may be changed to share one time step [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveGrid:
    """Nodes (n,), n odd, segments (n - 1,) and pipes (k,) of one line, intake first.

    ``wave_speed_m_s`` are the speeds used, ``speed_change`` their share above the true ones.
    ``pipe_m`` is the highest centreline within half a segment, where water would part first.
    """

    slope_m: FloatArray
    pipe_m: FloatArray
    boiling_m: FloatArray
    impedance: FloatArray
    resistance: FloatArray
    storage_m2: FloatArray
    entrance: float
    step_s: float
    wave_speed_m_s: FloatArray
    speed_change: FloatArray
    reaches: tuple[SurgeReach, ...]

    @property
    def loss_per_square(self) -> float:
        """Return the head lost from the reservoir to the valve per flow squared [s2/m5]."""
        return self.entrance + float(self.resistance.sum())


def interlaced(values: FloatArray) -> FloatArray:
    """Return values of nodes or segments, (n,), as even and odd ones in two rows.

    Parameters
    ----------
    values : FloatArray
        Values in order, (n,) [any]

    Returns
    -------
    rows : FloatArray
        Even ones over odd ones, (2, (n + 1) // 2), the last place may be zero [any]

    Examples
    --------
    >>> interlaced(np.array([0.0, 1.0, 2.0, 3.0, 4.0]))
    array([[0., 2., 4.],
           [1., 3., 0.]])
    """
    rows = np.zeros((2, (values.size + 1) // 2))
    rows[0], rows[1, : values.size // 2] = values[::2], values[1::2]
    return rows


def segment_counts(travel_s: FloatArray, least: int) -> tuple[IntArray, float]:
    """Return how many segments each pipe gets, even in sum, and the common time step.

    Parameters
    ----------
    travel_s : FloatArray
        Time of a wave through each pipe, (k,) > 0 [s]
    least : int
        Least number of segments in all [-]

    Returns
    -------
    counts : IntArray
        Segments of each pipe, (k,) >= 1 [-]
    step_s : float
        Time step; a pipe's wave speed changes by the share travel / (count * step) - 1 [s]

    Notes
    -----
    Valid for: any pipes. The first number of segments that changes no speed by more than 1 % is
    taken, or, where none up to the limit does, the one that changes them least.
    """
    best_spread, best = math.inf, np.ones(travel_s.size, dtype=np.int64)
    start = least + least % 2
    if travel_s.size == 1:
        return np.array([start]), float(travel_s[0] / start)
    for total in range(start, MOST_SEGMENTS + 1, 2):
        counts = np.maximum(1, np.rint(travel_s / travel_s.sum() * total)).astype(np.int64)
        if counts.sum() % 2:
            # The pipe with most segments feels one more or less the least.
            counts[np.argmax(counts)] += 1
        ratio = travel_s / counts
        spread = float((ratio.max() - ratio.min()) / (ratio.max() + ratio.min()))
        if spread < best_spread:
            best_spread, best = spread, counts
        if spread <= SPEED_TOLERANCE:
            break
        if total > 10 * start and best_spread <= 5.0 * SPEED_TOLERANCE:
            # Good enough to be said aloud; a still finer grid would cost the square of it.
            break
    ratio = travel_s / best
    return best, float(0.5 * (ratio.max() + ratio.min()))


def wave_grid(inputs: SurgeInputs) -> WaveGrid:
    """Return the grid of a line.

    Parameters
    ----------
    inputs : SurgeInputs
        The line [-]

    Returns
    -------
    grid : WaveGrid
        Nodes, segments and the common time step

    Raises
    ------
    PipeError
        If a pipe's wave speed is unknown or cannot be.
    InputError
        If the line has no length.

    Notes
    -----
    Valid for: a line without branches. Friction factors are those of the design flow and stay so;
    losses of bends and joints belong to the segment they lie in.
    """
    speeds = np.array(_speeds(inputs))
    resistance = line_resistance(inputs.line, inputs.new_pipe)
    lengths = resistance.length_m
    if not np.all(lengths > 0.0):
        raise InputError("A pipe of the line has no length.", "Check the stations of the joints.")
    counts, step_s = segment_counts(lengths / speeds, inputs.least_segments)
    used = lengths / (counts * step_s)
    velocity = inputs.flow_m3_s / resistance.area_m2
    run = np.repeat(np.arange(counts.size), counts)
    cut_m = (lengths / counts)[run]
    slope_m = inputs.line.slope_station_m[0] + np.concatenate(([0.0], np.cumsum(cut_m)))
    slope_m[-1] = inputs.line.slope_station_m[-1]
    pipe_m = _highest_near(slope_m, inputs.line.slope_station_m, inputs.line.pipe_m)
    gravity = inputs.line.water.gravity_m_s2
    return WaveGrid(
        slope_m=frozen(slope_m),
        pipe_m=frozen(pipe_m),
        boiling_m=frozen(pipe_m + boiling_head_m(pipe_m, inputs.line.water)),
        impedance=frozen((used / (gravity * resistance.area_m2))[run]),
        resistance=frozen(_segment_losses(inputs, resistance, slope_m, run, counts)),
        storage_m2=frozen((gravity * resistance.area_m2 / np.square(used))[run] * cut_m),
        entrance=resistance.entrance,
        step_s=step_s,
        wave_speed_m_s=frozen(used),
        speed_change=frozen(used / speeds - 1.0),
        reaches=tuple(
            SurgeReach(length_m=length, wave_speed_m_s=speed, velocity_m_s=each, area_m2=area)
            for length, speed, each, area in zip(
                *(column.tolist() for column in (lengths, speeds, velocity, resistance.area_m2)),
                strict=True,
            )
        ),
    )


def _speeds(inputs: SurgeInputs) -> list[float]:
    given = inputs.wave_speed_m_s or (None,) * len(inputs.line.pipes.runs)
    return [
        pipe_wave_speed_m_s(
            run.pipe,
            inputs.line.water,
            restraint=inputs.restraint,
            thick_wall=inputs.thick_wall,
            speed_m_s=speed,
        )
        for run, speed in zip(inputs.line.pipes.runs, given, strict=True)
    ]


def _segment_losses(
    inputs: SurgeInputs,
    resistance: LineResistance,
    slope_m: FloatArray,
    run: IntArray,
    counts: IntArray,
) -> FloatArray:
    """Return head lost per flow squared in each segment, (n - 1,)."""
    if inputs.darcy_factor is None:
        friction = resistance.friction(inputs.flow_m3_s)[1] / inputs.flow_m3_s**2
    else:
        per_factor = resistance.length_m / (
            2.0 * resistance.gravity_m_s2 * resistance.bore_m * np.square(resistance.area_m2)
        )
        friction = inputs.darcy_factor * per_factor
    losses: FloatArray = ((friction + resistance.spread) / counts)[run]
    if resistance.point_index.size:
        places = inputs.line.slope_station_m[resistance.point_index]
        segment = np.clip(np.searchsorted(slope_m, places) - 1, 0, run.size - 1)
        np.add.at(losses, segment, resistance.point)
    return losses


def _highest_near(nodes_m: FloatArray, slope_m: FloatArray, pipe_m: FloatArray) -> FloatArray:
    """Return the highest centreline within half a segment of each node; the ends as they are."""
    height = np.interp(nodes_m, slope_m, pipe_m)
    middle = 0.5 * (nodes_m[:-1] + nodes_m[1:])
    between = np.interp(middle, slope_m, pipe_m)
    height[1:-1] = np.maximum(height[1:-1], np.maximum(between[:-1], between[1:]))
    nearest = np.searchsorted(middle, slope_m)
    inner = (nearest > 0) & (nearest < nodes_m.size - 1)
    np.maximum.at(height, nearest[inner], pipe_m[inner])
    return height


def boiling_head_m(pipe_m: FloatArray, water: Water) -> FloatArray:
    """Return the gauge head at which water boils at each elevation, (n,) < 0.

    Parameters
    ----------
    pipe_m : FloatArray
        Elevations of the pipe, (n,) [m]
    water : Water
        Gives vapour pressure and weight

    Returns
    -------
    head_m : FloatArray
        Head over the pipe, (n,) [m]
    """
    # The pressure of the air is nearly straight over the rise of one line.
    ends = np.clip([pipe_m.min(), pipe_m.max()], LOWEST_M, HIGHEST_M)
    heights = np.linspace(ends[0], ends[1], 9) if ends[1] > ends[0] else ends[:1]
    air = np.interp(pipe_m, heights, [atmosphere_pa(float(each)) for each in heights])
    return (water.vapour_pressure_pa - air) / water.weight_n_m3

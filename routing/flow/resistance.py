"""All that resists the flow along one line, gathered once so that any flow can be tried."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.flow.friction import friction_factors
from routing.flow.losses import sudden_contraction_k, sudden_expansion_k
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["LineResistance", "line_resistance", "run_lengths_m"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineResistance:
    """Reaches (m,) between joints, and losses as head per flow squared [m/(m3/s)^2].

    ``spread`` are losses spread along each reach, ``point`` losses at the stations ``point_index``.
    """

    slope_bounds_m: FloatArray
    length_m: FloatArray
    bore_m: FloatArray
    area_m2: FloatArray
    roughness_m: FloatArray
    viscosity_m2_s: float
    gravity_m_s2: float
    entrance: float
    spread: FloatArray
    point_index: IntArray
    point: FloatArray

    def velocity_m_s(self, flow_m3_s: float) -> FloatArray:
        """Return the mean velocity in each reach, (m,)."""
        return flow_m3_s / self.area_m2

    def reynolds(self, flow_m3_s: float) -> FloatArray:
        """Return the Reynolds number in each reach, (m,)."""
        return self.velocity_m_s(flow_m3_s) * self.bore_m / self.viscosity_m2_s

    def friction(self, flow_m3_s: float) -> tuple[FloatArray, FloatArray]:
        """Return Darcy's factor [-] and the friction head [m] of each reach, (m,) both."""
        velocity = self.velocity_m_s(flow_m3_s)
        # Still water has no Reynolds number worth a factor; its loss is zero whatever it is.
        reynolds = np.maximum(velocity * self.bore_m / self.viscosity_m2_s, 1e-9)
        factor = friction_factors(reynolds, self.roughness_m / self.bore_m)
        head = factor * (self.length_m / self.bore_m) * velocity**2 / (2.0 * self.gravity_m_s2)
        return factor, head

    @property
    def local(self) -> float:
        """Return the sum of the local losses along the line, without the entrance."""
        return float(self.spread.sum() + self.point.sum())

    def head_loss_m(self, flow_m3_s: float) -> float:
        """Return the head that a flow loses from the intake's water to the end of the line."""
        local = (self.entrance + self.local) * flow_m3_s * flow_m3_s
        return float(self.friction(flow_m3_s)[1].sum()) + local

    def head_losses_m(self, flow_m3_s: FloatArray) -> FloatArray:
        """Return the head that each of many flows loses down to the end of the line, (k,)."""
        flow = np.asarray(flow_m3_s, dtype=np.float64)
        lost = (self.entrance + self.local) * flow * flow
        for length, bore, area, rough in zip(
            self.length_m, self.bore_m, self.area_m2, self.roughness_m, strict=True
        ):
            velocity = flow / area
            reynolds = np.maximum(velocity * bore / self.viscosity_m2_s, 1e-9)
            factor = friction_factors(reynolds, np.full(flow.shape, rough / bore))
            lost = lost + factor * (length / bore) * velocity**2 / (2.0 * self.gravity_m_s2)
        return lost


def run_lengths_m(line: LaidLine) -> FloatArray:
    """Return the length along the slope of each run of pipe, (m,)."""
    return np.diff(_slope_bounds(line))


def _slope_bounds(line: LaidLine) -> FloatArray:
    joints = np.interp(line.pipes.joints_m, line.station_m, line.slope_station_m)
    return np.concatenate((line.slope_station_m[:1], joints, line.slope_station_m[-1:]))


def line_resistance(line: LaidLine, new: bool = False) -> LineResistance:
    """Return what resists the flow along a line, gathered once for aged and once for new pipe.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes; its own sum of all K is spread evenly along the pipe [-]
    new : bool
        Take the roughness of new pipe and not that of aged pipe [-]

    Returns
    -------
    resistance : LineResistance
        Ready for any flow

    Raises
    ------
    PipeError
        If the line has no pipes.

    Notes
    -----
    Valid for: full, steady flow of one amount all along the line. The coefficient of the intake
    counts on the first pipe's velocity, that of a bend on the velocity of the pipe below it.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 800.0], [350.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> line_resistance(line).head_loss_m(0.03)
    6.5961
    """
    return line.once(lambda each: _gathered(each, new), new)


def _gathered(line: LaidLine, new: bool) -> LineResistance:
    bounds = _slope_bounds(line)
    lengths = np.diff(bounds)
    pipes = [run.pipe for run in line.pipes.runs]
    bore = np.array([pipe.inside_diameter_m for pipe in pipes])
    area = math.pi / 4.0 * bore * bore
    per_k = 1.0 / (2.0 * line.water.gravity_m_s2 * area * area)
    spread = np.zeros(len(pipes))
    index, point = np.zeros(0, dtype=np.int64), np.zeros(0)
    if line.local_k is not None:
        spread = line.local_k * lengths / lengths.sum() * per_k
    else:
        index, point = _point_losses(line, bore, per_k)
    return LineResistance(
        slope_bounds_m=frozen(bounds),
        length_m=frozen(lengths),
        bore_m=frozen(bore),
        area_m2=frozen(area),
        roughness_m=frozen([pipe.roughness_new_m if new else pipe.roughness_m for pipe in pipes]),
        viscosity_m2_s=line.water.kinematic_viscosity_m2_s,
        gravity_m_s2=line.water.gravity_m_s2,
        entrance=float(line.entrance_k * per_k[0]),
        spread=frozen(spread),
        point_index=frozen(index, np.int64),
        point=frozen(point),
    )


def _point_losses(
    line: LaidLine, bore: FloatArray, per_k: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Return where bends and changes of bore lose head, and how much per flow squared."""
    index = line.bend_index
    point = line.bend_k * per_k[line.run_index[index]]
    if len(bore) > 1:
        joint_index = np.searchsorted(line.station_m, line.pipes.joints_m, side="left")
        changes = [
            sudden_contraction_k(above, below) * k_below
            if below < above
            else sudden_expansion_k(above, below) * k_above
            for above, below, k_above, k_below in zip(
                bore[:-1].tolist(),
                bore[1:].tolist(),
                per_k[:-1].tolist(),
                per_k[1:].tolist(),
                strict=True,
            )
        ]
        index = np.concatenate((index, np.minimum(joint_index, len(line.station_m) - 1)))
        point = np.concatenate((point, changes))
    return index, point

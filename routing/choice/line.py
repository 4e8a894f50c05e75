"""What a choice of pipe is made for: the line, its levels, its flow and its closing time."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.errors import InputError
from routing.flow.friction import friction_factors
from routing.flow.surge import (
    SurgeBound,
    SurgeReach,
    bound_along_m,
    pipe_wave_speed_m_s,
    surge_bound,
)
from routing.heads import pressure_pa
from routing.need import need
from routing.pipe import Pipe
from routing.strength import Hydrotest
from routing.value import dataclass
from routing.water import Water

__all__ = ["ChoiceLine", "friction_gradient", "quick_surge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceLine:
    """A line as laid, without its pipes.

    ``intake_level_m`` is the working level, ``highest_level_m`` the highest that can occur with
    the machine shut; ``outlet_level_m`` that of the outlet, None at the end of the pipe.
    ``closing_s`` is the effective closing time; None where nothing is known of it: then the surge
    is that of an instant closure. ``local_k`` is spread evenly.
    ``later_swings`` is by how much waves between unlike pipes are let pass the bound of each alone.
    ``test`` is that of the whole line as one section, which a sequence must bear; None counts none.
    """

    station_m: FloatArray
    slope_station_m: FloatArray
    pipe_m: FloatArray
    intake_level_m: float
    highest_level_m: float
    flow_m3_s: float
    water: Water
    closing_s: float | None = None
    entrance_k: float = 0.5
    local_k: float = 0.0
    outlet_level_m: float | None = None
    later_swings: float = 1.0
    test: Hydrotest | None = None

    def __post_init__(self) -> None:
        station = self.station_m
        if not station.shape == self.slope_station_m.shape == self.pipe_m.shape:
            raise InputError("Stations, lengths and elevations differ in number.", "Give one each.")
        if len(station) < 2 or np.any(np.diff(station) <= 0.0):
            raise InputError("The stations do not rise.", "List two or more from the intake down.")
        need("An elevation of the pipe", self.pipe_m)
        need("The design flow", self.flow_m3_s, above=0.0)
        need("The loss coefficient of the intake", self.entrance_k, least=0.0)
        need("The loss coefficients of the line", self.local_k, least=0.0)
        need("The highest level", self.highest_level_m, least=self.intake_level_m)
        if self.closing_s is not None:
            need("The closing time", self.closing_s, least=0.0)

    @property
    def gross_head_m(self) -> float:
        """Return the fall from the intake's working level to the outlet [m]."""
        return self.intake_level_m - self.outlet_m

    @property
    def outlet_m(self) -> float:
        """Return the level of the outlet [m]."""
        return float(self.pipe_m[-1]) if self.outlet_level_m is None else self.outlet_level_m

    @property
    def length_m(self) -> float:
        """Return the length along the pipe [m]."""
        return float(self.slope_station_m[-1] - self.slope_station_m[0])

    @property
    def static_pa(self) -> FloatArray:
        """Return the pressure at rest under the highest level, (n,)."""
        return pressure_pa(self.highest_level_m - self.pipe_m, self.water)


def friction_gradient(
    bore_m: FloatArray, roughness_m: FloatArray, flow_m3_s: float | FloatArray, water: Water
) -> FloatArray:
    """Return the head that friction takes per length, by broadcasting bores against flows [-].

    Parameters
    ----------
    bore_m : FloatArray
        Bores, > 0 [m]
    roughness_m : FloatArray
        Roughness of each bore's wall [m]
    flow_m3_s : float or FloatArray
        Flows, >= 0 [m3/s]
    water : Water
        Gives viscosity and gravity

    Returns
    -------
    gradient : FloatArray
        Head lost per length, as :func:`routing.flow.head_loss_darcy` [-]
    """
    velocity = flow_m3_s / (0.25 * np.pi * bore_m * bore_m)
    reynolds = np.maximum(velocity * bore_m / water.kinematic_viscosity_m2_s, 1e-9)
    factor = friction_factors(reynolds, roughness_m / bore_m)
    return factor / bore_m * velocity * velocity / (2.0 * water.gravity_m_s2)


def quick_surge(line: ChoiceLine, pipe: Pipe) -> tuple[SurgeBound, FloatArray]:
    """Return the bound on the surge with one pipe all along, at the outlet and at each station."""
    area = 0.25 * np.pi * pipe.inside_diameter_m**2
    reach = SurgeReach(
        length_m=line.length_m,
        wave_speed_m_s=pipe_wave_speed_m_s(pipe, line.water),
        velocity_m_s=line.flow_m3_s / area,
        area_m2=area,
    )
    bound = surge_bound(
        (reach,),
        static_head_m=max(line.highest_level_m - line.outlet_m, 0.01),
        closing_s=0.0 if line.closing_s is None else line.closing_s,
        gravity_m_s2=line.water.gravity_m_s2,
    )
    along = bound_along_m(bound, line.slope_station_m, (reach,))
    return bound, line.later_swings * along

"""Thrust: what the water pushes a fitting with, as a vector in space."""

from __future__ import annotations

import math
from collections.abc import Sequence

from routing.anchors.given import check_diameters
from routing.errors import InputError
from routing.need import need
from routing.value import dataclass

__all__ = [
    "Arm",
    "Thrust",
    "arm_force_n",
    "bend_thrust",
    "bend_thrust_n",
    "fitting_thrust",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Thrust:
    """A force on what holds a fitting; up is positive."""

    east_n: float
    north_n: float
    up_n: float

    @property
    def total_n(self) -> float:
        """Return the size of the force [N]."""
        return math.hypot(self.east_n, self.north_n, self.up_n)

    @property
    def horizontal_n(self) -> float:
        """Return the size of its horizontal part [N]."""
        return math.hypot(self.east_n, self.north_n)

    @property
    def bearing_deg(self) -> float:
        """Return where its horizontal part points, clockwise from north [deg]."""
        return math.degrees(math.atan2(self.east_n, self.north_n)) % 360.0

    def along_n(self, bearing_deg: float) -> float:
        """Return the horizontal part in one direction [N]."""
        b = math.radians(bearing_deg)
        return self.east_n * math.sin(b) + self.north_n * math.cos(b)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arm:
    """One end of a fitting: the pipe that joins it, and the way the water flows there.

    ``bearing_deg`` is clockwise from north and ``slope_deg`` above the horizontal, both in the
    direction of flow; ``outflow`` where the water leaves the fitting by this arm.
    """

    bearing_deg: float
    slope_deg: float
    outside_diameter_m: float
    inside_diameter_m: float
    pressure_pa: float
    velocity_m_s: float = 0.0
    outflow: bool = False


def arm_force_n(
    pressure_pa: float,
    outside_diameter_m: float,
    inside_diameter_m: float,
    velocity_m_s: float = 0.0,
    density_kg_m3: float = 1000.0,
) -> float:
    r"""Return the force of the water through one end of a fitting [1]_.

    .. math::
        F = P \frac{\pi D^2}{4} + \rho \frac{\pi d^2}{4} V^2

    Parameters
    ----------
    pressure_pa : float
        Pressure above that of the air, >= 0 [Pa]
    outside_diameter_m : float
        Outside diameter of the spigot, on which the pressure acts, > bore [m]
    inside_diameter_m : float
        Bore, > 0 [m]
    velocity_m_s : float
        Velocity of the water, either way [m/s]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]

    Returns
    -------
    force_n : float
        Force along the pipe [N]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: gasketed joints; on the safe side for any other, where the bore would do.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> arm_force_n(1.0e6, 0.2191, 0.2027)
    37703.

    References
    ----------
    .. [1] *Buried Pipe Design*, p. 271.
    """
    need("The pressure", pressure_pa, least=0.0, unit="Pa")
    check_diameters(outside_diameter_m, inside_diameter_m)
    need("The density of the water", density_kg_m3, above=0.0, unit="kg/m3")
    if not math.isfinite(velocity_m_s):
        raise InputError(f"The velocity is {velocity_m_s:g} m/s.", "Give a finite velocity.")
    quarter = math.pi / 4.0
    return quarter * (
        pressure_pa * outside_diameter_m**2 + density_kg_m3 * inside_diameter_m**2 * velocity_m_s**2
    )


def fitting_thrust(arms: Sequence[Arm], density_kg_m3: float = 1000.0) -> Thrust:
    r"""Return the thrust of any fitting: the sum of the forces through its arms.

    .. math::
        \mathbf{T} = \sum_{in} F \mathbf{u} - \sum_{out} F \mathbf{u}

    A bend has two arms, a dead end or closed valve one, a reducer two in one line, a tee or wye
    three.

    Parameters
    ----------
    arms : sequence of Arm
        Every end of the fitting that the water stands or flows in [-]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]

    Returns
    -------
    thrust : Thrust
        Force of the fitting on what holds it, up positive [N]

    Raises
    ------
    InputError
        If there is no arm or an arm's value is outside the bounds of :func:`arm_force_n`.

    Notes
    -----
    Valid for: any fitting; the weight of pipe and water is not part of it.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> cap = Arm(bearing_deg=90.0, slope_deg=0.0, outside_diameter_m=0.2191,
    ...           inside_diameter_m=0.2027, pressure_pa=1.0e6)
    >>> fitting_thrust([cap]).east_n
    37703.

    References
    ----------
    .. [1] *Buried Pipe Design*, p. 271.
    """
    if not arms:
        raise InputError("A fitting without arms has no thrust.", "Give at least one arm.")
    east = north = up = 0.0
    for arm in arms:
        force = arm_force_n(
            arm.pressure_pa, arm.outside_diameter_m, arm.inside_diameter_m,
            arm.velocity_m_s, density_kg_m3,
        )  # fmt: skip
        force = -force if arm.outflow else force
        bearing, slope = math.radians(arm.bearing_deg), math.radians(arm.slope_deg)
        east += force * math.cos(slope) * math.sin(bearing)
        north += force * math.cos(slope) * math.cos(bearing)
        up += force * math.sin(slope)
    return Thrust(east_n=east, north_n=north, up_n=up)


def bend_thrust(before: Arm, bearing_deg: float, slope_deg: float, density_kg_m3: float) -> Thrust:
    """Return the thrust of a bend of one pipe from ``before`` into a new direction [N].

    ``bearing_deg`` and ``slope_deg`` are the direction of flow below the bend.

    >>> level = Arm(bearing_deg=0.0, slope_deg=0.0, outside_diameter_m=0.2191,
    ...             inside_diameter_m=0.2027, pressure_pa=1.0e6)
    >>> bend_thrust(level, 0.0, -20.0, 1000.0).up_n
    12895.
    """
    after = Arm(
        bearing_deg=bearing_deg,
        slope_deg=slope_deg,
        outside_diameter_m=before.outside_diameter_m,
        inside_diameter_m=before.inside_diameter_m,
        pressure_pa=before.pressure_pa,
        velocity_m_s=before.velocity_m_s,
        outflow=True,
    )
    return fitting_thrust([before, after], density_kg_m3)


def bend_thrust_n(force_n: float, deflection_deg: float) -> float:
    r"""Return the size of a bend's thrust from the force through its ends.

    .. math::
        T = 2 F \sin\frac{\theta}{2}

    Parameters
    ----------
    force_n : float
        Force through either end, >= 0 [N]
    deflection_deg : float
        Change of direction in space, 0 to 180; not that in plan alone [deg]

    Returns
    -------
    thrust_n : float
        Thrust, outward along the line that halves the bend [N]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: one bore on both sides.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> bend_thrust_n(37703.0, 32.183)
    20900.

    References
    ----------
    .. [1] *Buried Pipe Design*, p. 271.
    """
    need("The force", force_n, least=0.0, unit="N")
    need("The deflection of a bend", deflection_deg, least=0.0, most=180.0, unit="degrees")
    return 2.0 * force_n * math.sin(math.radians(deflection_deg) / 2.0)

"""One limb of pipe that runs down to a drain: its water, its heads and what friction takes."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.flow import friction_factor
from routing.need import need
from routing.value import dataclass

__all__ = ["Limb", "drain_constant", "make_limb", "with_friction"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limb:
    """A limb from the drain upward, node by node; SI units.

    ``length_m`` is the slope length from the drain, rising from 0, ``head_m`` the height over the
    drain's outlet, never falling; both (k,). ``bore_m`` and ``friction`` (Darcy's factor) belong
    to the stretches between, (k - 1,). ``volume_m3`` and ``resistance`` count from the drain up:
    the head lost over a node's whole length is its resistance [s2/m5] times the flow squared.
    """

    length_m: FloatArray
    head_m: FloatArray
    bore_m: FloatArray
    friction: FloatArray
    volume_m3: FloatArray
    resistance: FloatArray

    def alone_m3_s(self, length_m: float, drain: float) -> float:
        """Return the flow of this limb alone while water stands to a slope length in it [m3/s].

        ``drain`` is the drain's constant of :func:`drain_constant`.
        """
        head = float(np.interp(length_m, self.length_m, self.head_m))
        lost = float(np.interp(length_m, self.length_m, self.resistance))
        return math.sqrt(max(head, 0.0) / (drain + lost))

    def levels(self, above_m: float, to_m: float) -> tuple[FloatArray, FloatArray]:
        """Return head and resistance of the water's levels between two lengths, node by node.

        The flow is greatest at one of them, and need not be at the highest: once a level reach
        above a steep one has run empty, its friction is gone and its head is still there.
        """
        inner = self.length_m[(self.length_m > above_m) & (self.length_m < to_m)]
        level = np.concatenate(([above_m], inner, [to_m]))
        return (
            np.interp(level, self.length_m, self.head_m),
            np.interp(level, self.length_m, self.resistance),
        )

    def most_m3_s(self, above_m: float, to_m: float, drain: float) -> float:
        """Return the greatest flow of this limb alone over the levels between two lengths."""
        head, lost = self.levels(above_m, to_m)
        return math.sqrt(float(np.max(head / (drain + lost))))


def drain_constant(bore_m: float, cd: float, gravity_m_s2: float) -> float:
    r"""Return the head that a drain takes over its flow squared.

    .. math::
        K = \frac{1}{2 g\, (C_d A_d)^2}

    Parameters
    ----------
    bore_m : float
        Bore of the drain, > 0 [m]
    cd : float
        Discharge coefficient, above 0 to 1 [-]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    constant : float
        Head per flow squared [s2/m5]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a drain that runs free into the air.

    Examples
    --------
    >>> round(drain_constant(0.1, 0.6, 9.80665), 1)
    2296.1

    References
    ----------
    .. [1] Torricelli's law with a discharge coefficient.
    """
    need("The bore of the drain", bore_m, above=0.0)
    need("The discharge coefficient", cd, above=0.0, most=1.0)
    need("The gravity", gravity_m_s2, above=0.0)
    through = cd * 0.25 * math.pi * bore_m * bore_m
    return 1.0 / (2.0 * gravity_m_s2 * through * through)


def make_limb(
    *,
    length_m: FloatArray,
    head_m: FloatArray,
    bore_m: FloatArray,
    friction: FloatArray,
    gravity_m_s2: float,
) -> Limb:
    """Return a limb with its volume and resistance summed from the drain up.

    Parameters
    ----------
    length_m : FloatArray
        Slope length from the drain, (k,) rising from 0 [m]
    head_m : FloatArray
        Height over the drain's outlet, (k,) >= 0; dips count as level, as their water stays [m]
    bore_m : FloatArray
        Bore of each stretch, (k - 1,) > 0 [m]
    friction : FloatArray
        Darcy's friction factor of each stretch, (k - 1,) >= 0 [-]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    limb : Limb
        Ready to be emptied

    Raises
    ------
    InputError
        If shapes or numbers are outside the bounds given above, or the limb has no fall.

    Notes
    -----
    Valid for: a full pipe below the water's surface.

    Examples
    --------
    >>> limb = make_limb(length_m=np.array([0.0, 400.0]), head_m=np.array([0.0, 40.0]),
    ...     bore_m=np.array([0.3]), friction=np.array([0.015]), gravity_m_s2=9.80665)
    >>> round(float(limb.volume_m3[-1]), 2)
    28.27

    References
    ----------
    .. [1] Darcy and Weisbach.
    """
    need("The gravity", gravity_m_s2, above=0.0)
    length, head = np.asarray(length_m, np.float64), np.asarray(head_m, np.float64)
    bore, factor = np.asarray(bore_m, np.float64), np.asarray(friction, np.float64)
    if length.ndim != 1 or length.size < 2 or head.shape != length.shape:
        raise InputError("The limb's lengths and heads differ in number.", "Give two or more each.")
    if bore.shape != (length.size - 1,) or factor.shape != bore.shape:
        raise InputError(
            "The limb's bores or friction factors differ in number from its stretches.",
            "Give one per stretch between two nodes.",
        )
    need("The bore of the limb", bore, above=0.0)
    need("The friction factor", factor, least=0.0)
    need("The head over the drain", head, least=0.0)
    need("The length of the limb", length, least=0.0)
    if length[0] != 0.0 or not (np.diff(length) > 0.0).all():
        raise InputError("The limb's lengths do not rise from 0.", "Order them from the drain up.")
    head = np.maximum.accumulate(head)
    if head[1] <= 0.0:
        raise InputError(
            "The limb lies level with its drain, so no head empties it.",
            "Set the drain's outlet below the pipe's centreline.",
        )
    area = 0.25 * math.pi * bore * bore
    step = np.diff(length)
    lost = factor / (2.0 * gravity_m_s2 * bore * area * area)
    return Limb(
        length_m=frozen(length),
        head_m=frozen(head),
        bore_m=frozen(bore),
        friction=frozen(factor),
        volume_m3=frozen(np.concatenate(([0.0], np.cumsum(area * step)))),
        resistance=frozen(np.concatenate(([0.0], np.cumsum(lost * step)))),
    )


def with_friction(
    limb: Limb,
    *,
    roughness_m: FloatArray,
    flow_m3_s: float,
    kinematic_viscosity_m2_s: float,
    gravity_m_s2: float,
) -> Limb:
    """Return a limb with the friction factors that Colebrook gives at a flow.

    Parameters
    ----------
    limb : Limb
        The limb; its own factors are replaced
    roughness_m : FloatArray
        Roughness of the wall of each stretch, (k - 1,) 0 to bore/20 [m]
    flow_m3_s : float
        Flow at which the factors are taken, > 0 [m3/s]
    kinematic_viscosity_m2_s : float
        Kinematic viscosity of the water, > 0 [m2/s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    limb : Limb
        The same pipe with its friction

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: one factor for the whole emptying; it rises by a tenth as the flow falls to a tenth.

    Examples
    --------
    >>> bare = make_limb(length_m=np.array([0.0, 400.0]), head_m=np.array([0.0, 40.0]),
    ...     bore_m=np.array([0.3]), friction=np.array([0.0]), gravity_m_s2=9.80665)
    >>> rough = with_friction(bare, roughness_m=np.array([5e-5]), flow_m3_s=0.1,
    ...     kinematic_viscosity_m2_s=1.308e-6, gravity_m_s2=9.80665)
    >>> round(float(rough.friction[0]), 4)
    0.0158

    References
    ----------
    .. [1] As :func:`routing.flow.friction_factor`.
    """
    need("The flow", flow_m3_s, above=0.0)
    reynolds = 4.0 * flow_m3_s / (math.pi * kinematic_viscosity_m2_s * limb.bore_m)
    factor = friction_factor(reynolds, np.asarray(roughness_m) / limb.bore_m)
    return make_limb(
        length_m=limb.length_m,
        head_m=limb.head_m,
        bore_m=limb.bore_m,
        friction=np.asarray(factor),
        gravity_m_s2=gravity_m_s2,
    )

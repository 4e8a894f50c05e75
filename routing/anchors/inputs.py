"""What the placing of blocks needs to know about a laid pipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from routing.anchors.soil import DEFAULT_SOIL_SET, SoilSet
from routing.anchors.trade_data import anchor_limits
from routing.arrays import BoolArray, FloatArray, frozen
from routing.errors import InputError
from routing.pipe import Joint, find_joint
from routing.trench import Bend

__all__ = ["AnchorInputs", "Branch", "governing_pressure"]

_COLUMNS = (
    "station_m",
    "lon",
    "lat",
    "ground_m",
    "pipe_m",
    "slope_station_m",
    "outside_diameter_m",
    "inside_diameter_m",
    "pressure_pa",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A tee in the line: where it stands, the pipe that leaves, and to which side."""

    station_m: float
    outside_diameter_m: float
    inside_diameter_m: float
    side: Literal["left", "right", "up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorInputs:
    """A laid pipe with the pressure that its fittings must hold; everything in SI units.

    Arrays have one value per station, shape (n,); a diameter at station i is that of the pipe from
    there to the next, ``pressure_pa`` the governing one (:func:`governing_pressure`). ``joints``
    gives from each station on the way the pipes are joined, first station 0. ``velocity_m_s`` is
    None where no flow is known; 3 m/s is then taken. ``restrained_change_c`` is the greatest change
    of temperature that a wall anchor must hold against, with ``elastic_short_pa`` and
    ``expansion_per_c`` of the pipe there.
    """

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    ground_m: FloatArray
    pipe_m: FloatArray
    in_span: BoolArray
    slope_station_m: FloatArray
    outside_diameter_m: FloatArray
    inside_diameter_m: FloatArray
    pressure_pa: FloatArray
    bends: tuple[Bend, ...]
    joints: tuple[tuple[float, str], ...]
    velocity_m_s: FloatArray | None = None
    valves_m: tuple[float, ...] = ()
    branches: tuple[Branch, ...] = ()
    soil: str | None = None
    soil_set: SoilSet = DEFAULT_SOIL_SET
    joint_allowance_deg: float | None = None
    stick_m: float | None = None
    flooded: bool = True
    saturated_n_m3: float | None = None
    water_density_kg_m3: float = 1000.0
    gravity_m_s2: float = 9.80665
    restrained_change_c: float = 0.0
    elastic_short_pa: float = 0.0
    expansion_per_c: float = 0.0

    def __post_init__(self) -> None:
        put = object.__setattr__
        for name in _COLUMNS:
            put(self, name, frozen(getattr(self, name)))
        put(self, "in_span", frozen(self.in_span, np.bool_))
        speed = 0.0 * self.station_m + anchor_limits().velocity_m_s
        put(self, "velocity_m_s", frozen(speed if self.velocity_m_s is None else self.velocity_m_s))
        self._check_columns()
        self._check_places()

    def _check_columns(self) -> None:
        shape = self.station_m.shape
        if len(shape) != 1 or shape[0] < 2:
            raise InputError(
                f"The line has stations of shape {shape}.", "Give two or more, in one dimension."
            )
        for name in (*_COLUMNS, "in_span", "velocity_m_s"):
            values = getattr(self, name)
            if values.shape != shape:
                raise InputError(
                    f"{name} has shape {values.shape}, but the line has {shape[0]} stations.",
                    "Give one value per station.",
                )
            if not np.isfinite(values).all():
                place = float(self.station_m[int(np.argmin(np.isfinite(values)))])
                raise InputError(
                    f"{name} is not a finite number at station {place} m.",
                    "Give every station a value.",
                )
        if not (np.diff(self.station_m) > 0.0).all():
            raise InputError("station_m does not rise strictly.", "Order the stations.")
        if (self.pressure_pa < 0.0).any():
            raise InputError(
                f"pressure_pa falls to {self.pressure_pa.min():.4g} Pa.",
                "Give the governing pressure above that of the air, zero where there is none.",
            )

    def _check_places(self) -> None:
        start, end = float(self.station_m[0]), float(self.station_m[-1])
        for what, place in (
            *(("valve", valve) for valve in self.valves_m),
            *(("branch", branch.station_m) for branch in self.branches),
        ):
            if not start <= place <= end:
                raise InputError(
                    f"The {what} at station {place} m does not lie on the line, which runs from "
                    f"{start:.1f} to {end:.1f} m.",
                    "Give its distance from the intake along the line.",
                    station_m=float(place),
                )
        starts = [from_m for from_m, _ in self.joints]
        if not starts or starts[0] != 0.0 or starts != sorted(set(starts)):
            raise InputError(
                f"The joints begin at stations {starts}.",
                "Give the kind of joint from station 0 on, and where it changes in rising order.",
            )
        allowed = self.joint_allowance_deg
        if allowed is not None and not 0.0 <= allowed <= 15.0:
            raise InputError(
                f"The joints are said to turn by {allowed:g} degrees.",
                "Give the maker's allowance, 0 to 15 degrees.",
            )

    def joint_at(self, index: int) -> Joint:
        """Return the joints of the pipe below a station."""
        place = float(self.station_m[index])
        name = next(name for from_m, name in reversed(self.joints) if from_m <= place + 1e-9)
        return find_joint(name, float(self.inside_diameter_m[index]))

    def allowance_deg(self, index: int) -> float:
        """Return what a joint at a station may turn: as given, else what its kind allows [deg]."""
        if self.joint_allowance_deg is not None and not self.joint_at(index).carries_thrust:
            return self.joint_allowance_deg
        return self.joint_at(index).allowance_deg

    def index_at(self, station_m: float) -> int:
        """Return the index of the station nearest to one."""
        return int(np.argmin(np.abs(self.station_m - station_m)))


def governing_pressure(
    static_pa: FloatArray,
    *,
    surge_pa: FloatArray | None = None,
    test_pa: FloatArray | None = None,
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return at each station the pressure that blocks must hold, and which it is.

    Parameters
    ----------
    static_pa : FloatArray
        Pressure of the water at rest, shape (n,) [Pa]
    surge_pa : FloatArray, optional
        Rise above it, shape (n,) [Pa]
    test_pa : FloatArray, optional
        Pressure of the test, shape (n,) [Pa]

    Returns
    -------
    pressure_pa, which : FloatArray, tuple of str
        The greater of test and static with surge, never below zero, shape (n,) [Pa]; and "test",
        "static and surge" or "static"

    Raises
    ------
    InputError
        If the shapes differ.

    Notes
    -----
    Valid for: pressures above that of the air. Without surge and test the blocks hold the water at
    rest and no more: both should be given.
    Checked by ``tests/routing/anchors/test_place.py``.

    Examples
    --------
    >>> pressure, which = governing_pressure(np.array([0.0, 4e5]), test_pa=np.array([2e5, 3e5]))
    >>> pressure.tolist(), which
    ([200000.0, 400000.0], ('test', 'static'))

    References
    ----------
    .. [1] Common practice, no source.
    """
    shape = np.shape(static_pa)
    for name, values in (("surge_pa", surge_pa), ("test_pa", test_pa)):
        if values is not None and np.shape(values) != shape:
            raise InputError(
                f"{name} has shape {np.shape(values)}, but static_pa has {shape}.",
                "Give one value per station.",
            )
    rest = np.asarray(static_pa, dtype=np.float64)
    running = rest if surge_pa is None else rest + np.maximum(surge_pa, 0.0)
    word = "static" if surge_pa is None else "static and surge"
    pressure = running if test_pa is None else np.maximum(running, test_pa)
    which = tuple("test" if more else word for more in (pressure > running).tolist())
    return frozen(np.maximum(pressure, 0.0)), which

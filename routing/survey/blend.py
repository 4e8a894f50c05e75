"""The ground corrected by a survey: exact at every point, the raster's own a stated way off."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from routing.arrays import FloatArray
from routing.line import GroundProfile
from routing.survey.place import PlacedSurvey

__all__ = ["blend_survey", "correction_at"]

SNAP_M: Final = 2e-3
"""A station this close to a break of the correction is that break [m]; profiles merge at 1 mm."""


def correction_at(
    station_m: FloatArray, knot_m: FloatArray, correction_m: FloatArray, fade_m: float
) -> FloatArray:
    r"""Return the correction of the ground at stations.

    Each knot's correction falls off linearly to both sides,

    .. math::
        c(s) = \sum_i c_i \max\left(0, 1 - \frac{|s - s_i|}{\min(F, g_i)}\right)

    over the fade F or, where that is less, over the gap g to the next knot on that side.

    Parameters
    ----------
    station_m : FloatArray, shape (n,)
        Stations [m]
    knot_m, correction_m : FloatArray, shape (k,)
        Stations of the knots, strictly rising, and the corrections there [m]
    fade_m : float
        Distance over which a correction fades, > 0 [m]

    Returns
    -------
    correction : FloatArray, shape (n,)
        Equal to ``correction_m`` at the knots, 0 a fade away from all of them [m]

    Notes
    -----
    Between knots no further apart than the fade this is the straight line between them, so a
    constant correction stays constant there. Nowhere does it leave the range from the least to the
    greatest of the two neighbours' corrections and 0.

    Examples
    --------
    >>> import numpy as np
    >>> s = np.array([0.0, 10.0, 25.0, 60.0, 65.0])
    >>> correction_at(s, np.array([10.0, 70.0]), np.array([1.0, 2.0]), 20.0).tolist()
    [0.5, 1.0, 0.25, 1.0, 1.5]
    """
    total = np.zeros(station_m.shape)
    if not knot_m.size:
        return total
    following = np.searchsorted(knot_m, station_m, side="right")
    reach = np.concatenate([[fade_m], np.minimum(np.diff(knot_m), fade_m), [fade_m]])
    for knot, present in ((following - 1, following > 0), (following, following < knot_m.size)):
        at = np.where(present, knot, 0)
        share = np.maximum(1.0 - np.abs(station_m - knot_m[at]) / reach[following], 0.0)
        total += np.where(present, correction_m[at] * share, 0.0)
    return total


def blend_survey(profile: GroundProfile, survey: PlacedSurvey) -> GroundProfile:
    """Return the profile with the survey's corrections.

    Parameters
    ----------
    profile : GroundProfile
        The ground from the raster, best with stations at ``survey.break_station_m`` already
    survey : PlacedSurvey
        Where the survey corrects it and by how much

    Returns
    -------
    GroundProfile
        The same stations, and those where the correction bends. A surveyed station is no assumed
        ground any more

    Notes
    -----
    The correction is straight between its bends, and the profile is good to its chord tolerance
    between stations, so the sum is as good. A bend that has no station yet gets one on the chord.
    """
    if not survey.knot_m.size:
        return profile
    breaks = survey.break_station_m
    breaks = breaks[(breaks >= 0.0) & (breaks <= profile.station_m[-1])]
    base = _with_stations(profile, breaks)
    # Where a bend fell together with a vertex, the bend is where the vertex is.
    nearest = _nearest(base.station_m, survey.knot_m)
    knots = base.station_m[nearest]
    ground = base.ground_m + correction_at(
        base.station_m, knots, survey.correction_m, survey.fade_m
    )
    assumed = base.assumed.copy()
    assumed[nearest] = False
    return dataclasses.replace(base, ground_m=np.round(ground, 9), assumed=assumed)


def _nearest(station: FloatArray, wanted: FloatArray) -> np.ndarray:
    """Return the index of the nearest station to each wanted one."""
    after = np.clip(np.searchsorted(station, wanted), 1, station.size - 1)
    closer_before = wanted - station[after - 1] <= station[after] - wanted
    return np.where(closer_before, after - 1, after)


def _with_stations(profile: GroundProfile, wanted: FloatArray) -> GroundProfile:
    """Return the profile with a station on its chords for each wanted one that it has not."""
    near = np.abs(profile.station_m[_nearest(profile.station_m, wanted)] - wanted) <= SNAP_M
    extra = wanted[~near]
    if not extra.size:
        return profile
    at = np.searchsorted(profile.station_m, extra)
    share = (extra - profile.station_m[at - 1]) / (
        profile.station_m[at] - profile.station_m[at - 1]
    )

    def mixed(values: FloatArray, *, turn: bool = False) -> FloatArray:
        step = values[at] - values[at - 1]
        if turn:
            step = step - 360.0 * np.round(step / 360.0)
        return np.insert(values, at, values[at - 1] + share * step)

    lon = mixed(profile.lon, turn=True)
    return dataclasses.replace(
        profile,
        station_m=np.insert(profile.station_m, at, extra),
        lon=(lon + 180.0) % 360.0 - 180.0 if np.abs(lon).max() > 180.0 else lon,
        lat=mixed(profile.lat),
        ground_m=mixed(profile.ground_m),
        vertex=np.insert(profile.vertex, at, False),
        assumed=np.insert(profile.assumed, at, profile.assumed[at] | profile.assumed[at - 1]),
    )

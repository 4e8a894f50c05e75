"""Where to take levels: the places that settle most, in order."""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.doubt.chances import Chances
from routing.doubt.given_levels import nearness
from routing.doubt.line import DoubtedLine
from routing.doubt.sounding import Sounding
from routing.doubt.trade_data import limits
from routing.value import dataclass

__all__ = ["Decisions", "Shot", "decisions", "expected_wrong", "levels_to_shoot"]

MOST_SHOTS = 60
NODES = 33
SETTLES_FROM = 0.01
"""Wrong decisions that a level must save at a turn to be said to settle it [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A level to take: where, which turns it helps to settle and how many wrong decisions it saves.

    ``turns`` count the planned turns by station, summits and sags together.
    """

    station_m: float
    turns: tuple[int, ...]
    gain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """What hangs on levels: each planned turn by the height between it and its deciding neighbour.

    ``place`` are the fine points of the planned turns and both ends of the line, in order;
    ``covariance`` of their elevations (k, k). Turn i decides by ``upper[i]`` less ``lower[i]``,
    indices into these. ``chance`` is its probability.
    """

    place: IntArray
    covariance: FloatArray
    upper: IntArray
    lower: IntArray
    chance: FloatArray

    @property
    def variance(self) -> FloatArray:
        """Variance of each deciding height [m2]."""
        c, u, v = self.covariance, self.upper, self.lower
        return np.maximum(c[u, u] + c[v, v] - 2.0 * c[u, v], 1e-9)


def decisions(line: DoubtedLine, sounding: Sounding, found: Chances) -> Decisions:
    """Return what hangs on levels along a line."""
    if found.summit is None or found.sag is None:
        raise ValueError("decisions need probabilities")
    station = np.concatenate([line.summit_m, line.sag_m])
    top = np.arange(station.size) < line.summit_m.size
    order = np.argsort(station, kind="stable")
    top = top[order]
    chance = np.concatenate([found.summit, found.sag])[order]
    at = np.concatenate([[0.0], station[order], [line.length_m]])
    last = sounding.ground_m.shape[0] - 1
    place = np.clip(np.round(at / sounding.fine_m).astype(np.int64), 0, last)
    drawn = sounding.ground_m[place]
    apart = drawn - drawn.mean(axis=1, keepdims=True)
    metres = np.abs(np.subtract.outer(place, place)) * sounding.fine_m
    near = nearness(metres, sounding.fine_m, line.error)
    mean = drawn.mean(axis=1)
    own = np.arange(1, order.size + 1)
    before_higher = mean[own - 1] >= mean[own + 1]
    # A summit hangs on the higher low beside it, a sag on the lower summit.
    other = np.where(before_higher == top, own - 1, own + 1)
    return Decisions(
        place=place,
        covariance=near * (apart @ apart.T) / (sounding.count - 1),
        upper=np.where(top, own, other),
        lower=np.where(top, other, own),
        chance=chance,
    )


def levels_to_shoot(
    line: DoubtedLine, sounding: Sounding, found: Chances, most: int = MOST_SHOTS
) -> tuple[Shot, ...]:
    r"""Return the places to take levels at, the one that settles most first.

    A vent or drain is built or not, and wrongly so with the chance min(p, 1 - p). A level leaves
    the variance v' of the height that decides; the chance of being wrong expected after it is

    .. math::
        E[\Phi(-|\mu'| / \sqrt{v'})], \quad \mu' \sim N(\mu, v - v'), \quad
        \mu = \sqrt{v} \Phi^{-1}(p)

    Parameters
    ----------
    line : DoubtedLine
        The line with its planned turns
    sounding : Sounding
        What was drawn for it
    found : Chances
        The probabilities of its turns
    most : int
        Most levels wanted

    Returns
    -------
    shots : tuple of Shot
        In the order in which to take them; ends where neither one level, nor each of two at a turn
        and its neighbour, saves 0.05 wrong decisions

    Notes
    -----
    Greedy, which is near the best possible for set functions such as this (Krause, Guestrin and
    Singh, doi 10.1184/R1/6607649). Each level taken updates the covariance by rank one. No place
    is asked for twice: a turn that stays in doubt within the error of levels is left so.
    """
    if not line.summit_m.size + line.sag_m.size:
        return ()
    numbers = limits()
    hang = decisions(line, sounding, found)
    cov, whole = hang.covariance.copy(), hang.variance
    share = np.ones(whole.size)
    wrong = expected_wrong(hang.chance, share)
    shots: list[Shot] = []
    taken = np.zeros(len(cov), dtype=bool)
    while len(shots) < most:
        heard = cov[hang.upper] - cov[hang.lower]
        read = np.diagonal(cov) + numbers.level_sd_m**2
        left = np.clip(share[:, None] - heard**2 / read / whole[:, None], 0.0, 1.0)
        after = expected_wrong(hang.chance[:, None], left)
        gains = np.where(taken, 0.0, (wrong[:, None] - after).sum(axis=0))
        best = int(np.argmax(gains))
        # A turn often wants two levels, of which the first alone says little.
        hangs = np.where(taken[hang.upper] & taken[hang.lower], 0.0, wrong)
        turn = int(np.argmax(hangs))
        if hangs[turn] > 2.0 * gains[best]:
            pair = [int(place[turn]) for place in (hang.upper, hang.lower)]
            best = max((place for place in pair if not taken[place]), key=gains.__getitem__)
        if max(float(gains[best]), 0.5 * float(hangs[turn])) < numbers.least_gain:
            break
        taken[best] = True
        saved = wrong - after[:, best]
        shots.append(
            Shot(
                station_m=_station(line, hang, best),
                turns=tuple(np.flatnonzero(saved >= SETTLES_FROM).tolist()),
                gain=float(gains[best]),
            )
        )
        share, wrong = left[:, best], after[:, best]
        cov -= np.outer(cov[:, best], cov[best]) / read[best]
    return tuple(shots)


def expected_wrong(chance: FloatArray, left: FloatArray) -> FloatArray:
    """Return the chance of a wrong decision expected after levels, from a table.

    Parameters
    ----------
    chance : FloatArray
        Probability that the turn is there, before [-]
    left : FloatArray
        Share of the variance of the deciding height that levels leave, of a shape that goes with
        ``chance``; 1: no level, min(p, 1 - p) [-]

    Examples
    --------
    >>> expected_wrong(np.array([0.3]), np.array([1.0])).round(3).tolist()
    [0.3]
    """
    table = _table()
    top = NODES - 1
    # Both axes are square roots, where the table bends most.
    side = np.sqrt(2.0 * np.minimum(chance, 1.0 - chance)) * top
    rest = np.sqrt(left) * top
    i = np.minimum(side.astype(np.int64), top - 1)
    j = np.minimum(rest.astype(np.int64), top - 1)
    u, v = side - i, rest - j
    below = (1.0 - v) * table[i, j] + v * table[i, j + 1]
    above = (1.0 - v) * table[i + 1, j] + v * table[i + 1, j + 1]
    return np.asarray((1.0 - u) * below + u * above)


@cache
def _table() -> FloatArray:
    """Return the chance of a wrong decision by chance before and variance left."""
    share = np.linspace(0.0, 1.0, NODES) ** 2
    normal = np.linspace(-8.0, 8.0, 801)
    below = np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in normal.tolist()])
    weight = np.exp(-0.5 * normal**2)
    weight = weight / weight.sum()
    chances = np.clip(share / 2.0, 1e-9, 0.5).tolist()
    mean = np.array([NormalDist().inv_cdf(chance) for chance in chances])
    left = np.maximum(share, 1e-12)
    heard = mean[:, None, None] + np.sqrt(1.0 - left)[:, None] * normal
    then = np.interp(-np.abs(heard) / np.sqrt(left)[:, None], normal, below)
    table = np.asarray(then @ weight)
    table[:, 0] = 0.0  # nothing left to be wrong about
    return table


def _station(line: DoubtedLine, hang: Decisions, index: int) -> float:
    """Return the exact station of a planned turn or an end."""
    stations = np.sort(np.concatenate([line.summit_m, line.sag_m]))
    return float(np.concatenate([[0.0], stations, [line.length_m]])[index])

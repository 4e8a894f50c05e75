"""Which cause fits best once every explanation is held against the readings, and what to read."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.causes import AIR, BLOCKED, LEAK, LOW, Gauges, Limb, falling_limbs_of
from routing.works.evidence import Fitted, log_sum
from routing.works.gauge import Tap
from routing.works.trade_data import number

__all__ = ["PREDICTED", "Cause", "Diagnosis", "reading_errors_m", "weigh"]

PREDICTED = "as predicted"
ORDER = (PREDICTED, LOW, AIR, LEAK, BLOCKED)
TELLING = 1.0
"""Spread of what is expected over its error, from which another reading is worth taking [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may be at work: how likely, where and how much; None where it has none.

    ``height_m`` is by how much the intake stands low, the height of the trapped air, or the head
    that a blockage takes; ``flow_m3_s`` what leaks while the line is shut.
    """

    cause: str
    odds: float
    from_m: float | None
    to_m: float | None
    height_m: float | None
    flow_m3_s: float | None
    vent_id: str | None
    next: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """What readings say. ``decided``: the causes with great odds are at work, and no other.

    ``read`` are the taps to read next, ``running`` whether with the water running; ``fits`` is
    False where nothing that was tried agrees with the readings.
    """

    decided: bool
    fits: bool
    read: tuple[str, ...]
    running: bool
    causes: tuple[Cause, ...]


def _before(causes: tuple[str, ...]) -> float:
    """Return the logarithm of an explanation's weight before any reading."""
    if causes == (PREDICTED,):
        return math.log(number("odds_predicted"))
    return math.log(number("odds_one" if len(causes) == 1 else "odds_two"))


def weigh(
    line: LaidLine,
    found: list[tuple[Fitted, Gauges]],
    taps: Sequence[Tap],
    spots: list[int],
    vents: Mapping[str, float],
) -> Diagnosis:
    """Return what explanations say together, once each is held against the readings.

    Parameters
    ----------
    line : LaidLine
        The line
    found : list of (Fitted, Gauges)
        Every explanation with its weights, at every flow tried
    taps : sequence of Tap
        The places of all readings that may be
    spots : list of int
        Which of them were read: a tap, or that tap with water running beyond the number of taps
    vents : mapping
        Stations that vents serve, by id [m]

    Returns
    -------
    diagnosis : Diagnosis
        Causes by their odds, and what to read next
    """
    totals = np.array([each.total + _before(each.guesses.causes) for each, _ in found])
    share = np.exp(totals - log_sum(totals))
    odds = dict.fromkeys(ORDER, 0.0)
    sets: dict[tuple[str, ...], float] = {}
    for (each, _), part in zip(found, share, strict=True):
        sets[each.guesses.causes] = sets.get(each.guesses.causes, 0.0) + float(part)
        for cause in each.guesses.causes:
            odds[cause] += float(part)
    best = max(sets, key=lambda causes: sets[causes])
    misfit = min(float(e.misfit.min()) for e, _ in found if e.guesses.causes == best)
    fits = misfit <= len(spots) + 4.0 * math.sqrt(2.0 * len(spots))
    limbs = falling_limbs_of(line)
    causes = [
        _cause(line, cause, odds[cause], found, share, limbs, vents)
        for cause in ORDER
        if odds[cause] >= 0.005 or cause in best
    ]
    told = sorted(causes, key=lambda each: -each.odds)
    sure = sets[best] >= number("odds_decided") and fits
    unnamed = any(e.cause == AIR and e.vent_id is None for e in told if e.odds > 0.5)
    error = reading_errors_m(line, taps)
    rival = _rivals(found, best, misfit, error, spots)
    if not any(spot >= len(taps) for spot in spots) and rival[: len(taps)].any():
        # Water at rest is read first: it needs no flow.
        rival[len(taps) :] = 0.0
    read = int(np.argmax(rival)) if rival.any() else _telling(found, share, error, spots)
    # However unlikely before: what fits so much better has not been ruled out.
    better = misfit - min(float(each.misfit.min()) for each, _ in found)
    sure = sure and better <= number("rival_misfit")
    # A leak below a blockage reads like it with air: the leak is reckoned without the blockage.
    sure = sure and set(best) != {AIR, BLOCKED}
    decided = sure and not rival.any() and not (unnamed and read is not None)
    return Diagnosis(
        decided=decided,
        fits=fits,
        read=() if decided or read is None else (taps[read % len(taps)].id,),
        running=not decided and read is not None and read >= len(taps),
        causes=tuple(told),
    )


def reading_errors_m(line: LaidLine, taps: Sequence[Tap]) -> FloatArray:
    """Return the standard error of a reading at each tap [m]."""
    weight = line.water.weight_n_m3
    own = [tap.tolerance_pa(weight) / weight / number("gauge_sigmas") for tap in taps]
    return np.array(own)


def _rivals(
    found: list[tuple[Fitted, Gauges]],
    best: tuple[str, ...],
    misfit: float,
    error: FloatArray,
    spots: list[int],
) -> FloatArray:
    """Return how much each reading yet to be taken could still overturn the best explanation, (m,).

    However unlikely before: an explanation that fits as well, and would show on another gauge by
    more than twice its tolerance, has not been ruled out.
    """
    own = [(each, gauges) for each, gauges in found if each.guesses.causes == best]
    top, where = max(own, key=lambda pair: float(pair[0].log_weight.max()))
    heads = where.base_m + top.heads_m[int(np.argmax(top.log_weight))]
    errors = np.tile(error, heads.size // error.size)
    material = 2.0 * number("gauge_sigmas") * errors
    rival = np.zeros(heads.size)
    for each, gauges in found:
        if each.guesses.causes == best:
            continue
        good = each.misfit <= misfit + number("rival_misfit")
        if good.any():
            apart = np.abs(gauges.base_m + each.heads_m[good] - heads)
            near = np.exp(-0.5 * (each.misfit[good] - misfit))[:, None]
            rival = np.maximum(
                rival, np.max(np.where(apart > material, apart / errors, 0.0) * near, axis=0)
            )
    rival[spots] = 0.0
    return np.asarray(rival)


class _Share(NamedTuple):
    """The guesses that hold a cause: their share, stations, size and limb."""

    share: FloatArray
    from_m: FloatArray
    to_m: FloatArray
    size: FloatArray
    limb: FloatArray


def _shares(found: list[tuple[Fitted, Gauges]], share: FloatArray, cause: str) -> _Share:
    columns: list[tuple[FloatArray, ...]] = []
    for (each, _), part in zip(found, share, strict=True):
        guesses = each.guesses
        if cause not in guesses.causes or part < 1e-9:
            continue
        at = guesses.causes.index(cause)
        # The last cause of an explanation is the one whose size was left open.
        open_size = guesses.slope_m is not None and at == len(guesses.causes) - 1
        own = np.exp(each.log_weight - each.total) * part
        columns.append(
            (
                own,
                guesses.place[:, 2 * at],
                guesses.place[:, 2 * at + 1],
                each.best_m if open_size else guesses.size,
                guesses.limb,
            )
        )
    if not columns:
        empty = np.zeros(0)
        return _Share(empty, empty, empty, empty, empty)
    return _Share(*(np.concatenate(column) for column in zip(*columns, strict=True)))


def _cause(
    line: LaidLine,
    cause: str,
    odds: float,
    found: list[tuple[Fitted, Gauges]],
    share: FloatArray,
    limbs: tuple[Limb, ...],
    vents: Mapping[str, float],
) -> Cause:
    own = _shares(found, share, cause)
    if cause == PREDICTED or not own.share.size:
        return Cause(
            cause=cause,
            odds=odds,
            from_m=None,
            to_m=None,
            height_m=None,
            flow_m3_s=None,
            vent_id=None,
            next=_NEXT[cause],
        )
    weight = own.share / own.share.sum()
    size = _middle(own.size, weight)
    from_m = to_m = vent = None
    if cause != LOW:
        from_m = float(_at(own.from_m, weight, 0.025))
        to_m = float(_at(own.to_m, weight, 0.975))
    if cause == AIR:
        by_limb = np.bincount(own.limb.astype(np.int64), weights=weight, minlength=len(limbs))
        likely = int(np.argmax(by_limb))
        if by_limb[likely] >= number("odds_decided"):
            vent = _vent_at(limbs[likely], vents)
            from_m, to_m = limbs[likely].from_m, limbs[likely].to_m
    return Cause(
        cause=cause,
        odds=odds,
        from_m=from_m,
        to_m=to_m,
        height_m=None if cause == LEAK else size,
        flow_m3_s=size if cause == LEAK else None,
        vent_id=vent,
        next=_NEXT[cause],
    )


_NEXT = {
    PREDICTED: "Nothing these gauges can show is wrong. A blockage shows only while water runs, a "
    "small leak only as water lost over hours with the intake shut.",
    LOW: "Look at the water level at the intake, and whether its screen is clean.",
    AIR: "Open the vent there until solid water runs, stand clear of its jet, and read again.",
    LEAK: "Walk the stretch for wet ground with the outlet shut; shut the next valve and read on.",
    BLOCKED: "See that every valve there is wide open; read on both sides; flush the stretch.",
}
"""What to do about each cause."""


def _vent_at(limb: Limb, vents: Mapping[str, float]) -> str | None:
    near = [name for name, at in vents.items() if abs(at - limb.from_m) < 1.0]
    return near[0] if near else None


def _at(values: FloatArray, weight: FloatArray, share: float) -> float:
    order = np.argsort(values)
    below = np.cumsum(weight[order])
    return float(values[order][min(int(np.searchsorted(below, share)), values.size - 1)])


def _middle(values: FloatArray, weight: FloatArray) -> float:
    return float(np.sum(values * weight))


def _telling(
    found: list[tuple[Fitted, Gauges]], share: FloatArray, error: FloatArray, spots: list[int]
) -> int | None:
    """Return the reading on which what is left differs most, None where none tells anything."""
    sums = squares = np.zeros(found[0][1].at_m.size)
    for (each, gauges), part in zip(found, share, strict=True):
        if part < 1e-4:
            continue
        own = np.exp(each.log_weight - each.total) * part
        heads = gauges.base_m + each.heads_m
        sums = sums + own @ heads
        squares = squares + own @ heads**2
    spread = np.sqrt(np.maximum(squares - sums**2, 0.0))
    telling = spread / np.tile(error, spread.size // error.size)
    telling[spots] = 0.0
    most = int(np.argmax(telling))
    return most if telling[most] >= TELLING else None

"""The cheapest lawful sequence of pipes that keeps within a loss of head.

A multiplier on the loss gives a lower bound on the price and, for every pipe at every station,
what the rest of the line costs at least. With those bounds few states are worth keeping, so the
search over (price, loss) goes down the line once and ends at the true optimum.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.choice.search import Bound, LossProblem, Search, measure
from routing.strength.sequence import Stretch, cheapest, is_lawful
from routing.value import dataclass

__all__ = ["Best", "best_within_loss"]

MOST_STEPS = 60
"""Steps of the multiplier's search; it ends in about ten."""

LEANS = (1.5, 3.0, 10.0, 100.0)
"""Factors on the multiplier that are tried where losses on the way rule its own optimum out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """The best sequence found, and the least price that any sequence can have.

    ``proved`` says that the two are as near as was asked for.
    """

    stretches: tuple[Stretch, ...]
    price: float
    loss: float
    lower_bound: float
    proved: bool


def _relaxed(
    problem: LossProblem, multiplier: float
) -> tuple[float, tuple[Stretch, ...], FloatArray]:
    """Return the optimum of price + multiplier x loss, its stretches and its costs to go."""
    case = replace(problem.case, joint=problem.case.joint + multiplier * problem.joint_loss)
    weight = problem.price + multiplier * problem.loss
    return cheapest(case, weight, problem.start_price + multiplier * problem.start_loss)


def _least_loss(problem: LossProblem) -> tuple[float, tuple[Stretch, ...], FloatArray]:
    joint = np.where(np.isfinite(problem.case.joint), problem.joint_loss, np.inf)
    return cheapest(replace(problem.case, joint=joint), problem.loss, problem.start_loss)


def _merged(pipes: IntArray) -> tuple[Stretch, ...]:
    """Return the stretches of a pipe number for each piece."""
    starts = np.concatenate(([0], np.flatnonzero(np.diff(pipes)) + 1, [len(pipes)])).tolist()
    return tuple(
        Stretch(pipe=int(pipes[start]), start=start, stop=stop) for start, stop in pairwise(starts)
    )


def _pieces(stretches: tuple[Stretch, ...]) -> IntArray:
    return np.concatenate([np.full(each.stop - each.start, each.pipe) for each in stretches])


def _spliced(
    problem: LossProblem, small_loss: tuple[Stretch, ...], cheap: tuple[Stretch, ...]
) -> Iterator[tuple[Stretch, ...]]:
    """Yield the cheap sequence with its upper part taken from the other, cheapest first."""
    upper, lower = _pieces(small_loss), _pieces(cheap)
    count = len(upper)
    index = np.arange(count)

    def two(table: FloatArray) -> FloatArray:
        ahead = np.concatenate(([0.0], np.cumsum(table[upper, index])))
        behind = np.concatenate((np.cumsum(table[lower, index][::-1])[::-1], [0.0]))
        return ahead + behind

    price, loss = two(problem.price), two(problem.loss)
    # Joints are left out here, so a few more than the first may have to be looked at.
    order = np.argsort(np.where(loss <= problem.total_loss, price, np.inf))[:40]
    for place in order.tolist():
        yield _merged(np.where(index < place, upper, lower))


class _Known:
    """The cheapest sequence seen so far that keeps every rule."""

    def __init__(self, problem: LossProblem) -> None:
        self.problem = problem
        self.price = np.inf
        self.stretches: tuple[Stretch, ...] = ()

    def note(self, stretches: tuple[Stretch, ...]) -> tuple[float, float]:
        """Keep a sequence if it is lawful and the cheapest yet; return its price and loss."""
        price, loss, within = measure(self.problem, stretches)
        if within and price < self.price and is_lawful(self.problem.case, stretches):
            self.price, self.stretches = price, stretches
        return price, loss


def best_within_loss(problem: LossProblem, tolerance: float = 0.0) -> Best | None:
    """Return the cheapest lawful sequence within the losses allowed; None if there is none.

    ``tolerance`` is the share of the price that the best may be cheaper still.
    """
    least, careful, loss_to_go = _least_loss(problem)
    if not careful or least > problem.total_loss:
        return None
    known = _Known(problem)
    _, cheap, to_go = _relaxed(problem, 0.0)
    price, loss = known.note(cheap)
    if known.stretches:
        return Best(stretches=cheap, price=price, loss=loss, lower_bound=price, proved=True)
    first = Bound(multiplier=0.0, to_go=to_go, bound=price)
    bounds, careful, cheap = _bounds(problem, known, careful, cheap, first)
    bound = max(each.bound for each in bounds)
    for mixed in _spliced(problem, careful, cheap):
        known.note(mixed)
    if not known.stretches:
        for lean in LEANS:
            known.note(_relaxed(problem, max(bounds[-1].multiplier, 1e-6) * lean)[1])
    if known.price * (1.0 - tolerance) > bound:
        search = Search(problem, bounds, loss_to_go, known.price * (1.0 - tolerance))
        ceiling, found = known.price * (1.0 - tolerance), search.run()
        if found is not None:
            ceiling, _ = known.note(found)
        if search.complete:
            # Nothing is cheaper than what was found, or than the ceiling if nothing was.
            bound = max(bound, ceiling)
    if not known.stretches:
        return None
    price, loss, _ = measure(problem, known.stretches)
    bound = min(bound, price)
    return Best(
        stretches=known.stretches,
        price=price,
        loss=loss,
        lower_bound=bound,
        proved=bound >= price * (1.0 - tolerance) - 1e-9 * max(1.0, price),
    )


def _bounds(
    problem: LossProblem,
    known: _Known,
    careful: tuple[Stretch, ...],
    cheap: tuple[Stretch, ...],
    first: Bound,
) -> tuple[list[Bound], tuple[Stretch, ...], tuple[Stretch, ...]]:
    """Return the bounds of every multiplier tried, the tightest among them, and both sides of it.

    ``careful`` loses no more than allowed, ``cheap`` more; each step tries the multiplier at which
    the two are worth the same.
    """
    price_a, loss_a = known.note(cheap)
    price_b, loss_b = known.note(careful)
    bounds = [first]
    for _ in range(MOST_STEPS):
        if loss_a <= loss_b or loss_a <= problem.total_loss:
            break
        trial = (price_b - price_a) / (loss_a - loss_b)
        total, found, to_go = _relaxed(problem, trial)
        bound = total - trial * problem.total_loss
        bounds.append(Bound(multiplier=trial, to_go=to_go, bound=bound))
        price, loss = known.note(found)
        if total >= price_a + trial * loss_a - 1e-9 * max(1.0, abs(total)):
            break
        if loss > problem.total_loss:
            price_a, loss_a, cheap = price, loss, found
        else:
            price_b, loss_b, careful = price, loss, found
    return bounds, careful, cheap

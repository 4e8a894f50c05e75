"""A search over (price, loss) down the line, kept small by what the rest costs at least."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.strength.sequence import Problem, Stretch, running_sum
from routing.value import dataclass

__all__ = ["Bound", "LossProblem", "Search", "measure"]

MOST_STATES = 100_000
"""States kept on a whole line; beyond it the choice is no longer proved to be the best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LossProblem:
    """A sequence problem with prices and losses, for p pipes and n stations.

    ``price``, ``loss`` (p, n-1) are those of each piece; ``joint_loss`` (p, p) those of changes,
    ``start_loss`` and ``start_price`` (p,) those of the mouth; ``most_loss`` (p, n) is what may be
    lost down to a station where that pipe lies. The prices of the joints stand in ``case``.
    """

    case: Problem
    price: FloatArray
    loss: FloatArray
    joint_loss: FloatArray
    start_loss: FloatArray
    start_price: FloatArray
    most_loss: FloatArray
    total_loss: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """What one multiplier on the loss proves: costs to go (p, n), and no price below ``bound``."""

    multiplier: float
    to_go: FloatArray
    bound: float


@dataclass(slots=True, kw_only=True)
class Labels:
    """States at one station: pipe, price, loss, and the number of each in the record."""

    pipe: IntArray
    price: FloatArray
    loss: FloatArray
    number: IntArray

    def keep(self, mask: BoolArray | IntArray) -> Labels:
        """Return some of the states."""
        return Labels(
            pipe=self.pipe[mask],
            price=self.price[mask],
            loss=self.loss[mask],
            number=self.number[mask],
        )


def measure(problem: LossProblem, stretches: tuple[Stretch, ...]) -> tuple[float, float, bool]:
    """Return price and loss of a sequence, and whether it keeps within every loss allowed."""
    price = float(problem.start_price[stretches[0].pipe])
    loss = float(problem.start_loss[stretches[0].pipe])
    within = loss <= problem.most_loss[stretches[0].pipe, 0]
    above: Stretch | None = None
    for each in stretches:
        if above is not None:
            price += float(problem.case.joint[above.pipe, each.pipe])
            loss += float(problem.joint_loss[above.pipe, each.pipe])
        piece = slice(each.start, each.stop)
        along = loss + np.concatenate(([0.0], np.cumsum(problem.loss[each.pipe, piece])))
        allowed = problem.most_loss[each.pipe, each.start : each.stop + 1]
        within = within and bool(np.all(along <= allowed))
        price += float(problem.price[each.pipe, piece].sum())
        loss = float(along[-1])
        above = each
    return price, loss, within and loss <= problem.total_loss


class Search:
    """The states on the way down, and the record from which the best one is traced back."""

    def __init__(
        self,
        problem: LossProblem,
        bounds: Sequence[Bound],
        loss_to_go: FloatArray,
        best: float,
    ) -> None:
        tightest = max(bounds, key=lambda each: each.bound)
        self.problem, self.multiplier, self.to_go = problem, tightest.multiplier, tightest.to_go
        self.others = [each for each in bounds if each is not tightest]
        self.best, self.loss_to_go, self.complete = best, loss_to_go, True
        self.count = problem.loss.shape[1]
        self.price_sum, self.loss_sum = running_sum(problem.price), running_sum(problem.loss)
        # A state may be as good as the best one known, so that ties do not end the search early.
        self.ceiling = self.ceiling_at(self.multiplier)
        self.most = max(50, MOST_STATES // self.count)
        self.waiting: list[list[Labels]] = [[] for _ in range(self.count + 1)]
        self.parents: list[IntArray] = []
        self.pipes: list[IntArray] = []
        self.stations: list[int] = []
        self.firsts: list[int] = []
        self.total = 0

    def ceiling_at(self, multiplier: float) -> float:
        """Return what price + multiplier x loss must not exceed to win."""
        if not np.isfinite(self.best):
            return np.inf
        ceiling = self.best + multiplier * self.problem.total_loss
        return ceiling + 1e-9 * max(1.0, abs(ceiling))

    def record(self, station: int, pipe: IntArray, parent: IntArray) -> IntArray:
        """Enter new states in the record and return their numbers."""
        self.firsts.append(self.total)
        self.stations.append(station)
        self.pipes.append(pipe)
        self.parents.append(parent)
        self.total += len(pipe)
        return np.arange(self.total - len(pipe), self.total)

    def run(self) -> tuple[Stretch, ...] | None:
        """Return the best sequence not worse than the one known, or None."""
        self.start()
        for station in range(self.count):
            here = self.worth_keeping(station)
            if here is not None:
                self.lay_on(here, station)
                self.change(here, station)
            self.waiting[station] = []
        last = self.worth_keeping(self.count)
        if last is None:
            return None
        return self.trace(int(last.number[np.argmin(last.price)]))

    def start(self) -> None:
        """Lay every pipe that may come first as far as the first one must run."""
        end, problem = self.problem.case.first_end, self.problem
        along = problem.start_loss[:, None] + self.loss_sum[:, : end + 1]
        within = np.all(along <= problem.most_loss[:, : end + 1], axis=1)
        pipe = np.flatnonzero(within & (problem.case.reach[:, 0] >= end))
        self.waiting[end].append(
            Labels(
                pipe=pipe,
                price=problem.start_price[pipe] + self.price_sum[pipe, end],
                loss=along[pipe, end],
                number=self.record(0, pipe, np.full(len(pipe), -1)),
            )
        )

    def worth_keeping(self, station: int) -> Labels | None:
        """Return the states at a station that may still win, without those beaten by another."""
        parts = [part for part in self.waiting[station] if len(part.pipe)]
        if not parts:
            return None
        both = Labels(
            pipe=np.concatenate([part.pipe for part in parts]),
            price=np.concatenate([part.price for part in parts]),
            loss=np.concatenate([part.loss for part in parts]),
            number=np.concatenate([part.number for part in parts]),
        )
        reduced = both.price + self.multiplier * both.loss + self.to_go[both.pipe, station]
        least = both.loss + self.loss_to_go[both.pipe, station]
        good = (
            (reduced <= self.ceiling)
            & (least <= self.problem.total_loss * (1.0 + 1e-12))
            & (both.loss <= self.problem.most_loss[both.pipe, station])
        )
        for other in self.others:
            worth = both.price + other.multiplier * both.loss
            worth += other.to_go[both.pipe, station]
            good &= worth <= self.ceiling_at(other.multiplier)
        if not good.any():
            return None
        both, reduced = both.keep(good), reduced[good]
        order = np.lexsort((both.price, both.loss, both.pipe))
        both, reduced = both.keep(order), reduced[order]
        # Prices shifted down pipe by pipe, so that one running minimum serves all of them.
        shifted = both.price - (2.0 * float(both.price.max()) + 1.0) * both.pipe
        floor = np.minimum.accumulate(shifted)
        first = np.concatenate(([True], shifted[1:] < floor[:-1]))
        both, reduced = both.keep(first), reduced[first]
        if len(both.pipe) > self.most:
            self.complete = False
            both = both.keep(np.sort(np.argsort(reduced)[: self.most]))
        return both

    def lay_on(self, here: Labels, station: int) -> None:
        """Lay one more piece of the same pipe."""
        on = here.keep(self.problem.case.holds[here.pipe, station])
        if len(on.pipe):
            on.price = on.price + self.problem.price[on.pipe, station]
            on.loss = on.loss + self.problem.loss[on.pipe, station]
            self.waiting[station + 1].append(on)

    def change(self, here: Labels, station: int) -> None:
        """Go over to another pipe where that may still win."""
        case, problem = self.problem.case, self.problem
        multiplier = self.multiplier
        far, near = int(case.pocket_end[station]), int(case.run_end[station])
        reduced = here.price + multiplier * here.loss
        for above in np.unique(here.pipe).tolist():
            mine = here.pipe == above
            weaker = case.strength < case.strength[above]
            stop = np.where(weaker, far, near)
            open_ = (case.reach[:, station] >= stop) & (stop >= 0) & np.isfinite(case.joint[above])
            open_[above] = False
            below = np.flatnonzero(open_)
            if not len(below):
                continue
            stops = stop[below]
            price = self.price_sum[below, stops] - self.price_sum[below, station]
            price = price + case.joint[above, below]
            loss = self.loss_sum[below, stops] - self.loss_sum[below, station]
            loss = loss + problem.joint_loss[above, below]
            rest = price + multiplier * loss + self.to_go[below, stops]
            worth = float(reduced[mine].min()) + rest <= self.ceiling
            own = here.keep(mine)
            for pipe, halt, more, lost in zip(
                below[worth].tolist(),
                stops[worth].tolist(),
                price[worth].tolist(),
                loss[worth].tolist(),
                strict=True,
            ):
                self.begin(own, above, station, pipe, halt, more, lost)

    def begin(
        self,
        own: Labels,
        above: int,
        station: int,
        pipe: int,
        halt: int,
        price: float,
        loss: float,
    ) -> None:
        """Begin a stretch of ``pipe`` at a station and lay it to ``halt``."""
        here = self.problem.most_loss[pipe, station : halt + 1]
        along = self.loss_sum[pipe, station : halt + 1] - self.loss_sum[pipe, station]
        spare = float(np.min(here - along)) - float(self.problem.joint_loss[above, pipe])
        fits = own.loss <= spare
        if not fits.any():
            return
        chosen = own.keep(fits)
        pipes = np.full(len(chosen.pipe), pipe)
        self.waiting[halt].append(
            Labels(
                pipe=pipes,
                price=chosen.price + price,
                loss=chosen.loss + loss,
                number=self.record(station, pipes, chosen.number),
            )
        )

    def trace(self, number: int) -> tuple[Stretch, ...]:
        """Return the stretches that led to a state."""
        stretches: list[Stretch] = []
        stop = self.count
        while number >= 0:
            block = int(np.searchsorted(self.firsts, number, side="right")) - 1
            offset = number - self.firsts[block]
            start = self.stations[block]
            stretches.append(Stretch(pipe=int(self.pipes[block][offset]), start=start, stop=stop))
            stop, number = start, int(self.parents[block][offset])
        return tuple(reversed(stretches))

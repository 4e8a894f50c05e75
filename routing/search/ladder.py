"""Pipes of one size in rising classes: which the head at rest asks for, and what a metre costs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations, groupby
from typing import Any, Literal

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.errors import InputError, PipeError
from routing.flow import steady_flow
from routing.flow.requirements import asked
from routing.inputs import ASSUMED_DIAMETER_M, find_pipes
from routing.laid_line import simple_line
from routing.pipe import Pipe, derated_rating_pa, load_catalogue, schedule_pipes
from routing.search.prices import PriceBook
from routing.search.rules import rules
from routing.settings import Settings
from routing.strength import ClassLine, LayingRules, Offer, few_kinds
from routing.strength.class_line import joint_costs
from routing.strength.sequence import cheapest, problem
from routing.strength.trade_data import limit
from routing.value import dataclass
from routing.water import Water, water_at

__all__ = ["Ladder", "Rung", "ladders", "sizes_on_offer"]

USUAL_MATERIAL = "PE100"
"""Material that is chosen from where neither pipe nor price names one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """A pipe, the greatest head at rest that it is used under [m], and a metre's price [money].

    ``table`` is its [[pipe]] table without the station.
    """

    pipe: Pipe
    most_head_m: float
    price_m: float
    table: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Pipes of one size, the weakest first; ``gradient`` is the head lost per metre at the flow.

    ``kind`` says whose they are: "chosen" by the search or "given" by the user, put in the line by
    the head at rest where there are several; "assumed" where the study has no pipe, so that a metre
    still has a price.
    """

    rungs: tuple[Rung, ...]
    outside_diameter_m: float
    gradient: float
    kind: Literal["chosen", "given", "assumed"]
    laying: LayingRules

    @property
    def most_head_m(self) -> float:
        """Greatest head at rest that the pipes to choose from hold [m]."""
        return self.rungs[-1].most_head_m if self.kind == "chosen" else np.inf

    @property
    def varies(self) -> bool:
        """Whether a line's pipes are put in by what they bear, each where it is asked for."""
        return self.kind == "chosen" or (self.kind == "given" and len(self.rungs) > 1)

    def by_head(self, most_m: float) -> FloatArray:
        """Return the price of a metre under each whole metre of head, the first up to 1 m."""
        upper = np.arange(1.0, max(most_m, 1.0) + 2.0)
        heads = [each.most_head_m for each in self.rungs]
        which = np.minimum(np.searchsorted(heads, upper), len(heads) - 1)
        # What a weaker pipe would cost more than a stronger one is not paid.
        price = np.minimum.accumulate([each.price_m for each in reversed(self.rungs)])[::-1]
        return np.ascontiguousarray(price[which])

    def runs(self, station_m: FloatArray, head_m: FloatArray) -> list[dict[str, Any]]:
        """Return the [[pipe]] tables that a line asks for, by its head at rest.

        They are the cheapest lawful sequence, as the choice of pipe finds it: a change costs, no
        run is short, and there are few kinds. The strongest pipe lies under any head.
        """
        rungs = tuple({each.pipe: each for each in self.rungs}.values())
        most = np.array([*(each.most_head_m for each in rungs[:-1]), np.inf])
        offers = [Offer(pipe=each.pipe, price_per_m=each.price_m) for each in rungs]

        def cheapest_of(some: Sequence[Offer]) -> ClassLine:
            which = [offers.index(offer) for offer in some]
            return _laid(station_m, head_m <= most[which][:, None], most[which], some, self.laying)

        runs = few_kinds(cheapest_of, offers).schedule.runs
        tables = {each.pipe: each.table for each in rungs}
        return [{**tables[run.pipe], "from": f"{run.from_m:.10g} m"} for run in runs]


def _laid(
    station_m: FloatArray,
    holds: BoolArray,
    most_head_m: FloatArray,
    offers: Sequence[Offer],
    laying: LayingRules,
) -> ClassLine:
    """Return the cheapest lawful sequence of pipes that hold (p, n) at stations (n,)."""
    case = problem(
        station_m=station_m,
        holds=holds[:, :-1] & holds[:, 1:],
        joint=joint_costs(offers, laying),
        strength=most_head_m,
        shortest_pocket_m=laying.pocket_m,
        shortest_run_m=laying.run_m([offer.pipe for offer in offers]),
    )
    price_m = np.array([offer.price_per_m for offer in offers])
    price, stretches, _ = cheapest(case, price_m[:, None] * np.diff(station_m))
    if not stretches:
        raise InputError("None of these pipes holds the pressure.", "Offer a stronger one.")
    starts = [float(np.floor(10.0 * station_m[each.start]) / 10.0) for each in stretches]
    entries = [
        (start, offers[each.pipe].pipe) for start, each in zip(starts, stretches, strict=True)
    ]
    return ClassLine(
        schedule=schedule_pipes(entries, float(station_m[-1])),
        price=price,
        adapters=(),
        findings=(),
    )


def ladders(
    settings: Settings, book: PriceBook, *, choose: bool
) -> Callable[[float, float], Ladder]:
    """Return what finds the pipes that a search counts with, by length and fall.

    Parameters
    ----------
    settings : Settings
        What the study is told
    book : PriceBook
        Prices without a gap
    choose : bool
        Whether the search chooses the size by the design flow, and the classes by the head

    Returns
    -------
    callable
        Takes about how long the line will be, and its whole fall [m]; gives the chosen size in its
        classes, else the user's own pipes, or what the trench assumes

    Raises
    ------
    PipeError
        When called, if a pipe is to be chosen and none of the catalogue holds and carries enough.
    """
    water = water_at(settings.flow.temperature)
    flow = settings.flow.design
    if choose and flow is not None:
        sizes = _sizes(settings, book, water)
        share = settings.energy.most_loss or asked("loss_most").bound / 100.0

        def chosen(length_m: float, head_m: float) -> Ladder:
            return _chosen(
                sizes, book, water, length_m=length_m, head_m=head_m, flow=flow, share=share
            )

        return chosen
    entries = find_pipes(settings)
    if entries:
        own = _given(settings, entries, book, water)
    else:
        own = next(
            Ladder(
                rungs=rungs,
                outside_diameter_m=ASSUMED_DIAMETER_M,
                gradient=0.0,
                kind="assumed",
                laying=book.laying,
            )
            for rungs in _sizes(settings, book, water)
            if rungs[0].pipe.outside_diameter_m == ASSUMED_DIAMETER_M
        )
    return lambda _length_m, _head_m: own


def _given(
    settings: Settings,
    entries: Sequence[tuple[float, Pipe]],
    book: PriceBook,
    water: Water,
) -> Ladder:
    """Return the user's own pipes, weakest first; the strongest under any head."""
    told = sorted(settings.given.get("pipe", []), key=lambda each: _start(settings, each))
    rungs = [
        Rung(
            pipe=pipe,
            most_head_m=_most_head_m(pipe, water),
            price_m=book.pipe_m(pipe),
            table={key: value for key, value in table.items() if key != "from"},
        )
        for (_, pipe), table in zip(entries, told, strict=True)
    ]
    rungs.sort(key=lambda each: each.most_head_m)
    flow = settings.flow.design
    return Ladder(
        rungs=tuple(rungs),
        outside_diameter_m=max(pipe.outside_diameter_m for _, pipe in entries),
        gradient=min(_gradient(pipe, flow, water) for _, pipe in entries),
        kind="given",
        laying=book.laying,
    )


def _start(settings: Settings, table: Mapping[str, Any]) -> float:
    """Return the station at which a table's pipe begins [m]."""
    return settings.pipe[list(settings.given["pipe"]).index(table)].from_


def _most_head_m(pipe: Pipe, water: Water) -> float:
    """Return the head at rest that a pipe is used under; infinite without a rating [m]."""
    rating = derated_rating_pa(pipe, water.temperature_c)
    if rating is None:
        return np.inf
    share = 1.0 - rules()["surge_share"]
    return rating * share / water.weight_n_m3


def sizes_on_offer(settings: Settings, book: PriceBook) -> list[Ladder]:
    """Return the sizes to choose from in all their classes; the user's own pipes are one size.

    No flow is looked at: every gradient is zero.
    """
    water = water_at(settings.flow.temperature)
    entries = find_pipes(settings)
    if entries and settings.search.pipe != "choose":
        dry = replace(settings, flow=replace(settings.flow, design=None))
        return [_given(dry, entries, book, water)]
    return [
        Ladder(
            rungs=rungs,
            outside_diameter_m=rungs[0].pipe.outside_diameter_m,
            gradient=0.0,
            kind="chosen",
            laying=book.laying,
        )
        for rungs in _sizes(settings, book, water)
    ]


@lru_cache(maxsize=512)
def _gradient(pipe: Pipe, flow: float | None, water: Water) -> float:
    """Return the head lost per metre of pipe at a flow, whatever it falls [-]."""
    if flow is None:
        return 0.0
    levels = np.array([1.0, 0.0])
    line = simple_line(np.array([0.0, 1000.0]), levels, pipe, intake_m=2.0, water=water)
    return steady_flow(line, flow).reaches[0].gradient


def _chosen(
    sizes: Sequence[tuple[Rung, ...]],
    book: PriceBook,
    water: Water,
    *,
    length_m: float,
    head_m: float,
    flow: float,
    share: float,
) -> Ladder:
    """Return the size and its classes that cost least for a line of even fall, within the loss.

    They hold what a line reaches that dips below its end, or where no pipe does that, the end.
    """
    most_m = max((rungs[-1].most_head_m for rungs in sizes), default=0.0)
    end_m = head_m + limit("head_in_hand")
    dip_m = rules()["dip"] * head_m + limit("head_in_hand")
    low_m = dip_m if most_m >= dip_m else end_m
    best: tuple[float, Ladder] | None = None
    if most_m < low_m:
        raise PipeError(
            f"No pipe on offer holds the {low_m:.0f} m of head at rest that may be reached; the "
            f"strongest is used under {most_m:.0f} m.",
            "Price stronger pipe, such as steel, under [prices] per_metre, move the powerhouse up, "
            "or break the pressure with a tank.",
        )
    for rungs in sizes:
        strong = next((each for each in rungs if each.most_head_m >= low_m), None)
        if strong is None:
            continue
        bore = strong.pipe.inside_diameter_m
        if flow / (np.pi / 4.0 * bore**2) > asked("velocity_plastic").bound:
            continue
        gradient = _gradient(strong.pipe, flow, water)
        if gradient * length_m > share * head_m:
            continue
        ladder = Ladder(
            rungs=_few(rungs, low_m),
            outside_diameter_m=rungs[0].pipe.outside_diameter_m,
            gradient=gradient,
            kind="chosen",
            laying=book.laying,
        )
        price = float(ladder.by_head(head_m).mean())
        if best is None or price < best[0]:
            best = price, ladder
    if best is None:
        raise PipeError(
            f"No pipe of the catalogue carries {flow * 1000:.4g} L/s over {length_m:.0f} m with a "
            f"fall of {head_m:.1f} m within {100 * share:g} % of loss.",
            "Lower the flow, allow more under [energy] most_loss, or give a [[pipe]] and set "
            'pipe = "as given" under [search].',
        )
    return best[1]


def _sizes(settings: Settings, book: PriceBook, water: Water) -> list[tuple[Rung, ...]]:
    """Return the classes of each size on offer that cost more the more they hold."""
    rule = rules()
    offered = _offered(settings)

    def size(pipe: Pipe) -> tuple[str, str, str]:
        return pipe.material, str(pipe.standard), str(pipe.nominal)

    found = []
    for _, pipes in groupby(sorted(offered, key=size), size):
        rungs: list[Rung] = []
        classes = [
            Rung(
                pipe=pipe,
                most_head_m=_most_head_m(pipe, water),
                price_m=book.pipe_m(pipe),
                table={"catalogue": pipe.id},
            )
            for pipe in pipes
            if pipe.outside_diameter_m <= rule["thinnest"] * pipe.wall_m
            and pipe.rating_pa is not None
            and book.pipe_m(pipe) > 0.0
        ]
        for each in sorted(classes, key=lambda rung: (rung.price_m, -rung.most_head_m)):
            if not rungs or each.most_head_m > rungs[-1].most_head_m:
                rungs.append(each)
        if rungs:
            found.append(tuple(rungs))
    return found


def _few(rungs: tuple[Rung, ...], head_m: float) -> tuple[Rung, ...]:
    """Return the few of a size's classes that cost least where the head grows evenly to its most.

    Those that no head asks for go first; a line has few kinds of pipe. The stronger classes go with
    them, for surges.
    """
    strong = next(at for at, each in enumerate(rungs) if each.most_head_m >= head_m)
    best, least = rungs[strong : strong + 1], np.inf
    for count in range(int(limit("most_kinds"))):
        for weaker in combinations(rungs[:strong], count):
            tried = (*weaker, rungs[strong])
            ends = [0.0, *(each.most_head_m for each in weaker), head_m]
            price = sum(
                each.price_m * length
                for each, length in zip(tried, np.diff(ends).tolist(), strict=True)
            )
            if price < least:
                best, least = tried, price
    return (*best, *rungs[strong + 1 :])


def _offered(settings: Settings) -> Iterable[Pipe]:
    """Return the pipes to choose from: those priced one by one, else those of the material."""
    catalogue = load_catalogue()
    prices: Mapping[str, float] = settings.prices.per_metre
    if prices:
        return [catalogue.find(name) for name in prices]
    wanted = {pipe.material for _, pipe in find_pipes(settings)} or {USUAL_MATERIAL}
    return [pipe for pipe in catalogue if pipe.material in wanted]

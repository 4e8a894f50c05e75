"""The class along the line: the cheapest lawful sequence of pipes that holds everywhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, pairwise
from typing import Protocol, TypeVar

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.errors import InputError
from routing.finding import Finding
from routing.need import need
from routing.pipe import Pipe, PipeSchedule, schedule_pipes
from routing.pipe.catalogue import diameter_family
from routing.strength.hydrotest import Hydrotest, most_in_test_pa
from routing.strength.rules import allowance
from routing.strength.sequence import cheapest, problem
from routing.strength.trade_data import limit
from routing.value import dataclass
from routing.water import Water

__all__ = [
    "Adapter",
    "ClassLine",
    "LayingRules",
    "Offer",
    "adapters_on",
    "class_line",
    "few_kinds",
    "holds_between",
    "joint_costs",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One pipe on offer, and the user's price for a metre of it, laid."""

    pipe: Pipe
    price_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayingRules:
    """What a change of pipe costs and what is lawful; None takes the trade's default.

    ``joint_price`` is that of any change of pipe, by default the price of 6 m of the dearer one;
    ``adapter_price`` that of a joint of two outside diameter families, by default the same.
    ``head_in_hand_m`` stays in hand everywhere, by default 2 m. A pipe weaker than the one above it
    runs at least ``shortest_pocket_m``, by default 100 m, any pipe ``shortest_run_m``, by default
    five sticks. A ``recurring`` surge comes every day; ``surge_factor`` is the user's own.
    """

    joint_price: float | None = None
    adapter_price: float | None = None
    head_in_hand_m: float | None = None
    shortest_pocket_m: float | None = None
    shortest_run_m: float | None = None
    recurring: bool = False
    surge_factor: float | None = None

    def __post_init__(self) -> None:
        for what, value in (
            ("The price of a joint", self.joint_price),
            ("The price of an adapter", self.adapter_price),
            ("The head in hand", self.head_in_hand_m),
            ("The shortest pocket", self.shortest_pocket_m),
            ("The shortest run", self.shortest_run_m),
        ):
            if value is not None:
                need(what, value, least=0.0)

    @property
    def in_hand_m(self) -> float:
        """Return the head that stays in hand [m]."""
        return limit("head_in_hand") if self.head_in_hand_m is None else self.head_in_hand_m

    @property
    def pocket_m(self) -> float:
        """Return how far a weaker pipe runs at least [m]."""
        given = self.shortest_pocket_m
        return limit("shortest_pocket") if given is None else given

    def run_m(self, pipes: Sequence[Pipe]) -> float:
        """Return how far any pipe runs at least [m]."""
        if self.shortest_run_m is not None:
            return self.shortest_run_m
        return limit("shortest_run_sticks") * max(pipe.jointing.stick_m for pipe in pipes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Adapter:
    """A joint of two outside diameter families, which needs a fitting of its own."""

    station_m: float
    above: str
    below: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassLine:
    """The pipes chosen along the line, their price, and the joints that need an adapter."""

    schedule: PipeSchedule
    price: float
    adapters: tuple[Adapter, ...]
    findings: tuple[Finding, ...]


class Sequenced(Protocol):
    """A sequence of pipes along a line, with its price."""

    @property
    def schedule(self) -> PipeSchedule: ...

    @property
    def price(self) -> float: ...


S = TypeVar("S", bound=Sequenced)


def few_kinds(find: Callable[[Sequence[Offer]], S], offers: Sequence[Offer]) -> S:
    """Return the cheapest sequence of at most three kinds of pipe, from those of the cheapest.

    Parameters
    ----------
    find : callable
        Returns the cheapest lawful sequence of some offers; raises InputError where there is none
    offers : sequence of Offer
        The pipes on offer

    Returns
    -------
    sequence
        What ``find`` returned

    Raises
    ------
    InputError
        If no three kinds do.
    """
    found = find(offers)
    kinds = {run.pipe for run in found.schedule.runs}
    most = int(limit("most_kinds"))
    if len(kinds) <= most:
        return found
    best: S | None = None
    for few in combinations([offer for offer in offers if offer.pipe in kinds], most):
        try:
            tried = find(few)
        except InputError:
            continue
        if best is None or tried.price < best.price:
            best = tried
    if best is None:
        raise InputError(f"no {most} kinds of pipe do.", "Take one pipe.")
    return best


def class_line(
    *,
    station_m: FloatArray,
    slope_station_m: FloatArray,
    static_pa: FloatArray,
    surge_pa: FloatArray | None,
    offers: Sequence[Offer],
    water: Water,
    rules: LayingRules | None = None,
    test: Hydrotest | None = None,
) -> ClassLine:
    """Return the cheapest lawful sequence of the pipes on offer.

    Parameters
    ----------
    station_m : FloatArray
        Plan stations, (n,) strictly rising; a class changes at one of them [m]
    slope_station_m : FloatArray
        Length along the pipe to each station, (n,) rising [m]
    static_pa : FloatArray
        Pressure at rest, from the highest level with the machine shut, (n,) [Pa]
    surge_pa : FloatArray or None
        Rise in a surge, (n,), or (p, n) where it is known for each pipe on offer; None where it
        was not computed [Pa]
    offers : sequence of Offer
        The pipes on offer, (p,) [-]
    water : Water
        Temperature, density and gravity [-]
    rules : LayingRules, optional
        Prices of changes, shortest runs, head in hand; None takes the trade's defaults [-]
    test : Hydrotest, optional
        The test of the whole line as one section, which every pipe must bear, (n,) [Pa]

    Returns
    -------
    line : ClassLine
        Schedule, price, adapters; a note with each adapter

    Raises
    ------
    InputError
        If nothing is on offer, a pipe has no rating, no pipe holds somewhere, or the joints and
        pockets leave no lawful sequence; the message names the place.

    Notes
    -----
    Valid for: breaks at stations. Every piece between two stations is checked at both, so the
    stronger class begins above the place where it is needed, and no weak class hides under a sag.
    The optimum is exact. Checked by ``tests/reference/test_class.py`` against trying everything.

    Examples
    --------
    >>> from routing.heads import pressure_pa
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue
    >>> thin, thick = map(load_catalogue().find, ("PE100-SDR26-200", "PE100-SDR17-200"))
    >>> cold, station = water_at(10.0), np.linspace(0.0, 1000.0, 101)
    >>> rest = pressure_pa(0.09 * station, cold)
    >>> offers = [Offer(pipe=thin, price_per_m=20.0), Offer(pipe=thick, price_per_m=30.0)]
    >>> line = class_line(station_m=station, slope_station_m=station, static_pa=rest,
    ...                   surge_pa=0.0 * rest, offers=offers, water=cold)
    >>> line.schedule.runs[1].from_m, line.price
    (650.0, 23680.0)

    References
    ----------
    .. [1] Rules of the standards: ``data/surge_rules.csv``; margin and pocket common practice.
    """
    _check(station_m, slope_station_m, static_pa, offers)
    rules = rules or LayingRules()
    pipes = [offer.pipe for offer in offers]
    holds, strength = holds_between(pipes, static_pa, surge_pa, water, rules, test)
    _none_holds(holds, station_m, static_pa)
    steps = np.diff(slope_station_m)
    weight = np.array([offer.price_per_m for offer in offers])[:, None] * steps
    case = problem(
        station_m=station_m,
        holds=holds,
        joint=joint_costs(offers, rules),
        strength=strength,
        shortest_pocket_m=rules.pocket_m,
        shortest_run_m=rules.run_m(pipes),
    )
    price, stretches, _ = cheapest(case, weight)
    if not stretches:
        raise InputError(
            "No sequence of the pipes on offer is lawful: weaker pockets would be shorter than "
            f"{rules.pocket_m:g} m, or runs shorter than {rules.run_m(pipes):g} m.",
            "Offer a stronger pipe, or allow a shorter pocket.",
        )
    schedule = schedule_pipes(
        [(float(station_m[each.start] - station_m[0]), pipes[each.pipe]) for each in stretches],
        float(station_m[-1] - station_m[0]),
    )
    adapters = adapters_on(schedule)
    return ClassLine(
        schedule=schedule,
        price=price,
        adapters=adapters,
        findings=tuple(_adapter_findings(adapters)),
    )


def _check(
    station_m: FloatArray, slope_m: FloatArray, static_pa: FloatArray, offers: Sequence[Offer]
) -> None:
    if not offers:
        raise InputError("No pipe is on offer.", "Offer at least one pipe with its price.")
    if not station_m.shape == slope_m.shape == static_pa.shape or len(station_m) < 2:
        raise InputError(
            "Stations, lengths and pressures differ in number, or are few.", "Give two or more."
        )
    if np.any(np.diff(station_m) <= 0.0) or np.any(np.diff(slope_m) <= 0.0):
        raise InputError("The stations do not rise.", "List them from the intake down.")
    for offer in offers:
        need(f"The price of {offer.pipe.label}", offer.price_per_m, least=0.0)
        if offer.pipe.rating_pa is None:
            raise InputError(
                f"{offer.pipe.label} has no pressure rating.", "Offer only pipe with a rating."
            )


def holds_between(
    pipes: Sequence[Pipe],
    static_pa: FloatArray,
    surge_pa: FloatArray | None,
    water: Water,
    rules: LayingRules,
    test: Hydrotest | None = None,
) -> tuple[BoolArray, FloatArray]:
    """Return whether each pipe holds between each station and the next, (p, n-1), and its strength.

    ``surge_pa`` is (n,), (p, n) or None; ``strength`` (p,) is what the pipe holds at rest [Pa].
    With a ``test`` of the whole line as one section each pipe must bear that as well.
    """
    allowed = [
        allowance(
            pipe,
            water.temperature_c,
            recurring=rules.recurring,
            surge_known=surge_pa is not None,
            surge_factor=rules.surge_factor,
        )
        for pipe in pipes
    ]
    at_rest = np.array([each.static_pa or 0.0 for each in allowed])
    in_total = np.array([each.total_pa or 0.0 for each in allowed])
    rest = static_pa + rules.in_hand_m * water.weight_n_m3
    surge = np.zeros_like(static_pa) if surge_pa is None else np.asarray(surge_pa)
    need("The surge", surge, least=0.0)
    total = np.atleast_2d(rest + surge)
    # Forgive the last bit, so that a pipe exactly at its limit counts as holding.
    forgive = 1.0 + 1e-12
    good = (rest <= forgive * at_rest[:, None]) & (total <= forgive * in_total[:, None])
    if test is not None:
        most = [most_in_test_pa(pipe, water.temperature_c, test.rule) or 0.0 for pipe in pipes]
        good &= test.pressure_pa <= forgive * np.array(most)[:, None]
    return good[:, :-1] & good[:, 1:], at_rest


def _families(pipes: Sequence[Pipe]) -> IntArray:
    """Return a number for the family of outside diameters of each pipe, (p,)."""
    families: dict[object, int] = {}
    # A pipe whose family is not known mates only with pipe of the same outside diameter.
    keys = [diameter_family(pipe) or round(1000.0 * pipe.outside_diameter_m, 1) for pipe in pipes]
    return np.array([families.setdefault(key, len(families)) for key in keys])


def joint_costs(offers: Sequence[Offer], rules: LayingRules) -> FloatArray:
    """Return the price of a joint from each pipe to each other, (p, p)."""
    price = np.array([offer.price_per_m for offer in offers])
    number = _families([offer.pipe for offer in offers])
    usual = limit("change_of_pipe") * np.maximum(price[:, None], price[None, :])
    joint = usual if rules.joint_price is None else np.full(usual.shape, rules.joint_price)
    adapter = joint if rules.adapter_price is None else rules.adapter_price
    return np.where(number[:, None] != number[None, :], adapter, joint)


def adapters_on(schedule: PipeSchedule) -> tuple[Adapter, ...]:
    """Return the joints of a schedule where two outside diameter families meet."""
    found = []
    for above, below in pairwise(schedule.runs):
        first, second = _families([above.pipe, below.pipe])
        if first != second:
            found.append(
                Adapter(station_m=below.from_m, above=above.pipe.label, below=below.pipe.label)
            )
    return tuple(found)


def _adapter_findings(adapters: Sequence[Adapter]) -> Iterator[Finding]:
    for adapter in adapters:
        yield Finding(
            code="adapter_needed",
            severity="note",
            message=f"At {adapter.station_m:.1f} m {adapter.above} meets {adapter.below}: they do "
            "not mate. Order an adapter, and hold it against thrust.",
            station_m=adapter.station_m,
        )


def _none_holds(holds: BoolArray, station_m: FloatArray, static_pa: FloatArray) -> None:
    bare = np.flatnonzero(~holds.any(axis=0))
    if len(bare):
        worst = int(bare[np.argmax(np.maximum(static_pa[bare], static_pa[bare + 1]))])
        raise InputError(
            f"No pipe on offer holds between {station_m[worst]:.1f} m and "
            f"{station_m[worst + 1]:.1f} m, where the pressure at rest reaches "
            f"{max(static_pa[worst], static_pa[worst + 1]) / 1000:.0f} kPa.",
            "Offer a stronger class, or lower the surge by closing more slowly.",
            station_m=float(station_m[worst]),
        )

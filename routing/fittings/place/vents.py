"""Where air must get out of the pipe and in, and which advised places earn their pit."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from routing.fittings.inputs import FittingInputs, Place, places
from routing.fittings.place.earn import that_earn
from routing.fittings.place.ends import falls_at, near_span
from routing.fittings.place.grades import grade_changes
from routing.fittings.place.kind import least_fitting
from routing.fittings.place.need import need_of
from routing.fittings.place.prominence import summit_standing
from routing.fittings.place.straight import Stand, flat_reach, stand_on_straight_pipe, stand_text
from routing.fittings.place.vent import Advised, Lost, Vent
from routing.fittings.place.vent_words import grade_text, rule_text, table_text, why_text
from routing.fittings.place.wish import Wish, at_one_place, joined, merged
from routing.fittings.simplify import simplify_tolerance
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["PlacedVents", "place_vents"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedVents:
    """The vents of a line, and the places that published rules advise but that lose nothing."""

    vents: tuple[Vent, ...]
    folded: tuple[Advised, ...]


def place_vents(line: LaidLine, given: FittingInputs | None = None) -> PlacedVents:
    """Return the vents that a laid pipe needs, numbered V1, V2 ... by station.

    Parameters
    ----------
    line : LaidLine
        The line as laid
    given : FittingInputs, optional
        The flow, valves in the line, the elevations' error

    Returns
    -------
    placed : PlacedVents
        Vents in order of station, with the least sizes of the tables; and the advised places that
        lose nothing measurable, without a number

    Raises
    ------
    InputError
        If a column or a valve does not fit the line.

    Notes
    -----
    ``must``: every summit, below the intake, the end of the line, the draining side of each valve,
    and where the pipe turns downward by 10 degrees or more over a stretch. ``advise``: turns of
    five points of grade, and enough steps that no stretch is longer along the pipe than 400 m;
    a step gives way to a turn near it. Turns within 15 m of each other become the higher one; an
    advised one also yields to any higher vent so near. Different rules within 1 m are one vent
    that names all; no two summits ever merge. Grades are judged over ten bores, a stick of pipe or
    two cells of the raster, whichever is longest.

    An advised place is a vent only where the line loses something measurable without it: a full
    break below would draw more vacuum than the pipe stands, or the flow would gather air there
    that holds back 0.1 m of head or more. The one that saves most vacuum is taken first and the
    rest judged again beside it.

    A vent keeps five bores from bends where its place leaves room: beside a summit where the pipe
    is as high, above a change of grade, along the pipe for a step of spacing. Summits are those of
    the pipe as laid, however small. Sources of the rules are in ``fitting_rules()``, of the numbers
    in ``limits.csv``.
    """
    given = given or FittingInputs()
    given.check_against(line)
    firm = at_one_place(_firm_wishes(line, given))
    kept = sorted(merged(firm, _grade_wishes(line, given)), key=_order)
    needed = [wish for wish in kept if wish.need == "must"]
    advised = _with_steps(line, kept)
    chosen, losses = that_earn(line, given, needed, advised)
    folded = [wish for wish in advised if wish not in chosen]
    stands = {id(wish): _stand(line, wish) for wish in (*needed, *chosen, *folded)}
    listed = sorted((*needed, *chosen), key=lambda wish: (stands[id(wish)].station_m, wish.rank))
    aside = sorted(folded, key=_order)
    ranks = {id(wish): number for number, wish in enumerate(chosen, start=1)}
    at = places(
        line, [stands[id(wish)].station_m for wish in (*listed, *aside)], given.flowing_head_m
    )
    vents = [
        _placed(
            line,
            given,
            wish,
            place,
            Numbered(f"V{number}", ranks.get(id(wish)), losses[id(wish)], stands[id(wish)]),
        )
        for number, (wish, place) in enumerate(zip(listed, at, strict=False), start=1)
    ]
    return PlacedVents(
        vents=tuple(vents),
        folded=tuple(
            _advised(given, wish, place, stands[id(wish)])
            for wish, place in zip(aside, at[len(listed) :], strict=True)
        ),
    )


@dataclass(frozen=True, slots=True)
class Numbered:
    """What the line as a whole gives a vent: its id, its rank, what it saves, where it stands."""

    id: str
    rank: int | None
    lost: Lost
    stand: Stand


def _order(wish: Wish) -> tuple[float, int]:
    return wish.station_m, wish.rank


def _firm_wishes(line: LaidLine, given: FittingInputs) -> list[Wish]:
    """Return the vents that must be there whatever the grades."""
    station, pipe, beside = line.station_m, line.pipe_m, near_span(line)
    wishes = []
    summits = line.pipe.summits
    standings = summit_standing(station, pipe, summits)
    for index, standing in zip(summits.tolist(), standings, strict=True):
        wishes.append(
            Wish(
                station_m=float(station[index]),
                height_m=float(pipe[index]),
                rules=("bridge top",) if beside[index] else ("summit",),
                standing=standing,
                index=index,
            )
        )
    in_span = line.pipe.in_span
    first_buried = 0 if in_span.all() else int(np.argmin(in_span))
    ends = [("below the intake", first_buried), ("end of line", station.size - 1)]
    at = [(rule, float(station[index]), "") for rule, index in ends]
    at += [
        ("at a valve", float(valve), "downstream" if falls_at(line, valve) else "upstream")
        for valve in given.valves_m
    ]
    for rule, where, detail in at:
        height = float(np.interp(where, station, pipe))
        wishes.append(Wish(station_m=where, height_m=height, rules=(rule,), detail=detail))
    return wishes


def _judged_over_m(line: LaidLine, given: FittingInputs) -> float:
    """Return the length over which a change of grade is judged at the least [m]."""
    numbers = limits()
    sticks = () if line.schedule is None else line.pipes.runs
    return max(
        numbers.judged_bores * float(line.inside_diameter_m.max()),
        numbers.judged_cells * given.cell_m,
        max((run.pipe.jointing.stick_m for run in sticks), default=0.0),
    )


def _grade_wishes(line: LaidLine, given: FittingInputs) -> list[Wish]:
    """Return the vents that the changes of grade ask for."""
    changes = grade_changes(
        line.station_m,
        line.pipe_m,
        np.union1d(line.pipe.summits, line.pipe.sags),
        tolerance_m=simplify_tolerance(given.rmse_m),
        least_m=_judged_over_m(line, given),
    )
    return [
        Wish(
            station_m=float(line.station_m[change.at]),
            height_m=float(line.pipe_m[change.at]),
            rules=(change.rule,),
            required=change.required,
            detail=grade_text(change.grade_before, change.grade_after),
            change=change,
        )
        for change in changes
    ]


def _with_steps(line: LaidLine, wishes: list[Wish]) -> list[Wish]:
    """Return the advised ones, with steps that fill every stretch too long without a vent.

    Lengths are along the pipe. Where a step comes near an advised change of grade, that one is the
    step.
    """
    longest, slack = limits().spacing_m, limits().step_slack
    along = [
        float(np.interp(wish.station_m, line.station_m, line.slope_station_m)) for wish in wishes
    ]
    advised = {k: wish for k, wish in enumerate(wishes) if wish.need == "advise"}
    firm = [k for k in range(len(wishes)) if k not in advised]
    steps: list[Wish] = []
    for start, end in pairwise(firm):
        at, breaks = along[start], [k for k in range(start + 1, end) if k in advised]
        # A hair of slack, so that a stretch of exactly the longest needs no vent.
        left = math.ceil((along[end] - at) / longest - 1e-9)
        for parts in range(left, 1, -1):
            step = (along[end] - at) / parts
            low = max(at + (1.0 - slack) * step, along[end] - (parts - 1) * longest)
            high = at + min((1.0 + slack) * step, longest)
            near = [k for k in breaks if low <= along[k] <= high]
            at += step
            if near:
                k = min(near, key=lambda k: abs(along[k] - at))
                at = along[k]
                advised[k] = joined(advised[k], _step(line, at))
            else:
                steps.append(_step(line, at))
    return [*advised.values(), *steps]


def _step(line: LaidLine, along_m: float) -> Wish:
    at = float(np.interp(along_m, line.slope_station_m, line.station_m))
    height = float(np.interp(at, line.station_m, line.pipe_m))
    return Wish(station_m=at, height_m=height, rules=("spacing",))


def _stand(line: LaidLine, wish: Wish) -> Stand:
    """Return where a vent stands: on straight pipe where its place leaves room for that."""
    at = wish.station_m
    room = 2.0 * limits().straight_bores * float(line.inside_diameter_m.max())
    first, last = float(line.station_m[0]), float(line.station_m[-1])
    if wish.index is not None:
        return stand_on_straight_pipe(line, at, flat_reach(line, wish.index))
    if wish.change is not None and wish.rules[0] == wish.change.rule:
        return stand_on_straight_pipe(line, at, (max(at - room, first), at))
    if wish.rules[0] == "spacing":
        return stand_on_straight_pipe(line, at, (max(at - room, first), min(at + room, last)))
    return Stand(at, None)


def _advised(given: FittingInputs, wish: Wish, place: Place, stand: Stand) -> Advised:
    why = rule_text(wish.rules, wish.detail, given.units)
    why += stand_text(stand, wish.station_m, given.units)
    return Advised(
        station_m=place.station_m,
        lon=place.lon,
        lat=place.lat,
        pipe_m=place.pipe_m,
        rule=wish.rules[0],
        rules=wish.rules,
        reason=" ".join(why),
    )


def _placed(
    line: LaidLine, given: FittingInputs, wish: Wish, place: Place, numbered: Numbered
) -> Vent:
    """Return a vent with its reason, and the least that the tables fit there."""
    least = least_fitting(line, place, wish.rules)
    standing = wish.standing
    probability = None if wish.index is None else given.chances.get(wish.index)
    vent = Vent(
        id=numbered.id,
        station_m=place.station_m,
        serves_m=wish.station_m,
        lon=place.lon,
        lat=place.lat,
        ground_m=place.ground_m,
        pipe_m=place.pipe_m,
        depth_m=place.depth_m,
        static_head_m=place.static_head_m,
        flowing_head_m=place.flowing_head_m,
        rule=wish.rules[0],
        rules=wish.rules,
        need=need_of(wish.rules, required=wish.required, chance=probability),
        rank=numbered.rank,
        lost=numbered.lost,
        why="",
        reason="",
        kind=least.kind,
        size_m=least.size_m,
        least_m=least.size_m,
        size_source=least.source,
        foot_size_m=least.foot_m,
        open_top_m=least.open_top_m,
        open_height_m=least.open_height_m,
        rating_pa=None,
        rating_basis=None,
        prominence_m=standing.prominence_m if standing else None,
        minor=standing is not None and standing.prominence_m < place.inside_diameter_m,
        probability=probability,
        near_bend=numbered.stand.bend_id,
    )
    why = why_text(vent, wish.detail, place.inside_diameter_m, numbered.stand, given.units)
    fit = table_text(vent, least.height_m, place.inside_diameter_m, given.units)
    return replace(vent, why=why, reason=f"{why} {fit}")

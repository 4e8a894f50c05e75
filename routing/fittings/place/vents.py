"""Where air must get out of the pipe and in: the rules V1 to V9."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from routing.fittings.place.grades import grade_changes
from routing.fittings.place.inputs import FittingInputs, Place
from routing.fittings.place.prominence import Standing, summit_probability, summit_standing
from routing.fittings.place.vent import Need, Vent, VentKind
from routing.fittings.place.vent_words import grade_text, vent_reason
from routing.fittings.simplify import simplify_tolerance
from routing.fittings.sizes import air_outlet_size, open_vent_sizes
from routing.fittings.trade_data import limits

__all__ = ["open_vent_levels", "place_vents", "valve_kind"]

# Of two fittings at one place the earlier rule names the vent.
_STRENGTH = ("V1", "V9", "V2", "V7", "V8", "V3", "V4", "V5", "V6")
_BY_GRADE = frozenset({"V3", "V4", "V5"})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wish:
    """A vent that one or more rules ask for, before it has a size."""

    station_m: float
    height_m: float
    rules: tuple[str, ...]
    need: Need
    detail: str = ""
    standing: Standing | None = None

    @property
    def rank(self) -> int:
        return _STRENGTH.index(self.rules[0])


def place_vents(inputs: FittingInputs) -> tuple[Vent, ...]:
    """Return the vents that a laid pipe needs, numbered V1, V2 ... by station.

    Parameters
    ----------
    inputs : FittingInputs
        The laid pipe with its heads

    Returns
    -------
    vents : tuple of Vent
        In order of station

    Notes
    -----
    ``must``: every summit (V1; V9 where the pipe is above ground), below the intake (V2), at the
    end of the line (V7), on the draining side of each valve (V8), and where the pipe turns
    downward by 10 degrees or more (V3 to V5). ``advise``: turns of five points of grade, and
    enough equal steps that no stretch is longer than 400 m (V6). Vents of the rules V3 to V5
    within 15 m of each other become the higher one; an advised one also yields to any higher
    vent so near. Vents of different rules within 1 m are one vent that names both; no two
    summits ever merge.

    Summits are those of the pipe as laid, however small. Sources of the rules are in
    ``fitting_rules()``, of the numbers in ``limits.csv``.
    """
    firm = _at_one_place(_firm_wishes(inputs))
    kept = _merged(firm, _grade_wishes(inputs))
    filled = sorted(
        [*kept, *_gap_wishes(inputs, kept)], key=lambda wish: (wish.station_m, wish.rank)
    )
    places = inputs.places([wish.station_m for wish in filled])
    return tuple(
        _fitted(inputs, f"V{number}", wish, place)
        for number, (wish, place) in enumerate(zip(filled, places, strict=True), start=1)
    )


def _firm_wishes(inputs: FittingInputs) -> list[_Wish]:
    """Return the vents that must be there whatever the grades: V1, V9, V2, V7 and V8."""
    station, pipe, near_span = inputs.station_m, inputs.pipe_m, inputs.near_span
    wishes = []
    standings = summit_standing(station, pipe, inputs.summits)
    for index, standing in zip(inputs.summits.tolist(), standings, strict=True):
        wishes.append(
            _Wish(
                station_m=float(station[index]),
                height_m=float(pipe[index]),
                rules=("V9",) if near_span[index] else ("V1",),
                need="must",
                standing=standing,
            )
        )
    first_buried = 0 if inputs.in_span.all() else int(np.argmin(inputs.in_span))
    ends = [("V2", first_buried), ("V7", station.size - 1)]
    places = [(rule, float(station[index]), "") for rule, index in ends]
    places += [("V8", float(valve), _draining_side(inputs, valve)) for valve in inputs.valves_m]
    for rule, at, detail in places:
        height = float(np.interp(at, station, pipe))
        wishes.append(
            _Wish(station_m=at, height_m=height, rules=(rule,), need="must", detail=detail)
        )
    return wishes


def _draining_side(inputs: FittingInputs, valve_m: float) -> str:
    return "downstream" if inputs.falls_at(valve_m) else "upstream"


def _grade_wishes(inputs: FittingInputs) -> list[_Wish]:
    """Return the vents that the changes of grade ask for, V3 to V5."""
    extremes = np.union1d(inputs.summits, inputs.sags)
    tolerance = simplify_tolerance(inputs.rmse_m)
    return [
        _Wish(
            station_m=float(inputs.station_m[change.at]),
            height_m=float(inputs.pipe_m[change.at]),
            rules=(change.rule,),
            need=change.need,
            detail=grade_text(change.grade_before, change.grade_after),
        )
        for change in grade_changes(inputs.station_m, inputs.pipe_m, extremes, tolerance)
    ]


def _at_one_place(wishes: Iterable[_Wish]) -> list[_Wish]:
    """Return the wishes with those of different rules at one place made one."""
    reach = limits().same_place_m
    kept: list[_Wish] = []
    for wish in sorted(wishes, key=lambda wish: (wish.rank, wish.station_m)):
        twin = None
        if wish.standing is None:
            apart = [abs(other.station_m - wish.station_m) for other in kept]
            near = [k for k, gap in enumerate(apart) if gap < reach]
            twin = min(near, key=apart.__getitem__, default=None)
        if twin is None:
            kept.append(wish)
        else:
            kept[twin] = _joined(kept[twin], wish)
    return kept


def _joined(kept: _Wish, dropped: _Wish) -> _Wish:
    """Return the vent ``kept`` with the rules of ``dropped`` added, needed as either was."""
    rules = tuple(dict.fromkeys((*kept.rules, *dropped.rules)))
    need: Need = "must" if "must" in (kept.need, dropped.need) else "advise"
    return replace(kept, rules=rules, need=need, detail=kept.detail or dropped.detail)


def _merged(firm: list[_Wish], turns: list[_Wish]) -> list[_Wish]:
    """Return firm vents and those at changes of grade, near ones merged into the higher."""
    numbers = limits()
    kept = list(firm)
    for wish in sorted(turns, key=lambda wish: (-wish.height_m, wish.station_m)):
        for k, other in enumerate(kept):
            apart = abs(other.station_m - wish.station_m)
            yields = wish.need == "advise" or other.rules[0] in _BY_GRADE
            near = yields and apart < numbers.merge_m and other.height_m >= wish.height_m
            if near or apart < numbers.same_place_m:
                kept[k] = _joined(other, wish)
                break
        else:
            kept.append(wish)
    return kept


def _gap_wishes(inputs: FittingInputs, wishes: list[_Wish]) -> list[_Wish]:
    """Return equal steps that fill every stretch longer than the longest without a vent, V6."""
    longest = limits().spacing_m
    stations = np.unique([wish.station_m for wish in wishes])
    steps: list[float] = []
    for start, end in zip(stations[:-1].tolist(), stations[1:].tolist(), strict=True):
        # A hair of slack, so that a stretch of exactly the longest needs no vent.
        parts = math.ceil((end - start) / longest - 1e-9)
        steps += np.linspace(start, end, parts + 1)[1:-1].tolist()
    heights = np.interp(steps, inputs.station_m, inputs.pipe_m).tolist()
    return [
        _Wish(station_m=at, height_m=height, rules=("V6",), need="advise")
        for at, height in zip(steps, heights, strict=True)
    ]


def _fitted(inputs: FittingInputs, name: str, wish: _Wish, place: Place) -> Vent:
    """Return a vent with its kind, size and reason."""
    numbers = limits()
    bore = place.inside_diameter_m
    footing, top = open_vent_levels(inputs, place)
    height = top - footing
    is_open = height <= numbers.guyed_height_m
    size, foot = open_vent_sizes(bore) if is_open else (air_outlet_size(bore), None)
    standing, probability = wish.standing, None
    if standing is not None and inputs.rmse_m is not None:
        probability = summit_probability(*standing, inputs.rmse_m, numbers.correlation_m)
    vent = Vent(
        id=name,
        station_m=place.station_m,
        lon=place.lon,
        lat=place.lat,
        ground_m=place.ground_m,
        pipe_m=place.pipe_m,
        depth_m=place.depth_m,
        static_head_m=place.static_head_m,
        flowing_head_m=place.flowing_head_m,
        rule=wish.rules[0],
        rules=wish.rules,
        need=wish.need,
        reason="",
        kind="open vent" if is_open else valve_kind(wish.rules),
        size_m=size.size_m,
        size_source=size.source,
        foot_size_m=foot,
        open_top_m=top if is_open else None,
        open_height_m=height if is_open else None,
        prominence_m=standing.prominence_m if standing else None,
        minor=standing is not None and standing.prominence_m < bore,
        probability=probability,
    )
    reason = vent_reason(
        vent,
        detail=wish.detail,
        bore_m=bore,
        open_height_m=height,
        pressure_pa=place.static_head_m * inputs.water.weight_n_m3,
        units=inputs.units,
    )
    return replace(vent, reason=reason)


def open_vent_levels(inputs: FittingInputs, place: Place) -> tuple[float, float]:
    """Return the elevations [m] an open vent would stand on and end at.

    It stands on the ground, or on the pipe where that is higher, and ends a freeboard above the
    intake's water level: with the line shut below, the whole static head stands in it.
    """
    footing = max(place.ground_m, place.pipe_m + 0.5 * place.outside_diameter_m)
    return footing, max(inputs.intake_level_m, footing) + limits().freeboard_m


def valve_kind(rules: tuple[str, ...]) -> VentKind:
    """Return the valve that serves: where air need only come in, a vacuum valve."""
    return "vacuum valve" if set(rules) <= {"V2", "V8"} else "combination air valve"

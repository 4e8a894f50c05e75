"""A vent that one or more rules ask for, before it has a place on the pipe and a size."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from routing.fittings.place.fitting import Need
from routing.fittings.place.grades import GradeChange
from routing.fittings.place.need import need_of
from routing.fittings.place.prominence import Standing
from routing.fittings.trade_data import fitting_rules, limits
from routing.value import dataclass

__all__ = ["BY_GRADE", "Wish", "at_one_place", "joined", "merged"]

BY_GRADE = frozenset({"steepening", "flat reach ends", "flatter climb"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A place that rules want a vent at [m]; ``index`` is that of its summit."""

    station_m: float
    height_m: float
    rules: tuple[str, ...]
    required: bool = False
    detail: str = ""
    standing: Standing | None = None
    index: int | None = None
    change: GradeChange | None = None

    @property
    def rank(self) -> int:
        """Return the place of its rule in the table; of two at one place the first names it."""
        return list(fitting_rules()).index(self.rules[0])

    @property
    def need(self) -> Need:
        """Return how much it is needed."""
        return need_of(self.rules, required=self.required)


def at_one_place(wishes: Iterable[Wish]) -> list[Wish]:
    """Return the wishes with those of different rules at one place made one."""
    reach = limits().same_place_m
    kept: list[Wish] = []
    for wish in sorted(wishes, key=lambda wish: (wish.rank, wish.station_m)):
        twin = None
        if wish.standing is None:
            apart = [abs(other.station_m - wish.station_m) for other in kept]
            near = [k for k, gap in enumerate(apart) if gap < reach]
            twin = min(near, key=apart.__getitem__, default=None)
        if twin is None:
            kept.append(wish)
        else:
            kept[twin] = joined(kept[twin], wish)
    return kept


def joined(kept: Wish, dropped: Wish) -> Wish:
    """Return the vent ``kept`` with the rules of ``dropped`` added, needed as either was."""
    return replace(
        kept,
        rules=tuple(dict.fromkeys((*kept.rules, *dropped.rules))),
        required=kept.required or dropped.required,
        detail=kept.detail or dropped.detail,
        change=kept.change or dropped.change,
    )


def merged(firm: list[Wish], turns: list[Wish]) -> list[Wish]:
    """Return firm vents and those at changes of grade, near ones merged into the higher."""
    numbers = limits()
    kept = list(firm)
    for wish in sorted(turns, key=lambda wish: (-wish.height_m, wish.station_m)):
        # On a climb the air goes on to the higher vent by itself, however sharp the break.
        gives_way = wish.rules[0] == "flatter climb" or wish.need == "advise"
        for k, other in enumerate(kept):
            apart = abs(other.station_m - wish.station_m)
            yields = gives_way or other.rules[0] in BY_GRADE
            near = yields and apart < numbers.merge_m and other.height_m >= wish.height_m
            if near or apart < numbers.same_place_m:
                kept[k] = joined(other, wish)
                break
        else:
            kept.append(wish)
    return kept

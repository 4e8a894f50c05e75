"""How much a fitting is needed: the one place that decides it."""

from __future__ import annotations

from routing.doubt import is_doubtful
from routing.fittings.place.fitting import Need
from routing.fittings.trade_data import fitting_rules

__all__ = ["need_of"]


TURNS = frozenset({"summit", "bridge top", "sag", "crossing"})
"""Rules that hang on a summit or sag being there."""


def need_of(rules: tuple[str, ...], *, required: bool = False, chance: float | None = None) -> Need:
    """Return how much the rules behind a fitting ask for it.

    ``chance`` is how likely its summit or sag is: where only that asks for it and it is doubtful,
    a level comes first.

    ``required`` is for a change of grade beyond the stronger limit.

    >>> need_of(("summit",)), need_of(("steepening",)), need_of(("spacing", "end of line"))
    ('must', 'advise', 'must')
    """
    known = fitting_rules()
    asking = [rule for rule in rules if known[rule].need == "must"]
    doubtful = chance is not None and is_doubtful(chance)
    if doubtful and not required and asking and TURNS.issuperset(asking):
        return "level"
    return "must" if required or asking else "advise"

"""How much a fitting is needed: the one place that decides it."""

from __future__ import annotations

from routing.fittings.place.vent import Need
from routing.fittings.trade_data import fitting_rules

__all__ = ["need_of"]


def need_of(rules: tuple[str, ...], *, required: bool = False) -> Need:
    """Return how much the rules behind a fitting ask for it.

    ``required`` is for a change of grade beyond the stronger limit.

    >>> need_of(("summit",)), need_of(("steepening",)), need_of(("spacing", "end of line"))
    ('must', 'advise', 'must')
    """
    known = fitting_rules()
    return "must" if required or any(known[rule].need == "must" for rule in rules) else "advise"

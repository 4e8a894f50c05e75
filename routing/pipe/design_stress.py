"""The stress that a material may bear for years, by which a rating given by hand is judged."""

from __future__ import annotations

from functools import cache

from routing.pipe.material import find_material
from routing.trade_table import trade_table

__all__ = ["design_stress_pa"]


@cache
def _stresses() -> dict[str, float]:
    return {
        _plain(word): 1e6 * float(row["design_stress_mpa"])
        for row in trade_table(__file__, "design_stress.csv")
        for word in (row["material"], *row["words"].split("|"))
    }


def _plain(word: str) -> str:
    return word.strip().casefold().replace("-", " ")


def design_stress_pa(material: str) -> float | None:
    """Return the design stress of a material in the user's word, None where the table has none.

    >>> design_stress_pa("PVC-O"), design_stress_pa("uPVC"), design_stress_pa("concrete")
    (36000000.0, 13790000.0, None)
    """
    own = _stresses().get(_plain(material))
    if own is not None:
        return own
    known = find_material(material)
    if known is None:
        return None
    name = "STEEL" if known.name.endswith("STEEL") else known.name
    return _stresses().get(_plain(name))

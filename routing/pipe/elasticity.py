"""How a pipe's material stretches, from the table in ``data/elasticity.csv``."""

from __future__ import annotations

from functools import lru_cache

from routing.pipe.material import find_material
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["Elasticity", "find_elasticity"]

PASCAL_PER_MPA = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Elasticity:
    """Stiffness of one material in a wave, over minutes and over years; None where not known.

    ``words`` are further names of a material that the roughness table does not have.
    """

    material: str
    words: tuple[str, ...]
    elastic_dynamic_pa: float
    elastic_short_pa: float
    elastic_long_pa: float | None
    poisson: float
    expansion_per_c: float
    density_kg_m3: float
    source: str
    status: str


def _plain(word: str) -> str:
    return word.strip().casefold().replace("-", " ")


@lru_cache(maxsize=1)
def _table() -> tuple[Elasticity, ...]:
    return tuple(
        Elasticity(
            material=row["material"],
            words=tuple(_plain(word) for word in row["words"].split("|") if word),
            elastic_dynamic_pa=float(row["elastic_dynamic_mpa"]) * PASCAL_PER_MPA,
            elastic_short_pa=float(row["elastic_short_mpa"]) * PASCAL_PER_MPA,
            elastic_long_pa=(
                float(row["elastic_long_mpa"]) * PASCAL_PER_MPA if row["elastic_long_mpa"] else None
            ),
            poisson=float(row["poisson"]),
            expansion_per_c=float(row["expansion_per_c"]),
            density_kg_m3=float(row["density_kg_m3"]),
            source=row["source"],
            status=row["status"],
        )
        for row in trade_table(__file__, "elasticity.csv")
    )


def find_elasticity(word: str) -> Elasticity | None:
    """Return the elasticity of the material that ``word`` means, None where the table has none.

    >>> find_elasticity("uPVC").elastic_dynamic_pa / 1e9
    2.758
    """
    known = find_material(word)
    wanted = _plain(word if known is None else known.name)
    for each in _table():
        if wanted == _plain(each.material) or wanted in each.words:
            return each
    return None

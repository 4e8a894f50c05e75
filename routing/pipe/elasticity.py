"""How a pipe's material stretches, from the table in ``data/elasticity.csv``."""

from __future__ import annotations

from functools import lru_cache

from routing.pipe.material import find_material
from routing.trade_table import rows_of, scaled
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
    return rows_of(
        Elasticity,
        __file__,
        "elasticity.csv",
        words=lambda row: tuple(_plain(word) for word in row["words"].split("|") if word),
        elastic_dynamic_pa=scaled("elastic_dynamic_mpa", PASCAL_PER_MPA),
        elastic_short_pa=scaled("elastic_short_mpa", PASCAL_PER_MPA),
        elastic_long_pa=scaled("elastic_long_mpa", PASCAL_PER_MPA),
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

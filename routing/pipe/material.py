"""What a pipe's material says about its roughness, from the table in ``data/roughness.csv``."""

from __future__ import annotations

from functools import lru_cache

from routing.trade_table import rows_of
from routing.value import dataclass

__all__ = ["Material", "find_material", "is_plastic", "material_family", "materials_named"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One material: roughness of the wall new and after 20 years, and the older coefficients."""

    name: str
    words: tuple[str, ...]
    family: str
    roughness_new_m: float
    roughness_design_m: float
    hazen_williams_c_new: float
    hazen_williams_c_design: float
    manning_n: float
    source: str
    status: str
    design_source: str
    design_status: str

    @property
    def roughness_origin(self) -> str:
        """Return where the design roughness comes from, in words for a paper."""
        return f"{self.name}, aged: {self.design_source} ({self.design_status.lower()})"


def _plain(word: str) -> str:
    """Return a material's name without the marks in which spellings differ."""
    return word.strip().casefold().replace("-", " ")


@lru_cache(maxsize=1)
def load_materials() -> tuple[Material, ...]:
    """Return every material of the roughness table, in its order."""
    return rows_of(
        Material,
        __file__,
        "roughness.csv",
        name=lambda row: row["material"],
        words=lambda row: tuple(_plain(word) for word in row["words"].split("|") if word),
        roughness_new_m=lambda row: float(row["roughness_new_mm"]) / 1000.0,
        roughness_design_m=lambda row: float(row["roughness_design_mm"]) / 1000.0,
    )


@lru_cache(maxsize=256)
def materials_named(word: str) -> tuple[Material, ...]:
    """Return the materials that a word of the trade may mean; "HDPE" means two of them."""
    wanted = _plain(word)
    return tuple(
        material
        for material in load_materials()
        if wanted == _plain(material.name) or wanted in material.words
    )


def find_material(word: str) -> Material | None:
    """Return the first material that ``word`` may mean, or None where the table has none.

    >>> find_material("ductile iron").name
    'DI'
    """
    found = materials_named(word)
    return found[0] if found else None


def is_plastic(material: str) -> bool:
    """Return whether a material is one of the plastics, which warm water and surge tire."""
    found = find_material(material)
    return found is not None and found.family in ("PVC", "PE")


def material_family(material: str) -> str:
    """Return the family under which tables of joints and supports know a material: "PE100" is "PE".

    A word that no table knows comes back in capitals as it is.

    >>> material_family("pe4710"), material_family("galvanised steel")
    ('PE', 'STEEL')
    """
    known = find_material(material)
    if known is None:
        return material.strip().upper()
    if known.family in ("PVC", "PE"):
        return known.family
    return "STEEL" if known.name.endswith("STEEL") else known.name

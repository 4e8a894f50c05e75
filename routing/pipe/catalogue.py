"""Pipes that are made, from ``data/pipes.csv``: found by id, or by material, size and class."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache

from routing.errors import PipeError
from routing.pipe.material import find_material, materials_named
from routing.pipe.pipe import Pipe
from routing.trade_table import trade_table

__all__ = ["Catalogue", "diameter_family", "load_catalogue"]

PASCAL_PER_PSI = 6894.757293168
PASCAL_PER_BAR = 100_000.0
PASCAL_PER_MPA = 1e6

Row = Mapping[str, str]


class Catalogue:
    """The pipes on offer. A row becomes a :class:`Pipe` only when somebody asks for it."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self._rows = {row["id"]: row for row in rows}
        self._ids = {each.casefold(): each for each in self._rows}
        self._made: dict[str, Pipe] = {}

    def __len__(self) -> int:
        return len(self._rows)

    def __iter__(self) -> Iterator[Pipe]:
        return (self._pipe(each) for each in self._rows)

    @property
    def ids(self) -> tuple[str, ...]:
        """Return every id, in the order of the file."""
        return tuple(self._rows)

    def find(self, id: str) -> Pipe:
        """Return the pipe with this id, in capital or small letters; else raise PipeError."""
        exact = self._ids.get(id.strip().casefold())
        if exact is None:
            raise PipeError(f"The catalogue has no pipe {id!r}.", self._advice(id))
        return self._pipe(exact)

    def select(
        self,
        material: str | None = None,
        standard: str | None = None,
        nominal: str | None = None,
        series: str | None = None,
    ) -> tuple[Pipe, ...]:
        """Return the pipes that fit every word given, in the order of the file.

        Words are taken as the trade writes them: ``material="HDPE"``, ``standard="C900"``,
        ``nominal="8 in"`` or ``"DN 200"``, ``series="SDR 26"``, ``"Sch 40"`` or ``"PN 10"``.
        """
        tests: list[Callable[[Row], bool]] = []
        if material is not None:
            names = {each.name for each in materials_named(material)} or {material}
            tests.append(lambda row: row["material"] in names)
        if standard is not None:
            standards = _standards_named(standard)
            tests.append(lambda row: row["standard"] in standards)
        if nominal is not None:
            size, unit = _nominal(nominal)
            tests.append(
                lambda row: (
                    float(row["nominal"]) == size and (unit is None or row["nominal_unit"] == unit)
                )
            )
        if series is not None:
            wanted = _tight(series)
            tests.append(lambda row: wanted in _series_words(row))
        return tuple(
            self._pipe(id) for id, row in self._rows.items() if all(test(row) for test in tests)
        )

    def _advice(self, id: str) -> str:
        # difflib is imported late: only a mistyped id needs it.
        from difflib import get_close_matches

        near = get_close_matches(id.strip().casefold(), self._ids, n=3, cutoff=0.5)
        if not near:
            return "Take an id of the catalogue, or give material, inside_diameter and wall."
        return f"The nearest are {', '.join(self._ids[each] for each in near)}."

    def _pipe(self, id: str) -> Pipe:
        if id not in self._made:
            self._made[id] = _pipe_from_row(self._rows[id])
        return self._made[id]


def _pipe_from_row(row: Row) -> Pipe:
    material = find_material(row["material"])
    if material is None:
        raise KeyError(f"no roughness for material {row['material']!r} of the catalogue")
    inches = row["nominal_unit"] == "in"
    nominal = f"{row['nominal']} in" if inches else f"DN/OD {row['nominal']}"
    # Published in degF, it is rounded in the column of degC: that would shift derated values.
    degf = row["rating_ref_temp_f"]
    reference_c = (float(degf) - 32.0) / 1.8 if degf else float(row["rating_ref_temp_c"])
    return Pipe(
        id=row["id"],
        label=f"{row['material']} {row['series']} {nominal}, {row['standard']}",
        material=row["material"],
        standard=row["standard"],
        series=row["series"],
        nominal=nominal,
        outside_diameter_m=float(row["od_mm"]) / 1000.0,
        wall_m=float(row["wall_avg_mm"]) / 1000.0,
        wall_least_m=float(row["wall_min_mm"]) / 1000.0,
        inside_diameter_m=float(row["id_avg_mm"]) / 1000.0,
        # The unit in which the class was published; the other column is rounded from it.
        rating_pa=(
            float(row["rating_psi"]) * PASCAL_PER_PSI
            if inches
            else float(row["rating_bar"]) * PASCAL_PER_BAR
        ),
        rating_reference_c=reference_c,
        rating_basis=row["rating_basis"],
        roughness_m=material.roughness_design_m,
        roughness_new_m=material.roughness_new_m,
        roughness_source=material.roughness_origin,
        hazen_williams_c=material.hazen_williams_c_new,
        mass_kg_m=float(row["mass_empty_kg_m"]),
        dimension_status=row["dim_status"],
        dimension_source=row["dim_source"],
        rating_status=row["rating_status"],
        rating_source=row["rating_source"],
        note=row["note"],
        elastic_dynamic_pa=float(row["e_dyn_mpa"]) * PASCAL_PER_MPA,
        elastic_short_pa=float(row["e_short_mpa"]) * PASCAL_PER_MPA,
        elastic_long_pa=float(row["e_long_mpa"]) * PASCAL_PER_MPA,
        poisson=float(row["poisson"]),
        expansion_per_c=float(row["alpha_per_c"]),
        density_kg_m3=float(row["density_kg_m3"]),
    )


def _tight(text: str) -> str:
    return "".join(text.split()).casefold()


def _nominal(text: str) -> tuple[float, str | None]:
    """Return the number and the unit of a nominal size; the unit is None where none was given."""
    match = re.fullmatch(
        r"\s*(?P<dn>dn(?:/od)?)?\s*(?P<size>\d+(?:\.\d+)?)\s*(?P<unit>in|inch|inches|\"|mm)?\s*",
        text,
        flags=re.IGNORECASE,
    )
    if match is None:
        raise PipeError(
            f"The nominal size {text!r} cannot be read.", 'Write it as "8 in" or "DN 200".'
        )
    unit = (match["unit"] or "").casefold()
    if match["dn"] or unit == "mm":
        return float(match["size"]), "DN/OD mm"
    return float(match["size"]), "in" if unit else None


def _series_words(row: Row) -> tuple[str, ...]:
    words = [_tight(row["series"]), *(_tight(word) for word in row["series"].split())]
    if row["nominal_unit"] != "in":
        words.append(f"pn{float(row['rating_bar']):g}")
    return tuple(words)


@lru_cache(maxsize=1)
def _standards() -> tuple[Row, ...]:
    return trade_table(__file__, "standards.csv")


def _standards_named(word: str) -> frozenset[str]:
    wanted = word.strip().casefold()
    return frozenset(
        row["standard"]
        for row in _standards()
        if wanted == row["standard"].casefold() or wanted in row["words"].split("|")
    )


def diameter_family(pipe: Pipe) -> str | None:
    """Return the family of outside diameters a pipe belongs to, None where it is not known."""
    for row in _standards():
        if row["standard"] == pipe.standard:
            return row["diameter_family"]
    return None


@lru_cache(maxsize=1)
def load_catalogue() -> Catalogue:
    """Return the catalogue, read once.

    >>> round(load_catalogue().find("PVC-D2241IPS-SDR26-6in").inside_diameter_m * 1000, 1)
    154.5
    """
    return Catalogue(trade_table(__file__, "pipes.csv"))

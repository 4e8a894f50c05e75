"""Warm water lowers what plastic pipe holds: factors from ``data/derating.csv``."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.pipe.material import find_material
from routing.pipe.pipe import Pipe
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["Derating", "derated_rating_pa", "derating"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Derating:
    """What is left of a rating at a temperature, after which table."""

    factor: float
    table: str
    reference_c: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DeratingTable:
    """One published table of factors over temperature."""

    name: str
    family: str
    default: bool
    temperature_c: FloatArray
    factor: FloatArray
    source: str
    status: str


@lru_cache(maxsize=1)
def load_derating_tables() -> tuple[DeratingTable, ...]:
    """Return every table of the data file, temperatures in degrees Celsius."""
    groups: dict[str, list[Mapping[str, str]]] = {}
    for row in trade_table(__file__, "derating.csv"):
        groups.setdefault(row["table"], []).append(row)
    return tuple(
        DeratingTable(
            name=name,
            family=rows[0]["family"],
            default=rows[0]["default"] == "yes",
            temperature_c=frozen([_celsius(row["temperature"], row["unit"]) for row in rows]),
            factor=frozen([float(row["factor"]) for row in rows]),
            source=rows[0]["source"],
            status=rows[0]["status"],
        )
        for name, rows in groups.items()
    )


def _celsius(text: str, unit: str) -> float:
    return float(text) if unit == "C" else (float(text) - 32.0) / 1.8


def _table_for(family: str | None, name: str | None) -> DeratingTable | None:
    """Return the family's table of that name, or its default one."""
    own = [table for table in load_derating_tables() if table.family == family]
    if name is None:
        return next((table for table in own if table.default), None)
    found = next((table for table in own if table.name == name), None)
    if found is None:
        known = ", ".join(repr(table.name) for table in own) or "none"
        raise InputError(
            f"There is no derating table {name!r} for this material.",
            f"The tables for it are: {known}.",
        )
    return found


def derating(pipe: Pipe, temperature_c: float, *, table: str | None = None) -> Derating:
    r"""Return what is left of a pipe's rating in water of a temperature.

    .. math::
        F = \frac{f(t)}{f(t_\mathrm{ref})}, \qquad F \le 1

    with f linear between the rows of the table.

    Parameters
    ----------
    pipe : Pipe
        The pipe; its material chooses the table [-]
    temperature_c : float
        Temperature of the pipe's wall, taken as that of the water [degC]
    table : str, optional
        Name of another table for the same material; None takes the default [-]

    Returns
    -------
    derating : Derating
        Factor 0 < F <= 1, the name and source of the table, the reference temperature [-]

    Raises
    ------
    InputError
        If the temperature is beyond the end of the table, or there is no such table.

    Notes
    -----
    Valid for: PVC up to 60 degC (140 degF), polyethylene up to 40 degC after the default table.
    Below the reference temperature no credit is given. Metal pipe keeps its rating in any water.
    A material without a table keeps its rating too, and the table's name says so. Two published
    tables for polyethylene differ by 13 % at 40 degC; the default is the lower one.
    Checked by ``tests/reference/test_derating.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> derating(load_catalogue().find("PE100-SDR17-200"), 25.0).factor
    0.935

    References
    ----------
    .. [1] Temperature derating of schedule 40 and 80 PVC, as a maker prints it.
    .. [2] EN 12201-1 and ISO 4427-1, annex A, from memory (polyethylene).
    """
    material = find_material(pipe.material)
    family = None if material is None else material.family
    found = _table_for(family, table)
    if found is None:
        known = family is not None
        return Derating(
            factor=1.0,
            table="none needed" if known else "none known for this material",
            reference_c=pipe.rating_reference_c,
            source="metal, concrete and wood keep their rating in cold and tepid water"
            if known
            else "ask the maker",
        )
    hottest_c = float(found.temperature_c[-1])
    # The catalogue's temperatures come from whole degrees Fahrenheit: forgive the last bit.
    if not math.isfinite(temperature_c) or temperature_c > hottest_c + 1e-9:
        raise InputError(
            f"Water of {temperature_c:g} degC is too warm for {pipe.label}: the table "
            f"({found.name}) ends at {hottest_c:g} degC.",
            "Check the temperature, or choose a material that holds pressure when this warm.",
        )
    reference_c = pipe.rating_reference_c
    if reference_c is None:
        reference_c = float(found.temperature_c[0])
    at_water, at_reference = np.interp(
        [temperature_c, reference_c], found.temperature_c, found.factor
    ).tolist()
    source = f"{found.source} ({found.status.lower()})"
    if (pipe.standard or "").startswith("ISO 1452"):
        source += "; ISO 1452-2 has a curve of its own for 25 to 45 degC: confirm with the maker"
    return Derating(
        factor=min(1.0, at_water / at_reference),
        table=found.name,
        reference_c=reference_c,
        source=source,
    )


def derated_rating_pa(pipe: Pipe, temperature_c: float) -> float | None:
    """Return the pressure a pipe may carry in water of a temperature.

    Parameters
    ----------
    pipe : Pipe
        The pipe [-]
    temperature_c : float
        Temperature of the water [degC]

    Returns
    -------
    rating_pa : float or None
        Rating times derating factor; None where the pipe has no rating [Pa]

    Raises
    ------
    InputError
        If the temperature is beyond the end of the material's table.

    Notes
    -----
    Valid for: the pipe alone. Fittings, valves and gaskets may hold less, and the weakest rules.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> derated_rating_pa(load_catalogue().find("PE100-SDR17-200"), 30.0)
    870000.0
    """
    if pipe.rating_pa is None:
        return None
    return pipe.rating_pa * derating(pipe, temperature_c).factor

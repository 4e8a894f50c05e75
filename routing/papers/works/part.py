"""What the parts of the works plan are made of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.fittings import size_text
from routing.trade_table import trade_table
from routing.units import Kind, UnitSystem, show
from routing.value import dataclass

__all__ = ["Part", "drum", "leak", "leak_text", "litres", "minutes", "part", "shown", "sold"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the plan: what to heed stands before what to do."""

    title: str
    cautions: tuple[str, ...]
    facts: tuple[tuple[str, str], ...] = ()
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def minutes(seconds: float) -> str:
    """Return a time as people on site say it.

    >>> minutes(95.0), minutes(4152.0)
    ('2 min', '1 h 09 min')
    """
    whole = max(round(seconds / 60.0), 1)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def _cautions(title: str) -> tuple[str, ...]:
    return tuple(
        row["text"] for row in trade_table(__file__, "cautions.csv") if row["part"] == title
    )


def part(
    title: str,
    heads: Sequence[str],
    rows: Iterator[tuple[str, ...]],
    facts: Sequence[tuple[str, str]] = (),
) -> Part:
    """Return a part with the cautions that stand before it."""
    return Part(
        title=title,
        cautions=_cautions(title),
        facts=tuple(facts),
        heads=tuple(heads),
        rows=tuple(rows),
    )


def shown(value: float | None, kind: Kind, units: UnitSystem) -> str:
    """Return a value of the document, pressures in kPa and bores in mm there, as text."""
    factor = {"pressure": 1e3, "diameter": 1e-3}.get(kind, 1.0)
    return show(None if value is None else factor * float(value), kind, units)


def sold(bore_mm: float | None, units: UnitSystem) -> str:
    """Return a bore as fittings are sold."""
    return shown(None, "diameter", units) if bore_mm is None else size_text(bore_mm / 1e3, units)


def drum(units: UnitSystem) -> tuple[float, str]:
    """Return how many of what is measured from a drum go to a cubic metre."""
    return (1.0 / 3.785411784e-3, "gal") if units == "us" else (1e3, "L")


def leak(units: UnitSystem) -> tuple[float, str]:
    """Return how many of what a leak is told in go to a cubic metre in a second."""
    factor, unit = drum(units)
    return 60.0 * factor, {"L": "L/min", "gal": "gpm"}[unit]


def leak_text(flow_m3_s: float, units: UnitSystem) -> str:
    """Return a leak as a bucket and a watch measure it.

    >>> leak_text(4.2e-4, "metric")
    '25 L/min'
    """
    factor, unit = leak(units)
    return f"{factor * flow_m3_s:.0f} {unit}"


def litres(volume_m3: float, units: UnitSystem) -> str:
    """Return a volume as it is measured from a drum."""
    factor, unit = drum(units)
    return f"{factor * volume_m3:.1f} {unit}"

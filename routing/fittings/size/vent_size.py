"""What one vent must be, once it is sized."""

from __future__ import annotations

from typing import Literal

from routing.fittings.place.vent import VentKind
from routing.fittings.size.vent_cases import AirCase
from routing.value import dataclass

__all__ = ["Support", "VentSize"]

Support = Literal["stands by itself", "guyed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VentSize:
    """What one vent must be; SI units, pressures gauge.

    ``kind`` may differ from the placed vent's, where a flood or a closing machine would overtop an
    open one; ``height_m`` is what an open one would have over its footing. ``spill_level_m`` is the
    highest water of a blocked outlet there, None where that was not computed.
    ``needed_m`` is the widest bore of the cases, ``least_m`` what the table asks, ``bore_m`` the
    nominal bore of the wider one. ``release_m`` is the small orifice of a valve that lets air out
    under pressure. ``capacity_m3_s`` is the free air that ``bore_m`` lets in at
    ``allowed_vacuum_pa``. An open vent has a top, a height over its footing and a support, a valve
    has not; ``rating_pa`` holds for the valve or the open vent's tee. ``seals`` is whether the
    pressure shuts a float valve, None for an open vent.
    """

    vent_id: str
    station_m: float
    serves_m: float
    kind: VentKind
    cases: tuple[AirCase, ...]
    governing: str
    needed_m: float
    least_m: float
    bore_m: float
    foot_m: float | None
    release_m: float | None
    capacity_m3_s: float
    allowed_vacuum_pa: float
    vacuum_source: str
    vacuum_known: bool
    open_top_m: float | None
    open_height_m: float | None
    support: Support | None
    height_m: float
    spill_level_m: float | None
    rating_pa: float
    rating_basis: str
    seals: bool | None
    seal_head_m: float
    frost_note: str | None
    source: str
    text: str

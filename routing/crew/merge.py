"""Records of several devices as one list: nothing is lost, the last word counts, both are shown."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from routing.crew.record import Record

__all__ = ["BUILT_ALIKE_M", "clamped", "conflicts", "last_words", "merged", "record_key"]

BUILT_ALIKE_M = 0.03
"""Two levels as built agree within this [m]: common practice for setting out, no source."""
_FOUND = ("was_m", "now_m")


def record_key(record: Mapping[str, Any]) -> str:
    """Return what tells a record from every other one: all that was said, when, on which device."""
    said = sorted((k, v) for k, v in record.items() if v is not None and k not in _FOUND)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:32]


def merged(*lists: Sequence[Record]) -> list[Record]:
    """Return all records of the lists by time, each of them once; the order given settles ties."""
    found = {record_key(record): record for each in lists for record in each}
    return sorted(found.values(), key=lambda record: str(record["time"]))


def clamped(records: Sequence[Record], now: str) -> list[Record]:
    """Return records none of which is of the future by the clock whose time is ``now``.

    The records of a device whose clock is ahead move back together, so that their order and the
    time between them stay: its newest is of now.
    """
    ahead: dict[str, str] = {}
    for record in records:
        device, time = str(record["device"]), str(record["time"])
        if time > now:
            ahead[device] = max(time, ahead.get(device, ""))
    found = []
    for record in records:
        time = str(record["time"])
        if time > now:
            newest = _moment(ahead[str(record["device"])])
            back = _moment(now) - (newest - _moment(time))
            time = back.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        found.append({**record, "time": time})
    return found


def last_words(records: Sequence[Record], kind: str) -> dict[str, Record]:
    """Return of each thing its newest record of a kind; of two of one time the later in the list.

    What was said of no thing counts by its place, to the decimetre.
    """
    found: dict[str, Record] = {}
    for record in records:
        if record["kind"] == kind:
            name = _of(record)
            if name not in found or str(record["time"]) >= str(found[name]["time"]):
                found[name] = record
    return found


def conflicts(records: Sequence[Record]) -> list[dict[str, Any]]:
    """Return where the last words of two devices differ: done or not, or the level as built.

    The newest counts. Each conflict has the thing, its kind and what each device says, the newest
    last; it is gone once the devices agree.
    """
    devices: dict[tuple[str, str], dict[str, Record]] = {}
    for record in records:
        if record["kind"] in ("tick", "asbuilt"):
            said = devices.setdefault((str(record["kind"]), _of(record)), {})
            before = said.get(str(record["device"]))
            if before is None or str(record["time"]) >= str(before["time"]):
                said[str(record["device"])] = record
    return [
        {"kind": kind, "of": of, "says": sorted(said.values(), key=lambda each: str(each["time"]))}
        for (kind, of), said in devices.items()
        if _differ(kind, list(said.values()))
    ]


def _differ(kind: str, said: Sequence[Record]) -> bool:
    if kind == "tick":
        return len({record["done"] for record in said}) > 1
    levels = [float(record["invert_m"]) for record in said if record["invert_m"] is not None]
    return bool(levels) and max(levels) - min(levels) > BUILT_ALIKE_M


def _of(record: Record) -> str:
    return str(record["of"] or f"{float(record['station_m']):.1f} m")


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)

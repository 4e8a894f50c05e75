"""One record of a crew: a tick, a note, a photograph, a reading or a level as built.

Which members a record may have, their types and bounds stand in the rows ``Record`` of
``document.csv``, as for every other part of a study.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from routing.document import Row, members, read_json
from routing.errors import InputError

__all__ = ["Record", "read_records", "records_from", "records_of_ticks"]

Record = dict[str, Any]
"""The members of a record as ``study.json`` has them; what is not said is None or not there."""
_ASKED = {"tick": "done", "note": "note", "photo": "photo", "reading": "gauge_kpa"}
"""What a record of a kind must say."""
_BUILT = ("invert_m", "offset_m", "depth_m", "lon", "make", "serial", "rating_kpa", "note", "photo")
"""Of these a record as built says at least one."""
_FOUND = ("was_m", "now_m")
"""Members that the study adds; taken away again where a record comes back."""
_NAME = re.compile(r"[A-Z]{1,3}[0-9]{1,6}")
_TICKS = "leatline_ticks"


def read_records(path: Path) -> list[Record]:
    """Read a file of records, as the field sheet saves it; see :func:`records_from`."""
    found = read_json(path, "records", "Give the file that a field sheet saved.")
    if isinstance(found, Mapping) and found.get(_TICKS) == 1:
        return records_from(records_of_ticks(found.get("ticks") or ()))
    if not isinstance(found, Mapping) or not isinstance(found.get("records"), list):
        raise InputError(
            f"{path} holds no records.", 'Give a file {"records": [...]}, as a field sheet saves.'
        )
    return records_from(found["records"])


def records_from(given: Sequence[Any], *, now: str | None = None) -> list[Record]:
    """Return records checked and in one form, or the first thing that is wrong with one.

    Parameters
    ----------
    given : sequence
        Mappings as in a file or a request [-]
    now : str, optional
        Time for records that say none; else the time of the call, UTC [-]

    Returns
    -------
    records : list of dict
        Every member that each record must have, None where not said; times in UTC to 1 ms

    Raises
    ------
    InputError
        Naming the record by its number, the member and the remedy.
    """
    now = now or _utc(datetime.now(UTC))
    return [_record(each, f"records[{i}]", now) for i, each in enumerate(given)]


def records_of_ticks(ticks: Sequence[Mapping[str, Any]]) -> list[Record]:
    """Return ticks of an older sheet as records: tick, note and photograph apart."""
    found: list[Record] = []
    for tick in ticks:
        shared = {key: tick.get(key) for key in ("station_m", "time", "device", "revision")}
        shared = {"of": tick.get("fitting_id"), **shared}
        found.append({"kind": "tick", **shared, "done": tick.get("done")})
        if tick.get("note"):
            found.append({"kind": "note", **shared, "note": tick["note"]})
        if tick.get("photo"):
            found.append({"kind": "photo", **shared, "photo": tick["photo"]})
    return found


def _record(given: Any, where: str, now: str) -> Record:
    if not isinstance(given, Mapping):
        raise InputError(f"{where} is no record.", "Write it as an object with kind, of and time.")
    rows = members("Record")
    for key in given:
        if key not in rows:
            near = difflib.get_close_matches(str(key), rows, 1)
            hint = f"Did you mean {near[0]!r}? " if near else ""
            raise InputError(
                f"{where} has a member {str(key)[:40]!r}.", f"{hint}Known are {', '.join(rows)}."
            )
    record: Record = {}
    for key, row in rows.items():
        value = given.get(key)
        if value is not None and key not in _FOUND:
            record[key] = _value(value, row, f"{where}.{key}")
        elif row.required:
            record[key] = None
    record["time"] = _time(record["time"] or now, f"{where}.time")
    record["device"] = record["device"] or "not named"
    _check_whole(record, where)
    return record


def _check_whole(record: Record, where: str) -> None:
    """Refuse a record that does not say what its kind asks, or says it of nowhere."""
    kind, of = record["kind"], record["of"]
    if kind is None:
        raise InputError(f"{where} has no kind.", f"Give {', '.join((*_ASKED, 'or asbuilt'))}.")
    if of is not None and not _NAME.fullmatch(of):
        raise InputError(f"{where}.of = {of[:40]!r} is no name.", "Give one such as V1.")
    if of is None and record["station_m"] is None:
        raise InputError(f"{where} says neither of what nor where.", "Give of or station_m.")
    if kind == "tick" and of is None:
        raise InputError(f"{where} ticks nothing off.", "Give of, the name of the thing.")
    asked = _ASKED.get(kind)
    if asked is not None and record[asked] is None:
        raise InputError(f"{where} is a {kind} without {asked}.", f"Give {asked}.")
    if kind == "asbuilt" and all(record.get(key) is None for key in _BUILT):
        raise InputError(f"{where} says nothing as built.", "Give invert_m, or what was set.")
    if "step" in record and (kind != "reading" or of is None):
        raise InputError(f"{where} has a step and is no reading of a section.", "Give of, as Q1.")
    if ("lon" in record) != ("lat" in record):
        raise InputError(f"{where} has half a position.", "Give both lon and lat.")


def _value(value: Any, row: Row, where: str) -> Any:
    if row.item == "text" or "|" in row.item:
        return _text(value, row, where)
    if row.item == "truth":
        if not isinstance(value, bool):
            raise InputError(f"{where} = {value!r} is not true or false.", "Write true or false.")
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
        raise InputError(f"{where} = {str(value)[:40]!r} is no number.", "Give a plain number.")
    if row.item == "integer" and value != int(value):
        raise InputError(f"{where} = {value} is no whole number.", "Give a whole number.")
    least, most = (float(end) if end else None for end in (row.least, row.most))
    if (least is not None and value < least) or (most is not None and value > most):
        ends = [*(() if least is None else (f"at least {least:g}",))]
        ends += [*(() if most is None else (f"at most {most:g}",))]
        raise InputError(f"{where} = {value} is out of range.", f"It may be {' and '.join(ends)}.")
    return int(value) if row.item == "integer" else float(value)


def _text(value: Any, row: Row, where: str) -> str:
    if not isinstance(value, str):
        raise InputError(f"{where} = {str(value)[:40]!r} is no text.", "Write it in quotes.")
    if "|" in row.item and value not in row.item.split("|"):
        raise InputError(
            f"{where} = {value[:40]!r} is not known.", f"Give {row.item.replace('|', ', ')}."
        )
    if row.most and len(value) > int(row.most):
        raise InputError(
            f"{where} has {len(value)} characters; {row.most} are allowed.", "Shorten it."
        )
    return value


def _time(text: str, where: str) -> str:
    """Return a time in the one form in which earlier and later compare as text."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as exc:
        raise InputError(
            f"{where} = {text[:40]!r} is no time.", "Write it as 2026-06-01T09:30:00Z."
        ) from exc
    if moment.tzinfo is None:
        raise InputError(
            f"{where} = {text[:40]!r} does not say its zone.", "Write UTC, with a Z at the end."
        )
    try:
        return _utc(moment.astimezone(UTC))
    except OverflowError as exc:
        raise InputError(f"{where} = {text[:40]!r} is no time.", "Set the device's clock.") from exc


def _utc(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")

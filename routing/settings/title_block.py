"""[sheet]: what a consultant puts on the papers; none of it changes a number of the study."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError

__all__ = ["PAPER_SIZES", "SHEET_KEYS", "RevisionSettings", "SheetSettings", "with_features"]

PAPER_SIZES = ("A3", "A1", "ANSI B", "ANSI D")
FEATURE_KINDS = ("stream", "boundary", "no-go", "road", "service", "reference")
MOST_FEATURES_BYTES = 5_000_000
"""Largest file of features that a settings file may name [bytes]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionSettings:
    """[[sheet.revision]]: one row of the revision block."""

    mark: str
    date: str = ""
    text: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSettings:
    """[sheet]: title block, size of paper, and what else the plan shows."""

    project: str | None = None
    owner: str | None = None
    number: str | None = None
    drawn: str | None = None
    checked: str | None = None
    date: str | None = None
    signed: str | None = None
    size: str | None = None
    scale: str | None = None
    crs: str | None = None
    revision: tuple[RevisionSettings, ...] = ()
    features: Mapping[str, Any] | None = None


def with_features(tables: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return settings tables with a GeoJSON file named in ``sheet.features`` read in its place.

    The settings then hold all that the papers need. The file is sought beside the settings file.
    """
    sheet = tables.get("sheet")
    named = sheet.get("features") if isinstance(sheet, Mapping) else None
    if not isinstance(sheet, Mapping) or not isinstance(named, str):
        return dict(tables)
    path = folder / named
    try:
        if path.stat().st_size > MOST_FEATURES_BYTES:
            raise SettingsError(
                f"sheet.features: {path} is larger than {MOST_FEATURES_BYTES} bytes.",
                "Cut it to the area of the line.",
            )
        features = json.loads(path.read_text(encoding="utf-8"))
    except OSError as exc:
        raise SettingsError(
            f"sheet.features: {path} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    except ValueError as exc:
        raise SettingsError(
            f"sheet.features: {path} is not GeoJSON: {exc}.", "Give a FeatureCollection in WGS 84."
        ) from exc
    return {**tables, "sheet": {**sheet, "features": features}}


def _line(value: object, name: str) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > 200:
        raise SettingsError(
            f"{name} must be text of 1 to 200 characters.", 'Write it in quotes, as in "A. N.".'
        )
    return " ".join(value.split())


def _date(value: object, name: str) -> str:
    try:
        # TOML has dates of its own; JSON has not.
        return datetime.date.fromisoformat(str(value)).isoformat()
    except ValueError as exc:
        raise SettingsError(
            f"{name} = {value!r} is no date.", 'Write year-month-day, as in "2026-11-25".'
        ) from exc


def _size(value: object, name: str) -> str:
    if value not in PAPER_SIZES:
        raise SettingsError(
            f"{name} = {value!r} is not a size of paper.", f"Choose {', '.join(PAPER_SIZES)}."
        )
    return str(value)


def _scale(value: object, name: str) -> str:
    head, colon, tail = str(value).replace(" ", "").partition(":")
    if head != "1" or not colon or not tail.isdigit() or not 50 <= int(tail) <= 50_000:
        raise SettingsError(
            f"{name} = {value!r} is no scale.", 'Write "1:1000"; 1:50 to 1:50000 are taken.'
        )
    return f"1:{int(tail)}"


def _revisions(value: object, name: str) -> tuple[RevisionSettings, ...]:
    if not isinstance(value, list) or len(value) > 20:
        raise SettingsError(
            f"{name} must be a list of at most 20 tables.", f"Write each as [[{name}]]."
        )
    rows = []
    for number, entry in enumerate(value):
        where = f"{name}[{number}]"
        if not isinstance(entry, Mapping) or "mark" not in entry:
            raise SettingsError(f"{where} has no mark.", 'Write, for example, mark = "A".')
        unknown = sorted(set(entry) - {"mark", "date", "text", "by"})
        if unknown:
            raise SettingsError(
                f"{where}: {unknown[0]} is not a known key.",
                "The keys are mark, date, text and by.",
            )
        rows.append(
            RevisionSettings(
                **{
                    key: (_date if key == "date" else _line)(item, f"{where}.{key}")
                    for key, item in entry.items()
                }
            )
        )
    return tuple(rows)


def _features(value: object, name: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping) or not isinstance(value.get("features"), list):
        raise SettingsError(
            f"{name} is no GeoJSON FeatureCollection.",
            "Give one in WGS 84, in a file beside the settings file or in place.",
        )
    for number, feature in enumerate(value["features"]):
        geometry = feature.get("geometry") if isinstance(feature, Mapping) else None
        kind = (feature.get("properties") or {}).get("kind") if geometry else None
        if kind not in FEATURE_KINDS:
            raise SettingsError(
                f"{name}[{number}]: the property kind = {kind!r} is not known.",
                f"Choose {', '.join(FEATURE_KINDS)}.",
            )
    return MappingProxyType(dict(value))


SHEET_KEYS: Mapping[str, Callable[[object, str], Any]] = {
    "project": _line,
    "owner": _line,
    "number": _line,
    "drawn": _line,
    "checked": _line,
    "date": _date,
    "signed": _line,
    "size": _size,
    "scale": _scale,
    "crs": _line,
    "revision": _revisions,
    "features": _features,
}
"""How each key of [sheet] is read."""

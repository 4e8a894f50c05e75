"""Files that a settings file names: read once, so that the settings hold all that a study needs.

Each is sought beside the settings file. Where settings come from elsewhere, only what was sent with
them is read, and nothing else of this machine.
"""

from __future__ import annotations

import base64
import json
import math
import tomllib
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from routing.errors import InputError, SettingsError
from routing.land import read_layer
from routing.settings.stream_record import read_record
from routing.survey import SurveyPoint, read_survey
from routing.value import dataclass

__all__ = ["Beside", "with_files"]

Read = Callable[[Path, Mapping[str, Any], str], dict[str, Any]]
_PICTURES = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg"}
"""How files of pictures begin."""
MOST_FEATURES_BYTES = 5_000_000
"""Largest GeoJSON file that a settings file may name [bytes]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Where files that settings name are sought; ``only`` these where they were sent along."""

    folder: Path
    only: frozenset[str] | None = None

    def file(self, named: str, name: str) -> Path:
        """Return the file that the setting ``name`` names."""
        if self.only is not None and named not in self.only and not named.startswith("data:"):
            raise SettingsError(
                f"{name} names the file {named[:80]!r}, which was not sent along.",
                "Send it with the settings under that very name, without folders.",
            )
        return self.folder / named


def with_files(tables: Mapping[str, Any], beside: Beside) -> dict[str, Any]:
    """Return settings tables with what the files they name hold in the place of their names."""
    whole = dict(tables)
    readers: dict[tuple[str, str], Read] = {_TEMPLATE: partial(_template, beside), **_READERS}
    for (name, key), read in readers.items():
        table = whole.get(name)
        if isinstance(table, list):
            whole[name] = [
                _with_file(each, key, read, beside, f"{name}[{i}]") for i, each in enumerate(table)
            ]
        else:
            whole[name] = _with_file(table, key, read, beside, name)
    return {name: table for name, table in whole.items() if table is not None}


def _with_file(table: Any, key: str, read: Read, beside: Beside, name: str) -> Any:
    named = table.get(key) if isinstance(table, Mapping) else None
    if not isinstance(named, str):
        return table
    return read(beside.file(named, f"{name}.{key}"), table, f"{name}.{key}")


def _geojson(path: Path, name: str) -> Any:
    try:
        if path.stat().st_size > MOST_FEATURES_BYTES:
            raise SettingsError(
                f"{name}: {path} is larger than {MOST_FEATURES_BYTES} bytes.",
                "Cut it to the area of the line.",
            )
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as exc:
        raise SettingsError(
            f"{name}: {path} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    except ValueError as exc:
        raise SettingsError(
            f"{name}: {path} is not GeoJSON: {exc}.", "Give a FeatureCollection in WGS 84."
        ) from exc


def _features(path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    return {**table, "features": _geojson(path, name)}


def _template(beside: Beside, path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return the table with the template's values where it is silent, the template's logo read."""
    try:
        with path.open("rb") as file:
            told = tomllib.load(file)
    except OSError as exc:
        raise SettingsError(
            f"{name}: {path} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    except ValueError as exc:
        raise SettingsError(f"{name}: {path} is not TOML: {exc}.", "Mend the file.") from exc
    if set(told) != {"sheet"} or not isinstance(told["sheet"], dict):
        raise SettingsError(
            f"{name}: {path} must hold one [sheet] table and nothing else.",
            "Move everything else into the settings file.",
        )
    given = {key: value for key, value in told["sheet"].items() if key != "template"}
    there = Beside(folder=path.parent, only=beside.only)
    for key, read in (("logo", _logo), ("features", _features)):
        given = _with_file(given, key, read, there, f"{name}: sheet")
    return {**given, **{key: value for key, value in table.items() if key != "template"}}


def _logo(path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return the table with the picture itself, as a data address."""
    if str(table["logo"]).startswith("data:"):
        return dict(table)
    try:
        data = path.read_bytes()
    except OSError as exc:
        raise SettingsError(
            f"{name}: {path} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    kind = next((kind for start, kind in _PICTURES.items() if data.startswith(start)), None)
    if kind is None:
        raise SettingsError(f"{name}: {path} is neither PNG nor JPEG.", "Save it as one of them.")
    return {**table, "logo": f"data:image/{kind};base64,{base64.b64encode(data).decode()}"}


def _layer(path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    _text_or_nothing(table.get("crs"), "layer.crs")
    try:
        features = read_layer(path, crs=table.get("crs"))
    except InputError as error:
        raise SettingsError(f"{name}: {error.problem}", error.remedy) from error
    kept = {key: value for key, value in table.items() if key not in ("file", "crs")}
    return {**kept, "features": features}


def _survey(path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return the table with the points as rows, in metres and degrees."""
    for key in ("unit", "crs"):
        _text_or_nothing(table.get(key), f"survey.{key}")
    try:
        points = read_survey(path, unit=table.get("unit"), crs=table.get("crs"))
    except InputError as error:
        raise SettingsError(f"{name}: {error.problem}", error.remedy) from error
    kept = {key: value for key, value in table.items() if key not in ("unit", "crs")}
    return {**kept, "points": [_row(point) for point in points]}


def _row(point: SurveyPoint) -> dict[str, Any]:
    """Return a point as a row of the settings."""
    row: dict[str, Any] = {"elevation": f"{point.elevation_m!r} m"}
    if point.name:
        row["name"] = point.name
    if point.station_m is not None:
        row |= {"station": f"{point.station_m!r} m", "offset": f"{point.offset_m!r} m"}
    elif point.lon is not None:
        row |= {"lon": point.lon, "lat": point.lat}
    if point.accuracy_m is not None:
        row["accuracy"] = f"{point.accuracy_m!r} m"
    return row


def _record(path: Path, table: Mapping[str, Any], name: str) -> dict[str, Any]:
    unit = table.get("unit")
    _text_or_nothing(unit, "energy.unit")
    try:
        flows = read_record(path, unit=unit)
    except InputError as error:
        raise SettingsError(f"{name}: {error.problem}", error.remedy) from error
    kept = {key: item for key, item in table.items() if key != "unit"}
    given = [None if math.isnan(flow) else flow for flow in flows]
    return {**kept, "record": {"unit": "m3/s", "flows": given}}


def _text_or_nothing(value: object, name: str) -> None:
    if value is not None and not isinstance(value, str):
        raise SettingsError(f"{name} = {value!r} is no text.", "Write it in quotes.")


_TEMPLATE = ("sheet", "template")
_READERS: Mapping[tuple[str, str], Read] = {
    ("sheet", "logo"): _logo,
    ("sheet", "features"): _features,
    ("layer", "file"): _layer,
    ("survey", "points"): _survey,
    ("energy", "record"): _record,
}
"""How the file that a key may name is read into its table."""

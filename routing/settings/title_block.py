"""[sheet]: what a consultant puts on the papers; none of it changes a number of the study."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError
from routing.settings.readers import Reader, choice, date, text
from routing.settings.rows import row, tables
from routing.value import dataclass

__all__ = ["OwnRowSettings", "RevisionSettings", "SheetSettings", "WaiveSettings"]

FEATURE_KINDS = ("stream", "boundary", "no-go", "road", "service", "reference")
_LINE = text(200)
_DATE = date


_SIZES = ("A4", "A3", "A2", "A1", "A0", "ANSI A", "ANSI B", "ANSI C", "ANSI D", "ANSI E")
_OWN_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(mm|in)")
LEAST_PAPER_MM, MOST_PAPER_MM = (270.0, 200.0), 2000.0
"""Least width and height, and the most of either, of paper of one's own [mm]."""
MOST_LOGO_BYTES = 200_000
"""Largest logo [bytes]: it travels in every study of its settings."""
_PICTURE = re.compile(r"data:image/(?:png|jpeg);base64,([A-Za-z0-9+/]+={0,2})")


def _size(value: object, name: str) -> str:
    """Return a known size by its name, or one's own as "width x height mm"."""
    told = " ".join(str(value).split())
    if told in _SIZES:
        return told
    own = _OWN_SIZE.fullmatch(told)
    factor = 25.4 if own and own[3] == "in" else 1.0
    wide, high = (float(own[k]) * factor for k in (1, 2)) if own else (0.0, 0.0)
    fits = wide >= LEAST_PAPER_MM[0] and high >= LEAST_PAPER_MM[1] and wide <= MOST_PAPER_MM
    if not fits or high > wide:
        near = difflib.get_close_matches(told, _SIZES, 1)
        raise SettingsError(
            f"{name} = {value!r} is no paper that sheets are drawn on.",
            (f"Did you mean {near[0]!r}? " if near else "")
            + f'Choose {", ".join(_SIZES)}, or write "914 x 610 mm" or "36 x 24 in", the larger '
            f"side first, from {LEAST_PAPER_MM[0]:.0f} x {LEAST_PAPER_MM[1]:.0f} mm to "
            f"{MOST_PAPER_MM:.0f} mm.",
        )
    return f"{wide:g} x {high:g} mm"


_PAPER = Reader(
    read=_size,
    schema={"type": "string", "minLength": 1, "maxLength": 40},
    takes=f'{", ".join(_SIZES)}, or one\'s own such as "914 x 610 mm" or "36 x 24 in"',
)


def _template(value: object, name: str) -> None:
    raise SettingsError(
        f"{name} = {str(value)[:80]!r} names a file, which only a settings file may.",
        "Give the values in place.",
    )


def _logo(value: object, name: str) -> str:
    """Return a picture as a data address; the settings file names a PNG or JPEG file."""
    found = _PICTURE.fullmatch(value) if isinstance(value, str) else None
    if found is None or len(found[1]) * 3 // 4 > MOST_LOGO_BYTES:
        raise SettingsError(
            f"{name} is no picture of at most {MOST_LOGO_BYTES} bytes.",
            "Give a PNG or JPEG file beside the settings file, or its data address "
            "(data:image/png;base64,...).",
        )
    return str(value)


_LOGO = Reader(
    read=_logo,
    schema={"type": "string", "pattern": "^data:image/(png|jpeg);base64,", "maxLength": 280_000},
    takes="a PNG or JPEG file beside the settings file, at most 200 kB",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionSettings:
    """[[sheet.revision]]: one row of the revision block."""

    mark: str = row(_LINE, "mark of the revision", "A", needed=True)
    date: str = row(_DATE, "its date", "2026-11-25", "")
    text: str = row(_LINE, "what changed", "first issue", "")
    by: str = row(_LINE, "who drew it", "A. N.", "", page=("Drawn by", ""))


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRowSettings:
    """[[sheet.entry]]: a row of one's own in the title block."""

    label: str = row(text(40), "what it is", "client's reference", needed=True)
    text: str = row(text(120), "what stands there", "OT-117/3", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiveSettings:
    """[[waive]]: a fault or failed check that somebody answers for."""

    code: str = row(_LINE, "code of the fault or failed check", "over_rating", needed=True)
    reason: str = row(
        text(), "why it may stand", "The maker agreed in writing, letter of 3 May.", needed=True
    )
    name: str = row(_LINE, "who answers for it", "O. E.", needed=True)


def _scale(value: object, name: str) -> str:
    head, colon, tail = str(value).replace(" ", "").partition(":")
    if head != "1" or not colon or not tail.isdigit() or not 50 <= int(tail) <= 50_000:
        raise SettingsError(
            f"{name} = {value!r} is no scale.", 'Write "1:1000"; 1:50 to 1:50000 are taken.'
        )
    return f"1:{int(tail)}"


_SCALE = Reader(
    read=_scale,
    schema={"type": "string", "minLength": 1},
    takes="1:50 to 1:50000",
)


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


_FEATURES = Reader(
    read=_features,
    schema={
        "type": "object",
        "required": ["features"],
        "properties": {"features": {"type": "array", "items": {"type": "object"}}},
    },
    takes="a GeoJSON FeatureCollection in WGS 84, in place or in a file beside the settings file",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSettings:
    """[sheet]: title block, size of paper, and what else the plan shows."""

    project: str | None = row(
        _LINE, "project on the title block", "Otterfell water power", without="the study's name"
    )
    owner: str | None = row(_LINE, "owner on the title block", "Otterfell hamlet", without="empty")
    number: str | None = row(_LINE, "number of the drawing", "SB-01", without="empty")
    drawn: str | None = row(_LINE, "who drew", "A. N.", without="empty", page=("Drawn by", ""))
    checked: str | None = row(
        _LINE, "who checked", "O. E.", without="empty", page=("Checked by", "")
    )
    date: str | None = row(
        _DATE, "date of issue", "2026-11-25", without="empty; files then carry no date"
    )
    signed: str | None = row(
        _LINE,
        "name and date of who signs",
        "O. E., 25 November 2026",
        without='papers say "preliminary, not for construction"',
        page=("Signed by", ""),
    )
    size: str | None = row(
        _PAPER,
        "paper of the sheets, landscape",
        "A3",
        without="A3, or ANSI B with US units",
    )
    scale: str | None = row(
        _SCALE, "scale along the line", "1:1000", without="a round one that fits"
    )
    vertical_scale: str | None = row(
        _SCALE,
        "vertical scale of the profiles, the same on every sheet",
        "1:500",
        without="a round one that fits; gentle stretches are stretched up to 10 times",
    )
    stations: str | None = row(
        choice("plus", "plain"),
        "stations on sheets: 0+123.4 (8+69.5 in feet), or plain lengths",
        "plain",
        without="plus",
    )
    crs: str | None = row(
        _LINE,
        "projected system for grid, stake-out and DXF",
        "EPSG:32633",
        without="the terrain's own, else the UTM zone",
        page=("Coordinate system", ""),
    )
    template: None = row(
        Reader(read=_template, schema={}, takes="a TOML file beside the settings file"),
        "file with a [sheet] table of an office: what it gives holds where this table is silent",
        "office.toml",
        without="this table alone",
    )
    logo: str | None = row(
        _LOGO,
        "logo in the title block; a settings file names the picture, or gives its data address",
        "data:image/png;base64,iVBORw0KGgo=",
        without="no picture",
    )
    entry: tuple[OwnRowSettings, ...] = row(
        tables(OwnRowSettings, most=5),
        "rows of one's own in the title block",
        [{"label": "client's reference", "text": "OT-117/3"}],
        without="none",
    )
    revision: tuple[RevisionSettings, ...] = row(
        tables(RevisionSettings, most=20),
        "rows of the revision block",
        [{"mark": "A", "date": "2026-11-25", "text": "first issue", "by": "A. N."}],
        without="empty rows",
    )
    features: Mapping[str, Any] | None = row(
        _FEATURES,
        "what else the plan shows; each feature's `kind` is `stream`, `boundary`, `no-go`, `road`, "
        "`service` or `reference` (a point, with `name` and `level_m`)",
        {"type": "FeatureCollection", "features": []},
        without="the line alone",
    )

"""What a study may be told: settings files and their JSON twins, as frozen SI values.

The same tables stand in a TOML file and in a JSON object. Every quantity is text with a unit, every
table is optional, an unknown key is an error that names the nearest known one.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError
from routing.settings.pressures import SITE_KEYS, SURGE_KEYS, SiteSettings, SurgeSettings
from routing.settings.readers import (
    Reader,
    check_known,
    choice,
    flag,
    list_of,
    number,
    quantity,
    table_of,
    text,
    text_or_number,
    whole,
)
from routing.settings.stream_record import with_record
from routing.settings.title_block import SHEET_KEYS, SheetSettings, with_features
from routing.settings.yields import (
    ENERGY_KEYS,
    INTAKE_KEYS,
    PRICE_KEYS,
    EnergySettings,
    IntakeSettings,
    PriceSettings,
    check_yield,
)
from routing.survey import SurveySettings, raw_points, with_points, with_survey
from routing.units import UnitSystem

__all__ = [
    "EnergySettings",
    "FlowSettings",
    "IntakeSettings",
    "OutletSettings",
    "PipeSettings",
    "PriceSettings",
    "Settings",
    "SiteSettings",
    "SpanSettings",
    "StudySettings",
    "SurgeSettings",
    "TerrainSettings",
    "TrenchSettings",
    "TurbineSettings",
    "read_settings",
    "settings_from_mapping",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySettings:
    """[study]: its name (default: the route's), the units that people are shown, and its line.

    ``line`` says which of several lines to take, ``reverse`` to run it from its other end;
    ``clean`` takes the knots and spikes of a walk out, by default from recorded tracks only.
    """

    name: str | None = None
    units: UnitSystem = "metric"
    line: str | None = None
    reverse: bool = False
    clean: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainSettings:
    """[terrain]: what the raster does not say, or says wrongly."""

    unit: str | None = None
    crs: str | None = None
    band: int = 1
    rmse: float | None = None
    vertical_datum: str | None = None
    source: str | None = None
    bridge: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletSettings:
    """[outlet]: level of the outlet's centreline [m]; neither: as the pipe is laid."""

    level: float | None = None
    level_above_ground: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanSettings:
    """[[trench.span]]: stations [m] between which the pipe runs above ground, support distance."""

    from_: float
    to: float
    support_spacing: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrenchSettings:
    """[trench]: lengths in m, grades as rise over plan length; None: the trade's default."""

    cover: float | None = None
    max_depth: float | None = None
    bedding: float = 0.1
    min_grade: float = 0.002
    min_grade_falling: float | None = None
    span: tuple[SpanSettings, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowSettings:
    """[flow]: design flow [m3/s], water temperature [degC], sum of local loss coefficients [-]."""

    design: float | None = None
    temperature: float = 10.0
    local_loss: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeSettings:
    """[[pipe]]: where it starts [m], and a catalogue id, a catalogue choice, or dimensions [m]."""

    from_: float = 0.0
    catalogue: str | None = None
    material: str | None = None
    nominal: str | None = None
    series: str | None = None
    standard: str | None = None
    inside_diameter: float | None = None
    wall: float | None = None
    pressure_rating: float | None = None
    rating_temperature: float | None = None
    roughness: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TurbineSettings:
    """[turbine]: kind, water-to-wire efficiency [-], closing time of its valve [s]."""

    kind: str | None = None
    efficiency: float | None = None
    closure_time: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All tables; ``given`` is the text they came from, for the record."""

    study: StudySettings = field(default_factory=StudySettings)
    terrain: TerrainSettings = field(default_factory=TerrainSettings)
    intake: IntakeSettings = field(default_factory=IntakeSettings)
    outlet: OutletSettings = field(default_factory=OutletSettings)
    trench: TrenchSettings = field(default_factory=TrenchSettings)
    flow: FlowSettings = field(default_factory=FlowSettings)
    pipe: tuple[PipeSettings, ...] = ()
    turbine: TurbineSettings = field(default_factory=TurbineSettings)
    surge: SurgeSettings = field(default_factory=SurgeSettings)
    site: SiteSettings = field(default_factory=SiteSettings)
    energy: EnergySettings = field(default_factory=EnergySettings)
    prices: PriceSettings = field(default_factory=PriceSettings)
    sheet: SheetSettings = field(default_factory=SheetSettings)
    survey: SurveySettings = field(default_factory=SurveySettings)
    given: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    def __reduce__(self) -> tuple[Any, ...]:
        # A mapping proxy does not pickle; the tables do, and settings cross process borders.
        return (settings_from_mapping, (dict(self.given),))


def read_settings(path: Path) -> Settings:
    """Read a settings file (TOML); raises :class:`~routing.errors.SettingsError`."""
    try:
        with path.open("rb") as stream:
            tables = tomllib.load(stream)
    except FileNotFoundError as exc:
        raise SettingsError(
            f"The settings file {path} does not exist.", "Check its name and place."
        ) from exc
    except (OSError, UnicodeDecodeError) as exc:
        raise SettingsError(
            f"The settings file {path} cannot be read: {exc}.", "Give a TOML text file in UTF-8."
        ) from exc
    except tomllib.TOMLDecodeError as exc:
        raise SettingsError(
            f"The settings file {path} is not TOML: {exc}.",
            'Write lines such as cover = "0.9 m" under tables such as [trench].',
        ) from exc
    for with_file in (with_features, with_survey, with_record):
        tables = with_file(tables, path.parent)
    return settings_from_mapping(tables)


def settings_from_mapping(tables: Mapping[str, Any]) -> Settings:
    """Return settings from tables as in a settings file or a JSON object.

    >>> settings_from_mapping({"flow": {"design": "18 L/s"}}).flow.design
    0.018
    """
    if not isinstance(tables, Mapping):
        raise SettingsError(
            f"Settings must be tables, not {type(tables).__name__}.",
            'Write, for example, {"flow": {"design": "18 L/s"}}.',
        )
    values: dict[str, Any] = {}
    for name, table in tables.items():
        check_known(name, [*_TABLES, "pipe"], "")
        if name == "pipe":
            values[name] = tuple(
                table_of(PipeSettings, entry, f"pipe[{i}]", _PIPE)
                for i, entry in enumerate(list_of(table, "pipe"))
            )
        else:
            kind, readers = _TABLES[name]
            values[name] = table_of(kind, table, name, readers)
    if "survey" in values:
        values["survey"] = with_points(values["survey"])
    settings = Settings(**values, given=MappingProxyType(dict(tables)))
    _consistent(settings)
    return settings


def _consistent(settings: Settings) -> None:
    for name, table in (("intake", settings.intake), ("outlet", settings.outlet)):
        given = settings.given.get(name, {})
        if table.level is not None and "level_above_ground" in given:
            raise SettingsError(
                f"{name}.level and {name}.level_above_ground are both given.",
                "Keep the one that was measured.",
            )
    check_yield(settings.intake, settings.energy, settings.prices)


def _spans(value: object, name: str) -> tuple[SpanSettings, ...]:
    return tuple(
        table_of(
            SpanSettings,
            entry,
            f"{name}[{i}]",
            _SPAN,
            needs=("from", "to"),
            example='from = "310 m", to = "342 m"',
        )
        for i, entry in enumerate(list_of(value, name))
    )


_LENGTH = quantity("length")
_LENGTH_FROM_0 = quantity("length", least=0.0)
_LENGTH_ABOVE_0 = quantity("length", least=0.0, above=True)
_SPAN: Mapping[str, Reader] = {
    "from": _LENGTH_FROM_0,
    "to": _LENGTH_ABOVE_0,
    "support_spacing": _LENGTH_ABOVE_0,
}
_PIPE: Mapping[str, Reader] = {
    "from": _LENGTH_FROM_0,
    "catalogue": text,
    "material": text,
    "nominal": text_or_number,
    "series": text,
    "standard": text,
    "inside_diameter": _LENGTH_ABOVE_0,
    "wall": _LENGTH_ABOVE_0,
    "pressure_rating": quantity("pressure", least=0.0, above=True),
    "rating_temperature": quantity("temperature"),
    "roughness": _LENGTH_FROM_0,
}
_TABLES: Mapping[str, tuple[type, Mapping[str, Reader]]] = {
    "study": (
        StudySettings,
        {
            "name": text,
            "units": choice("metric", "us"),
            "line": text_or_number,
            "reverse": flag,
            "clean": flag,
        },
    ),
    "terrain": (
        TerrainSettings,
        {
            "unit": choice("m", "ft", "US survey foot"),
            "crs": text,
            "band": whole,
            "rmse": _LENGTH_ABOVE_0,
            "vertical_datum": text,
            "source": text,
            "bridge": _LENGTH_ABOVE_0,
        },
    ),
    "intake": (IntakeSettings, INTAKE_KEYS),
    "outlet": (OutletSettings, {"level": _LENGTH, "level_above_ground": _LENGTH}),
    "trench": (
        TrenchSettings,
        {
            "cover": _LENGTH_FROM_0,
            "max_depth": _LENGTH_ABOVE_0,
            "bedding": _LENGTH_FROM_0,
            "min_grade": number(least=0.0, most=1.0),
            "min_grade_falling": number(least=0.0, most=1.0),
            "span": _spans,
        },
    ),
    "flow": (
        FlowSettings,
        {
            "design": quantity("flow", least=0.0, above=True),
            "temperature": quantity("temperature", least=0.0, most=40.0),
            "local_loss": number(least=0.0, most=10_000.0),
        },
    ),
    "surge": (SurgeSettings, SURGE_KEYS),
    "site": (SiteSettings, SITE_KEYS),
    "turbine": (
        TurbineSettings,
        {
            "kind": text,
            "efficiency": quantity("ratio", least=0.0, above=True, most=1.0),
            "closure_time": quantity("time", least=0.0),
        },
    ),
    "energy": (EnergySettings, ENERGY_KEYS),
    "prices": (PriceSettings, PRICE_KEYS),
    "sheet": (SheetSettings, SHEET_KEYS),
    "survey": (
        SurveySettings,
        {
            "points": raw_points,
            "fade": _LENGTH_ABOVE_0,
            "unit": choice("m", "ft", "US survey foot"),
            "crs": text,
            "vertical_datum": text,
        },
    ),
}

"""What a study may be told: settings files and their JSON twins, as frozen SI values.

The same tables stand in a TOML file and in a JSON object. Every quantity is text with a unit, every
table is optional, an unknown key is an error that names the nearest known one.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError
from routing.settings.beside import Beside, with_files
from routing.settings.catchment import CatchmentSettings
from routing.settings.layers import LayerSettings
from routing.settings.line import (
    OutletSettings,
    StudySettings,
    TerrainSettings,
    TrenchSettings,
)
from routing.settings.pressures import (
    BranchSettings,
    FlowSettings,
    HydrotestSettings,
    PipeSettings,
    ReliefSettings,
    SiteSettings,
    SurgeSettings,
    TapSettings,
    TurbineSettings,
    ValveSettings,
)
from routing.settings.prices import PriceSettings
from routing.settings.rows import check_known, row, rows_of, table, tables
from routing.settings.screen import ScreenSettings
from routing.settings.search import SearchSettings
from routing.settings.survey import SurveySettings
from routing.settings.title_block import SheetSettings, WaiveSettings
from routing.settings.yields import EnergySettings, IntakeSettings
from routing.value import dataclass

__all__ = ["Settings", "read_settings", "settings_from_mapping", "settings_schema"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All tables; ``given`` is the text they came from, for the record."""

    study: StudySettings = row(table(StudySettings), "the study itself")
    terrain: TerrainSettings = row(
        table(TerrainSettings), "what the raster does not say, or says wrongly"
    )
    intake: IntakeSettings = row(
        table(IntakeSettings), "the water at the upper end, and how the intake is built"
    )
    catchment: CatchmentSettings = row(
        table(CatchmentSettings), "the land that drains to the intake"
    )
    outlet: OutletSettings = row(table(OutletSettings), "the lower end")
    trench: TrenchSettings = row(table(TrenchSettings), "what the trench must keep to")
    flow: FlowSettings = row(table(FlowSettings), "what the line is to carry")
    pipe: tuple[PipeSettings, ...] = row(
        tables(PipeSettings),
        "a pipe, from its station to the next one's; the first begins at the intake",
        without="the trench is made for an outside diameter of 200 mm, and the study says so",
    )
    valve: tuple[ValveSettings, ...] = row(
        tables(ValveSettings), "an isolating valve", without="no valve is held in the line"
    )
    branch: tuple[BranchSettings, ...] = row(
        tables(BranchSettings), "a tee, whose thrust is held", without="nothing leaves the line"
    )
    tap: tuple[TapSettings, ...] = row(
        tables(TapSettings),
        "a gauge tap",
        without="taps are proposed below the intake vent, at each sag and at the powerhouse",
    )
    relief: tuple[ReliefSettings, ...] = row(
        tables(ReliefSettings),
        "a relief valve",
        without="one or several that open one after the other are proposed at the end of the line",
    )
    turbine: TurbineSettings = row(table(TurbineSettings), "the machine")
    surge: SurgeSettings = row(
        table(SurgeSettings), "how the flow is stopped, and how that is judged"
    )
    site: SiteSettings = row(table(SiteSettings), "the ground and the weather")
    test: HydrotestSettings = row(table(HydrotestSettings), "how the finished line is tested")
    energy: EnergySettings = row(table(EnergySettings), "the stream and the energy of a year")
    prices: PriceSettings = row(
        table(PriceSettings), "your own prices; nothing is looked up anywhere"
    )
    sheet: SheetSettings = row(table(SheetSettings), "what stands on the papers")
    layer: tuple[LayerSettings, ...] = row(
        tables(LayerSettings, most=100),
        "what the land holds: areas and lines that the line crosses or must not cross",
        without="the line may go anywhere, and no crossing is listed",
    )
    waive: tuple[WaiveSettings, ...] = row(
        tables(WaiveSettings),
        "a fault or failed check that somebody answers for; printed on every paper",
        without="papers with an open fault stay preliminary",
    )
    survey: SurveySettings = row(table(SurveySettings), "levels taken on the ground")
    search: SearchSettings = row(
        table(SearchSettings),
        "how lines between two places are sought; see [Lines between two places](search.md)",
    )
    screen: ScreenSettings = row(
        table(ScreenSettings),
        "which plants of a valley are looked at; see [A whole valley](valley.md)",
    )
    given: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    def __reduce__(self) -> tuple[Any, ...]:
        # A mapping proxy does not pickle; the tables do, and settings cross process borders.
        return (settings_from_mapping, (dict(self.given),))


PART = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-]){PART}(?:[ \t]*+\.[ \t]*+{PART}){{20}}")
"""A key of more than twenty parts: the reader of TOML takes time and memory by their square."""


def read_settings(path: Path, *, only: frozenset[str] | None = None) -> Settings:
    """Read a settings file and the files it names, ``only`` these where they are given.

    It is TOML, or JSON where its name ends in .json, as searches write them.

    Raises :class:`~routing.errors.SettingsError`.
    """
    as_json = path.suffix.lower() == ".json"
    try:
        text = path.read_bytes().decode("utf-8-sig")
        if (found := LONG_KEY.search(text)) is not None:
            raise SettingsError(
                f"The settings file {path} has a key of very many parts, {found[0][:40]!r}.",
                'Write lines such as cover = "0.9 m" under tables such as [trench].',
            )
        tables = json.loads(text) if as_json else tomllib.loads(text)
    except FileNotFoundError as exc:
        raise SettingsError(
            f"The settings file {path} does not exist.", "Check its name and place."
        ) from exc
    except (OSError, UnicodeDecodeError) as exc:
        raise SettingsError(
            f"The settings file {path} cannot be read: {exc}.", "Give a TOML text file in UTF-8."
        ) from exc
    except ValueError as exc:  # of the reader, or of a number of thousands of digits
        if as_json:
            raise SettingsError(
                f"The settings file {path} is not JSON: {exc}.", "Mend the file."
            ) from exc
        raise SettingsError(
            f"The settings file {path} is not TOML: {exc}.",
            'Write lines such as cover = "0.9 m" under tables such as [trench].',
        ) from exc
    except RecursionError as exc:
        raise SettingsError(
            f"The settings file {path} has tables or lists nested too deeply to be settings.",
            "Write tables such as [trench], one within another at most.",
        ) from exc
    if not isinstance(tables, Mapping):
        return settings_from_mapping(tables)
    return settings_from_mapping(with_files(tables, Beside(folder=path.parent, only=only)))


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
    rows = rows_of(Settings)
    for name in tables:
        check_known(name, list(rows), "")
    values = {name: rows[name].reader(value, name) for name, value in tables.items()}
    return Settings(**values, given=MappingProxyType(dict(tables)))


def settings_schema() -> dict[str, Any]:
    """Return the JSON Schema of a study's settings."""
    return {
        **table(Settings).schema,
        "description": "The tables of a settings file. Every quantity is text with a unit.",
        "examples": [EXAMPLE],
    }


EXAMPLE: Mapping[str, Any] = {
    "trench": {"cover": "0.9 m", "max_depth": "1.8 m"},
    "flow": {"design": "18 L/s"},
    "pipe": [{"from": "0 m", "material": "PE100", "inside_diameter": "176 mm", "wall": "11.9 mm"}],
}
"""Settings as they may look."""

"""Room of the settings: what a study may be told, as frozen SI values.

Each key is one row: a field made by ``rows.row``, with the reader of ``readers`` that says what it
takes. ``line`` holds the tables of line, ground and trench, ``layers`` those of the land about it,
``pressures`` those of pipe, flow and surge, ``yields`` those of intake, energy and prices,
``title_block`` those of the sheets, ``search`` those of a line that is sought,
``catchment`` that of the land that drains to the intake; ``tables`` is the
whole settings file, ``beside`` reads the files that it names (``stream_record`` a record of daily
flows).
"""

from routing.settings.catchment import CatchmentSettings
from routing.settings.layers import LayerSettings
from routing.settings.line import (
    GroundSettings,
    LimitSettings,
    OutletSettings,
    SpanSettings,
    StudySettings,
    TerrainSettings,
    TrenchSettings,
)
from routing.settings.pressures import (
    BranchSettings,
    FlowSettings,
    HydrotestSettings,
    PipeSettings,
    SiteSettings,
    SurgeSettings,
    TurbineSettings,
    ValveSettings,
)
from routing.settings.prices import PriceSettings
from routing.settings.rows import Row, rows_of, written
from routing.settings.screen import ScreenSettings
from routing.settings.search import SearchSettings
from routing.settings.survey import SurveySettings
from routing.settings.tables import Settings, read_settings, settings_from_mapping, settings_schema
from routing.settings.title_block import SheetSettings, WaiveSettings
from routing.settings.yields import EnergySettings, IntakeSettings

__all__ = [
    "BranchSettings",
    "CatchmentSettings",
    "EnergySettings",
    "FlowSettings",
    "GroundSettings",
    "HydrotestSettings",
    "IntakeSettings",
    "LayerSettings",
    "LimitSettings",
    "OutletSettings",
    "PipeSettings",
    "PriceSettings",
    "Row",
    "ScreenSettings",
    "SearchSettings",
    "Settings",
    "SheetSettings",
    "SiteSettings",
    "SpanSettings",
    "StudySettings",
    "SurgeSettings",
    "SurveySettings",
    "TerrainSettings",
    "TrenchSettings",
    "TurbineSettings",
    "ValveSettings",
    "WaiveSettings",
    "read_settings",
    "rows_of",
    "settings_from_mapping",
    "settings_schema",
    "written",
]

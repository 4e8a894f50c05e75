"""Room of the settings: what a study may be told, as frozen SI values.

``tables`` is the whole settings file; ``readers`` turn text into values; ``pressures``
holds surge and site, ``yields`` holds the
tables of intake, energy and prices, ``title_block`` those of the sheets, ``stream_record`` reads a
record of daily flows.
"""

from routing.settings.tables import (
    EnergySettings,
    FlowSettings,
    IntakeSettings,
    OutletSettings,
    PipeSettings,
    PriceSettings,
    Settings,
    SiteSettings,
    SpanSettings,
    StudySettings,
    SurgeSettings,
    TerrainSettings,
    TrenchSettings,
    TurbineSettings,
    read_settings,
    settings_from_mapping,
)

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

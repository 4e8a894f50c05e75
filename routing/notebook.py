"""A study for notebooks and scripts: one call, and a value that shows itself.

This is the face of the package that scripts may rely on::

    from routing.notebook import lay

    line = lay("line.geojson", "hill.tif", settings="line.toml")
    line.summary["gross_head_m"]
    line.things        # vents, drains, blocks ... as a GeoDataFrame
    line.save("line/")

What is named here keeps its name and meaning through a major version; what goes is announced in the
changes a minor version before, and warns (``DeprecationWarning``) until it is gone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routing.errors import InputError
from routing.line import Route, read_route, route_from_geojson
from routing.outputs import study_relief, study_streams, write_outputs, write_papers
from routing.papers import export, map_html, profile_svg
from routing.record import study_document
from routing.settings import Settings, read_settings, settings_from_mapping
from routing.study import open_study_terrain, run_study
from routing.terrain import Terrain

if TYPE_CHECKING:
    import geopandas
    import pandas

__all__ = ["LaidStudy", "lay"]


Places = Sequence[tuple[float, float]]
EXTRA = "leatline[notebook]"


@dataclass(frozen=True, slots=True, eq=False)
class LaidStudy:
    """A study: its document (that of ``study.json``), tables of it, and its papers.

    Lengths are metres, pressures kilopascals, places WGS 84 degrees, as the columns' names say.
    """

    document: Mapping[str, Any]
    terrain: Terrain

    @property
    def summary(self) -> Mapping[str, Any]:
        """Head, length, pressure, flow and power of the whole line."""
        found: Mapping[str, Any] = self.document["summary"]
        return found

    @property
    def stations(self) -> pandas.DataFrame:
        """The whole profile, a row a station: ground, pipe, heads and pressures."""
        return _library("pandas").DataFrame(dict(self.document["stations"]))

    @property
    def things(self) -> geopandas.GeoDataFrame:
        """All that is to be set, by station: vents, drains, valves, taps, blocks, levels."""
        from routing.papers.things import things

        rows = [
            {
                "id": thing.id,
                "kind": thing.kind,
                "station_m": thing.station_m,
                "ground_m": thing.ground_m,
                "words": thing.brief,
                **dict(thing.facts),
            }
            for thing in things(self.document)
        ]
        places = [(thing.lon, thing.lat) for thing in things(self.document)]
        tables = _library("geopandas")
        points = tables.points_from_xy(*zip(*places, strict=True))
        return tables.GeoDataFrame(rows, geometry=points, crs="EPSG:4326")

    @property
    def line(self) -> geopandas.GeoDataFrame:
        """The drawn line, one row."""
        from shapely import LineString

        route = self.document["route"]
        drawn = LineString(zip(route["lon"], route["lat"], strict=True))
        tables = _library("geopandas")
        return tables.GeoDataFrame({"name": [route["name"]]}, geometry=[drawn], crs="EPSG:4326")

    @property
    def checks(self) -> pandas.DataFrame:
        """What was held against which limit, and whether it passed."""
        return _library("pandas").DataFrame(list(self.document["checks"]))

    @property
    def findings(self) -> pandas.DataFrame:
        """Faults, warnings and notes, the worst first."""
        return _library("pandas").DataFrame(list(self.document["warnings"]))

    def map_html(self) -> str:
        """Return the annotated map as one HTML page that needs no network."""
        relief = study_relief(self.document, self.terrain)
        return map_html(self.document, relief, study_streams(self.document, self.terrain))

    def profile_svg(self) -> str:
        """Return the drawn profile."""
        return profile_svg(self.document)

    def export(self, format: str, path: str | Path) -> Path:
        """Write one paper or file, as ``leatline export`` does, and return its path."""
        export(self.document, format, Path(path))
        return Path(path)

    def save(self, folder: str | Path, *, papers: bool = False) -> Path:
        """Write what ``leatline study`` writes into a folder, and return that."""
        place = Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        write_outputs(dict(self.document), self.terrain, place)
        if papers:
            write_papers(dict(self.document), self.terrain, place)
        return place

    def _repr_html_(self) -> str:
        """Return how a notebook shows the study: the map, the profile, the findings."""
        page = escape(self.map_html(), quote=True)
        told = "".join(
            f"<li><b>{escape(str(found['severity']))}</b> {escape(str(found['message']))}</li>"
            for found in self.document["warnings"]
        )
        return (
            f'<iframe srcdoc="{page}" title="Map" style="width:100%;height:480px;border:0">'
            f"</iframe>{self.profile_svg()}<ul>{told}</ul>"
        )


def _library(name: str) -> Any:
    """Return a library of tables; raises InputError, which names the extra, where there is none."""
    try:
        return import_module(name)
    except ImportError as exc:
        raise InputError(
            f"Tables are made by {name}, which is not installed here.",
            f'Install it as an extra of this tool: pip install "{EXTRA}".',
        ) from exc


def lay(
    route: str | Path | Mapping[str, Any] | Places,
    terrain: str | Path | Sequence[str | Path],
    settings: str | Path | Mapping[str, Any] | None = None,
    *,
    line: str | int | None = None,
) -> LaidStudy:
    """Lay the pipe along a line over a raster and return the study.

    Parameters
    ----------
    route : path, GeoJSON mapping or places
        The line from the intake down; places are pairs of longitude and latitude
    terrain : path or paths
        The elevation raster, or its tiles
    settings : path or mapping, optional
        A TOML file, or its tables as a mapping; quantities are text with a unit
    line : str or int, optional
        Which line of several in a file: its name, or its number from 1

    Raises
    ------
    LeatlineError
        Where an input cannot be used; the message names it and the remedy

    Examples
    --------
    >>> import sample_dem
    >>> sample = sample_dem.sample_paths()
    >>> study = lay(sample.line, sample.terrain, {"trench": {"cover": "0.8 m"}})
    >>> study.summary["gross_head_m"]
    66.0474
    """
    if settings is None:
        given = Settings()
    elif isinstance(settings, Mapping):
        given = settings_from_mapping(settings)
    else:
        given = read_settings(Path(settings))
    paths = [terrain] if isinstance(terrain, str | Path) else terrain
    opened = open_study_terrain([Path(path) for path in paths], given)
    study = run_study(opened, _route(route, line or given.study.line), given)
    return LaidStudy(study_document(study), opened)


def _route(route: str | Path | Mapping[str, Any] | Places, line: str | int | None) -> Route:
    if isinstance(route, str | Path):
        return read_route(Path(route), line=line)
    if isinstance(route, Mapping):
        return route_from_geojson(route)
    drawn = {"type": "LineString", "coordinates": [list(place) for place in route]}
    return route_from_geojson(drawn)

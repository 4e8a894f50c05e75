"""From what a request asks to a study document: the one path of POST, PUT, preview and jobs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import Any, Protocol

import orjson

from api.compact import DRAGGED, OF_LINE, SENT, compact_json, shortened
from api.errors import TooLarge
from api.jobs import Report
from api.lines import LineRows
from api.settings import ServiceSettings
from api.storage import Storage
from api.windows import WindowCache
from routing.compiled import compiling
from routing.errors import MissingCrs, RasterTooLarge, TerrainError
from routing.laid_line import LaidLine
from routing.line import Route, geodesic_stations, route_from_geojson
from routing.outputs import study_contours, study_relief
from routing.record import ROW_MEMBERS, study_document, to_json, with_lines
from routing.settings import Settings, settings_from_mapping
from routing.stream_study import settings_at_intake
from routing.study import Study, open_study_terrain, run_study
from routing.terrain import Relief, Terrain, describe_terrain, open_terrain
from routing.terrain.drawn_contour import DrawnContour
from routing.terrain.raster import read_facts
from routing.terrain.sources import count_tiles
from routing.value import dataclass

__all__ = [
    "StudyRequest",
    "compute_new",
    "computed",
    "computed_lines",
    "encoder",
    "ground_of",
    "laid_line",
    "relief_of",
    "save_new",
    "terrain_facts",
    "terrain_named",
    "warm_up",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRequest:
    """What a request asks for, with the terrain's files looked up; it crosses to job processes."""

    route: Mapping[str, Any]
    settings: Mapping[str, Any]
    terrains: tuple[str, ...]
    names: tuple[str, ...]
    paths: tuple[Path, ...]
    name: str | None = None
    label: str | None = None
    kept: Mapping[str, Any] = field(default_factory=dict)
    """What is saved along and not computed, by its key in the document."""
    tables: Mapping[str, Any] = field(init=False)

    def __post_init__(self) -> None:
        tables = dict(self.settings)
        if self.name is not None:
            study = tables.get("study", {})
            tables["study"] = {**study, "name": self.name} if isinstance(study, dict) else study
        object.__setattr__(self, "tables", tables)


class Named(Protocol):
    """Files of a terrain, and what the client calls each."""

    @property
    def names(self) -> tuple[str, ...]:
        """What the client calls them."""

    @property
    def paths(self) -> tuple[Path, ...]:
        """The server's own files."""


def computed(
    asked: StudyRequest,
    limits: ServiceSettings,
    windows: WindowCache | None = None,
    *,
    pressures: bool = True,
    short: bool = False,
    fitted: bool = True,
) -> dict[str, Any]:
    """Return the study document that a request asks for, or what its ``short`` form is made of.

    Without ``pressures`` surge, class, vacuum, thrust and spans are left out, unless ``fitted``
    vents and drains too.
    """
    study = _run(asked, limits, windows, pressures=pressures, fitted=fitted)
    sent = SENT if pressures else DRAGGED if fitted else OF_LINE
    document = study_document(study, sent, shortened) if short else study_document(study)
    return _named(document, asked)


def computed_lines(asked: StudyRequest, limits: ServiceSettings, rows: LineRows) -> dict[str, Any]:
    """Return the study document that a request asks for, with its other lines beside it."""
    document = computed(asked, limits)
    rows.keep(_hangs_on(asked), document)
    others = []
    for line in asked.kept.get("alternatives", ()):
        settings = _with_land(line, asked)
        other = replace(asked, name=None, route=line["route"], settings=settings, kept={})
        compute = partial(_short, other, limits)
        others.append(rows.row(line["name"], _hangs_on(other), compute))
    return with_lines(document, others)


def _with_land(line: Mapping[str, Any], asked: StudyRequest) -> dict[str, Any]:
    """Return the settings of another line, with the study's layers where it lies over the same."""
    layers = asked.settings.get("layer") if line.get("same_land") else None
    return {**line["settings"], **({"layer": layers} if layers else {})}


def _hangs_on(asked: StudyRequest) -> dict[str, Any]:
    """Return all that the figures of a line hang on."""
    return {"terrains": asked.terrains, "route": asked.route, "settings": asked.settings}


def _short(asked: StudyRequest, limits: ServiceSettings) -> dict[str, Any]:
    return study_document(_run(asked, limits, None, pressures=True), ROW_MEMBERS)


def laid_line(
    asked: StudyRequest, limits: ServiceSettings, windows: WindowCache
) -> tuple[LaidLine, Settings]:
    """Return the line of a request as it is laid, and the settings with the flows at its intake."""
    study = _run(asked, limits, windows, pressures=False, fitted=False)
    given = settings_from_mapping(asked.tables)
    return study.line, settings_at_intake(given, study.terrain, study.line)


def _run(
    asked: StudyRequest,
    limits: ServiceSettings,
    windows: WindowCache | None,
    *,
    pressures: bool,
    fitted: bool = True,
) -> Study:
    """Return the study that a request asks for."""
    settings = settings_from_mapping(asked.tables)
    route = route_from_geojson(
        asked.route,
        name=asked.name or "route",
        source="The route",
        line=settings.study.line,
    )
    if len(route.lon) > limits.max_vertices:
        raise TooLarge(
            f"The line has {len(route.lon)} points; {limits.max_vertices} are allowed.",
            "Simplify it, or have the operator raise LEATLINE_MAX_VERTICES.",
        )
    with terrain_named(asked):
        window = None
        if windows is None:
            terrain = open_study_terrain(asked.paths, settings)
            check_samples(route, terrain, limits)
        else:
            key = (asked.terrains, settings.terrain)
            terrain = windows.terrain(key, lambda: open_study_terrain(asked.paths, settings))
            check_samples(route, terrain, limits)
            window = windows.window(key, terrain, route)
        return run_study(
            terrain, route, settings, window=window, pressures=pressures, fitted=fitted
        )


def _named(document: dict[str, Any], asked: StudyRequest) -> dict[str, Any]:
    """Return the document with the terrain's files called as the client called them."""
    if "terrain" in document:
        document["terrain"]["files"] = list(asked.names)
    for found in document.get("warnings", ()):
        found["message"] = _client_names(found["message"], asked)
    return document


def _client_names(text: str, asked: Named) -> str:
    for name, path in zip(asked.names, asked.paths, strict=True):
        text = text.replace(str(path), name).replace(path.name, name)
    return text


@contextmanager
def terrain_named(asked: Named) -> Iterator[None]:
    """Let errors speak of a terrain by its name, not by the server's own file."""
    try:
        yield
    except TerrainError as exc:
        problem = _client_names(exc.problem, asked)
        raise type(exc)(problem, exc.remedy, exc.station_m, exc.lon, exc.lat) from exc


def check_samples(route: Route, terrain: Terrain, limits: ServiceSettings) -> None:
    """Refuse a line that crosses more cells than the service may spend on one request."""
    length_m = float(geodesic_stations(route.lon, route.lat)[-1])
    cells = math.ceil(math.sqrt(2.0) * length_m / terrain.cell_m)
    if cells > limits.max_profile_samples:
        raise TooLarge(
            f"The line of {length_m / 1000.0:.1f} km crosses about {cells} cells of the raster; "
            f"{limits.max_profile_samples} are allowed.",
            "Draw a shorter line, use a coarser raster, or have the operator raise "
            "LEATLINE_MAX_PROFILE_SAMPLES.",
        )


def encoder(document: Mapping[str, Any], asked: StudyRequest) -> Callable[[str, int], bytes]:
    """Return what makes a saved study of a document, once its id and revision are known."""

    def encode(identity: str, revision: int) -> bytes:
        saved = {"id": identity, "revision": revision, "terrain_ids": asked.terrains}
        return to_json({**saved, **document, **asked.kept})

    return encode


def compute_new(settings: ServiceSettings, asked: StudyRequest, report: Report) -> dict[str, Any]:
    """Compute a new study in a job's own process; it is saved by whoever asked for it."""
    report(0.1, "laying the pipe")
    document = computed_lines(asked, settings, LineRows())
    report(0.9, "saving")
    return document


def save_new(storage: Storage, asked: StudyRequest, document: dict[str, Any]) -> dict[str, Any]:
    """Save a new study that was computed; return its id and revision."""
    saved = storage.add_study(
        document["name"], asked.terrains, encoder(document, asked), asked.label
    )
    return {"id": saved.study, "revision": saved.revision}


def terrain_facts(raster: Path, limits: ServiceSettings) -> dict[str, Any]:
    """Return what is understood of an uploaded raster, or the error that refuses it."""
    max_pixels = limits.max_pixels
    try:
        _check_tiles(raster, limits.max_tiles)
        try:
            terrain = open_terrain([raster])
        except MissingCrs:
            return _facts_without_crs(raster, max_pixels)
        _check_pixels(terrain.shape, max_pixels)
        facts: dict[str, Any] = orjson.loads(to_json(describe_terrain(terrain)))
    except TerrainError as exc:
        problem = exc.problem.replace(str(raster), "uploaded").replace(raster.name, "uploaded")
        raise type(exc)(problem, exc.remedy) from exc
    return facts


def _facts_without_crs(raster: Path, max_pixels: int) -> dict[str, Any]:
    """Return the facts of a raster whose CRS the settings of each study must give."""
    facts = read_facts(raster, 1, unit_given=False)
    _check_pixels(facts.shape, max_pixels)
    return {"crs": None, "rows": facts.shape[0], "columns": facts.shape[1], "format": facts.driver}


def _check_tiles(raster: Path, most: int) -> None:
    """Refuse an archive of so many tiles that each look at it would take seconds."""
    count = count_tiles(raster)
    if count > most:
        raise RasterTooLarge(
            f"The archive has {count} rasters; {most} are allowed.",
            "Merge them into one, or have the operator raise LEATLINE_MAX_TILES.",
        )


def _check_pixels(shape: Sequence[int], max_pixels: int) -> None:
    if shape[0] * shape[1] > max_pixels:
        raise RasterTooLarge(
            f"The raster has {shape[1]} x {shape[0]} pixels; {max_pixels} are allowed in all.",
            "Clip it to the valley, or have the operator raise LEATLINE_MAX_PIXELS.",
        )


def warm_up() -> None:
    """Study and preview the sample once, compiled, so that the first time is behind us."""
    import sample_dem
    from routing.line import read_route
    from routing.papers import map_html
    from routing.settings import read_settings

    sample = sample_dem.sample_paths()
    settings = read_settings(sample.settings)
    asked = StudyRequest(
        route=orjson.loads(sample.line.read_bytes()),
        settings=settings.given,
        terrains=("sample",),
        names=(sample.terrain.name,),
        paths=(sample.terrain,),
    )
    limits = ServiceSettings(data=Path())
    windows = WindowCache(max_windows=1, max_cells=limits.max_window_cells)
    with compiling():
        terrain = open_study_terrain([sample.terrain], settings)
        document = study_document(run_study(terrain, read_route(sample.line), settings))
        map_html(document, study_relief(document, terrain))
        for given in (asked, replace(asked, settings={})):
            short = computed(given, limits, windows, pressures=False, short=True)
            compact_json(short, pressures=False)


def ground_of(
    document: Mapping[str, Any], paths: Sequence[Path]
) -> tuple[Relief, tuple[DrawnContour, ...]]:
    """Return the shaded relief and the contours that lie beneath a saved study's sheets."""
    settings = settings_from_mapping(document["settings"])
    terrain = open_study_terrain(paths, settings)
    return study_relief(document, terrain), study_contours(document, terrain)


def relief_of(document: Mapping[str, Any], paths: Sequence[Path]) -> Relief:
    """Return the shaded relief that lies beneath a saved study's map."""
    settings = settings_from_mapping(document["settings"])
    terrain = open_study_terrain(paths, settings)
    return study_relief(document, terrain)

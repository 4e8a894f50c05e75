"""The sample: the demo's valley, line and settings, taken in once and opened on the page."""

from __future__ import annotations

import shutil
import tomllib

import orjson
from fastapi import APIRouter

import sample_dem
from api.compute import terrain_facts
from api.deps import ServiceDep
from api.page_schemas import SampleOut
from api.routes.terrains import terrain_out
from api.schemas import problems
from api.strict import StrictJsonRoute

router = APIRouter(prefix="/api/sample", tags=["terrains"], route_class=StrictJsonRoute)


@router.post("", responses=problems(400, 403, 413, 422))
def open_sample(service: ServiceDep) -> SampleOut:
    """Take the sample terrain in, unless it is here, and return it with its line and settings."""
    storage, sample = service.storage, sample_dem.sample_paths()
    with storage.incoming_folder() as folder:
        raster = shutil.copyfile(sample.terrain, folder / "elevation.tif")
        stored = storage.same_terrain(raster)
        if stored is None:
            facts = terrain_facts(raster, service.settings)
            stored = storage.add_terrain(folder, sample.terrain.name, facts)
    return SampleOut(
        terrain=terrain_out(stored),
        route=orjson.loads(sample.line.read_bytes()),
        settings=tomllib.loads(sample.settings.read_text(encoding="utf-8")),
    )

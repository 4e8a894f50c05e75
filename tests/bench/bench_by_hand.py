"""Lines drawn by hand against the proposals, by the study's own cost.

The lines were drawn on contours of 5 m, beside the stream on the bank that crosses fewer side
valleys, before any proposal was looked at. The rasters are public ones that are not kept here:

    python tests/bench/bench_by_hand.py FOLDER

takes those that lie in FOLDER; the sample is always there. Costs are in cubic metres of trench.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from by_hand import drawn_by_hand

import sample_dem
from routing.compiled import prefer_compiled
from routing.errors import LeatlineError
from routing.line import Route, read_route
from routing.search import propose
from routing.search.lines import Line
from routing.settings import Settings, read_settings, settings_from_mapping
from routing.study import open_study_terrain
from routing.terrain import Terrain

HANDS = {
    "bigtujunga_srtm30_utm11.tif": [
        (149, 309), (153, 307), (157, 305.5), (158.5, 303), (158.5, 299), (155, 297), (154, 293),
        (151, 289), (150.5, 284), (150, 280.5), (147.5, 277), (147.5, 273), (146, 271),
        (143, 268), (140, 264.5), (141, 261),
    ],
    "cascades_srtm1_utm10_25m.tif": [
        (139, 339), (142, 338.5), (147, 337), (152, 334), (158, 330), (163, 327), (168, 321.5),
        (174, 316), (180, 311), (184, 308),
    ],
    "cascades_srtm1_4326.tif": [
        (108, 406), (112, 405), (116, 403), (120, 398.5), (125, 394), (128, 390), (132, 384),
        (137, 377), (142, 370), (147, 361), (150, 356), (153, 352),
    ],
    "jacksboro_srtm3_4326.tif": [
        (234, 204), (232, 202), (229.5, 200), (227.5, 197), (226, 195), (224.5, 192),
        (222.5, 189), (221, 186.5), (219.5, 184), (219, 180), (218.5, 176), (219, 172), (218, 169),
    ],
    "sanfrancisco_south_usgs_feet.dem": [
        (393, 122), (393.5, 126), (396, 129), (399.5, 132.5), (400.5, 136), (398.5, 138.5),
        (395, 140), (391, 142.5), (388.5, 146), (388, 151), (388, 155), (386.5, 157.5),
        (383.5, 158.5), (381, 160.5), (379.5, 163), (379, 165),
    ],
    "NY20.asc": [
        (87, 75), (90, 73), (93, 72), (97, 73), (101, 73), (104, 72), (107, 70.5), (110, 69.5),
        (111, 66), (112, 63.5), (114, 62),
    ],
}  # fmt: skip
"""Rows and columns of the raster."""


def cases(folder: Path | None) -> Iterator[tuple[str, Terrain, Settings, Route, tuple]]:
    """Yield name, terrain, settings, the line drawn and its bridges."""
    sample = sample_dem.sample_paths()
    settings = read_settings(sample.settings)
    terrain = open_study_terrain([sample.terrain], settings)
    yield "the sample", terrain, settings, read_route(sample.line), ((525.0, 557.0),)
    told = settings_from_mapping({"flow": {"design": "20 L/s"}})
    for name, points in HANDS.items():
        if folder is None or not (folder / name).exists():
            continue
        terrain = open_study_terrain([folder / name], told)
        lon, lat = terrain.reference.to_lonlat(*np.array(points, dtype=np.float64).T)
        yield name, terrain, told, Route(name="by hand", lon=lon, lat=lat), ()


def told_of(line: Line) -> str:
    study = line.study
    faults = sorted({each.code for each in study.findings if each.severity == "fault"})
    return (
        f"{line.cost:6.0f}  {study.line.slope_station_m[-1]:5.0f} m  "
        f"{len(study.fittings.vents):2d} vents {len(study.fittings.drains):2d} drains  "
        f"{len(study.line.bends):3d} bends  {' '.join(faults)}"
    )


def main() -> None:
    prefer_compiled()
    for name, terrain, settings, route, spans in cases(Path(sys.argv[1]) if sys.argv[1:] else None):
        ends = [(float(route.lon[at]), float(route.lat[at])) for at in (0, -1)]
        begun = time.process_time()
        try:
            found = propose(terrain, *ends, settings)
        except LeatlineError as error:
            print(f"{name}: {error.problem}")
            continue
        took = time.process_time() - begun
        hand = drawn_by_hand(found.site, route, spans)
        print(
            f"{name}: {len(found.lines)} lines, {found.apart_m:.0f} m apart at least, bound "
            f"{found.bound:.2f}, {took:.1f} s of the processor; the first costs "
            f"{found.lines[0].cost / hand.cost:.2f} of the line by hand"
        )
        print(f"  {told_of(hand)}  by hand")
        for each, line in zip(found.names, found.lines, strict=True):
            print(f"  {told_of(line)}  {each}")


if __name__ == "__main__":
    main()

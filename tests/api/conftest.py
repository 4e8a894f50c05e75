"""A small hill, a line down it, and a real server over a data folder of its own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from api_service import CRS, NORTH, WEST, Serve, running, upload, write_hill
from pyproj import Transformer


@pytest.fixture(scope="session")
def hill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_hill(tmp_path_factory.mktemp("terrain") / "hill.tif")


@pytest.fixture(scope="session")
def line() -> dict[str, Any]:
    """A line down the hill as a GeoJSON feature."""
    to_degrees = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    x = WEST + np.array([12.3, 180.0, 301.7, 455.5, 580.2])
    y = NORTH - np.array([210.4, 190.0, 222.8, 160.0, 203.3])
    lon, lat = to_degrees.transform(x, y)
    return {
        "type": "Feature",
        "properties": {"name": "East beck"},
        "geometry": {
            "type": "LineString",
            "coordinates": [[float(a), float(b)] for a, b in zip(lon, lat, strict=True)],
        },
    }


@pytest.fixture(scope="session")
def tables() -> dict[str, Any]:
    """Settings that touch every table."""
    return {
        "study": {"units": "metric"},
        "terrain": {"rmse": "0.8 m"},
        "intake": {"level_above_ground": "0.4 m"},
        "outlet": {"level_above_ground": "0.5 m"},
        "trench": {
            "cover": "0.8 m",
            "max_depth": "1.4 m",
            "span": [{"from": "310 m", "to": "330 m"}],
        },
        "flow": {"design": "18 L/s", "temperature": "8 degC"},
        "pipe": [
            {
                "from": "0 m",
                "material": "PE100",
                "inside_diameter": "176.2 mm",
                "wall": "11.9 mm",
                "pressure_rating": "10 bar",
            }
        ],
        "turbine": {"efficiency": "64 %"},
    }


@pytest.fixture
def line_file(line: dict[str, Any], tmp_path: Path) -> Path:
    path = tmp_path / "beck line.geojson"
    path.write_text(json.dumps(line), encoding="utf-8")
    return path


@pytest.fixture
def settings_file(tmp_path: Path) -> Path:
    path = tmp_path / "settings.toml"
    path.write_text(
        """
[study]
units = "metric"
[terrain]
rmse = "0.8 m"
[intake]
level_above_ground = "0.4 m"
[outlet]
level_above_ground = "0.5 m"
[trench]
cover = "0.8 m"
max_depth = "1.4 m"
[[trench.span]]
from = "310 m"
to = "330 m"
[flow]
design = "18 L/s"
temperature = "8 degC"
[[pipe]]
from = "0 m"
material = "PE100"
inside_diameter = "176.2 mm"
wall = "11.9 mm"
pressure_rating = "10 bar"
[turbine]
efficiency = "64 %"
""",
        encoding="utf-8",
    )
    return path


@pytest.fixture(scope="session")
def serve() -> Serve:
    """Start a service on a folder, as often as a test needs."""
    return running


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """A service that the tests of one module share."""
    with running(tmp_path_factory.mktemp("data")) as client:
        yield client


@pytest.fixture(scope="module")
def terrain(client: httpx.Client, hill: Path) -> str:
    """The hill's id in the shared service."""
    response = upload(client, hill)
    assert response.status_code == 201, response.text
    return str(response.json()["id"])


@pytest.fixture
def body(terrain: str, line: dict[str, Any], tables: dict[str, Any]) -> dict[str, Any]:
    """A body that makes a study."""
    return {"terrain": terrain, "route": line, "settings": tables}

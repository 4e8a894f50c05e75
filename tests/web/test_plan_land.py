"""The land about the line: layers with kinds by the person, crossings, a raster without a place."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio
from api_service import write_hill
from plan_page import bring_line, plan_of, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
LINE = json.loads(SAMPLE.line.read_text(encoding="utf-8"))


def places() -> list[list[float]]:
    shape = LINE["features"][0] if "features" in LINE else LINE
    found: list[list[float]] = shape["geometry"]["coordinates"]
    return found


def layer(path: Path, shapes: list[dict[str, Any]]) -> Path:
    features = [
        {"type": "Feature", "properties": {"name": name}, "geometry": geometry}
        for shape in shapes
        for name, geometry in shape.items()
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def across(at: list[float]) -> dict[str, Any]:
    (x, y), reach = at[:2], 0.003
    return {"type": "LineString", "coordinates": [[x, y - reach], [x + 0.0003, y + reach]]}


def box(west: float, east: float, y: float) -> dict[str, Any]:
    ring = [[west, y - 0.003], [east, y - 0.003], [east, y + 0.003], [west, y + 0.003]]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def photograph(path: Path) -> Path:
    """Write a picture of the valley, as it would come from an aircraft."""
    west, south = places()[0][:2]
    affine = rasterio.Affine(0.0005, 0.0, west, 0.0, -0.0005, south)
    with rasterio.open(
        path, "w", driver="GTiff", width=40, height=20, count=3, dtype="uint8",
        crs="EPSG:4326", transform=affine,
    ) as out:  # fmt: skip
        out.write(np.arange(40 * 20 * 3, dtype=np.uint8).reshape(3, 20, 40))
    return path


def test_layers__are_crossed_listed_and_saved(
    open_page: Any, terrain: str, client: httpx.Client, tmp_path: Path
) -> None:
    line = places()
    third, half = line[len(line) // 3], line[len(line) // 2]
    two_thirds = line[2 * len(line) // 3]
    files = [
        layer(tmp_path / "ways.geojson", [{"Fell <b>road</b>": across(third)}]),
        layer(tmp_path / "streams.geojson", [{"Rowan Gill": across(two_thirds)}]),
        layer(
            tmp_path / "plots.geojson",
            [
                {"Plot 12": box(half[0] - 0.002, half[0], half[1])},
                {"Plot 13": box(half[0], half[0] + 0.002, half[1])},
            ],
        ),
    ]
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-trench")
        page.set_input_files("#layer-file", [str(path) for path in files])
        page.wait_for_function("() => leatline.state.plan.layers?.length === 3")
        kinds = [each["table"]["kind"] for each in plan_of(page)["layers"]]
        assert kinds == ["road", "stream", "parcel"]
        page.select_option("[data-key=layer-kind-0]", "service")
        settled(page)
        page.set_input_files("#layer-file", str(photograph(tmp_path / "photo.tif")))
        page.wait_for_function("() => leatline.state.plan.pictures?.length === 1")
        page.click("#tab-fittings")
        crossings = page.evaluate("() => leatline.state.model.crossings")
        assert sorted(each["kind"] for each in crossings) == [
            "parcel",
            "parcel",
            "service",
            "stream",
        ]
        assert page.locator(".crossings > li").count() == len(crossings)
        assert page.locator(".cross-mark").count() == len(crossings)
        text = page.inner_text(".crossings")
        assert "Fell <b>road</b>" in text
        assert all(ask in text for each in crossings for ask in each["asks"])
        page.click(".crossings button >> nth=0")
        hover = page.evaluate("() => leatline.state.hover")
        assert crossings[0]["station_m"] <= hover <= crossings[0]["to_m"]
        page.click("#save")
        page.wait_for_selector("#saved >> text=Saved, revision 1")
        study = client.get(f"/api/studies/{page.url.partition('study=')[2]}").json()
        assert [each["id"] for each in study["crossings"]] == [each["id"] for each in crossings]
        page.reload()
        page.wait_for_function("() => leatline.state.plan.layers?.length === 3")
        assert [each["name"] for each in plan_of(page)["layers"]] == ["ways", "streams", "plots"]
        assert page.locator(".leaflet-pictures-pane img[alt='photo.tif']").count() == 1


def test_cover_under_a_road__is_asked_for_by_a_press(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    line = places()
    road = layer(tmp_path / "road.geojson", [{"Fell road": across(line[len(line) // 3])}])
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-trench")
        page.set_input_files("#layer-file", str(road))
        page.wait_for_function("() => leatline.state.plan.layers?.length === 1")
        settled(page)
        page.click("#tab-fittings")
        assert "[[trench.limit" not in page.inner_text(".findings")
        page.click(".mend >> text=of cover there")
        settled(page)
        limits = plan_of(page)["lines"][0]["settings"]["trench"]["limit"]
        assert limits[0]["cover"] == "0.9 m"
        codes = page.evaluate("() => leatline.state.model.warnings.map((found) => found.code)")
        assert "road_cover" not in codes


def test_raster__without_a_place_is_given_one(open_page: Any, tmp_path: Path) -> None:
    hill = write_hill(tmp_path / "bare.tif", crs=None)
    with open_page(away=True) as page:
        page.set_input_files("#raster-file", str(hill))
        page.wait_for_selector("#crs[open]")
        page.fill("#crs-query", "utm zone 28n")
        page.click("#crs-list .hit >> text=WGS 84 / UTM zone 28N")
        page.wait_for_selector("#crs", state="hidden")
        assert plan_of(page)["lines"][0]["settings"] == {"terrain": {"crs": "EPSG:32628"}}
        assert "62.2" in page.inner_text("#message")
        page.wait_for_selector(".relief-tile .leaflet-tile-loaded")
        page.reload()
        page.wait_for_function("() => window.leatline?.state.terrains.some(({ bounds }) => bounds)")
        page.wait_for_selector(".relief-tile .leaflet-tile-loaded")
        packed = tmp_path / "placed.zip"
        with zipfile.ZipFile(packed, "w") as archive:
            archive.write(write_hill(tmp_path / "placed.tif"), "placed.tif")
        page.set_input_files("#raster-file", str(packed))
        page.wait_for_function("() => !leatline.state.plan.lines[0].settings.terrain")


def test_steepness__lies_over_the_relief(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#slope")
        page.wait_for_selector(".slope-tile .leaflet-tile-loaded")
        assert page.is_visible("#slope-key")
        page.click("#slope")
        assert page.locator(".slope-tile").count() == 0

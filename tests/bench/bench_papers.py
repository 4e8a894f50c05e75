"""Measured ratios of the papers: map with the relief as a data address, profile as own SVG text.

Run as ``python tests/bench/bench_papers.py``; nothing here is collected by pytest.
"""

from __future__ import annotations

import base64
import io
import sys
from pathlib import Path

import folium
import numpy as np
from matplotlib.figure import Figure

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from made_study import made_document, made_relief
from timing import best

from routing.papers import map_html, profile_svg, write_gpkg


def array_map(pixels: np.ndarray) -> str:
    """Return a plain folium map that is given the relief as an array."""
    view = folium.Map(tiles=None)
    folium.raster_layers.ImageOverlay(pixels, [[0, 0], [1, 1]]).add_to(view)
    return view.get_root().render()


def address_map(image: bytes) -> str:
    """Return the same map given the relief as a JPEG data address."""
    view = folium.Map(tiles=None)
    data = f"data:image/jpeg;base64,{base64.b64encode(image).decode()}"
    folium.raster_layers.ImageOverlay(data, [[0, 0], [1, 1]]).add_to(view)
    return view.get_root().render()


def plotted(doc: dict) -> str:
    """Return the profile's lines as matplotlib draws them to SVG."""
    figure = Figure(figsize=(14, 6))
    axes = figure.subplots()
    table = doc["stations"]
    for values in (table["ground_m"], table["pipe_m"], table["pipe_m"] + table["flowing_head_m"]):
        axes.plot(table["station_m"], values)
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg")
    return buffer.getvalue()


def main() -> None:
    """Print every figure as a time and a ratio."""
    from PIL import Image

    doc = made_document(count=2000)
    relief = made_relief(doc)
    rows, cols = np.mgrid[0:900, 0:1200]
    grey = 128 + 100 * np.sin(rows / 40.0) * np.cos(cols / 31.0)
    pixels = np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=82)
    by_address = best(lambda: address_map(buffer.getvalue()))
    by_array = best(lambda: array_map(pixels), 2)
    print(f"relief as address {by_address * 1e3:7.1f} ms, as array {by_array * 1e3:7.1f} ms")
    print(f"  ratio {by_array / by_address:.1f}")
    print(f"whole annotated map {best(lambda: map_html(doc, relief)) * 1e3:.1f} ms")
    own, plot = best(lambda: profile_svg(doc)), best(lambda: plotted(doc))
    print(f"profile drawing {own * 1e3:.1f} ms, matplotlib {plot * 1e3:.1f} ms")
    print(f"  ratio {plot / own:.1f}")
    path = Path("bench-papers.gpkg")
    print(f"GeoPackage {best(lambda: write_gpkg(doc, path), 3) * 1e3:.1f} ms")
    path.unlink()


if __name__ == "__main__":
    main()

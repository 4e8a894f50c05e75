"""What is installed and whether it works here: each part is tried, not only looked for."""

from __future__ import annotations

import importlib
import shutil
import sys
import tempfile
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from routing.value import dataclass

__all__ = ["PARTS", "Trial", "trials"]

LEAST_FREE_BYTES = 1_000_000_000
"""Free space below which a data folder is called short; a raster upload may be twice that."""

MODULE_OF = {
    "python-multipart": "python_multipart",
    "markdown-it-py": "markdown_it",
    "font-source-sans-pro": "font_source_sans_pro",
    "noto-cjk-sans-otc": "noto_cjk_sans_otc",
    "fontpkg-noto-sans-arabic": "fontpkg_noto_sans_arabic",
    "fontpkg-noto-sans-devanagari": "fontpkg_noto_sans_devanagari",
    "fonttools": "fontTools",
}
"""Packages whose module has another name than the package."""


PARTS = (
    "Python", "packages", "coordinates (PROJ)", "rasters (GDAL)", "compiled loops (numba)",
    "lettering and PDF", "the planning page", "data folder", "terminal",
)  # fmt: skip
"""What is tried, in this order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One part that was tried: what it is, whether it works, and what was seen or is to be done."""

    part: str
    works: bool
    told: str


def trials(data: Path) -> list[Trial]:
    """Try every part that the tool stands on; ``data`` is the folder the service would use."""
    tried = (
        _python, _packages, _proj, _gdal, _compiler, _pdf, _page, lambda: _folder(data), _terminal
    )  # fmt: skip
    return [_tried(part, trial) for part, trial in zip(PARTS, tried, strict=True)]


def _tried(part: str, trial: Callable[[], str]) -> Trial:
    try:
        return Trial(part=part, works=True, told=trial())
    # Whatever a broken installation throws is what this command is there to tell.
    except Exception as exc:
        return Trial(part=part, works=False, told=f"{type(exc).__name__}: {exc}")


def _python() -> str:
    return f"version {sys.version.split()[0]}, run from {sys.executable}"


def _packages() -> str:
    try:
        own = version("leatline")
    except PackageNotFoundError:
        return "run from its source, not installed; the parts below were tried one by one"
    needed = [text for text in requires("leatline") or [] if "extra ==" not in text]
    names = [text.split(">=")[0].split("==")[0].strip() for text in needed]
    broken = []
    for name in names:
        try:
            version(name)
            importlib.import_module(MODULE_OF.get(name, name.lower().replace("-", "_")))
        except ImportError:
            broken.append(name)
    if broken:
        raise ImportError(
            f"{', '.join(broken)} cannot be imported; repair: "
            "pip install --force-reinstall leatline."
        )
    return f"leatline {own} and the {len(names)} packages it needs"


def _proj() -> str:
    """Try PROJ with the worked example of a Transverse Mercator in IOGP Publication 373-7-2."""
    import pyproj

    change = pyproj.Transformer.from_crs("EPSG:4277", "EPSG:27700", always_xy=True)
    east, north = change.transform(0.5, 50.5)
    if abs(east - 577274.99) > 0.02 or abs(north - 69740.50) > 0.02:
        raise ValueError(f"a known place comes out at {east:.2f}, {north:.2f}: reinstall pyproj")
    return f"PROJ {pyproj.proj_version_str}, its data in {pyproj.datadir.get_data_dir()}"


def _gdal() -> str:
    import sample_dem
    from routing.terrain import describe_terrain, open_terrain

    facts = describe_terrain(open_terrain([sample_dem.sample_paths().terrain]))
    import rasterio

    return f"GDAL {rasterio.__gdal_version__} reads the sample raster ({facts['crs']})"


def _compiler() -> str:
    import numba
    import numpy as np

    total = numba.njit(lambda values: values.sum())(np.ones(3))
    if total != 3.0:
        raise ValueError(f"a compiled sum of three ones is {total}: reinstall numba")
    return f"numba {numba.__version__} compiles"


def _pdf() -> str:
    from routing.papers.typeset import FAMILIES, compile_pdf

    pages = compile_pdf(f'#set text(font: "{FAMILIES[0]}")\nA line, 0.123 m', {})
    if not pages.startswith(b"%PDF"):
        raise ValueError("a page was set that is no PDF: reinstall typst")
    return f"{FAMILIES[0]} travels with the tool; a page was set."


def _page() -> str:
    import web

    modules = Path(web.__file__).resolve().parent / "node_modules"
    missing = [name for name in ("leaflet", "uplot") if not (modules / name).is_dir()]
    if missing:
        raise FileNotFoundError(
            f"{', '.join(missing)} not in {modules}: install leatline again, with network."
        )
    return "Leaflet and uPlot are there; no browser is needed on this machine"


def _folder(data: Path) -> str:
    place = next(path for path in (data, *data.parents) if path.exists())
    with tempfile.NamedTemporaryFile(dir=place, prefix=".leatline-"):
        free = shutil.disk_usage(place).free
    if free < LEAST_FREE_BYTES:
        raise OSError(
            f"{place} has {free / 1e6:.0f} MB free: make room, or name another with --data."
        )
    made = "" if place == data else " (to be made by the service)"
    return f"{data}{made}, writable, {free / 1e9:.0f} GB free."


def _terminal() -> str:
    coding = sys.stdout.encoding or "ascii"
    try:
        "m³ °C – ≤".encode(coding)
    except UnicodeEncodeError:
        return f"{coding}: signs it lacks are written in plain letters."
    return f"{coding} has every sign that is written."

"""One raster file: the facts that reading it right depends on, checked before any cell is read."""

from __future__ import annotations

import re
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio._err import CPLE_BaseError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from routing.errors import MissingCrs, NotElevation, RasterTooLarge, UnreadableRaster
from routing.terrain.formats import FORMAT_NAMES, GDAL_OPTIONS, OPEN_OPTIONS, sniff_driver
from routing.terrain.sources import beside, in_short, shown
from routing.value import dataclass

__all__ = [
    "MAX_BLOCK_BYTES",
    "Affine6",
    "Raster",
    "check_size",
    "opened",
    "read_facts",
    "read_valid",
    "settled",
]

Affine6 = tuple[float, float, float, float, float, float]

MAX_BLOCK_BYTES = 128 * 2**20
"""Largest block that is decoded in one piece [bytes]; a lying header is refused before a read."""

MAX_SIDE = 4_000_000
"""Most rows or columns of one raster [-]."""

MOST_MAP_UNITS, LEAST_CELL_AREA = 1e12, 1e-24
"""Largest number of a sound georeference, and least size of a cell [map units, their square]."""

MAX_BANDS = 10_000
"""Most bands of one raster [-]."""

MOST_TAG_CHARACTERS = 4000
"""Text that is kept of what a raster says of itself [-]."""

_DATUM_TAGS = ("VERTICAL_DATUM", "VERT_DATUM", "VERTICALDATUM", "HEIGHT_DATUM", "ELEVATION_DATUM")
_RMSE_TAGS = ("VERTICAL_RMSE_M", "RMSEZ_M", "RMSE_M", "RMSE_Z_M")
_METRES = re.compile(r"(\d{1,4}(?:\.\d{1,6})?)(?: ?m(?:et(?:re|er)s?)?)?")

_COLOURS = frozenset(ColorInterp) - {ColorInterp.gray, ColorInterp.undefined}


_held = threading.local()
_one_at_a_time = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """One file of a terrain; ``row0``, ``col0`` place its first cell on the terrain's grid.

    ``masked`` says that the library makes a mask of the file's own; ``alpha`` is a band that says
    which cells are valid where the library does not take it for a mask, as with floats.
    """

    path: Path
    driver: str
    band: int
    shape: tuple[int, int]
    transform: Affine6
    crs_wkt: str | None
    dtype: str
    nodata: float | None
    masked: bool
    alpha: int | None
    scale: float
    offset: float
    block: tuple[int, int]
    unit_tag: str | None
    bands: tuple[str, ...] = ("",)
    """Names of the file's bands, empty where it gives none; a mask is no band."""
    about: str = ""
    """What the file says of its origin, in the words of its tags."""
    datum_tag: str | None = None
    rmse_tag_m: float | None = None
    row0: int = 0
    col0: int = 0


@contextmanager
def settled() -> Iterator[None]:
    """Hold the library's settings over several reads of this thread: setting them takes time."""
    if getattr(_held, "settled", False):
        yield
        return
    with rasterio.Env(**GDAL_OPTIONS), _garbled_is_silent():
        _held.settled = True
        try:
            yield
        finally:
            _held.settled = False


@contextmanager
def _garbled_is_silent() -> Iterator[None]:
    """Keep the library's log from printing tracebacks where a damaged file's text is no UTF-8."""
    unraisable, printed = sys.unraisablehook, sys.excepthook

    def drop(found: sys.UnraisableHookArgs, /) -> None:
        if not isinstance(found.exc_value, UnicodeDecodeError):
            unraisable(found)

    def pass_over(kind: Any, value: Any, trace: Any) -> None:
        if not (kind is UnicodeDecodeError and trace is None):
            printed(kind, value, trace)

    sys.unraisablehook, sys.excepthook = drop, pass_over
    try:
        yield
    finally:
        sys.unraisablehook, sys.excepthook = unraisable, printed


@contextmanager
def opened(path: Path, driver: str) -> Iterator[Any]:
    """Open a raster for one read, in GDAL settings that follow nothing outside the file."""
    with settled():
        try:
            options = OPEN_OPTIONS[driver]
            # An absolute path: the library takes some relative names for orders of its own.
            place = path.absolute()
            with rasterio.open(place, driver=driver, sharing=False, **options) as dataset:
                yield _TextGrid(dataset) if driver == "AAIGrid" else dataset
        except (RasterioError, CRSError, CPLE_BaseError, UnicodeDecodeError) as exc:
            raise UnreadableRaster(
                f"The raster {shown(path)} cannot be read as {FORMAT_NAMES[driver]}: "
                f"{in_short(exc)}.",
                "The file may be cut short or damaged; copy or download it again.",
            ) from exc


class _TextGrid:
    """A text grid whose rows are found one after the other before any is read.

    Left to itself the library finds the rows before a damaged one again and again, twice as long
    for each further row.
    """

    def __init__(self, dataset: Any) -> None:
        self._dataset = dataset
        self._found = 0

    def read(self, band: int, *, window: Window, **options: Any) -> Any:
        """Read cells as the library does, once all rows down to them are known to be whole."""
        for row in range(self._found, window.row_off + window.height):
            self._dataset.read(band, window=Window(0, row, 1, 1))
            self._found = row + 1
        return self._dataset.read(band, window=window, **options)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._dataset, name)


@contextmanager
def _unplaced() -> Iterator[list[warnings.WarningMessage]]:
    """Collect the library's warning on a raster without georeference: it gets our own error.

    Warnings are caught for all threads at once, so one raster is looked at at a time.
    """
    with _one_at_a_time, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", NotGeoreferencedWarning)
        yield caught


def _warned(caught: list[warnings.WarningMessage]) -> bool:
    return any(issubclass(entry.category, NotGeoreferencedWarning) for entry in caught)


def read_facts(path: Path, band: int, *, unit_given: bool) -> Raster:
    """Return what the file says of itself, or the error that names what is wrong with it."""
    path = Path(path)
    driver = sniff_driver(path)
    with _unplaced() as unplaced, opened(path, driver) as dataset:
        check_size(path, dataset)
        if not 1 <= band <= dataset.count:
            raise NotElevation(
                f"The raster {shown(path)} has no band {band}; it has {dataset.count}.",
                "Set band under [terrain] to the band that holds the elevations.",
            )
        index = band - 1
        unit_tag = dataset.units[index] or None
        _check_elevation(path, dataset, index, stated=unit_given or unit_tag is not None)
        scale, offset = float(dataset.scales[index]), float(dataset.offsets[index])
        if not (np.isfinite(scale) and np.isfinite(offset) and scale != 0.0):
            raise NotElevation(
                f"The band of {shown(path)} states the scale {scale:g} and the offset {offset:g}.",
                "Write the raster again with a scale that is not zero.",
            )
        masked = MaskFlags.per_dataset in dataset.mask_flag_enums[index]
        return Raster(
            path=path,
            driver=driver,
            band=band,
            shape=(dataset.height, dataset.width),
            transform=_checked_transform(path, dataset, unplaced=_warned(unplaced)),
            crs_wkt=_crs_of(path, dataset),
            dtype=dataset.dtypes[index],
            nodata=dataset.nodatavals[index],
            masked=masked,
            alpha=None if masked else _alpha_band(dataset),
            scale=scale,
            offset=offset,
            block=dataset.block_shapes[index],
            unit_tag=unit_tag,
            bands=tuple(
                (name or "")[:60]
                for name, colour in zip(dataset.descriptions, dataset.colorinterp, strict=True)
                if colour != ColorInterp.alpha
            ),
            **_spoken(dataset, index),
        )


def _spoken(dataset: Any, index: int) -> dict[str, Any]:
    """Return what the file's own tags and its band's name say of its origin, datum and error."""
    tags = {**dataset.tags(), **dataset.tags(index + 1)}
    words = [*tags.values(), dataset.descriptions[index] or ""]
    keyed = {re.sub(r"[ _-]+", "_", key).upper(): value.strip() for key, value in tags.items()}
    datum = next((keyed[key] for key in _DATUM_TAGS if keyed.get(key)), None)
    errors = (_METRES.fullmatch(keyed[key]) for key in _RMSE_TAGS if key in keyed)
    stated = next((float(found[1]) for found in errors if found), 0.0)
    return {
        "about": " | ".join(word for word in words if word)[:MOST_TAG_CHARACTERS],
        "datum_tag": None if datum is None else " ".join(datum.split())[:120],
        "rmse_tag_m": stated if stated > 0.0 else None,
    }


def read_valid(
    dataset: Any, raster: Raster, window: Window, shape: tuple[int, int] | None = None
) -> NDArray[np.bool_] | None:
    """Return which cells of a window are valid by the file's mask, None where it has none.

    ``shape`` asks for so many cells instead of the window's own.
    """
    if raster.masked:
        mask = dataset.read_masks(raster.band, window=window, out_shape=shape)
    elif raster.alpha is not None:
        mask = dataset.read(raster.alpha, window=window, out_shape=shape)
    else:
        return None
    return np.asarray(mask != 0)


def _alpha_band(dataset: Any) -> int | None:
    """Return the band that holds transparency, None when there is none."""
    if ColorInterp.alpha not in dataset.colorinterp:
        return None
    return int(dataset.colorinterp.index(ColorInterp.alpha)) + 1


def check_size(path: Path, dataset: Any) -> None:
    """Refuse a raster without cells, or one whose smallest readable piece is too large."""
    rows, cols = dataset.shape
    if dataset.count > MAX_BANDS:
        raise RasterTooLarge(
            f"The raster {shown(path)} states {dataset.count} bands; the limit is {MAX_BANDS}.",
            "Write the band of elevations to a file of its own.",
        )
    if rows > MAX_SIDE or cols > MAX_SIDE:
        raise RasterTooLarge(
            f"The raster {shown(path)} states {rows} x {cols} cells; the limit is {MAX_SIDE} a "
            "side.",
            "Cut out the part around the line.",
        )
    for block, dtype in zip(dataset.block_shapes, dataset.dtypes, strict=True):
        size = block[0] * block[1] * np.dtype(dtype).itemsize
        if dataset.interleaving is not None and dataset.interleaving.name == "pixel":
            size *= dataset.count
        if size > MAX_BLOCK_BYTES:
            raise RasterTooLarge(
                f"The raster {shown(path)} is stored in blocks of {block[0]} x {block[1]} cells, "
                f"{size / 2**20:.0f} MB each; the limit is {MAX_BLOCK_BYTES // 2**20} MB.",
                "Write it again in tiles, for example gdal_translate -co TILED=YES.",
            )


def _check_elevation(path: Path, dataset: Any, index: int, *, stated: bool) -> None:
    """Refuse colours, palettes, complex numbers and grey pictures."""
    colour = dataset.colorinterp[index]
    dtype = dataset.dtypes[index]
    remedy = "Give the elevation raster itself, or set band under [terrain]."
    if colour in _COLOURS:
        raise NotElevation(
            f"Band {index + 1} of {shown(path)} is a picture's colour ({colour.name}), not "
            "elevation.",
            remedy,
        )
    if dtype.startswith("complex"):
        raise NotElevation(f"Band {index + 1} of {shown(path)} holds complex numbers.", remedy)
    scaled = dataset.scales[index] != 1.0 or dataset.offsets[index] != 0.0
    if dtype == "uint8" and not stated and not scaled:
        raise NotElevation(
            f"Band {index + 1} of {shown(path)} holds whole numbers from 0 to 255 without a unit, "
            "as pictures and hillshades do.",
            "Give the elevation raster itself; if this is one, set unit under [terrain].",
        )


def _checked_transform(path: Path, dataset: Any, *, unplaced: bool) -> Affine6:
    """Return the six affine numbers (pixel corner column, row to x, y)."""
    affine = dataset.transform
    if unplaced or affine.is_identity or not all(np.isfinite(affine)) or affine.determinant == 0.0:
        raise MissingCrs(
            f"The raster {shown(path)} has no georeference: nothing says where its cells lie.",
            "Give a raster that carries its own georeference, for example written with "
            "gdalwarp or gdal_translate -a_ullr -a_srs.",
        )
    largest = max(abs(value) for value in affine)
    if largest > MOST_MAP_UNITS or abs(affine.determinant) < LEAST_CELL_AREA:
        raise MissingCrs(
            f"The georeference of {shown(path)} is damaged: its cells lie at {affine.c:.3g}, "
            f"{affine.f:.3g} and measure {affine.a:.3g} by {affine.e:.3g} units.",
            "Copy or download the raster again.",
        )
    return (affine.a, affine.b, affine.c, affine.d, affine.e, affine.f)


def _crs_of(path: Path, dataset: Any) -> str | None:
    """Return the raster's coordinate system as text, from the file or from the .prj beside it."""
    if dataset.crs:
        return str(dataset.crs.to_wkt())
    return beside(path, (".prj", ".PRJ"))

"""Fixtures that several rooms' tests share."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from chromium import running_chromium
from hypothesis import HealthCheck, settings
from numpy.typing import ArrayLike
from rasterio.transform import Affine

# A property holds or does not; how long a busy machine takes over it is no part of it.
settings.register_profile("no clock", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("no clock")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the long files first: where files go to processes, the short ones fill up the end."""
    long = [Path(__file__).parent / room for room in ("web", "api")]
    items.sort(key=lambda item: not any(room in item.path.parents for room in long))


@pytest.fixture
def make_raster(tmp_path: Path) -> Callable[..., Path]:
    """Return the maker of small rasters: array in, path out."""

    def make(
        array: ArrayLike,
        *,
        crs: str | None = "EPSG:32633",
        transform: Affine | None = None,
        cell: float = 10.0,
        origin: tuple[float, float] = (500_000.0, 5_200_000.0),
        nodata: float | None = None,
        unit: str | None = None,
        dtype: str | None = None,
        tiled: bool = False,
        driver: str = "GTiff",
        name: str = "dem.tif",
        scale: float | None = None,
        offset: float | None = None,
        mask: ArrayLike | None = None,
        **options: Any,
    ) -> Path:
        """Write ``array``, (rows, cols) or (bands, rows, cols), its first row in the north.

        ``mask`` is an internal mask, True = valid.
        """
        values = np.asarray(array)
        values = values.astype(dtype or ("float32" if values.dtype == np.float64 else values.dtype))
        bands = values if values.ndim == 3 else values[None]
        if transform is None:
            transform = Affine(cell, 0.0, origin[0], 0.0, -cell, origin[1])
        if tiled:
            options = {"tiled": True, "blockxsize": 64, "blockysize": 64, **options}
        path = tmp_path / name
        with (
            rasterio.Env(GDAL_TIFF_INTERNAL_MASK="YES"),
            rasterio.open(
                path,
                "w",
                driver=driver,
                height=bands.shape[1],
                width=bands.shape[2],
                count=bands.shape[0],
                dtype=bands.dtype,
                crs=crs,
                transform=transform,
                nodata=nodata,
                **options,
            ) as dataset,
        ):
            dataset.write(bands)
            if unit is not None:
                dataset.units = [unit] * bands.shape[0]
            if scale is not None:
                dataset.scales = [scale] * bands.shape[0]
            if offset is not None:
                dataset.offsets = [offset] * bands.shape[0]
            if mask is not None:
                dataset.write_mask(np.asarray(mask, dtype=bool))
        return path

    return make


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium, one for the whole run; tests open contexts of their own in it."""
    with running_chromium() as running:
        yield running

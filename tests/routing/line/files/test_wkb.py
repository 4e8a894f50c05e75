"""Well-known binary against the geometry library's writer."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hostile_lines import gpkg_blob

from routing.line.files.wkb import BrokenGeometry, geometry_of, geopackage_geometry

SHAPES = [
    shapely.Point(1, 2),
    shapely.Point(1, 2, 3),
    shapely.LineString([(1, 2), (3, 4)]),
    shapely.LineString([(1, 2, 9), (3, 4, 8)]),
    shapely.MultiLineString([[(1, 2), (3, 4)], [(5, 6), (7, 8), (9, 10)]]),
    shapely.MultiPoint([(1, 2), (3, 4)]),
]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
@pytest.mark.parametrize("order", [0, 1])
@pytest.mark.parametrize("flavor", ["iso", "extended"])
def test_geometry_of__as_the_library_writes_it(shape: object, order: int, flavor: str) -> None:
    wkb = shapely.to_wkb(shape, byte_order=order, flavor=flavor, include_srid=flavor == "extended")
    kind, parts = geometry_of(wkb)
    assert kind == shape.geom_type  # type: ignore[attr-defined]
    want = [
        shapely.get_coordinates(part, include_z=shapely.has_z(shape))
        for part in shapely.get_parts(shape)
    ]
    assert len(parts) == len(want)
    assert all(np.array_equal(a, b) for a, b in zip(parts, want, strict=True))


def test_geometry_of__system_in_front() -> None:
    wkb = shapely.to_wkb(shapely.set_srid(SHAPES[2], 25832), include_srid=True, flavor="extended")
    assert geometry_of(wkb)[1][0].tolist() == [[1, 2], [3, 4]]


def test_geometry_of__polygons_are_only_named() -> None:
    assert geometry_of(shapely.to_wkb(shapely.box(0, 0, 1, 1))) == ("Polygon", [])
    assert geometry_of(b"") == ("empty", [])


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_geometry_of__cut_short_is_refused(shape: object) -> None:
    wkb = shapely.to_wkb(shape)
    for keep in range(1, len(wkb)):
        with pytest.raises(BrokenGeometry):
            geometry_of(wkb[:keep])


def test_geometry_of__nested_collections_are_refused() -> None:
    inner = shapely.GeometryCollection([SHAPES[2]])
    with pytest.raises(BrokenGeometry, match="holds a GeometryCollection"):
        geometry_of(shapely.to_wkb(shapely.GeometryCollection([inner])))


@pytest.mark.parametrize("envelope", [0, 1, 2, 3, 4])
def test_geopackage_geometry__envelopes(envelope: int) -> None:
    wkb = shapely.to_wkb(SHAPES[2])
    size = (0, 32, 48, 48, 64)[envelope]
    blob = b"GP\x00" + bytes([1 | envelope << 1]) + bytes(4 + size) + wkb
    assert geopackage_geometry(blob) == wkb


@pytest.mark.parametrize("blob", [b"", b"GP", b"XX\x00\x01" + bytes(20), b"GP\x00\x0b" + bytes(20)])
def test_geopackage_geometry__broken_heads(blob: bytes) -> None:
    with pytest.raises(BrokenGeometry):
        geopackage_geometry(blob)
    assert geopackage_geometry(b"GP\x00\x11" + bytes(4)) == b""
    assert geopackage_geometry(gpkg_blob(b"x")) == b"x"

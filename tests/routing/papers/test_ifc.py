"""IFC 4.3, judged by the rules of its own schema and read back; without the extra, told which."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from made_study import as_read_from_disk, made_document
from pyproj import Transformer

from routing.errors import InputError
from routing.papers.export import export_bytes


def test_ifc__without_its_library_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    with pytest.raises(InputError, match=r"leatline\[ifc\]"):
        export_bytes(made_document(), "ifc")


# The library leaves the file of its rules to be closed by the interpreter.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_ifc__keeps_every_rule_of_its_schema_and_holds_the_study() -> None:
    """The library's own check of types, cardinalities and WHERE rules of IFC4X3_ADD2."""
    ifcopenshell = pytest.importorskip("ifcopenshell", reason="comes with the extra ifc")
    validate = pytest.importorskip("ifcopenshell.validate")
    doc = as_read_from_disk(made_document())
    made = export_bytes(doc, "ifc")
    assert made == export_bytes(made_document(), "ifc")
    model = ifcopenshell.file.from_string(made.decode())
    log = validate.json_logger()
    validate.validate(model, log, express_rules=True)
    assert log.statements == []
    (alignment,) = model.by_type("IfcAlignment")
    plan, profile = (each for rel in alignment.IsNestedBy for each in rel.RelatedObjects)
    # The last segment has no length, as the standard asks.
    legs = [part.DesignParameters for rel in plan.IsNestedBy for part in rel.RelatedObjects]
    straights = [part.DesignParameters for rel in profile.IsNestedBy for part in rel.RelatedObjects]
    assert (legs[-1].SegmentLength, straights[-1].HorizontalLength) == (0.0, 0.0)
    (crs,) = model.by_type("IfcProjectedCRS")
    (conversion,) = model.by_type("IfcMapConversion")
    place = Transformer.from_crs("EPSG:4326", crs.Name.split()[0], always_xy=True)
    east, north = place.transform(doc["route"]["lon"], doc["route"]["lat"])
    assert (conversion.Eastings, conversion.Northings) == pytest.approx((east[0], north[0]))
    starts = np.array([leg.StartPoint.Coordinates for leg in legs[:-1]])
    np.testing.assert_allclose(starts[:, 0], np.asarray(east[:-1]) - east[0], atol=2e-3)
    np.testing.assert_allclose(starts[:, 1], np.asarray(north[:-1]) - north[0], atol=2e-3)
    grid = float(np.hypot(np.diff(east), np.diff(north)).sum())
    assert sum(leg.SegmentLength for leg in legs) == pytest.approx(grid, rel=1e-6)
    assert sum(each.HorizontalLength for each in straights) == pytest.approx(grid, rel=1e-6)
    levels = [each.StartHeight for each in straights[:-1]]
    assert levels == pytest.approx([each["from_z_m"] for each in doc["grades"]])
    pipes = model.by_type("IfcPipeSegment")
    assert [pipe.Name for pipe in pipes] == [run["label"] for run in doc["pipes"]]
    for pipe, run in zip(pipes, doc["pipes"], strict=True):
        (solid,) = pipe.Representation.Representations[0].Items
        assert 2.0 * solid.Radius == pytest.approx(run["outside_diameter_m"])
        assert 2.0 * solid.InnerRadius == pytest.approx(run["inside_diameter_m"])
        points = np.array([point.Coordinates for point in solid.Directrix.Points])
        length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        # The made straights cut the corners of the made pipe.
        assert length == pytest.approx(run["length_m"], rel=2e-2)

"""DXF, read back and audited with ezdxf."""

from __future__ import annotations

import io
from functools import cache

import ezdxf
import numpy as np
import pytest
from ezdxf import recover
from made_study import as_read_from_disk, made_document, moved_document
from pyproj import Transformer

from routing.papers.dxf import LAYERS, PROFILE_SPACE, dxf_text


def opened(doc, crs=None):
    drawing, auditor = recover.read(io.BytesIO(dxf_text(doc, crs).encode()))
    assert not auditor.has_errors, auditor.errors
    assert not auditor.has_fixes, auditor.fixes
    assert len(drawing.audit().errors) == 0
    return drawing


@cache
def plain() -> tuple[dict, ezdxf.document.Drawing]:
    """Return a study and its drawing, made and audited once for all tests that only read them."""
    doc = made_document()
    return doc, opened(doc)


def test_dxf_text__opens_clean_with_layers_by_subject() -> None:
    _, drawing = plain()
    assert drawing.dxfversion == "AC1024"  # R2010
    assert set(LAYERS) <= {layer.dxf.name for layer in drawing.layers}
    assert drawing.header["$INSUNITS"] == 6
    used = {entity.dxf.layer for entity in drawing.modelspace()}
    assert used <= set(LAYERS)


def test_dxf_text__lines_lie_where_the_study_says() -> None:
    # Reference: pyproj's own transform to the terrain's system.
    doc, drawing = plain()
    table = doc["stations"]
    x, y = Transformer.from_crs("EPSG:4326", doc["terrain"]["crs"], always_xy=True).transform(
        table["lon"], table["lat"]
    )
    for layer, level in (("PIPE-3D", "pipe_m"), ("GROUND-3D", "ground_m")):
        (line,) = drawing.modelspace().query(f'POLYLINE[layer=="{layer}"]')
        assert line.is_3d_polyline
        read = np.array([vertex.dxf.location.xyz for vertex in line.vertices])
        assert np.allclose(read, np.column_stack([x, y, table[level]]), rtol=0, atol=1e-4)


def test_dxf_text__fittings_are_blocks_with_their_names() -> None:
    doc, drawing = plain()
    space = drawing.modelspace()
    for layer, key in (("VENTS", "vents"), ("DRAINS", "drains"), ("BENDS", "bends")):
        found = {
            insert.get_attrib_text("NAME"): insert
            for insert in space.query(f'INSERT[layer=="{layer}"]')
        }
        assert set(found) == {item["id"] for item in doc[key]}
        for item in doc[key]:
            assert float(found[item["id"]].get_attrib_text("STATION")) == pytest.approx(
                item["station_m"], abs=0.005
            )
            assert found[item["id"]].dxf.insert.z == pytest.approx(item["pipe_m"], abs=1e-4)
            # As a schedule has it: with the unit of the study.
            level = found[item["id"]].get_attrib_text("PIPE")
            assert level == f"{item['pipe_m']:.2f} m"


def test_dxf_text__a_crossing_with_a_width_is_no_block_of_concrete() -> None:
    # A stream has a width and a length along the line; only what is cast has a height to set out.
    doc = as_read_from_disk(made_document())
    doc["crossings"] = [
        {
            "id": "X1", "station_m": 60.0, "to_m": 64.2, "kind": "stream", "name": "Vell Brook",
            "angle_deg": 70.0, "length_m": 4.2, "width_m": 4.0, "asks": [], "relation": "crosses",
            "consent": None, "cover_m": 0.8, "top_m": None, "lon": doc["stations"]["lon"][0],
            "lat": doc["stations"]["lat"][0], "ground_m": 100.0, "pipe_m": 99.0,
        }
    ]  # fmt: skip
    space = opened(doc).modelspace()
    (crossing,) = (each for each in space.query("INSERT") if each.get_attrib_text("NAME") == "X1")
    assert crossing.get_attrib_text("SIZE") == ""
    assert "Vell Brook" in crossing.get_attrib_text("KIND")


def test_dxf_text__land_lies_in_model_space_on_a_layer_of_its_kind() -> None:
    doc = as_read_from_disk(made_document(count=120))
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    ring = [[lon[0], lat[0]], [lon[9], lat[0]], [lon[9], lat[9]], [lon[0], lat[0]]]
    given = [
        ("stream", "Vell Brook", "LineString", [[lon[0], lat[0]], [lon[50], lat[40]]]),
        ("no-go", "bog", "Polygon", [ring]),
        ("ground", "rock", "Polygon", [ring]),
        ("reference", "BM 7", "Point", [lon[9], lat[9]]),
    ]
    features = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "name": name, "level_m": 301.5},
            "geometry": {"type": shape, "coordinates": places},
        }
        for kind, name, shape, places in given
    ]
    doc["settings"] = {"sheet": {"features": {"features": features}}}
    drawing = opened(doc)
    space = drawing.modelspace()
    to_grid = Transformer.from_crs("EPSG:4326", doc["terrain"]["crs"], always_xy=True)
    (stream,) = space.query('LWPOLYLINE[layer=="LAND-STREAM"]')
    wanted = [to_grid.transform(lon[0], lat[0]), to_grid.transform(lon[50], lat[40])]
    assert np.allclose(stream.get_points("xy"), wanted, rtol=0, atol=1e-3)
    for kind in ("NO-GO", "GROUND"):
        (area,) = space.query(f'LWPOLYLINE[layer=="LAND-{kind}"]')
        assert area.closed
    (point,) = space.query('POINT[layer=="LAND-REFERENCE"]')
    assert point.dxf.location.z == pytest.approx(301.5)
    said = {text.dxf.text for text in space.query("TEXT") if text.dxf.layer.startswith("LAND-")}
    assert said == {"Vell Brook", "bog", "rock", "BM 7 301.50 m"}
    # No layout is empty: the one that a new drawing brings is gone.
    assert all(len(layout) for layout in drawing.layouts if layout.name != "Model")
    assert "Layout1" not in drawing.layouts.names()


def test_dxf_text__us_survey_feet_scale_all_three_axes() -> None:
    doc = moved_document(-121.6, 38.5, units="us")
    # A system in US survey feet (1200/3937 m, exact by the Mendenhall order of 1893).
    feet = opened(doc, "EPSG:2226")
    assert feet.header["$INSUNITS"] == 21
    (line,) = feet.modelspace().query('POLYLINE[layer=="PIPE-3D"]')
    level = np.array([vertex.dxf.location.z for vertex in line.vertices])
    assert np.allclose(level * 1200.0 / 3937.0, doc["stations"]["pipe_m"], rtol=0, atol=1e-4)


def test_dxf_text__profile_is_true_in_its_own_space() -> None:
    doc, drawing = plain()
    space = drawing.layout(PROFILE_SPACE)
    (pipe,) = space.query('LWPOLYLINE[layer=="PROFILE-PIPE"]')
    points = np.array([(x, y) for x, y, *_ in pipe.get_points()])
    station, level = doc["stations"]["station_m"], doc["stations"]["pipe_m"]
    along = 1000.0 * (station[-1] - station[0]) / (points[-1, 0] - points[0, 0])
    up = 1000.0 * (level[0] - level[-1]) / (points[0, 1] - points[-1, 1])
    assert (round(along, 2), round(up, 2)) == (2000.0, 200.0)
    # The pipe is drawn of its straights, each with grade and length where there is room.
    knots = [doc["grades"][0]["from_m"], *(each["to_m"] for each in doc["grades"])]
    assert points[:, 0] - points[0, 0] == pytest.approx(np.array(knots) / 2.0, abs=1e-3)
    said = [text.dxf.text for text in space.query("TEXT")]
    first = doc["grades"][0]
    assert f"{100 * first['grade']:+.1f}%; {first['to_m']:.1f}" in said
    title = [text.dxf.text for text in space.query("TEXT") if "1:2000" in text.dxf.text]
    assert title
    assert "1:200 up" in title[0]


def test_dxf_text__same_bytes_and_the_librarys_switch_put_back() -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing
    doc = made_document(count=150)
    assert dxf_text(doc) == dxf_text(as_read_from_disk(doc))
    assert ezdxf.options.write_fixed_meta_data_for_testing == before


def test_dxf_text__classes_come_in_an_order_that_no_run_changes() -> None:
    # The library asks a set of names, whose order is another one in each run of Python.
    classes = [each.dxf.name for each in opened(made_document()).classes]
    assert classes.index("ACDBPLACEHOLDER") < classes.index("LAYOUT") < classes.index("SUN")


def test_dxf_text__without_flow_pipe_or_named_system() -> None:
    doc = made_document(flow=False, name="ñ 山 {\\P}")
    doc["pipes"], doc["vents"], doc["drains"], doc["bends"] = [], [], [], []
    doc["terrain"]["crs"] = None
    opened(doc)


def test_dxf_text__no_lettering_of_fittings_lies_over_another() -> None:
    # Measured with letters as wide as 0.6 of their height, as most CAD fonts have them.
    doc = as_read_from_disk(made_document())
    first = doc["vents"][0]
    for number in range(6):
        doc["vents"].append({**first, "id": f"V9{number}", "station_m": first["station_m"] + 0.1})
    drawing = ezdxf.read(io.StringIO(dxf_text(doc)))
    boxes = []
    for reference in drawing.modelspace().query("INSERT"):
        shown = [each for each in reference.attribs if not each.dxf.get("invisible", 0)]
        high, x, y = shown[0].dxf.height, shown[0].dxf.insert.x, shown[0].dxf.insert.y
        wide = 0.6 * high * max(len(each.dxf.text) for each in shown)
        boxes.append((x, shown[-1].dxf.insert.y, x + wide, y + high))
    assert len(boxes) > 6
    for number, one in enumerate(boxes):
        for two in boxes[:number]:
            assert one[0] >= two[2] or one[2] <= two[0] or one[1] >= two[3] or one[3] <= two[1], (
                one,
                two,
            )

"""LandXML against the structure of its standard, and read back without the tool's own code."""

from __future__ import annotations

import math

import numpy as np
import pytest
from lxml import etree
from made_study import as_read_from_disk, made_document
from pyproj import Geod, Transformer

from routing.papers.export import export_bytes
from routing.papers.landxml import landxml_text

NS = {"x": "http://www.landxml.org/schema/LandXML-1.2"}

STRUCTURE = etree.RelaxNG(
    etree.fromstring(
        """
<element name="LandXML" ns="http://www.landxml.org/schema/LandXML-1.2"
    xmlns="http://relaxng.org/ns/structure/1.0"
    datatypeLibrary="http://www.w3.org/2001/XMLSchema-datatypes">
  <attribute name="version" ns=""><value>1.2</value></attribute>
  <attribute name="date" ns=""><data type="date"/></attribute>
  <attribute name="time" ns=""><data type="time"/></attribute>
  <optional><attribute name="language" ns=""/></optional>
  <optional><attribute name="readOnly" ns=""><data type="boolean"/></attribute></optional>
  <element name="Units"><choice>
    <element name="Metric"><ref name="u"/>
      <attribute name="linearUnit" ns=""><choice><value>meter</value><value>kilometer</value>
      </choice></attribute></element>
    <element name="Imperial"><ref name="u"/>
      <attribute name="linearUnit" ns=""><choice><value>foot</value><value>USSurveyFoot</value>
      </choice></attribute></element>
  </choice></element>
  <element name="CoordinateSystem"><zeroOrMore><attribute><anyName/></attribute></zeroOrMore>
  </element>
  <element name="Project"><attribute name="name" ns=""/></element>
  <element name="Application"><attribute name="name" ns=""/>
    <optional><attribute name="version" ns=""/></optional></element>
  <element name="Alignments"><oneOrMore><element name="Alignment">
    <attribute name="name" ns=""/>
    <attribute name="length" ns=""><data type="double"/></attribute>
    <attribute name="staStart" ns=""><data type="double"/></attribute>
    <optional><attribute name="desc" ns=""/></optional>
    <element name="CoordGeom"><oneOrMore><element name="Line">
      <optional><attribute name="dir" ns=""><data type="double"/></attribute></optional>
      <optional><attribute name="length" ns=""><data type="double"/></attribute></optional>
      <optional><attribute name="staStart" ns=""><data type="double"/></attribute></optional>
      <element name="Start"><ref name="pair"/></element>
      <element name="End"><ref name="pair"/></element>
    </element></oneOrMore></element>
    <element name="Profile"><optional><attribute name="name" ns=""/></optional>
      <element name="ProfAlign"><attribute name="name" ns=""/>
        <optional><attribute name="desc" ns=""/></optional>
        <oneOrMore><element name="PVI"><ref name="pair"/></element></oneOrMore></element>
      <element name="ProfSurf"><attribute name="name" ns=""/>
        <optional><attribute name="desc" ns=""/></optional>
        <element name="PntList2D"><list><oneOrMore><data type="double"/></oneOrMore></list>
        </element></element>
    </element>
  </element></oneOrMore></element>
</element>""".replace(
            '<ref name="pair"/>', '<list><data type="double"/><data type="double"/></list>'
        ).replace(
            '<ref name="u"/>',
            "".join(
                f'<attribute name="{key}Unit" ns=""/>'
                for key in (
                    "area",
                    "volume",
                    "temperature",
                    "pressure",
                    "diameter",
                    "angular",
                    "direction",
                )
            ),
        )
    )
)
"""The elements that the tool writes, in the order and with the attributes that LandXML 1.2 asks of
them (from memory of LandXML-1.2, 2008: units first, profiles inside alignments)."""


def read(doc: dict) -> etree._Element:
    return etree.fromstring(landxml_text(doc).encode())


def pair(text: str) -> tuple[float, float]:
    first, second = text.split()
    return float(first), float(second)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_landxml__keeps_to_the_structure_of_the_standard(units: str) -> None:
    doc = made_document(units=units, name="Skarn & Beck <溪>")
    root = read(doc)
    assert STRUCTURE.validate(root), STRUCTURE.error_log
    wrong = etree.fromstring(landxml_text(doc).replace("PVI", "PVX").encode())
    assert not STRUCTURE.validate(wrong)


def test_landxml__line_is_that_of_the_study() -> None:
    """Turn the coordinates back to the ellipsoid and measure them there."""
    doc = made_document()
    root = read(doc)
    back = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)
    geod = Geod(ellps="WGS84")
    lines = root.findall(".//x:Line", NS)
    places = [pair(lines[0].find("x:Start", NS).text)]
    places += [pair(line.find("x:End", NS).text) for line in lines]
    lon, lat = back.transform(*zip(*((east, north) for north, east in places), strict=True))
    assert lon == pytest.approx(doc["route"]["lon"], abs=1e-8)
    assert lat == pytest.approx(doc["route"]["lat"], abs=1e-8)
    for number, line in enumerate(lines):
        _, _, far = geod.inv(lon[number], lat[number], lon[number + 1], lat[number + 1])
        # The invented valley's stations are even; those of a study are these lengths.
        assert float(line.get("length")) == pytest.approx(far, rel=0.05)
        (n0, e0), (n1, e1) = places[number], places[number + 1]
        bearing = math.degrees(math.atan2(e1 - e0, n1 - n0)) % 360.0
        assert float(line.get("dir")) == pytest.approx(bearing, abs=1e-4)
    total = sum(float(line.get("length")) for line in lines)
    assert total == pytest.approx(float(root.find(".//x:Alignment", NS).get("length")), abs=1e-3)


def test_landxml__profiles_are_those_of_the_study() -> None:
    doc = made_document()
    root = read(doc)
    breaks = np.array([pair(each.text) for each in root.findall(".//x:PVI", NS)])
    straights = doc["grades"]
    assert len(breaks) == len(straights) + 1
    grade = np.diff(breaks[:, 1]) / np.diff(breaks[:, 0])
    assert grade == pytest.approx([each["grade"] for each in straights], abs=1e-4)
    flat = [float(each) for each in root.find(".//x:PntList2D", NS).text.split()]
    ground = np.array(flat).reshape(-1, 2)
    assert ground[:, 0] == pytest.approx(doc["stations"]["station_m"], abs=1e-4)
    assert ground[:, 1] == pytest.approx(doc["stations"]["ground_m"], abs=1e-4)


def test_landxml__same_study_same_bytes() -> None:
    doc = made_document()
    first = export_bytes(doc, "landxml")
    assert first == export_bytes(as_read_from_disk(doc), "landxml")
    assert first.startswith(b"<?xml")

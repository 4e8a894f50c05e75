"""KML against its published schema: OGC KML 2.2, as the registry package pykml carries it."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest
from lxml import etree

from routing.papers import kml_text


def schemas() -> Path:
    found = importlib.util.find_spec("pykml")
    assert found is not None
    assert found.submodule_search_locations is not None
    return Path(found.submodule_search_locations[0]) / "schemas"


class Local(etree.Resolver):
    """Answers every address with the copy of that name beside the schema."""

    def resolve(self, url, public_id, context):
        copy = schemas() / url.rsplit("/", 1)[-1]
        return self.resolve_filename(str(copy), context) if copy.exists() else None


@pytest.fixture(scope="module")
def kml_schema():
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(str(schemas() / "ogckml22.xsd"), parser))


@pytest.mark.parametrize("units", ["metric", "us"])
def test_kml_text__keeps_to_the_published_schema(kml_schema, document, units) -> None:
    written = etree.fromstring(kml_text(document(units=units)).encode())
    assert kml_schema.validate(written), kml_schema.error_log


def test_kml_schema__would_notice(kml_schema, document) -> None:
    wrong = kml_text(document()).replace("<coordinates>", "<coordinate>", 1)
    wrong = wrong.replace("</coordinates>", "</coordinate>", 1)
    assert not kml_schema.validate(etree.fromstring(wrong.encode()))

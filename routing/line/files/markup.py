"""XML of a route file as a small tree: only what a line needs, and nothing that an attacker needs.

No document type is taken, so no entity is ever declared; nothing is fetched; what is not wanted is
never kept, and depth and number of elements are bounded.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from xml.etree import ElementTree

from routing.errors import RouteError

__all__ = ["children", "local_name", "parse_markup", "text_of"]

MAX_DEPTH: Final = 100
MAX_ELEMENTS: Final = 500_000
"""Most wanted elements, and so points, in a file [-]; each takes about half a kilobyte."""

MAX_MARKS: Final = 4_000_000
"""Most tags in a file [-]; it bounds the time of one that holds nothing else."""

ATTRIBUTES: Final = ("lon", "lat")
WITH_TEXT: Final = frozenset({"name", "coordinates", "coord"})
WANTED: Final = WITH_TEXT | frozenset(
    {"gpx", "rte", "rtept", "trk", "trkseg", "trkpt", "wpt"}
    | {"kml", "Placemark", "LineString", "Track", "Point", "Polygon", "LinearRing", "Model"}
    | {"NetworkLink"}
)


class _Pruned:
    """The target of a parser: builds a tree of wanted elements under their wanted ancestors."""

    def __init__(self) -> None:
        self.builder = ElementTree.TreeBuilder()
        self.open: list[str | None] = []
        self.count = 0

    def doctype(self, name: str, pubid: str | None, system: str | None) -> None:
        """Refuse a document type before any entity in it is read."""
        raise ElementTree.ParseError(f"it declares a document type ({name})")

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Open an element, if it is wanted or the root."""
        name: str | None = tag.rpartition("}")[2]
        if len(self.open) >= MAX_DEPTH:
            raise ElementTree.ParseError(f"it is nested more than {MAX_DEPTH} deep")
        if self.open and name not in WANTED:
            name = None
        self.open.append(name)
        if name is None:
            return
        self.count += 1
        if self.count > MAX_ELEMENTS:
            raise ElementTree.ParseError(f"it holds more than {MAX_ELEMENTS} points")
        self.builder.start(name, {key: attributes[key] for key in ATTRIBUTES if key in attributes})

    def end(self, tag: str) -> None:
        """Close an element."""
        name = self.open.pop()
        if name is not None:
            self.builder.end(name)

    def data(self, text: str) -> None:
        """Keep the text of elements that are read for it."""
        if self.open and self.open[-1] in WITH_TEXT:
            self.builder.data(text)

    def close(self) -> ElementTree.Element:
        """Return the root."""
        return self.builder.close()


def parse_markup(data: bytes, *, source: str, root: str) -> ElementTree.Element:
    """Return the root element of ``data``, whose local name must be ``root``, without namespaces.

    The tree holds the elements a line needs; any other element's children stand in its place.
    """
    try:
        if data.count(b"<") > 2 * MAX_MARKS:
            raise ValueError(f"it holds more than {MAX_MARKS} tags")
        tree: ElementTree.Element = ElementTree.fromstring(
            data, parser=ElementTree.XMLParser(target=_Pruned())
        )
    except (ElementTree.ParseError, ValueError, LookupError, AssertionError) as error:
        raise RouteError(
            f"{source} is not sound XML: {error}.",
            "Save the line again from the program it is from.",
        ) from error
    if local_name(tree) != root:
        raise RouteError(
            f"{source} starts with <{local_name(tree)[:40]}>, not <{root}>.",
            "Give a GeoJSON, GPX, KML, GeoPackage or shapefile that holds the line.",
        )
    return tree


def local_name(element: ElementTree.Element) -> str:
    """Return an element's name without its namespace, of which programs write many versions."""
    return element.tag.rpartition("}")[2]


def children(element: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    """Yield the direct children of that local name."""
    return (child for child in element if local_name(child) == name)


def text_of(element: ElementTree.Element, name: str) -> str | None:
    """Return the text of the first child of that local name, or None."""
    for child in children(element, name):
        return child.text
    return None

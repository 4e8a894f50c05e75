"""The parts of a map page that works without the internet, as elements for folium to render."""

from __future__ import annotations

import base64
import re
from functools import lru_cache
from importlib.resources import files
from typing import Any

from branca.element import Element, MacroElement
from folium.folium import Map
from folium.map import FeatureGroup
from folium.template import Template

from routing.papers.signs import Look, SignKind, sign_svg

__all__ = ["Instruments", "OfflineMap", "SignLayer", "number_elements"]


class OfflineMap(Map):  # type: ignore[misc]
    """A folium map whose scripts and styles stand in the page itself."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - folium reads it from the class
    default_css: list[tuple[str, str]] = []  # noqa: RUF012

    _template = Template(
        """
        {% macro header(this, kwargs) %}
        <meta name="viewport" content="width=device-width, initial-scale=1">
        <link rel="icon" href="data:,">
        <style>{{ this.styles }}</style>
        <script>{{ this.scripts }}</script>
        {% endmacro %}
        {% macro html(this, kwargs) %}
        <main class="map" id={{ this.get_name()|tojson }} aria-label="Map of the line"></main>
        {% endmacro %}
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {
            center: {{ this.location|tojson }}, zoom: 14, zoomSnap: 0.25, zoomDelta: 0.5,
            maxZoom: 22, attributionControl: false, preferCanvas: false
        });
        {% endmacro %}
        """
    )

    def __init__(self, location: tuple[float, float]) -> None:
        super().__init__(location=location, tiles=None)
        self.styles, self.scripts = _styles(), _scripts()


class SignLayer(FeatureGroup):  # type: ignore[misc]
    """A layer of signs of one kind, written as one piece: an element a sign is too slow.

    ``side`` says where the signs are led off the line: -1 left of the way the water runs, 1 right,
    0 not at all.
    """

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.featureGroup();
        leatlineSigns({{ this.get_name() }}, {{ this.data|tojson }});
        {% endmacro %}
        """
    )

    def __init__(
        self, name: str, kind: SignKind, *, side: int = 0, size: int = 30, show: bool = True
    ) -> None:
        super().__init__(name=name, show=show)
        self._name = "SignLayer"
        self.kind = kind
        self.data: dict[str, Any] = {"kind": kind, "side": side, "size": size, "items": []}

    def add_sign(
        self,
        title: str,
        lon: float,
        lat: float,
        popup: str,
        *,
        label: str = "",
        look: Look = "solid",
    ) -> None:
        """Add a sign with its popup; ``popup`` must be escaped already, the words must not."""
        place = {"lat": round(float(lat), 8), "lon": round(float(lon), 8)}
        svg = sign_svg(self.kind, label, self.data["size"], look=look)
        self.data["items"].append({**place, "title": title, "svg": svg, "popup": popup})


class Instruments(MacroElement):  # type: ignore[misc]
    """Scale, north arrow, station marks, the readout along the line; leads signs off the line."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        leatlineMap({{ this._parent.get_name() }}, {{ this.data|tojson }},
            [{% for layer in this.layers %}{{ layer.get_name() }}, {% endfor %}]);
        {% endmacro %}
        """
    )

    def __init__(self, data: dict[str, Any], layers: list[SignLayer]) -> None:
        super().__init__()
        self._name = "Instruments"
        self.data, self.layers = data, layers


def number_elements(root: Element) -> None:
    """Name the elements of a page by running numbers: equal studies then give equal pages."""
    for number, element in enumerate(_walk(root)):
        element._id = f"{number:04d}"


def _walk(element: Element) -> Any:
    yield element
    for child in element._children.values():
        yield from _walk(child)


@lru_cache(maxsize=1)
def _styles() -> str:
    from web import asset

    sheet = asset("leaflet/dist/leaflet.css")

    def inlined(match: re.Match[str]) -> str:
        image = (sheet.parent / match.group(1)).read_bytes()
        return f"url(data:image/png;base64,{base64.b64encode(image).decode()})"

    leaflet = re.sub(r"url\((images/[^)]+)\)", inlined, sheet.read_text(encoding="utf-8"))
    return leaflet + _own("map.css")


@lru_cache(maxsize=1)
def _scripts() -> str:
    from web import asset

    library = asset("leaflet/dist/leaflet.js").read_text(encoding="utf-8")
    # The comment points at a file that does not travel with the page.
    library = re.sub(r"//# sourceMappingURL=\S+", "", library)
    return library.replace("</script", "<\\/script") + "\n" + _own("map.js")


def _own(name: str) -> str:
    return (files("routing.papers") / "data" / name).read_text(encoding="utf-8")

"""Papers: what leaves the tool. Each is made from the study document alone.

The map and the sheets also take a picture of the terrain. Heavy libraries are imported where they
are used; sheets, report, workbook, drawing, stake-out list and package are imported by ``export``.
"""

from __future__ import annotations

from routing.papers.cautions import cautions_for
from routing.papers.document import Document, column, file_stem
from routing.papers.export import (
    EXPORTS,
    Export,
    export,
    export_bytes,
    in_language,
    need_ending,
)
from routing.papers.files import beside, write_bytes, write_text
from routing.papers.geojson import geojson
from routing.papers.geopackage import write_gpkg
from routing.papers.gps import gpx_text, kml_text
from routing.papers.map import map_html, write_map
from routing.papers.profile import profile_svg
from routing.papers.table import csv_text
from routing.papers.text import geojson_text

__all__ = [
    "EXPORTS",
    "Document",
    "Export",
    "beside",
    "cautions_for",
    "column",
    "csv_text",
    "export",
    "export_bytes",
    "file_stem",
    "geojson",
    "geojson_text",
    "gpx_text",
    "in_language",
    "kml_text",
    "map_html",
    "need_ending",
    "profile_svg",
    "write_bytes",
    "write_gpkg",
    "write_map",
    "write_text",
]

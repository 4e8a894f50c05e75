"""Plan view: the drawn line, its stations, and the ground beneath it."""

from __future__ import annotations

from routing.line.files.geojson import route_from_geojson
from routing.line.files.read import read_route, read_routes
from routing.line.ground.extremes import Extreme, find_extremes
from routing.line.ground.knots import crossing_findings
from routing.line.ground.profile import GroundProfile, ground_profile
from routing.line.ground.side import LEAST_REACH_M, side_slope
from routing.line.ground.station import geodesic_stations
from routing.line.route import Route
from routing.line.track import clean_track, looks_walked

__all__ = [
    "LEAST_REACH_M",
    "Extreme",
    "GroundProfile",
    "Route",
    "clean_track",
    "crossing_findings",
    "find_extremes",
    "geodesic_stations",
    "ground_profile",
    "looks_walked",
    "read_route",
    "read_routes",
    "route_from_geojson",
    "side_slope",
]

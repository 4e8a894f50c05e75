"""A line drawn by hand, priced and studied as the search does with its own."""

from __future__ import annotations

import numpy as np

from routing.line import Route, geodesic_stations
from routing.search.legs import line_price
from routing.search.lines import Line, Way, laid
from routing.search.settle import settled
from routing.search.site import Site

__all__ = ["drawn_by_hand"]


def drawn_by_hand(site: Site, route: Route, spans: tuple[tuple[float, float], ...] = ()) -> Line:
    """Return the full study and the cost of a drawn line; ``spans`` are its bridges [m]."""
    lon, lat = route.lon, route.lat
    station = geodesic_stations(lon, lat)
    at = np.unique(np.concatenate([station, *(np.array(span) for span in spans)]))
    row, col = site.grid.nodes(np.interp(at, station, lon), np.interp(at, station, lat))
    points = np.column_stack([row, col])
    middle = 0.5 * (at[:-1] + at[1:])
    hung = np.zeros(middle.size, dtype=np.bool_)
    for start, end in spans:
        hung |= (middle > start) & (middle < end)
    fixed = np.append(hung, True) | np.append(True, hung)
    price = line_price(site.ground, site.field(), site.terms, points, hung)
    return settled(site, laid(site, Way(points=points, hung=hung, fixed=fixed, price=price)))

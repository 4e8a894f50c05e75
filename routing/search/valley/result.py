"""What a screening found: ``screen.json``, ``screen.gpkg`` and a map."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from routing.catchment import stream_lines
from routing.outputs import write_outputs
from routing.record import to_json
from routing.rounding import metres, rounded
from routing.search.ladder import sizes_on_offer
from routing.search.valley.rank import route_of
from routing.search.valley.screen import Report, Screened
from routing.search.valley.studies import best_studies

__all__ = ["screen_document", "write_screen"]


def screen_document(found: Screened) -> dict[str, Any]:
    """Return a screening's result."""
    rated, chains, check = found.rated, found.chains, found.checked
    ladders = sizes_on_offer(found.settings, found.book)
    candidates = []
    for rank, at in enumerate(found.best, start=1):
        route = route_of(found.terrain, chains, rated, at)
        intake = int(rated.intake[at])
        flow = float(found.flow_m3_s[intake])
        candidates.append(
            {
                "rank": rank,
                "score": rounded(float(rated.score[at]), 8),
                "route": {
                    "type": "Feature",
                    "properties": {"name": f"candidate {rank}"},
                    "geometry": {
                        "type": "LineString",
                        "coordinates": np.round(
                            np.column_stack([route.lon, route.lat]), 8
                        ).tolist(),
                    },
                },
                "power_kw": rounded(float(rated.power_kw[at]), 4) if flow > 0.0 else None,
                "gross_head_m": metres(float(rated.head_m[at])),
                "pipe_length_m": metres(float(rated.length_m[at])),
                "cost": rounded(float(rated.cost[at]), 2),
                "flow_m3_s": rounded(flow, 9) if flow > 0.0 else None,
                "area_m2": rounded(float(chains.area_m2[intake]), 1),
                "line": "straight" if rated.straight[at] else "along the stream",
                "pipe": ladders[int(rated.size[at])].rungs[-1].pipe.label,
                "study": None,
            }
        )
    return {
        "schema": 1,
        "ranked_by": found.ranked_by,
        "candidates": candidates,
        "rank_correlation": rounded(check.correlation, 4),
        "checked": [
            {"score": rounded(float(a), 8), "study_score": rounded(float(b), 8)}
            for a, b in zip(check.screened, check.studied, strict=True)
        ],
        "looked_at": found.looked_at,
        "within_limits": int(rated.score.size),
        "currency": found.book.currency,
        "cost_unit": found.book.unit,
        "prices_of": found.book.date,
        "default_prices": list(found.book.defaults),
        "notes": list(_notes(found)),
    }


def _notes(found: Screened) -> list[str]:
    settings = found.settings
    notes = [
        "The screening is a short form of a study: its lines run straight or along the stream's "
        "bed, and its figures are for ranking. Between the ends of the best candidates a line was "
        "sought, which is studied in full.",
        found.book.told,
    ]
    if settings.flow.design is not None:
        notes.append("Every candidate has the design flow of the settings, whatever its stream.")
    elif settings.catchment.specific_yield is not None:
        notes.append(
            "Flows are a guess: the specific yield of the settings times the catchment that the "
            "raster shows, less the residual flow. Gauge the stream."
        )
    else:
        notes.append("No flow is known, so that there is no power; give specific_yield or design.")
    return notes


def write_screen(found: Screened, folder: Path, report: Report | None = None) -> dict[str, Any]:
    """Write a screening into an existing folder and return ``screen.json`` as it stands there.

    The best candidates get a folder each, with the study of a line sought between their ends.
    """
    say = report or (lambda _share, _doing: None)
    document = screen_document(found)
    for each, study in best_studies(found, document, say):
        place = folder / str(each["rank"])
        place.mkdir()
        write_outputs(study, found.terrain, place)
        each["study"] = f"{each['rank']}/study.json"
    (folder / "screen.json").write_bytes(to_json(document) + b"\n")
    _write_gpkg(found, document, folder / "screen.gpkg")
    _write_map(found, document, folder / "map.html")
    return document


def _write_gpkg(found: Screened, document: dict[str, Any], path: Path) -> None:
    """Write candidates and streams as layers of a GeoPackage."""
    from routing.papers.geopackage import write_rows

    keys = ("rank", "score", "power_kw", "gross_head_m", "pipe_length_m", "cost", "flow_m3_s")
    rows = document["candidates"]
    told = [{key: each[key] for key in (*keys, "area_m2", "line", "pipe")} for each in rows]
    write_rows(path, "candidates", [each["route"]["geometry"] for each in rows], told)
    streams = stream_lines(found.network)
    ways = [
        {"type": "LineString", "coordinates": np.column_stack(each.lonlat()).tolist()}
        for each in streams
    ]
    write_rows(
        path, "streams", ways, [{"area_m2": each.area_m2, "order": each.order} for each in streams]
    )


def _write_map(found: Screened, document: dict[str, Any], path: Path) -> None:
    """Write a map of the candidates over the relief, which needs no internet."""
    import folium

    from routing.papers.map_layers import relief_layer
    from routing.papers.map_page import OfflineMap
    from routing.terrain import relief_image

    rows = document["candidates"]
    places = np.array([p for each in rows for p in each["route"]["geometry"]["coordinates"]])
    west, south = places.min(axis=0) - 0.004
    east, north = places.max(axis=0) + 0.004
    view = OfflineMap(location=(float((south + north) / 2.0), float((west + east) / 2.0)))
    view.get_root().title = "Candidates - map"
    relief = relief_image(
        found.terrain, west=float(west), south=float(south), east=float(east), north=float(north)
    )
    view.add_child(relief_layer(relief, float((west + east) / 2.0)))
    streams = folium.FeatureGroup(name="Streams")
    for each in stream_lines(found.network):
        lon, lat = each.lonlat()
        streams.add_child(
            folium.PolyLine(
                np.column_stack([lat, lon]).tolist(), color="#0072B2", weight=1 + each.order / 2
            )
        )
    view.add_child(streams)
    group = folium.FeatureGroup(name="Candidates")
    for each in reversed(rows):
        line = [[lat, lon] for lon, lat in each["route"]["geometry"]["coordinates"]]
        power = "" if each["power_kw"] is None else f", {each['power_kw']:.1f} kW"
        words = (
            f"{each['rank']}: fall {each['gross_head_m']:.0f} m, pipe "
            f"{each['pipe_length_m']:.0f} m{power}"
        )
        group.add_child(
            folium.PolyLine(
                line,
                color="#D55E00" if each["rank"] <= 10 else "#E69F00",
                weight=5 if each["rank"] <= 10 else 3,
                tooltip=escape(words),
            )
        )
    view.add_child(group)
    view.add_child(folium.LayerControl(position="topright", collapsed=True))
    path.write_text(view.get_root().render(), encoding="utf-8")

"""A study document of an invented valley, made without the rest of the chain."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from routing.papers.cautions import cautions_for
from routing.terrain import Relief

M_PER_DEG = 111_320.0
"""Metres per degree of latitude, near enough to place an invented valley."""


def straights(station: np.ndarray, pipe: np.ndarray) -> list[dict[str, Any]]:
    """Return straights between every thirtieth station, bent at every second break."""
    knots = np.unique(np.append(np.arange(0, station.size, 30), station.size - 1))
    at, level = station[knots].tolist(), pipe[knots].tolist()
    return [
        {
            "from_m": at[i],
            "to_m": at[i + 1],
            "from_z_m": level[i],
            "to_z_m": level[i + 1],
            "grade": (level[i + 1] - level[i]) / (at[i + 1] - at[i]),
            "made_as": None if i + 2 == len(at) else ("curve", "fitting")[i % 2],
            "radius_m": None if i % 2 or i + 2 == len(at) else 6.8,
            "plan_radius_m": None,
        }
        for i in range(len(at) - 1)
    ]


def made_document(
    *,
    units: str = "metric",
    flow: bool = True,
    name: str = "Skarn Beck to Otterfell",
    count: int = 900,
) -> dict[str, Any]:
    """Return a study document of ``count`` stations with arrays, as a fresh study gives it."""
    station = np.linspace(0.0, 1420.0, count)
    lon, lat = plan(station)
    ground = 408.0 - 118.0 * (station / 1420.0) ** 1.25 + 3.1 * np.sin(station / 71.0)
    ground += 0.5 * np.sin(station / 9.0) - 9.0 * np.exp(-(((station - 742.0) / 14.0) ** 2))
    span = (station >= 716.0) & (station <= 770.0)
    pipe = laid(station, ground, span)
    depth = ground - pipe + 0.1
    intake, gravity, density = 408.6, 9.80665, 999.7
    static = intake - pipe
    loss = 9.5 * station / 1420.0 + 0.2
    doc: dict[str, Any] = {
        "schema": 1,
        "name": name,
        "units": units,
        "generator": {"name": "leatline", "version": "0.0.0"},
        "stations": {
            "station_m": station,
            "lon": lon,
            "lat": lat,
            "ground_m": ground,
            "pipe_m": pipe,
            "depth_m": depth,
            "invert_m": pipe - 0.1,
            "cover_m": ground - pipe - 0.11,
            "span": span.astype(np.float64),
            "assumed": np.zeros(count),
            "static_head_m": static,
            "static_pressure_kpa": static * gravity * density / 1e3,
            "rating_kpa": np.where(station < 720.0, 750.0, 1000.0),
        },
        "ground": {"length_m": 1433.2, **extremes(station, lon, lat, ground)},
    }
    vertices = np.array([0, count // 4, count // 2, 3 * count // 4, count - 1])
    doc["grades"] = straights(station, pipe)
    doc["route"] = {"lon": lon[vertices], "lat": lat[vertices], "station_m": station[vertices]}
    vents, drains = fittings(doc, intake)
    doc["vents"], doc["drains"] = vents, drains
    doc["levels_to_shoot"] = [
        {key: vents[2][key] for key in ("station_m", "lon", "lat")}
        | {"reason": "The ground at V3 helps.", "settles": ["V3"], "gain": 0.2}
    ]
    doc["verdict"] = {
        "faults": 0,
        "warnings": 0,
        "notes": 0,
        "failed_checks": 0,
        "unsettled_checks": 0,
        "open": [],
        "preliminary": False,
    }
    doc["waivers"] = []
    doc["summary"] = {
        "plan_length_m": 1420.0,
        "pipe_length_m": 1431.0,
        "ground_length_m": 1433.2,
        "intake_level_m": intake,
        "outlet_level_m": float(pipe[-1]),
        "gross_head_m": intake - float(pipe[-1]),
        "static_pressure_kpa": float(doc["stations"]["static_pressure_kpa"][-1]),
        "max_static_pressure_kpa": float(doc["stations"]["static_pressure_kpa"].max()),
        "max_static_station_m": float(station[np.argmax(static)]),
        "trench_volume_m3": 1210.0,
        "vent_count": len(vents),
        "drain_count": len(drains),
    }
    doc["water"] = {
        "temperature_c": 8.0,
        "density_kg_m3": density,
        "kinematic_viscosity_m2_s": 1.39e-6,
        "gravity_m_s2": gravity,
    }
    doc["terrain"] = {
        "crs": "EPSG:32633",
        "cell_m": 2.0,
        "unit": "metre",
        "unit_source": "band unit tag",
        "metres_per_unit": 1.0,
        "rmse_m": 0.3,
        "vertical_datum": None,
    }
    doc["trench"] = {
        "outside_diameter_m": 0.2,
        "cover_m": 0.9,
        "max_depth_m": 1.8,
        "bedding_m": 0.1,
        "width_m": 0.625,
        "min_grade": 0.002,
        "min_grade_falling": 0.0033,
        "volume_m3": 1210.0,
        "spans": [{"from_m": 716.0, "to_m": 770.0, "clearance_m": 6.2}],
        "below_grade": [],
        "offers": [],
    }
    doc["bends"] = [
        {
            "id": f"B{number}",
            "station_m": float(station[i]),
            "lon": float(lon[i]),
            "lat": float(lat[i]),
            "pipe_m": float(pipe[i]),
            "plan_deg": 14.0,
            "vertical_deg": -2.5,
            "deflection_deg": 14.2,
        }
        for number, i in enumerate(vertices[1:-1], start=1)
    ]
    doc["pipes"] = [pipe_entry("PE100 SDR 17, 225 mm", 0.0, 720.0, 750.0)]
    doc["pipes"].append(pipe_entry("PE100 SDR 13.6, 225 mm", 720.0, 1420.0, 1000.0))
    doc["air"] = []
    doc["flow"] = None
    if flow:
        add_flow(doc, loss)
    doc["assumptions"] = ["Vertical datum as in the raster."]
    doc["settings"] = {}
    doc["warnings"] = [
        {
            "code": "datum_unknown",
            "severity": "note",
            "message": "Nothing states the vertical datum of the raster.",
            "station_m": None,
        },
        {
            "code": "velocity_low",
            "severity": "warning",
            "message": "The velocity is too low to carry sediment: flush the line.",
            "station_m": 720.0,
        },
    ]
    doc["cautions"] = list(cautions_for(spans=True, depth_over_m=1.9, flow=flow, plastic=True))
    return doc


def moved_document(lon: float, lat: float, **options: Any) -> dict[str, Any]:
    """Return the same document with its line begun at another place of the globe."""
    doc = made_document(**options)
    by_lon, by_lat = lon - doc["stations"]["lon"][0], lat - doc["stations"]["lat"][0]
    ground = doc["ground"]
    fitted = [*doc["vents"], *doc["drains"], *doc["bends"], *doc["levels_to_shoot"]]
    listed = [*fitted, *ground["highs"], *ground["lows"]]
    for item in [doc["stations"], doc["route"], *listed]:
        item["lon"], item["lat"] = item["lon"] + by_lon, item["lat"] + by_lat
    return doc


def plan(station: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a winding line of the given stations, starting in an invented valley."""
    bearing = np.radians(118.0 + 34.0 * np.sin(station / 330.0))
    step = np.diff(station, prepend=0.0)
    east, north = np.cumsum(step * np.sin(bearing)), np.cumsum(step * np.cos(bearing))
    lat = 61.2 + north / M_PER_DEG
    return 12.4 + east / (M_PER_DEG * np.cos(np.radians(61.2))), lat


def laid(station: np.ndarray, ground: np.ndarray, span: np.ndarray) -> np.ndarray:
    """Return a centreline about 1.2 m down that bridges the span straight."""
    width = max(3, len(station) // 60) | 1
    padded = np.pad(ground, width // 2, mode="edge")
    smooth = np.convolve(padded, np.ones(width) / width, "valid")
    pipe = np.clip(smooth - 1.3, ground - 1.75, ground - 1.0)
    ends = np.flatnonzero(span)[[0, -1]]
    pipe[span] = np.interp(station[span], station[ends], pipe[ends])
    return pipe


def extremes(station: Any, lon: Any, lat: Any, height: Any) -> dict[str, list[dict[str, float]]]:
    """Return interior highs and lows of the ground (prominence is only made up here)."""

    def listed(indices: np.ndarray) -> list[dict[str, float]]:
        return [
            {
                "station_m": float(station[i]),
                "lon": float(lon[i]),
                "lat": float(lat[i]),
                "ground_m": float(height[i]),
                "prominence_m": 0.4,
            }
            for i in indices
        ]

    return {"highs": listed(turning(height)), "lows": listed(turning(-height))}


def turning(height: np.ndarray) -> np.ndarray:
    """Return the indices of interior highs."""
    return 1 + np.flatnonzero((height[1:-1] > height[:-2]) & (height[1:-1] >= height[2:]))


def fittings(doc: dict[str, Any], intake: float) -> tuple[list[Any], list[Any]]:
    """Return vents at the pipe's highs and drains at its lows, and at the ends."""
    table = doc["stations"]
    pipe = table["pipe_m"]
    count = len(pipe)

    def base(i: int) -> dict[str, Any]:
        return {
            "station_m": float(table["station_m"][i]),
            "lon": float(table["lon"][i]),
            "lat": float(table["lat"][i]),
            "ground_m": float(table["ground_m"][i]),
            "pipe_m": float(pipe[i]),
            "depth_m": float(table["depth_m"][i]),
            "static_head_m": intake - float(pipe[i]),
            "need": "must",
            "size_source": "common practice",
        }

    vents = []
    for number, i in enumerate([1, *turning(pipe), count - 1], start=1):
        vents.append(
            {
                "id": f"V{number}",
                **base(int(i)),
                "need": "level" if number == 3 else "must",
                "rule": "V2" if number == 1 else "V1",
                "reason": "Air gathers at this summit of the pipe and must get out.",
                "kind": "open vent" if number == 1 else "combination air valve",
                "size_mm": 50.0,
                "open_top_m": 409.2 if number == 1 else None,
                "open_height_m": 1.6 if number == 1 else None,
                "flowing_head_m": intake - float(pipe[i]) - 1.0,
                "prominence_m": 0.8,
                "minor": False,
                "probability": 0.72 if number == 3 else 0.98,
            }
        )
    drains = []
    for number, i in enumerate([*turning(-pipe), count - 1], start=1):
        drains.append(
            {
                "id": f"D{number}",
                **base(int(i)),
                "rule": "D2" if i == count - 1 else "D1",
                "reason": "Water stands in this sag when the line is emptied.",
                "kind": "washout",
                "size_mm": 63.0,
                "drained_m3": 3.4,
                "left_m3": 1.2,
            }
        )
    return vents, drains


def pipe_entry(label: str, from_m: float, to_m: float, rating_kpa: float) -> dict[str, Any]:
    """Return one entry of the pipe list."""
    return {
        "from_m": from_m,
        "to_m": to_m,
        "length_m": (to_m - from_m) * 1.008,
        "id": None,
        "label": label,
        "material": "PE100",
        "standard": None,
        "series": None,
        "nominal": None,
        "outside_diameter_m": 0.225,
        "inside_diameter_m": 0.1982,
        "wall_m": 0.0134,
        "roughness_m": 1e-5,
        "roughness_source": "common practice",
        "rating_kpa": rating_kpa,
        "derating_factor": 1.0,
        "derated_rating_kpa": rating_kpa,
        "rating_reference_c": 20.0,
        "dimension_status": "by hand",
        "dimension_source": "by hand",
        "rating_status": "by hand",
        "rating_source": "by hand",
        "mass_kg_m": 9.0,
    }


def add_flow(doc: dict[str, Any], loss: np.ndarray) -> None:
    """Add flowing columns and figures to a document."""
    table, summary = doc["stations"], doc["summary"]
    table["flowing_head_m"] = table["static_head_m"] - loss
    table["flowing_pressure_kpa"] = table["flowing_head_m"] * 9.80665 * 0.9997
    summary.update(
        flow_m3_s=0.024,
        head_loss_m=float(loss[-1]),
        net_head_m=summary["gross_head_m"] - float(loss[-1]),
        power_kw=16.4,
        velocity_m_s=0.78,
        efficiency=0.64,
        flowing_pressure_kpa=float(table["flowing_pressure_kpa"][-1]),
        flow_capacity_m3_s=0.078,
    )
    doc["flow"] = {
        "flow_m3_s": 0.024,
        "friction_m": 9.0,
        "local_m": 0.5,
        "intake_m": 0.2,
        "efficiency": 0.64,
        "turbine_kind": None,
        "reaches": [],
        "hazen_williams_m": 9.4,
        "head_loss_new_m": 8.1,
        "capacity_m3_s": 0.078,
    }


def as_read_from_disk(value: Any) -> Any:
    """Return a document with lists for arrays and None for what is missing."""
    if isinstance(value, np.ndarray):
        return [None if np.isnan(item) else float(item) for item in value]
    if isinstance(value, dict):
        return {key: as_read_from_disk(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_read_from_disk(item) for item in value]
    return value


def made_relief(doc: dict[str, Any]) -> Relief:
    """Return a grey relief that surrounds a document's line."""
    from PIL import Image

    lon, lat = np.asarray(doc["stations"]["lon"]), np.asarray(doc["stations"]["lat"])
    rows, cols = np.mgrid[0:300, 0:400]
    slope = np.hypot(np.sin(rows / 31.0 + cols / 90.0), np.cos(cols / 23.0))
    tones = np.clip(150 + 60 * slope, 0, 255).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(tones).save(buffer, "JPEG", quality=80)
    return Relief(
        image=buffer.getvalue(),
        media_type="image/jpeg",
        west=float(lon.min()) - 0.012,
        south=float(lat.min()) - 0.006,
        east=float(lon.max()) + 0.012,
        north=float(lat.max()) + 0.006,
        low_m=280.0,
        high_m=520.0,
    )

"""The settings of a study as the API's description shows them: tables, keys, meanings, examples."""

from __future__ import annotations

from typing import Any

__all__ = ["EXAMPLES", "settings_schema"]

_Row = tuple[object, str]

TABLES: dict[str, dict[str, _Row]] = {
    "study": {
        "name": ("Skarn Beck", "Name of the study; else the line's own."),
        "units": ("metric", "Units in which papers and the map speak: metric or us."),
        "line": ("east branch", "Which of several lines to take: its name, or its number from 1."),
        "reverse": (False, "Take the line from its other end."),
        "clean": (True, "Take knots and spikes of a walk out; else from recorded tracks only."),
    },
    "terrain": {
        "unit": ("ft", "Vertical unit, over what the raster states: m, ft or US survey foot."),
        "crs": ("EPSG:32633", "Horizontal coordinate system, over what the raster states."),
        "band": (1, "Band that holds the elevations."),
        "rmse": ("0.8 m", "Root mean square error of the elevations."),
        "vertical_datum": ("local levelling", "Name of the vertical datum."),
        "source": ("lidar", "Kind of elevation data, which has a usual error: lidar, srtm, ..."),
        "bridge": ("60 m", "Longest gap of missing elevation to bridge straight."),
    },
    "intake": {
        "level": ("412.6 m", "Elevation of the water surface."),
        "level_above_ground": ("0.4 m", "The same above the ground at the start of the line."),
        "loss": (0.5, "Loss coefficient of entrance and screen."),
        "residual": ("8 L/s", "Flow that must stay in the bed: the permit's; never assumed."),
        "residual_notch_angle": (90.0, "Angle of the notch that passes it [deg]."),
        "mean_annual_flow": ("60 L/s", "Mean annual flow of the stream, to judge the residual by."),
        "gauging": ([{"weir": "v notch", "head": "180 mm"}], "Readings of the stream at a weir."),
        "working_drop": ("0.1 m", "How far the water may fall with the machine still running."),
        "mouth_level": (
            "411.8 m",
            "Elevation of the centreline of the pipe's mouth; else as laid.",
        ),
        "straight_approach": (True, "The water comes straight on to the mouth."),
        "screen_loss": ("0.1 m", "Head lost in the screen at its dirtiest."),
        "screen_area": ("0.8 m2", "Area of the screen under water, as built."),
        "bar": ("6 mm", "Thickness of a bar, with bar_gap."),
        "bar_gap": ("12 mm", "Clear gap between two bars."),
        "clogged": ("50 %", "Share of the openings that dirt blocks."),
        "machine_passage": ("40 mm", "Bore of the nozzle, or width of the runner's passage."),
        "grain": ("0.3 mm", "Least grain that the basin is to hold."),
        "basin_area": ("6 m2", "Plan area of the settling basin."),
        "flushing_depth": ("0.1 m", "Depth of the flushing water."),
        "floor_slope": (0.03, "Slope of the basin's floor."),
        "storage": ("3 m3", "Water above the mouth's least depth."),
        "crest_width": ("1.2 m", "Width of the overflow crest."),
        "crest_head": ("0.15 m", "Head over the crest that the walls allow."),
    },
    "outlet": {
        "level": ("331.2 m", "Elevation of the outlet's centreline."),
        "level_above_ground": ("0.5 m", "The same above the ground at the end of the line."),
    },
    "trench": {
        "cover": ("0.9 m", "Least depth, ground to crown."),
        "max_depth": ("1.8 m", "Greatest depth, ground to trench bottom."),
        "bedding": ("0.1 m", "Bedding below the pipe."),
        "min_grade": (0.002, "Least grade, rise over plan length."),
        "min_grade_falling": (0.0033, "Least falling grade, away from an air valve."),
        "span": ([{"from": "310 m", "to": "342 m"}], "Stretches above ground, as on a bridge."),
    },
    "flow": {
        "design": ("18 L/s", "Design flow."),
        "temperature": ("8 degC", "Temperature of the water, 0 to 40 degC."),
        "local_loss": (1.2, "Sum of local loss coefficients; else from the line's own bends."),
    },
    "pipe": {
        "from": ("0 m", "Station where this pipe begins."),
        "catalogue": ("PE100-SDR17-200", "Id in the catalogue; or:"),
        "material": ("PE100", "Material."),
        "nominal": ("200", "Nominal size, with material and series."),
        "series": ("SDR 17", "Class or series, with material and nominal."),
        "standard": ("ISO 4427", "Standard, where the rest leaves a choice; or:"),
        "inside_diameter": ("176 mm", "Inside diameter, with material and wall."),
        "wall": ("11.9 mm", "Mean wall."),
        "pressure_rating": ("10 bar", "Pressure rating."),
        "rating_temperature": ("20 degC", "Temperature that the rating holds for."),
        "roughness": ("0.01 mm", "Roughness; else the material's, aged."),
    },
    "turbine": {
        "kind": ("crossflow", "Kind of turbine."),
        "efficiency": ("64 %", "Turbine and generator together."),
        "closure_time": ("8 s", "Time in which its valve closes."),
    },
    "surge": {
        "valve": ("gate", "How the outlet closes: nozzle, gate or butterfly."),
        "recurring": (True, "The closure happens daily."),
        "step": (
            [{"time": "4 s", "open": 0.2}, {"time": "20 s", "open": 0.0}],
            "The closure point by point: how far the valve is still open at a time.",
        ),
        "find_closing": (True, "Search the shortest even closure that the pipe bears."),
        "factor": (1.2, "Your own allowance on the rating in a surge, 1 to 2."),
        "run": (False, "False leaves the surge at its quick bound."),
    },
    "site": {
        "soil": ("sand and gravel", "Ground that blocks bear on."),
        "soil_modulus": ("3 MPa", "Modulus of the soil beside the pipe, to count its support."),
        "joint": ("fused", "Joints: gasket pvc, gasket di, solvent, fused, welded or flanged."),
        "joint_allowance": ("1 deg", "What one joint may turn, from the maker's sheet."),
        "vents_may_freeze": (False, "A frozen vent is a closed vent."),
        "flood_rise": ("0.4 m", "Flood level at the intake over its usual level."),
        "frost_depth": ("0.5 m", "How deep the ground freezes."),
        "drain_hours": (8.0, "Hours in which a drain should empty its stretch."),
        "test_factor": (1.5, "Test pressure over the highest static one."),
    },
    "energy": {
        "curve": (
            [{"share": "0 %", "flow": "120 L/s"}, {"share": "100 %", "flow": "8 L/s"}],
            "Flow-duration curve: flows that are exceeded in a share of the year.",
        ),
        "record": (
            {"unit": "L/s", "flows": [41.0, 39.5]},
            "Daily flows, null for a day without reading; or a list of texts with units.",
        ),
        "unit": ("L/s", "Unit of a record in a file, over what its heading states."),
        "availability": ("92 %", "Share of the time in which the machine can run."),
        "least_share": ("20 %", "Least share of the design flow at which it runs."),
        "price_per_kwh": (0.12, "Worth of a kilowatt hour, in the currency of the prices."),
        "interest": ("6 %", "Yearly rate of interest."),
        "years": (25.0, "Years over which the pipe is paid."),
        "hours": (6000.0, "Hours of a year at the design flow, where the stream is not known."),
        "most_loss": ("10 %", "Share of the gross head that a chosen pipe may lose."),
    },
    "prices": {
        "currency": ("crowns", "Name of the money."),
        "date": ("2026-11-25", "When the prices were asked, year-month-day."),
        "per_metre": ({"PE100-SDR17-200": 31.0}, "Price of a metre laid, by catalogue id."),
        "per_kg": ({"PE100": 2.6}, "Price of a kilogram of pipe, by material, for all others."),
        "joint": (40.0, "Price of a change of pipe."),
        "adapter": (120.0, "Price of an adapter between two families of outside diameter."),
    },
    "survey": {
        "points": (
            [{"station": "310 m", "elevation": "412.6 m"}],
            "Surveyed points that override the raster, as rows or as a GeoJSON FeatureCollection.",
        ),
        "fade": ("30 m", "Distance along the line over which a correction fades."),
        "unit": ("ft", "Unit of plain numbers: m, ft or US survey foot."),
        "crs": ("EPSG:32633", "Coordinate system of x and y."),
        "vertical_datum": ("local levelling", "Name of the survey's vertical datum."),
    },
    "sheet": {
        "project": ("Otterfell water power", "Project on the title block; else the study's name."),
        "owner": ("Otterfell hamlet", "Owner on the title block."),
        "number": ("SB-01", "Number of the drawing."),
        "drawn": ("A. N.", "Who drew."),
        "checked": ("O. E.", "Who checked."),
        "date": ("2026-11-25", "Date of issue, year-month-day."),
        "signed": ("O. E., 25 November 2026", "Who signs; without it papers are preliminary."),
        "size": ("A3", "Paper of the sheets: A3, A1, ANSI B or ANSI D."),
        "scale": ("1:1000", "Scale along the line; else chosen."),
        "crs": ("EPSG:32633", "Projected system of the coordinates on papers."),
        "revision": (
            [{"mark": "A", "date": "2026-11-25", "text": "first issue", "by": "A. N."}],
            "Rows of the revision block.",
        ),
        "features": ({"features": []}, "What else the plan shows."),
    },
}
"""Every key with an example and its meaning."""

EXAMPLES: dict[str, Any] = {
    "trench": {"cover": "0.9 m", "max_depth": "1.8 m"},
    "flow": {"design": "18 L/s"},
    "pipe": [{"from": "0 m", "material": "PE100", "inside_diameter": "176 mm", "wall": "11.9 mm"}],
}


def settings_schema() -> dict[str, Any]:
    """Return the JSON Schema of a study's settings."""
    tables: dict[str, Any] = {name: _table(rows) for name, rows in TABLES.items()}
    tables["pipe"] = {
        "type": "array",
        "items": tables["pipe"],
        "description": "Pipes along the line, from the intake.",
    }
    # Rows have the columns of a survey file under any of their names.
    points = tables["survey"]["properties"]["points"]
    del points["type"], points["items"]
    points["anyOf"] = [{"type": "array", "items": {"type": "object"}}, {"type": "object"}]
    _yield_tables(tables)
    sheet = tables["sheet"]["properties"]
    sheet["revision"]["items"]["required"] = ["mark"]
    sheet["features"] = {
        "type": "object",
        "required": ["features"],
        "properties": {"features": {"type": "array", "items": {"type": "object"}}},
        "description": "GeoJSON FeatureCollection, WGS 84; each property kind is stream, boundary, "
        "no-go, road, service or reference.",
    }
    return {
        "type": "object",
        "description": "The tables of a settings file. Every quantity is text with a unit.",
        "additionalProperties": False,
        "properties": tables,
        "examples": [EXAMPLES],
    }


def _yield_tables(tables: dict[str, Any]) -> None:
    """Say of the stream's tables what an example cannot."""
    text, length = {"type": "string", "minLength": 1}, {"type": "string"}
    gauging = tables["intake"]["properties"]["gauging"]["items"]
    gauging["properties"] |= {
        "angle": {"type": "number", "minimum": 25, "maximum": 100},
        **dict.fromkeys(("width", "crest", "tailwater_below", "date"), length),
    }
    energy = tables["energy"]["properties"]
    energy["record"] = {
        "description": energy["record"]["description"],
        "examples": energy["record"]["examples"],
        "anyOf": [
            {"type": "array", "items": text},
            {
                "type": "object",
                "additionalProperties": False,
                "required": ["unit", "flows"],
                "properties": {
                    "unit": text,
                    "flows": {"type": "array", "items": {"type": ["number", "null"]}},
                },
            },
        ],
    }
    energy["curve"]["minItems"] = 2


def _table(rows: dict[str, _Row]) -> dict[str, Any]:
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {
            key: {**_type_of(example), "description": meaning, "examples": [example]}
            for key, (example, meaning) in rows.items()
        },
    }


def _type_of(example: object) -> dict[str, Any]:
    if isinstance(example, bool):
        return {"type": "boolean"}
    if isinstance(example, int):
        return {"type": "integer", "minimum": 1}
    if isinstance(example, float):
        return {"type": "number", "minimum": 0}
    if isinstance(example, dict):
        return {"type": "object", "additionalProperties": {"type": "number", "minimum": 0}}
    if isinstance(example, list):
        ends = {key: {"type": "string"} for key in example[0]}
        entry = {"type": "object", "required": list(ends), "properties": ends}
        return {"type": "array", "items": {**entry, "additionalProperties": False}}
    return {"type": "string", "minLength": 1}

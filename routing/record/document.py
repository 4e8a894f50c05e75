"""The study as ``study.json``: one document of plain values, from which every paper is made."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import chain
from typing import Any

import numpy as np

from routing import __version__
from routing.arrays import FloatArray
from routing.check import Check
from routing.document import SCHEMA, rounded_document
from routing.finding import Finding
from routing.fittings import fitting_rating
from routing.flow.surge import SurgeCase
from routing.heads import pressure_pa
from routing.papers.cautions import cautions_for
from routing.pipe import is_plastic
from routing.record.doubt import doubt_sections, doubt_summary
from routing.record.fittings import fitting_sections
from routing.record.kits import kits_of
from routing.record.line import line_sections
from routing.record.money import money_sections, money_summary
from routing.record.pressures import check_rows, pressure_sections
from routing.record.relief import relief_rows
from routing.record.works import works_sections
from routing.record.yields import yield_sections
from routing.rounding import fields_of, kpa
from routing.scope import scope_of
from routing.study import Study
from routing.us_units import in_units
from routing.verdict import Verdict, verdict_of

__all__ = ["study_document"]


def study_document(
    study: Study,
    members: Collection[str] | None = None,
    shortened: Callable[[dict[str, Any]], dict[str, Any]] = dict,
) -> dict[str, Any]:
    """Return the study's document; its arrays are rounded numpy arrays, its missing values None.

    ``members`` names those that are wanted, as far as the study has them, None for all;
    ``shortened`` leaves out of them what is not worth rounding.
    Longitudes and latitudes are rounded to 9 decimals of a degree, lengths and heads to 0.1 mm,
    pressures to 1 Pa, so that one study reads the same to the last digit wherever it is computed.
    """

    def wants(member: str) -> bool:
        return members is None or member in members

    units = study.settings.study.units
    checks = study.checks
    verdict = verdict_of(study.findings, checks, study.settings.waive)
    waived = {waiver.code for waiver in verdict.waivers}
    works = works_sections(study.works, study.valves, study.line)
    pressures = pressure_sections(study)
    money = money_sections(study, {**works, **pressures})
    places = list(_places(study))
    fittings = fitting_sections(study.fittings)
    _rate(study, chain(fittings["drains"], works["valves"], works["taps"]))
    doc: dict[str, Any] = {
        "schema": SCHEMA,
        "name": study.name,
        "units": units,
        "language": study.settings.study.language,
        "generator": {"name": "leatline", "version": __version__},
        "route": _route(study),
        "summary": {**_summary(study), **money_summary(money)},
        "verdict": fields_of(
            verdict,
            "faults warnings notes failed_checks unsettled_checks open preliminary "
            "out_of_reach out_of_reach_code",
        ),
        "cost": money["cost"],
        "waivers": [fields_of(waiver, "code reason name covers") for waiver in verdict.waivers],
        "water": _water(study),
        "terrain": _terrain(study),
        "stations": _stations(study),
        **line_sections(study, members),
        **fittings,
        "relief_valves": relief_rows(study),
        **doubt_sections(study),
        **works,
        **pressures,
        "quantities": money["quantities"],
        **yield_sections(study),
        "checks": check_rows(checks, waived, units) if wants("checks") else [],
        "scope": _scope(study),
        "assumptions": [in_units(text, units, places) for text in _assumptions(study)],
        "settings": dict(study.settings.given),
        "warnings": [
            {
                "code": each.code,
                "severity": each.severity,
                "message": in_units(each.message, units, chain(_figures(each, checks), places)),
                "station_m": each.station_m,
                "places_m": list(each.places_m),
                "waived": each.code in waived,
            }
            for each in study.findings
        ],
        "cautions": list(_cautions(study, verdict)),
    }
    if members is None:
        doc["kits"] = kits_of(doc)
    wanted = doc if members is None else {key: doc[key] for key in members if key in doc}
    return rounded_document(shortened(wanted))


def _rate(study: Study, items: Iterable[dict[str, Any]]) -> None:
    """Add the one pressure that each must bear where it stands; none before they are sized."""
    loaded = study.fittings.loaded
    if loaded is None:
        return
    for item in items:
        pressure, basis = fitting_rating(study.line, loaded, item["station_m"])
        item |= {"rating_kpa": kpa(pressure), "rating_basis": basis}


def _scope(study: Study) -> dict[str, Any]:
    scope = scope_of(study)
    return {"checked": list(scope.checked), "not_checked": list(scope.not_checked)}


def _route(study: Study) -> dict[str, Any]:
    profile = study.profile
    return {
        "name": study.route.name,
        "lon": profile.vertex_lon,
        "lat": profile.vertex_lat,
        "station_m": profile.vertex_station_m,
    }


def _summary(study: Study) -> dict[str, Any]:
    pipe, levels = study.line.pipe, study.line.levels
    at_outlet = pressure_pa(study.line.gross_head_m, study.line.water)
    worst = int(np.argmax(study.line.static_pressure_pa))
    greatest, where = float(study.line.static_pressure_pa[worst]), float(pipe.station_m[worst])
    if at_outlet > greatest:
        greatest, where = at_outlet, float(pipe.station_m[-1])
    summary: dict[str, Any] = {
        "plan_length_m": float(pipe.station_m[-1]),
        "pipe_length_m": pipe.pipe_length_m,
        "ground_length_m": study.profile.ground_length_m,
        "intake_level_m": levels.intake_m,
        "outlet_level_m": levels.outlet_m,
        "gross_head_m": study.line.gross_head_m,
        "static_pressure_kpa": kpa(at_outlet),
        "max_static_pressure_kpa": kpa(greatest),
        "max_static_station_m": where,
        "trench_volume_m3": pipe.excavation.volume_m3,
        "vent_count": len(study.fittings.vents),
        "drain_count": len(study.fittings.drains),
        **doubt_summary(study.doubt),
    }
    surge = _shown_surge(study)
    if surge is not None:
        summary["surge_case"] = f"{surge.name}, {surge.state}"
    flow = study.flow
    if flow is not None:
        at_end = float(flow.aged.hydraulic_grade_m[-1]) - levels.outlet_m
        summary |= {
            "flow_m3_s": flow.aged.flow_m3_s,
            "head_loss_m": flow.aged.head_loss_m,
            "net_head_m": flow.net_head_m,
            "power_kw": flow.power_kw,
            "velocity_m_s": float(np.max(flow.aged.velocity_m_s)),
            "efficiency": flow.efficiency,
            "flowing_pressure_kpa": kpa(pressure_pa(at_end, study.line.water)),
            "flow_capacity_m3_s": flow.capacity_m3_s,
        }
    return summary


def _water(study: Study) -> dict[str, Any]:
    water = study.line.water
    return fields_of(water, "temperature_c density_kg_m3 kinematic_viscosity_m2_s gravity_m_s2")


def _terrain(study: Study) -> dict[str, Any]:
    terrain = study.terrain
    kind = terrain.kind
    return {
        "crs": terrain.crs_name,
        **fields_of(terrain, "cell_m unit unit_source metres_per_unit rmse_m vertical_datum"),
        "kind": kind.label if kind else None,
        "kind_source": terrain.kind_source,
        "rmse_typical_m": kind.rmse_m if kind else None,
        "rmse_typical_source": f"{kind.source} ({kind.status})" if kind else None,
        "files": [tile.path.name for grid in terrain.grids for tile in grid.tiles],
        "rows": terrain.shape[0],
        "cols": terrain.shape[1],
        "grids": [
            {
                "crs": grid.crs_name,
                "cell_m": grid.cell_m,
                "unit": grid.unit,
                "rows": grid.shape[0],
                "cols": grid.shape[1],
                "tiles": len(grid.tiles),
            }
            for grid in terrain.grids
        ],
        "changes_m": list(study.profile.changes_m),
        "gaps": [{"from_m": gap.from_m, "to_m": gap.to_m} for gap in study.profile.gaps],
    }


def _stations(study: Study) -> dict[str, Any]:
    profile, pipe = study.profile, study.line.pipe
    outside, inside = _diameters(study)
    columns: dict[str, Any] = {
        "station_m": profile.station_m,
        "lon": profile.lon,
        "lat": profile.lat,
        "ground_m": profile.ground_m,
        "pipe_m": pipe.pipe_m,
        "invert_m": pipe.pipe_m - inside / 2.0,
        "depth_m": profile.ground_m - pipe.pipe_m + inside / 2.0,
        "cover_m": profile.ground_m - pipe.pipe_m - outside / 2.0,
        "static_head_m": study.line.static_head_m,
        "static_pressure_kpa": study.line.static_pressure_pa / 1000.0,
        "rating_kpa": study.line.rating_pa / 1000.0,
        "span": pipe.in_span.astype(np.int64),
        "assumed": profile.assumed.astype(np.int64),
    }
    if study.bench is not None:
        columns["side_slope"] = study.bench.slope
    surge = _shown_surge(study)
    if surge is not None:
        for name, head_m in (
            ("surge_max_kpa", surge.highest_head_m),
            ("surge_min_kpa", surge.lowest_head_m),
        ):
            columns[name] = pressure_pa(head_m, study.line.water) / 1000.0
    if study.flow is not None:
        head = study.flow.aged.flowing_head_m
        columns["flowing_head_m"] = head
        columns["flowing_pressure_kpa"] = pressure_pa(head, study.line.water) / 1000.0
    return columns


def _shown_surge(study: Study) -> SurgeCase | None:
    """Return the surge whose envelope every paper shows: the closure, else the blockage."""
    cases = () if study.pressures is None else study.pressures.surges
    return cases[0] if cases else None


def _diameters(study: Study) -> tuple[FloatArray, FloatArray]:
    """Return outside and inside diameter at each station, (n,) [m]."""
    station = study.profile.station_m
    if study.line.schedule is None:
        assumed = np.full(station.size, study.line.pipe.outside_diameter_m)
        return assumed, assumed
    return (
        study.line.schedule.per_station(station, "outside_diameter_m"),
        study.line.schedule.per_station(station, "inside_diameter_m"),
    )


def _figures(finding: Finding, checks: Iterable[Check]) -> Iterator[tuple[float | None, str]]:
    """Return what a finding tells of, with its units: its places, and what was judged there."""
    for place in (finding.station_m, *finding.places_m):
        yield place, "m"
    for check in checks:
        if check.code == finding.code and check.station_m == finding.station_m:
            yield check.demand, check.unit
            yield check.limit, check.unit


def _places(study: Study) -> Iterator[tuple[float, str]]:
    """Return levels and stations that sentences of any room may tell of, with their unit."""
    line = study.line
    told = [line.levels.intake_m, line.levels.outlet_m]
    given = (study.settings.intake.level_above_ground, study.settings.outlet.level_above_ground)
    told += [above for above in given if above is not None]
    told += [at for span in line.pipe.spans for at in (span.from_m, span.to_m)]
    if line.schedule is not None:
        told += [at for run in line.schedule.runs for at in (run.from_m, run.to_m)]
    for each in told:
        yield each, "m"


def _assumptions(study: Study) -> Iterable[str]:
    levels = study.line.levels
    yield f"Intake water level {levels.intake_m:.2f} m: {levels.intake_source}."
    yield f"Outlet level {levels.outlet_m:.2f} m: {levels.outlet_source}."
    if study.survey is not None:
        yield (
            f"Surveyed points override the raster; on either side along the line their difference "
            f"from it fades in a straight line over {study.survey.fade_m:g} m."
        )
    yield f"Water at {study.line.water.temperature_c:g} degC; gravity 9.80665 m/s2."
    yield from study.assumptions
    if study.line.schedule is not None and study.settings.flow.design is not None:
        local = study.settings.flow.local_loss
        yield (
            "Local losses from the line's own bends and changes of bore."
            if local is None
            else f"Local losses as given: K = {local:g} along the line."
        )
        yield f"Entrance and screen K = {study.settings.intake.loss:g}."
        yield "The riser from the end of the pipe to the outlet adds no friction."


def _cautions(study: Study, verdict: Verdict) -> Iterable[dict[str, str]]:
    runs = () if study.line.schedule is None else study.line.schedule.runs
    scope = scope_of(study)
    return cautions_for(
        spans=bool(study.line.pipe.spans),
        depth_over_m=float(np.max(study.line.pipe.excavation.depth_m)),
        flow=study.flow is not None,
        surge="surge" in scope.checked,
        residual="residual flow" in scope.checked,
        plastic=not runs or any(is_plastic(run.pipe.material) for run in runs),
        signed=bool(study.settings.sheet.signed) and not verdict.preliminary,
    )

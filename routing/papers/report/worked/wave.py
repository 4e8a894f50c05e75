"""The surge: wave speed, critical time, instant and slow closing, time step of the waves."""

from __future__ import annotations

import math
from collections.abc import Mapping

from routing.flow.surge.formulas import joukowsky_m, michaud_m
from routing.flow.surge.wave import critical_time_s, restraint_factor, wave_speed_m_s
from routing.papers.document import Document
from routing.papers.report.worked.given import catalogued, deepest, study_water

__all__ = ["wave_examples"]

MEGA = 1e6


def wave_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the surge; nothing where no flow can stop."""
    cases = list(doc.get("surge") or ())
    run, flow = deepest(doc), doc.get("flow")
    if not cases or run is None or not flow or not isinstance(cases[0], Mapping):
        return {}
    water, pipe = study_water(doc), catalogued(run)
    made: dict[str, Mapping[str, float | None]] = {}
    if pipe is not None and pipe.elastic_dynamic_pa is not None and pipe.poisson is not None:
        bore_per_wall = pipe.inside_diameter_m / pipe.wall_m
        held = restraint_factor(pipe.poisson)
        made["wave"] = {
            "bulk_mpa": water.bulk_modulus_pa / MEGA,
            "density_kg_m3": water.density_kg_m3,
            "elastic_mpa": pipe.elastic_dynamic_pa / MEGA,
            "bore_per_wall": bore_per_wall,
            "poisson": pipe.poisson,
            "restraint": held,
            "speed_m_s": wave_speed_m_s(
                bulk_modulus_pa=water.bulk_modulus_pa,
                density_kg_m3=water.density_kg_m3,
                elastic_pa=pipe.elastic_dynamic_pa,
                bore_per_wall=bore_per_wall,
                restraint_factor=held,
            ),
        }
    followed = next((case for case in cases if case["followed"]), {"wave_speeds_m_s": ()})
    speeds = [float(speed) for speed in followed["wave_speeds_m_s"]]
    lengths = [float(each["length_m"]) for each in doc["pipes"]]
    reaches, gravity = flow["reaches"], float(doc["water"]["gravity_m_s2"])
    if not len(speeds) == len(lengths) == len(reaches):
        return made
    velocities = [float(reach["velocity_m_s"]) for reach in reaches]
    rises = [
        joukowsky_m(wave_speed_m_s=a, velocity_change_m_s=v, gravity_m_s2=gravity)
        for a, v in zip(speeds, velocities, strict=True)
    ]
    worst = max(range(len(rises)), key=rises.__getitem__)
    critical = critical_time_s(lengths, speeds)
    made["critical"] = {
        "length_m": math.fsum(lengths),
        "speed_m_s": 2.0 * math.fsum(lengths) / critical,
        "time_s": critical,
    }
    made["joukowsky"] = {
        "speed_m_s": speeds[worst],
        "velocity_m_s": velocities[worst],
        "gravity_m_s2": gravity,
        "rise_m": rises[worst],
    }
    slow = next((case for case in cases if case["closing_s"] > 0.0), None)
    if slow is not None:
        moved = math.fsum(a * v for a, v in zip(lengths, velocities, strict=True))
        made["michaud"] = {
            "moved_m2_s": moved,
            "gravity_m_s2": gravity,
            "closing_s": float(slow["closing_s"]),
            "rise_m": michaud_m(
                length_velocity_m2_s=moved,
                closing_s=float(slow["closing_s"]),
                gravity_m_s2=gravity,
            ),
        }
    followed = next((case for case in cases if case.get("followed")), None)
    if followed is not None:
        bore = float(reaches[worst]["velocity_m_s"])
        area = float(flow["flow_m3_s"]) / bore
        step = critical / 2.0 / int(followed["segments"])
        made["characteristics"] = {
            "speed_m_s": speeds[worst],
            "gravity_m_s2": gravity,
            "area_m2": area,
            "impedance": speeds[worst] / (gravity * area),
            "segments": float(followed["segments"]),
            "step_s": step,
            "peak_m": followed.get("peak_rise_m"),
        }
    return made

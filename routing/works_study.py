"""Diagnosis of a line from its saved study: what readings of gauges say of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from routing.errors import InputError, LeatlineError
from routing.flow import bend_loss_k
from routing.inputs import find_pipes
from routing.laid_line import LaidLine, simple_line
from routing.papers.document import Document, column
from routing.rounding import fields_of, rounded
from routing.settings import Settings, settings_from_mapping
from routing.settings.line import STATION
from routing.settings.readers import quantity
from routing.trench import Bend
from routing.water import water_at
from routing.works import Diagnosis, GaugeReading, Tap, diagnose, read_tap

__all__ = ["diagnose_document", "diagnosis_record", "line_of_document"]

_FLOW = quantity("flow", "0.001 L/s", "100 m3/s")


def line_of_document(document: Document, settings: Settings) -> LaidLine:
    """Return the laid line of a saved study, with its pipes, bends and water.

    Raises
    ------
    InputError
        If the study has no pipe.
    """
    pipes = find_pipes(settings)
    if not pipes or document.get("works") is None:
        raise InputError(
            "The study has no pipe, and so no plan of works.",
            "Give a [[pipe]] table and run the study again.",
        )
    station, level = column(document, "station_m"), column(document, "pipe_m")
    listed = document.get("bends") or ()
    bends = tuple(
        Bend(
            id=str(each["id"]),
            index=int(np.argmin(np.abs(station - float(each["station_m"])))),
            station_m=float(each["station_m"]),
            plan_deg=float(each["plan_deg"]),
            vertical_deg=float(each["vertical_deg"]),
            deflection_deg=float(each["deflection_deg"]),
        )
        for each in listed
    )
    turns = np.array([bend.deflection_deg for bend in bends], dtype=np.float64)
    summary = document["summary"]
    return simple_line(
        station,
        level,
        pipes,
        intake_m=float(summary["intake_level_m"]),
        outlet_m=float(summary["outlet_level_m"]),
        bends=bends,
        bend_k=bend_loss_k(turns),
        water=water_at(settings.flow.temperature),
        entrance_k=settings.intake.loss,
        local_k=settings.flow.local_loss,
    )


def diagnose_document(
    document: Document,
    shut: Sequence[str],
    running: Sequence[str] = (),
    flow: str | None = None,
) -> Diagnosis:
    """Return what readings say of a saved study's line.

    Parameters
    ----------
    document : mapping
        The study
    shut, running : sequence of str
        Readings as KPA@TAP with the outlet shut, and with water running [kPa]
    flow : str, optional
        Flow while it ran, with its unit [-]

    Returns
    -------
    diagnosis : Diagnosis
        Causes by their odds

    Raises
    ------
    LeatlineError
        If the study has no pipe, or a reading, tap or flow cannot be.
    """
    settings = settings_from_mapping(document.get("settings") or {})
    line = line_of_document(document, settings)
    taps = tuple(_tap(each) for each in document["taps"])
    readings = [
        *(_reading(line, taps, text, running=False) for text in shut),
        *(_reading(line, taps, text, running=True) for text in running),
    ]
    return diagnose(
        line,
        readings,
        taps,
        {vent["id"]: float(vent["serves_m"]) for vent in document["vents"]},
        flow_m3_s=None if flow is None else _FLOW(flow, "--flow"),
        design_m3_s=settings.flow.design,
    )


def _tap(given: Mapping[str, Any]) -> Tap:
    return Tap(
        id=str(given["id"]),
        station_m=float(given["station_m"]),
        level_m=float(given["level_m"]),
        place=str(given["place"]),
        static_pa=1e3 * float(given["static_kpa"]),
        full_scale_pa=1e3 * float(given["full_scale_kpa"]),
        level_sd_m=float(given["level_sd_m"]),
    )


def _reading(line: LaidLine, taps: Sequence[Tap], text: str, *, running: bool) -> GaugeReading:
    """Return a reading written as KPA@TAP."""
    pressure, at, place = text.partition("@")
    place = place.strip()
    try:
        kpa = float(pressure)
    except ValueError:
        kpa = float("nan")
    if not at or not place or not np.isfinite(kpa):
        raise InputError(
            f"{text!r} is no reading.", 'Write kPa@tap, such as 640@M3 or "640@250 m".'
        )
    for tap in taps:
        if place.lower() in (tap.id.lower(), tap.place):
            return GaugeReading(tap, kpa * 1e3, running)
    try:
        station = float(STATION(place, "the tap"))
    except LeatlineError as exc:
        known = ", ".join(tap.id for tap in taps)
        raise InputError(
            f"There is no tap {place!r}.", f'Take one of {known}, or a station such as "250 m".'
        ) from exc
    return GaugeReading(read_tap(line, taps, station), kpa * 1e3, running)


def diagnosis_record(found: Diagnosis) -> dict[str, Any]:
    """Return a diagnosis as plain values."""
    return {
        **fields_of(found, "decided fits read running"),
        "causes": [
            {
                "cause": each.cause,
                "odds": round(each.odds, 4),
                "from_m": rounded(each.from_m, 1),
                "to_m": rounded(each.to_m, 1),
                "height_m": rounded(each.height_m, 2),
                "flow_m3_s": rounded(each.flow_m3_s, 6),
                "vent_id": each.vent_id,
                "next": each.next,
            }
            for each in found.causes
        ],
    }

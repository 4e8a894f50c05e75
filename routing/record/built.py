"""Levels as built: out of a crew's records into the chain, and what they change as a section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from routing.crew import Record, last_words
from routing.errors import InputError
from routing.papers.document import Document, column
from routing.papers.things import things
from routing.papers.works import section_tests
from routing.record.built_line import BuiltLine
from routing.rounding import fields_of
from routing.study import Study
from routing.trench import BuiltLevels, level_tolerance_m, turns_of

__all__ = ["built_levels", "built_section"]

MOST_OFF_M = 5.0
"""A level farther off the plan than this is in other heights, or mistyped [m]: our own choice."""
SAME_PLACE_M = 0.05
"""Levels nearer to each other than this are of one place, and the later one counts [m]."""
CARRIED = (
    "Between places levelled the difference from the plan runs straight; at every break of grade "
    "of the plan that nobody levelled, farther than a stick from one that was, it is nothing. "
    "Places beside the drawn line move it by the same rule, between its vertices; one that nobody "
    "levelled lies as deep below the ground there as planned."
)


def built_levels(
    doc: Document, records: Sequence[Record], stick_m: float, *, moved: bool = False
) -> BuiltLevels:
    """Return the levels of the centreline that records as built say of a study's plan.

    The newest record of a thing or place counts; it belongs where it was taken, also where the
    thing stands elsewhere by now.

    Parameters
    ----------
    doc : mapping
        The study that was built from
    records : sequence of dict
        What crews brought home; only those as built with a level count
    stick_m : float
        Length of a stick of its pipe [m]
    moved : bool
        Whether a place lies beside the line, so that none need have a level [-]

    Returns
    -------
    built : BuiltLevels
        Levels of the centreline [m]

    Raises
    ------
    InputError
        If no record has a level and none moves the line, or one cannot be of this line.
    """
    end_m = float(doc["summary"]["plan_length_m"])
    stands = {thing.id: thing.station_m for thing in things(doc)}
    station, plan, invert = (column(doc, name) for name in ("station_m", "pipe_m", "invert_m"))
    found: dict[float, tuple[str, float]] = {}
    said = [each for each in records if each["kind"] == "asbuilt" and each["invert_m"] is not None]
    for each in sorted(last_words(said, "asbuilt").values(), key=lambda one: str(one["time"])):
        name = str(each["of"] or "the line")
        at = each["station_m"] if each["station_m"] is not None else stands.get(name)
        if at is None:
            raise InputError(
                f"The record as built of {name} says no station, and the study has no such thing.",
                "Give station_m.",
            )
        at = min(max(float(at), 0.0), end_m)
        centre = float(np.interp(at, station, plan - invert)) + float(each["invert_m"])
        off = centre - float(np.interp(at, station, plan))
        if abs(off) > MOST_OFF_M:
            raise InputError(
                f"The invert of {name} at station {at:.1f} m is {each['invert_m']:g} m, "
                f"{abs(off):.1f} m {'above' if off > 0 else 'below'} the plan.",
                "Give levels in the heights of the study, in metres.",
                station_m=at,
            )
        near = [known for known in found if abs(known - at) < SAME_PLACE_M]
        for known in near:
            del found[known]
        found[at] = (name, centre)
    if not found and not moved:
        raise InputError(
            "No record holds a level as built, nor a place beside the line.",
            "Record invert_m of the fittings and joints, or their position.",
        )
    places = sorted(found)
    grades = doc.get("grades") or ()
    ends = [float(grade[key]) for grade in grades for key in ("from_m", "to_m")]
    return BuiltLevels(
        names=tuple(found[at][0] for at in places),
        station_m=np.array(places, dtype=np.float64),
        level_m=np.array([found[at][1] for at in places], dtype=np.float64),
        planned_station_m=station,
        planned_m=plan,
        breaks_m=np.unique([0.0, *ends, end_m]),
        stick_m=stick_m,
    )


def built_section(
    built: BuiltLevels, where: BuiltLine, study: Study, now: Document, before: Document
) -> dict[str, Any]:
    """Return what levels and places as built changed against the plan, of a study's document."""
    line = study.line
    half = np.interp(
        built.station_m, column(before, "station_m"),
        column(before, "pipe_m") - column(before, "invert_m"),
    )  # fmt: skip
    tolerance = level_tolerance_m()
    lies = np.interp(built.assumed_at_m, line.pipe.station_m, line.pipe.pipe_m)
    levels = [
        {
            "of": None if name == "the line" else name,
            "station_m": at,
            "planned_m": level - off - down,
            "built_m": level - down,
            "difference_m": off,
            "beyond": bool(abs(off) > tolerance + 1e-9),
        }
        for name, at, level, off, down in zip(
            built.names, built.station_m.tolist(), built.level_m.tolist(),
            built.difference_m.tolist(), half.tolist(), strict=True,
        )
    ]  # fmt: skip
    return {
        "tolerance_m": tolerance,
        "carried": CARRIED,
        "levels": levels,
        "places": [
            {key: value for key, value in asdict(place).items() if key != "depth_m"}
            for place in where.places
        ],
        "assumed": [
            {"of": of, "station_m": at, "depth_m": depth, "level_m": level}
            for of, at, depth, level in zip(
                built.assumed_of, built.assumed_at_m.tolist(), built.assumed_depth_m.tolist(),
                lies.tolist(), strict=True,
            )
        ],
        "length_change_m": float(where.built_m[-1] - where.planned_m[-1]),
        "turns": [
            {**fields_of(t, "turn station_m height_m new"),
             "asks": bool(t.new and t.height_m > line.pipe.outside_diameter_m / 4.0)}
            for t in turns_of(built, line.pipe)
        ],
        "least_cover_m": _least_cover(line.pipe.ground_m, line.pipe.pipe_m, study),
        "planned_least_cover_m": float(
            np.nanmin(np.where(column(before, "span") > 0, np.nan, column(before, "cover_m")))
        ),
        "checks": _turned_checks(now, before),
        "tests": _tests(before),
    }  # fmt: skip


def _tests(before: Document) -> list[dict[str, Any]]:
    """Return what was tested, by the plan in which its sections stand."""
    told = section_tests(before)
    found = list((before.get("as_built") or {}).get("tests") or ())
    for test in (before.get("works") or {}).get("tests") or ():
        if test["id"] in told:
            own = told[test["id"]]
            found.append(
                {
                    **{key: test[key] for key in ("id", "from_m", "to_m")},
                    "time": own.time,
                    "verdict": own.verdict.verdict,
                    "words": own.words,
                }
            )
    return found


def _turned_checks(now: Document, before: Document) -> list[dict[str, Any]]:
    """Return the checks that passed in the plan and fail now, or the other way round."""
    planned = {_judged(row): row for row in before.get("checks") or ()}
    found = []
    for row in now["checks"]:
        was = planned.get(_judged(row))
        passed = True if was is None else bool(was["passed"])
        if str(row["code"]).startswith("built_") or row["passed"] is passed:
            continue
        kept = ("subject", "place", "station_m", "demand", "limit", "unit", "passed")
        found.append(
            {**{key: row[key] for key in kept}, "planned": None if was is None else was["demand"]}
        )
    return found


def _judged(row: Mapping[str, Any]) -> tuple[str, str]:
    return str(row["subject"]), str(row["place"])


def _least_cover(ground_m: Any, pipe_m: Any, study: Study) -> float:
    pipe = study.line.pipe
    outside = (
        np.full(ground_m.size, pipe.outside_diameter_m)
        if study.line.schedule is None
        else study.line.schedule.per_station(pipe.station_m, "outside_diameter_m")
    )
    return float(np.min((ground_m - pipe_m - outside / 2.0)[~pipe.in_span]))

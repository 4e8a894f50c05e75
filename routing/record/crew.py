"""A crew's records held against a study: what they are of, and where that stands now."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from routing.crew import Record, merged
from routing.errors import InputError
from routing.papers.things import things
from routing.record.names import MOVED_M, was_named

__all__ = ["check_records", "place_records", "with_records"]

Document = Mapping[str, Any]


def check_records(doc: Document, records: Sequence[Record]) -> None:
    """Refuse records of what the study neither has nor had, or beyond its ends.

    Raises
    ------
    InputError
        Naming all that is not known.
    """
    end_m = float(doc["summary"]["plan_length_m"])
    asked = {str(record["of"]) for record in records if record["of"] is not None}
    known = {thing.id for thing in things(doc)} | set(_acts(doc)) if asked else set()
    unknown = sorted(
        name
        for name in asked - known
        if not was_named(doc, name) and not _level_within(name, end_m)
    )
    if unknown:
        more = f" and {len(unknown) - 5} more" if len(unknown) > 5 else ""
        raise InputError(
            f"The study has nothing called {', '.join(unknown[:5])}{more}.",
            "Open the field sheet of this study anew, and record what it shows.",
        )
    steps = {(row["test"], row["name"]) for row in (doc.get("works") or {}).get("test_phases", ())}
    for i, record in enumerate(records):
        if "step" in record and (record["of"], record["step"]) not in steps:
            names = ", ".join(name for test, name in steps if test == record["of"])
            raise InputError(
                f"records[{i}] is of the step {record['step']!r}, which the test of {record['of']} "
                "has not.",
                f"Known are {names}." if names else "Give the name of a section, as Q1.",
            )
        if record["of"] is None and float(record["station_m"]) > end_m + MOVED_M:
            raise InputError(
                f"records[{i}] is of station {record['station_m']:g} m; "
                f"the line ends at {end_m:.1f} m.",
                "Give a station on the line.",
            )


def place_records(doc: Document, records: Sequence[Record]) -> list[Record]:
    """Return records with ``was_m`` and ``now_m`` where the thing stands elsewhere in the study.

    Of a thing that went only ``was_m`` is known.
    """
    now = {thing.id: thing.station_m for thing in things(doc)}
    acts = set(_acts(doc))
    found = []
    for record in records:
        name, was = record["of"], record["station_m"]
        placed = {key: value for key, value in record.items() if key not in ("was_m", "now_m")}
        if name is None or name in acts or re.fullmatch("L[0-9]+", name):
            pass
        elif name not in now:
            if was is not None:
                placed["was_m"] = was
        elif was is not None and abs(now[name] - was) > MOVED_M:
            placed |= {"was_m": was, "now_m": now[name]}
        found.append(placed)
    return found


def with_records(doc: Document, records: Sequence[Record]) -> dict[str, Any]:
    """Return a study with a crew's records merged into those that it has."""
    whole = merged(list(doc.get("records") or ()), records)
    if not whole:
        return dict(doc)
    return {**doc, "records": place_records(doc, whole)}


def _acts(doc: Document) -> Iterable[str]:
    """Return the names of the acts in the plan of works."""
    works = doc.get("works") or {}
    for each in (*works.get("hold_points", ()), *works.get("tests", ())):
        if each.get("id"):
            yield str(each["id"])
    for stage in (works.get("filling") or {}).get("stages", ()):
        if stage.get("id"):
            yield str(stage["id"])


def _level_within(name: str, end_m: float) -> bool:
    """Return whether a name is that of a level to take: its station in decimetres."""
    return bool(re.fullmatch("L[0-9]+", name)) and int(name[1:]) <= 10.0 * end_m + 1.0

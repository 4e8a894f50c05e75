"""A failed check and its finding are one: no list of a study contradicts the other."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

import routing

FLOW_ROOM = Path(routing.__file__).parent / "flow"
PLAIN = {("hazen_williams_apart", "note")}
"""A cross-check of two formulas, which no line must keep."""

PE = {"catalogue": "PE100-SDR17-200"}
STUDIES: dict[str, dict[str, Any]] = {
    "usual": {"pipe": [PE], "flow": {"design": "20 L/s"}},
    "fast": {"pipe": [PE], "flow": {"design": "75 L/s"}, "turbine": {"closure_time": "1 s"}},
    "slow": {"pipe": [PE], "flow": {"design": "8 L/s"}},
    "too much": {"pipe": [PE], "flow": {"design": "200 L/s"}},
    "uphill": {"pipe": [PE], "flow": {"design": "20 L/s"}, "outlet": {"level": "600 m"}},
    "two pipes": {
        "pipe": [PE, {"from": "300 m", "catalogue": "PE100-SDR11-160"}],
        "flow": {"design": "30 L/s"},
        "surge": {"find_closing": True},
        "turbine": {"closure_time": "2 s"},
    },
    "intake": {
        "pipe": [PE],
        "flow": {"design": "20 L/s"},
        "turbine": {"kind": "pelton"},
        "intake": {
            "residual": "25 L/s",
            "gauging": [{"weir": "v notch", "head": "200 mm"}],
            "mean_annual_flow": "1 m3/s",
            "bar": "6 mm",
            "bar_gap": "12 mm",
            "screen_area": "0.1 m2",
            "machine_passage": "30 mm",
            "grain": "0.3 mm",
            "basin_area": "0.5 m2",
            "storage": "0.2 m3",
            "crest_width": "0.1 m",
            "crest_head": "0.1 m",
        },
    },
}


def _judged() -> set[tuple[str, str]]:
    """Return code and severity of every requirement of the flow and its intake."""
    found = set()
    for path in FLOW_ROOM.rglob("requirements.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            found |= {(row["code"], row["severity"]) for row in csv.DictReader(file)}
    return found - PLAIN


@pytest.mark.parametrize("name", STUDIES)
def test_study__failed_checks_and_findings_say_the_same(slope: Any, name: str) -> None:
    study = slope(**STUDIES[name])
    failed = {(each.code, each.severity) for each in study.checks if not each.passed}
    found = {(each.code, each.severity) for each in study.findings}
    assert failed <= found
    assert found & _judged() <= failed


def test_study__each_requirement_of_the_intake_can_fail(slope: Any) -> None:
    study = slope(**STUDIES["intake"])
    with (FLOW_ROOM / "intake" / "data" / "requirements.csv").open(newline="") as file:
        asked = {row["subject"] for row in csv.DictReader(file)}
    failed = {each.subject for each in study.stream.checks if not each.passed}
    passed = {each.subject for each in study.stream.checks if each.passed}
    assert failed | passed >= asked - {
        "grain moved by flushing",
        "water over the mouth without vortices",
    }
    assert failed >= {
        "flow left in the bed at the design flow",
        "area of the screen",
        "gap between the bars",
        "area of the settling basin",
        "water stored at the intake",
        "width of the overflow crest",
        "residual flow beside the mean annual flow",
    }

"""Numbers of the document are rounded by their rows, in one place."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.document import load_rows, rounded_document


def test_rounded_document__by_the_row_through_lists_and_parts() -> None:
    doc = rounded_document(
        {
            "summary": {"gross_head_m": 65.23456789, "flow_m3_s": 0.0123456789123, "vent_count": 3},
            "vents": [{"station_m": 1.00005, "lon": 1.12345678949, "rule": "summit"}],
            "stations": {"static_pressure_kpa": np.array([1.23456, np.nan, -0.0])},
        }
    )
    assert doc["summary"] == {"gross_head_m": 65.2346, "flow_m3_s": 0.012345679, "vent_count": 3}
    (vent,) = doc["vents"]
    assert vent["station_m"] == pytest.approx(1.00005, abs=5e-5)
    assert (vent["lon"], vent["rule"]) == (1.123456789, "summit")
    column = doc["stations"]["static_pressure_kpa"]
    assert column[0] == 1.235
    assert math.copysign(1.0, column[2]) == 1.0


def test_rounded_document__what_is_not_finite_is_missing() -> None:
    assert rounded_document({"summary": {"gross_head_m": math.nan}})["summary"] == {
        "gross_head_m": None
    }


def test_rounded_document__twice_changes_nothing() -> None:
    once = rounded_document({"summary": {"gross_head_m": 65.23456789, "power_kw": 8.123456}})
    assert rounded_document(once) == once


def test_rows__lengths_and_pressures_are_as_fine_as_the_interface_says() -> None:
    """Lengths and heads to 1 mm or finer, pressures to 0.01 kPa or finer, places to 7 decimals."""
    coarse = [
        path
        for path, row in load_rows().items()
        if row.item == "number" and row.decimals is not None
        and (
            (row.key.endswith("_m") and "_n_" not in row.key and row.decimals < 3)
            or (row.key.endswith("_kpa") and row.decimals < 2)
            or (row.key in ("lon", "lat") and row.decimals < 7)
        )
    ]  # fmt: skip
    assert coarse == []


def test_rows__every_length_pressure_and_flow_is_rounded() -> None:
    loose = [
        path
        for path, row in load_rows().items()
        if row.item == "number" and row.decimals is None
        and row.key.endswith(("_m", "_kpa", "_m3", "_m3_s", "_kw"))
    ]  # fmt: skip
    assert loose == []

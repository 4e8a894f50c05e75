"""Classes of static pressure along the line."""

from __future__ import annotations

import numpy as np
import pytest

from routing.papers.pressure import over_rating, pressure_classes, surge_lines


@pytest.mark.parametrize("greatest", [0.5, 3.0, 60.0, 599.9, 600.0, 600.1, 12345.0])
def test_pressure_classes__every_leg_lies_in_the_class_it_is_shown_in(document, greatest) -> None:
    doc = document(count=400)
    doc["stations"]["static_pressure_kpa"] = np.linspace(-0.1 * greatest, greatest, 400)
    classes = pressure_classes(doc)
    assert len(classes.colours) == len(classes.labels) <= 7
    legs = doc["stations"]["static_pressure_kpa"][1:]
    for number, label in enumerate(classes.labels):
        inside = legs[classes.of_leg == number]
        if number == 0:
            assert (inside < 0.0).all()
        else:
            low, high = (float(word) for word in label.removesuffix(" kPa").split(" to "))
            assert (inside >= low - 1e-9).all()
            assert (inside <= high + 1e-9).all()


def test_over_rating__as_the_checks_of_the_study_say(document) -> None:
    doc = document(count=60)
    doc["stations"] = {key: values[:5] for key, values in doc["stations"].items()}
    doc["stations"]["static_pressure_kpa"] = np.array([0.0, 100.0, 200.0, 300.0, 400.0])
    doc["stations"]["rating_kpa"] = np.array([250.0, 250.0, 250.0, 250.0, np.nan])
    worst = {"code": "over_rating", "severity": "fault", "passed": False, "demand": 360.0,
             "limit": 250.0, "station_m": float(doc["stations"]["station_m"][3])}  # fmt: skip
    # The flood of 60 kPa that the check counts takes the 200 kPa over the rating too.
    doc["checks"] = [worst]
    assert over_rating(doc).tolist() == [False, True, True, True]
    doc["checks"] = [{**worst, "demand": 310.0}]
    assert over_rating(doc).tolist() == [False, False, True, True]
    doc["checks"] = [{**worst, "passed": True}]
    assert not over_rating(doc).any()


def test_surge_lines__heads_of_the_envelope_over_the_pipe(document) -> None:
    doc = document(count=60)
    stations = {key: np.asarray(values[:3], float) for key, values in doc["stations"].items()}
    doc["stations"] = stations
    stations.pop("surge_max_kpa", None)
    stations.pop("surge_min_kpa", None)
    assert surge_lines(doc) == []
    stations["surge_max_kpa"] = np.array([10.0, 100.0, 500.0])
    stations["surge_min_kpa"] = np.array([0.0, 50.0, 300.0])
    high, low = surge_lines(doc)
    # 1 bar is 10.197 m of water at 1000 kg/m3 (handbook conversion).
    weight = doc["water"]["density_kg_m3"] / 1000.0
    assert high - stations["pipe_m"] == pytest.approx(
        np.array([0.10197, 1.0197, 5.0985]) * 10.0 / weight, abs=2e-3
    )
    assert np.all(low <= high)

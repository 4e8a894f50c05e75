"""What popups and waypoints say."""

from __future__ import annotations

import pytest

from routing.papers.facts import drain_facts, place_text, summary_facts, terrain_facts, vent_facts


def test_vent_facts__what_an_installer_needs(document) -> None:
    doc = document()
    vent = doc["vents"][0]
    facts = dict(vent_facts(doc, vent))
    assert facts["Kind"] == "open vent"
    assert facts["Size"] == "at least 50 mm"
    assert facts["Size after"] == "common practice"
    assert facts["Dig to invert"] == f"{vent['depth_m']:.2f} m"
    assert facts["Open top at"] == "409.20 m (1.60 m above the ground)"
    assert facts["Rule"] == "V2: needed"
    assert "Flowing pressure" in facts


def test_vent_facts__us_units_are_exact_conversions(document) -> None:
    doc = document(units="us")
    vent = doc["vents"][1]
    facts = dict(vent_facts(doc, vent))
    # The international foot is 0.3048 m exactly, the inch 25.4 mm (agreement of 1959).
    assert facts["Station"] == f"{vent['station_m'] / 0.3048:.0f} ft"
    # A fitting of 50 mm is sold as 2 in.
    assert facts["Size"] == "at least 2 in"


def test_vent_facts__doubtful_summit_is_to_be_checked(document) -> None:
    doc = document()
    assert (
        dict(vent_facts(doc, doc["vents"][2]))["Real summit"] == "72 % likely: check in the field"
    )


def test_vent_facts__no_flow_no_flowing_pressure(document) -> None:
    doc = document(flow=False)
    assert "Flowing pressure" not in dict(vent_facts(doc, doc["vents"][0]))


def test_drain_facts__on_a_span_there_is_nothing_to_dig(document) -> None:
    doc = document()
    facts = dict(drain_facts(doc, {**doc["drains"][0], "depth_m": -2.5}))
    assert facts["Invert above ground"] == "2.50 m"
    assert "Dig to invert" not in facts


def test_summary_facts__bare_without_flow(document) -> None:
    labels = [label for label, _ in summary_facts(document(flow=False))]
    assert "Net head" not in labels
    assert "Gross head" in labels


def test_terrain_facts__says_when_nothing_is_stated(document) -> None:
    doc = document()
    doc["terrain"]["rmse_m"] = None
    facts = dict(terrain_facts(doc))
    assert facts["Error of the raster"] == "not stated"
    assert facts["Vertical datum"].startswith("not stated")


@pytest.mark.parametrize(
    ("lon", "lat", "expected"),
    [
        (0.0, -45.0, "45.000000° S, 0.000000° E"),
        (180.25, 10.0, "10.000000° N, 179.750000° W"),
    ],
)
def test_place_text__hemispheres(lon: float, lat: float, expected: str) -> None:
    assert place_text(lon, lat) == expected

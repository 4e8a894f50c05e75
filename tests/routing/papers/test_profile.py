"""The profile drawing, parsed as what it is."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from routing.papers import profile_svg
from routing.papers.profile import FINEST_PX

SVG = "{http://www.w3.org/2000/svg}"


def drawn(root: ElementTree.Element, name: str) -> np.ndarray:
    """Return the points of the path of a class that has most of them (keys are short)."""
    paths = [item.get("d") for item in root.iter(f"{SVG}path") if item.get("class") == name]
    points = [
        np.array(re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path), dtype=float) for path in paths
    ]
    return max(points, key=len)


def test_profile_svg__lines_are_true_to_the_stations(document) -> None:
    doc = document()
    root = ElementTree.fromstring(profile_svg(doc))
    table = doc["stations"]
    ground, pipe = drawn(root, "ground"), drawn(root, "pipe")
    # Two known points fix the scale; every station must then lie on the drawn line.
    x = np.interp(table["station_m"], [0.0, 1420.0], [ground[0, 0], ground[-1, 0]])
    low, high = np.argmin(table["ground_m"]), np.argmax(table["ground_m"])
    ends = [np.interp(x[i], ground[:, 0], ground[:, 1]) for i in (low, high)]
    per_m = (ends[1] - ends[0]) / (table["ground_m"][high] - table["ground_m"][low])
    for line, name in ((ground, "ground_m"), (pipe, "pipe_m")):
        y = ends[0] + per_m * (table[name] - table["ground_m"][low])
        assert np.abs(np.interp(x, line[:, 0], line[:, 1]) - y).max() < FINEST_PX + 0.12


def test_profile_svg__straights_have_grade_and_length(document) -> None:
    doc = document()
    root = ElementTree.fromstring(profile_svg(doc))
    words = ["".join(item.itertext()) for item in root.iter(f"{SVG}text")]
    for each in doc["grades"]:
        grade = f"{100 * each['grade']:+.1f}".replace("-", "\N{MINUS SIGN}")
        length = each["to_m"] - each["from_m"]
        assert f"{grade}; {length:.1f}" in words or grade in words


def test_profile_svg__every_fitting_is_named(document) -> None:
    doc = document()
    root = ElementTree.fromstring(profile_svg(doc))
    words = ["".join(item.itertext()) for item in root.iter(f"{SVG}text")]
    for item in (*doc["vents"], *doc["drains"]):
        assert item["id"] in words
    for caution in doc["cautions"]:
        assert caution["text"].split(".")[0].split(",")[0][:40] in " ".join(words)


def test_profile_svg__says_its_exaggeration_and_units(document) -> None:
    metric, us = profile_svg(document()), profile_svg(document(units="us"))
    assert re.search(r"vertical scale [\d.]+ times the horizontal", metric)
    assert "Elevation [m]" in metric
    assert "Elevation [ft]" in us
    assert "Static [psi]" in us


def test_profile_svg__no_flow_no_flowing_line(document) -> None:
    assert 'class="flowing"' not in profile_svg(document(flow=False))
    assert 'class="flowing"' in profile_svg(document())


def test_profile_svg__signs_never_overlap(document) -> None:
    doc = document()
    doc["vents"] = [
        {**doc["vents"][0], "id": f"V{i}", "station_m": 700 + 0.1 * i} for i in range(90)
    ]
    text = profile_svg(doc)
    places = [
        tuple(map(float, found))
        for found in re.findall(r"translate\(([\d.]+) ([\d.]+)\) scale\(0\.84", text)
    ]
    vents = np.array(places[:90])
    assert len(vents) == 90
    for i in range(len(vents)):
        apart = np.abs(vents[i + 1 :] - vents[i])
        assert ((apart[:, 0] > 26.9) | (apart[:, 1] > 26.9)).all()


@pytest.mark.parametrize(
    "name", ["</title><script>alert(1)</script>", "a & b < c \"d\" 'e'", "\x00😀"]
)
def test_profile_svg__odd_names_stay_text(document, name: str) -> None:
    doc = document(name=name, count=80)
    doc["pipes"][0]["label"] = name
    doc["vents"][0]["reason"] = name
    root = ElementTree.fromstring(profile_svg(doc))
    assert not list(root.iter(f"{SVG}script"))


def test_profile_svg__two_stations_are_enough(document) -> None:
    doc = document(count=80)
    doc["stations"] = {key: values[[0, -1]] for key, values in doc["stations"].items()}
    doc.update(vents=[], drains=[], bends=[], pipes=[])
    assert ElementTree.fromstring(profile_svg(doc)).tag == f"{SVG}svg"


def test_profile_svg__a_long_line_stays_small(document) -> None:
    assert len(profile_svg(document(count=40_000))) < 250_000

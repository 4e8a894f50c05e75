"""What popups and waypoints say."""

from __future__ import annotations

import re
from io import StringIO

import pytest

from api.summary import print_summary
from routing.papers.facts import (
    NEED_WORDS,
    drain_facts,
    level_facts,
    level_words,
    place_text,
    vent_facts,
)
from routing.papers.field_cards import card_html
from routing.papers.map import map_html
from routing.papers.profile import profile_svg
from routing.papers.schedule import schedules
from routing.papers.signs import LOOKS, sign_svg
from routing.papers.study_facts import summary_facts, terrain_facts
from routing.papers.things import things


def test_vent_facts__what_an_installer_needs(document) -> None:
    doc = document()
    vent = doc["vents"][0]
    facts = dict(vent_facts(doc, vent))
    assert facts["Kind"] == "open vent"
    assert facts["Size"] == "at least 50 mm"
    assert facts["Size after"] == "common practice"
    assert facts["Dig to invert"] == f"{vent['depth_m']:.2f} m"
    assert facts["Open top at"] == "409.20 m (1.60 m above the ground)"
    assert facts["Rule"] == "V2"
    assert facts["Need"] == "needed, summit more than 97 % likely"
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
    vent = {**doc["vents"][2], "need": "level", "probability": 0.64}
    said = "take a level first, summit 60 % likely"
    assert dict(vent_facts(doc, vent))["Need"] == said
    drain = {**doc["drains"][0], "need": "must", "probability": 0.99}
    assert dict(drain_facts(doc, drain))["Need"] == "needed, sag more than 97 % likely"


def test_need_words__are_the_same_on_every_paper(document) -> None:
    """Map, profile, sheets' schedule and field sheet take the one table of words."""
    doc = document()
    for item, need in zip(doc["vents"], NEED_WORDS, strict=False):
        item["need"] = need
    schedule = " ".join(cell for table in schedules(doc) for row in table.rows for cell in row)
    cards = "".join(card_html(doc, place) for place in things(doc))
    for words in NEED_WORDS.values():
        for paper in (map_html(doc, None), profile_svg(doc), schedule, cards):
            assert words in paper


def test_sign_svg__needs_are_drawn_apart() -> None:
    for kind in ("vent", "drain"):
        assert len({sign_svg(kind, "X", look=look) for look in LOOKS.values()}) == 3
    assert set(LOOKS) == set(NEED_WORDS)


def test_level_words__what_to_take_where_and_what_it_settles(document) -> None:
    doc = document()
    level = doc["levels_to_shoot"][0]
    at = f"{level['station_m']:.1f} m"
    assert level_words(doc, level) == f"Take a level at {at} before buying: settles V3"
    assert dict(level_facts(doc, level))["Settles"] == "V3"


def test_vent_facts__no_flow_no_flowing_pressure(document) -> None:
    doc = document(flow=False)
    assert "Flowing pressure" not in dict(vent_facts(doc, doc["vents"][0]))


def test_drain_facts__on_a_span_there_is_nothing_to_dig(document) -> None:
    doc = document()
    facts = dict(drain_facts(doc, {**doc["drains"][0], "depth_m": -2.5}))
    assert facts["Invert above ground"] == "2.50 m"
    assert "Dig to invert" not in facts


def test_summary_facts__say_what_is_out_of_reach_wherever_it_stands(document) -> None:
    doc = document()
    lost = {**doc["verdict"], "out_of_reach": "siphon", "out_of_reach_code": "siphon"}
    said = ", out of reach: siphon"
    for verdict, there in ((doc["verdict"], False), (lost, True)):
        told = {"crossings": [], **doc, "verdict": verdict}
        facts = dict(summary_facts(told))
        for label in ("Net head", "Power"):
            assert facts[label].endswith(said) == there
        assert not facts["Gross head"].endswith(said)
        for paper in (profile_svg(told), map_html(told, None)):
            assert (said in paper) == there
        heard = StringIO()
        print_summary(told, heard)
        assert heard.getvalue().count(said) == (2 if there else 0)
        brief = re.search(r'<p class="brief">([^<]*)', map_html(told, None))
        assert brief is not None
        assert (said in brief[1]) == there


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

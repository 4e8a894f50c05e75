"""Sections of the trench by ground and cover, services at their own depth, numbers of straights."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from drawn_sheets import drawings
from made_study import made_document

from routing.papers.sheet.bands import band_count
from routing.papers.sheet.detail_trench import _Kind, _kinds, _where, trench_sections
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.profile import profile_view
from routing.units import FOOT
from routing.words import speaking


def dug_m(doc: dict[str, Any]) -> float:
    """Return the length of the line that lies in a trench."""
    station = np.asarray(doc["stations"]["station_m"], dtype=float)
    above = np.asarray(doc["stations"]["span"], dtype=float)[:-1] > 0
    return float(np.diff(station)[~above].sum())


@pytest.mark.parametrize(("units", "metre"), [("metric", 1.0), ("us", FOOT)])
def test_trench_sections__each_ground_and_cover_once_and_every_metre_in_one(
    units: str, metre: float
) -> None:
    doc = made_document(units=units, count=200)
    last = float(doc["stations"]["station_m"][-1])
    stretch = {"from_m": 0.25 * last, "to_m": 0.5 * last, "kind": "rock"}
    doc["trench"]["ground"] = [stretch]
    details = list(trench_sections(doc))
    titles = [detail.title for detail in details]
    assert len(titles) == len(set(titles))
    totals = {
        detail.title: float(re.search(r"; ([\d.]+) \w+ in all", detail.notes[0])[1])  # type: ignore[index]
        for detail in details
    }
    assert sum(totals.values()) * metre == pytest.approx(dug_m(doc), abs=len(details) * metre)
    rock = sum(total for title, total in totals.items() if "“rock”" in title) * metre
    here = np.asarray(doc["stations"]["station_m"], dtype=float)
    spacing = float(np.diff(here).max())
    above = float(np.asarray(doc["stations"]["span"], dtype=float)[
        (here >= 0.25 * last) & (here < 0.5 * last)].sum()) * spacing  # fmt: skip
    assert rock == pytest.approx(0.25 * last - above, abs=3.0 * spacing + len(details) * metre)
    covers = sorted(float(re.search(r"up to ([\d.]+)", title)[1]) for title in titles)  # type: ignore[index]
    buried = np.asarray(doc["stations"]["span"], dtype=float) == 0.0
    cover = np.asarray(doc["stations"]["cover_m"], dtype=float)
    deepest = float(np.where(buried, cover, 0.0).max())
    assert covers[-1] * metre == pytest.approx(deepest, abs=0.06)


def test_trench_sections__begin_and_end_where_the_study_says_the_ground_does() -> None:
    doc = made_document(units="metric", count=200)
    here = np.asarray(doc["stations"]["station_m"], dtype=float)
    doc["stations"]["span"] = [0] * len(here)
    # A third of the way into a piece, and two fifths into another.
    low, high = here[40] + (here[41] - here[40]) / 3.0, here[90] + 0.4 * (here[91] - here[90])
    doc["trench"]["ground"] = [{"from_m": low, "to_m": high, "kind": "rock"}]
    rock = [kind.stretches for kind in _kinds(doc) if kind.ground == "rock"]
    found = sorted(stretch for stretches in rock for stretch in stretches)
    assert found[0][0] == pytest.approx(low)
    assert found[-1][1] == pytest.approx(high)
    assert sum(b - a for a, b in found) == pytest.approx(high - low)
    assert sum(b - a for kind in _kinds(doc) for a, b in kind.stretches) == pytest.approx(here[-1])


def crossing(doc: dict[str, Any], at: int, kind: str, top_m: float | None) -> dict[str, Any]:
    table = doc["stations"]
    return {
        "id": f"X{at}", "kind": kind, "station_m": float(table["station_m"][at]),
        "to_m": float(table["station_m"][at]), "name": "main", "angle_deg": None, "length_m": 0.0,
        "width_m": None, "asks": [], "relation": "crosses", "consent": None, "cover_m": 0.9,
        "top_m": top_m, "lon": float(table["lon"][at]), "lat": float(table["lat"][at]),
        "ground_m": float(table["ground_m"][at]), "pipe_m": float(table["pipe_m"][at]),
    }  # fmt: skip


def test_trench_sections__a_chainage_is_not_turned_round_where_words_run_to_the_left() -> None:
    kind = _Kind(ground="", cover_m=1.0, at_m=5.0, stretches=((0.0, 529.3),))
    with speaking("ar"):
        told = _where({"units": "metric"}, kind)
    for chainage in ("0+000.0", "0+529.3"):  # isolated, Unicode Standard Annex 9
        assert f"\u2066{chainage}\u2069" in told


def test_profile__a_service_at_its_own_depth_or_to_be_found_first() -> None:
    doc = made_document(count=200)
    doc["crossings"] = [
        crossing(doc, 15, "service", 1.5),
        crossing(doc, 25, "service", None),
        crossing(doc, 35, "road", None),
    ]
    sheet = next(each for each in drawings(doc) if each.title.startswith("Plan and"))
    paper = paper_of(doc)
    told = " ".join(label.text for label in sheet.ink.labels)
    assert "X15: top 1.50 m deep" in told
    assert "X25: level not known: find before digging" in told
    signs = [mark for mark in sheet.ink.marks if mark.kind == "crossing"]
    assert sheet.piece.scales is not None
    assert sheet.piece is not None
    deep = 1000.0 / sheet.piece.scales.up
    for item, below in zip(doc["crossings"], (1.5, 0.0, 0.0), strict=True):
        view = profile_view(sheet.piece, paper, band_count(doc, paper))
        x = float(view.x(item["station_m"]))
        window = next(w for w in sheet.piece.windows if item["station_m"] <= w.to_m)
        level = float(view.y(item["ground_m"], window)) + below * deep
        assert any(abs(m.x - x) < 0.1 and abs(m.y - level) < 0.1 for m in signs), item["id"]


def test_bands__straights_too_short_for_their_figures_bear_their_schedules_number() -> None:
    doc = made_document(count=200)
    first = doc["grades"][0]
    ends = np.linspace(first["from_m"], first["to_m"], 120)
    levels = np.linspace(first["from_z_m"], first["to_z_m"], 120)
    short = [
        first | {"from_m": a, "to_m": b, "from_z_m": c, "to_z_m": d}
        for a, b, c, d in zip(ends, ends[1:], levels, levels[1:], strict=False)
    ]
    doc["grades"] = [*short, *doc["grades"][1:]]
    told = [label.text for label in drawings(doc)[1].ink.labels if label.layer == "band"]
    assert any(re.fullmatch(r"1–\d+", text) for text in told), told

"""The annotated map: self-contained, escaped, and alive in a browser without network."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from waiting import until

from routing.papers import map_html, write_map
from routing.papers.things import things

ATTACK = "</script><script>window.hit=1</script><img src=x onerror='window.hit=1'>{{7*7}}`${1}`"


class Addresses(HTMLParser):
    """Collects what a page would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in ("src", "href", "srcset")]


def fetched(page: str) -> list[str]:
    parser = Addresses()
    parser.feed(page)
    styles = re.findall(r"url\(([^)]*)\)", page)
    return [item for item in (*parser.found, *styles) if not item.startswith(("data:", "#"))]


def test_map_html__fetches_nothing(document, relief) -> None:
    doc = document()
    page = map_html(doc, relief(doc))
    assert [item for item in fetched(page) if "//" in item or "images/" in item] == []
    assert "cdn" not in page
    assert "sourceMappingURL" not in page


def test_map_html__equal_studies_give_equal_pages(document, relief, from_disk) -> None:
    doc = document(count=200)
    assert map_html(doc, relief(doc)) == map_html(from_disk(doc), relief(doc))


def test_map_html__holds_cautions_warnings_and_figures(document) -> None:
    from html import escape

    doc = document()
    page = map_html(doc, None)
    for item in doc["cautions"]:
        assert escape(item["text"]) in page
    assert "flush the line" in page
    assert "· 1 warning<" in page
    assert "Net head" in page


def test_map_html__stays_small_for_a_long_line(document) -> None:
    assert len(map_html(document(count=40_000), None)) < 1_500_000


def test_map_html__two_stations_and_a_line_above_its_intake(document) -> None:
    doc = document(flow=False)
    doc["stations"] = {key: values[[0, -1]] for key, values in doc["stations"].items()}
    doc["stations"]["static_pressure_kpa"][:] = [-40.0, -3.0]
    doc.update(vents=[], drains=[], bends=[], pipes=[], warnings=[])
    doc["ground"].update(highs=[], lows=[])
    assert "below 0 kPa: above the static level" in map_html(doc, None)


def test_map_html__every_kind_of_sign_on_the_line_stands_in_the_key(document) -> None:
    doc = document()
    key = map_html(doc, None).split("<h3>Static pressure", 1)[0]
    words = {
        "tap": "gauge tap",
        "block": "thrust block",
        "anchor": "slope anchor",
        "support": "support of a span",
        "bend": "bend (layer)",
        "pipe": "change of pipe",
    }
    kinds = {thing.kind for thing in things(doc)} & set(words)
    assert kinds
    for kind, told in words.items():
        assert (f"<td>{told}" in key) == (kind in kinds), kind


# ---- in a browser ---------------------------------------------------------------------------


@pytest.fixture
def opened(browser, tmp_path: Path) -> Iterator[Any]:
    """Return a function that opens a map with the network blocked and watches it."""
    contexts = []

    def open_map(doc: dict[str, Any], relief: Any, *, width: int = 1280) -> Any:
        path = tmp_path / "map.html"
        write_map(doc, relief, path)
        context = browser.new_context(viewport={"width": width, "height": 860}, offline=True)
        contexts.append(context)
        page = context.new_page()
        page.troubles = []
        page.on("pageerror", lambda error: page.troubles.append(str(error)))
        page.on("requestfailed", lambda request: page.troubles.append(request.url[:200]))
        page.on(
            "request",
            lambda request: (
                None
                if request.url.startswith(("data:", path.as_uri()))
                else page.troubles.append(request.url[:200])
            ),
        )
        page.goto(path.as_uri())
        assert page.troubles == []
        page.wait_for_selector(".leaflet-marker-icon")
        return page

    yield open_map
    for context in contexts:
        context.close()


def overlaps(a: dict[str, float], b: dict[str, float]) -> bool:
    return (
        a["x"] < b["x"] + b["width"]
        and b["x"] < a["x"] + a["width"]
        and a["y"] < b["y"] + b["height"]
        and b["y"] < a["y"] + a["height"]
    )


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 390])
def test_map__everything_is_seen_without_network(document, relief, opened, width: int) -> None:
    doc = document()
    page = opened(doc, relief(doc), width=width)
    area = page.locator(".map").bounding_box()
    boxes = []
    for kind, items in (("vent", doc["vents"]), ("drain", doc["drains"])):
        signs = page.locator(f".leaflet-marker-icon.sign-{kind}")
        assert signs.count() == len(items)
        for number, item in enumerate(items):
            assert signs.nth(number).inner_text().strip() == item["id"]
            box = signs.nth(number).bounding_box()
            assert area["x"] <= box["x"]
            assert box["x"] + box["width"] <= area["x"] + area["width"]
            assert area["y"] <= box["y"]
            assert box["y"] + box["height"] <= area["y"] + area["height"]
            boxes.append(box)
    for kind in ("intake", "powerhouse"):
        boxes.append(page.locator(f".leaflet-marker-icon.sign-{kind}").bounding_box())
    pairs = [(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :]]
    assert not any(overlaps(a, b) for a, b in pairs)
    line = page.locator("path.line")
    assert line.count() >= 3
    assert all(line.nth(i).bounding_box()["width"] > 5 for i in range(line.count()))
    assert page.locator("path.span").count() == 1
    assert page.locator("img.leaflet-image-layer").evaluate("image => image.naturalWidth") == 400
    assert page.troubles == []


@pytest.mark.browser
def test_map__popup_tells_what_to_build(document, relief, opened) -> None:
    doc = document()
    page = opened(doc, relief(doc))
    vent = doc["vents"][3]
    page.locator(".leaflet-marker-icon.sign-vent").nth(3).click()
    words = page.locator(".leaflet-popup-content").inner_text()
    assert "Vent V4" in words
    assert f"{vent['depth_m']:.2f} m" in words
    assert vent["reason"] in words
    assert page.troubles == []


@pytest.mark.browser
def test_map__readout_agrees_with_the_stations(document, relief, opened) -> None:
    import numpy as np

    doc = document()
    page = opened(doc, relief(doc))
    for station in (0.0, 333.3, 1000.0, 1420.0):
        page.locator(".readout input").evaluate(
            "(slider, value) => { slider.value = value; slider.dispatchEvent(new Event('input')) }",
            station,
        )
        rows = page.locator(".readout tr").all_inner_texts()
        shown = {row.split("\t")[0]: float(row.split("\t")[1].split()[0]) for row in rows}
        for label, name, allowed in (
            ("Ground", "ground_m", 0.0151),
            ("Pipe centre", "pipe_m", 0.0151),
            ("Static pressure", "static_pressure_kpa", 0.16),
        ):
            true = float(np.interp(station, doc["stations"]["station_m"], doc["stations"][name]))
            assert shown[label] == pytest.approx(true, abs=allowed)


@pytest.mark.browser
def test_map__follows_the_pointer_along_the_line(document, relief, opened) -> None:
    doc = document()
    page = opened(doc, relief(doc))
    box = page.locator("path.line").nth(2).bounding_box()
    assert box["y"] + box["height"] < 860  # the whole line is in view
    before = page.locator(".readout b").inner_text()
    for step in range(0, 60, 4):
        page.mouse.move(box["x"] + box["width"] * step / 60, box["y"] + box["height"] * step / 60)
    assert page.locator(".readout b").inner_text() != before


@pytest.mark.browser
def test_map__layers_show_highs_and_bends(document, relief, opened) -> None:
    doc = document()
    page = opened(doc, relief(doc))
    assert page.locator(".leaflet-marker-icon.sign-high").count() == 0
    page.locator(".leaflet-control-layers").hover()
    page.get_by_text("Highs of the ground").click()
    assert page.locator(".leaflet-marker-icon.sign-high").count() == len(doc["ground"]["highs"])
    page.get_by_text("Bends", exact=True).click()
    assert page.locator(".leaflet-marker-icon.sign-bend").count() == len(doc["bends"])
    page.get_by_label("Map of the line").get_by_text("Vents", exact=True).click()
    assert page.locator(".leaflet-marker-icon.sign-vent").count() == 0


@pytest.mark.browser
def test_map__hostile_words_stay_words(document, relief, opened) -> None:
    doc = document(name=ATTACK)
    for part in (doc["vents"][0], doc["drains"][0]):
        part.update(reason=ATTACK, kind=ATTACK, rule=ATTACK, size_source=ATTACK)
    doc["vents"][0]["id"] = ATTACK
    doc["warnings"][0]["message"] = doc["terrain"]["crs"] = doc["pipes"][0]["label"] = ATTACK
    doc["bends"][0]["id"] = doc["assumptions"][0] = doc["cautions"][0]["text"] = ATTACK
    page = opened(doc, relief(doc))
    page.locator(".leaflet-marker-icon.sign-vent").first.click(force=True)
    assert page.evaluate("window.hit") is None
    assert page.locator("h1").inner_text() == ATTACK
    assert page.title() == f"{ATTACK} – map"
    assert page.troubles == []


@pytest.mark.browser
def test_map__levels_beside_each_other_have_signs_of_their_own(document, opened) -> None:
    doc = document()
    table = doc["stations"]
    (level,) = doc["levels_to_shoot"]
    doc["levels_to_shoot"] = [
        {**level, **{key: float(table[key][at]) for key in ("station_m", "lon", "lat")}}
        for at in (200, 202)
    ]
    page = opened(doc, None)
    signs = page.locator(".leaflet-marker-icon.sign-level")
    assert signs.count() == 2
    boxes = [signs.nth(number).bounding_box() for number in range(2)]
    vents = page.locator(".leaflet-marker-icon.sign-vent")
    boxes += [vents.nth(number).bounding_box() for number in range(vents.count())]
    pairs = [(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :]]
    assert not any(overlaps(a, b) for a, b in pairs)


@pytest.mark.browser
def test_map__crowded_signs_shrink_until_one_zooms_in(document, opened) -> None:
    doc = document()
    first, table = doc["vents"][0], doc["stations"]
    doc["vents"] = [
        {**first, "id": f"V{n}", **{key: float(table[key][400 + n]) for key in ("lon", "lat")}}
        for n in range(60)
    ]
    page = opened(doc, None, width=390)
    small = page.locator(".sign-vent.small")
    whole = page.locator(".leaflet-marker-icon.sign-vent:not(.small)")
    assert small.count() + whole.count() == 60
    assert small.count() > 10
    assert whole.count() > 3
    before = small.count()
    for _ in range(6):
        page.locator(".leaflet-control-zoom-in").click()
        page.wait_for_timeout(350)
    until(lambda: small.count() < before, "fewer small signs")


@pytest.mark.browser
def test_map__imperial_scale_and_station_marks(document, relief, opened) -> None:
    doc = document(units="us")
    page = opened(doc, relief(doc))
    assert re.search(r"\d (ft|mi)$", page.locator(".leaflet-control-scale-line").inner_text())
    labels = page.locator(".station").all_inner_texts()
    assert len(labels) >= 4
    assert all(re.fullmatch(r"\d+ ft", label) for label in labels)


@pytest.mark.browser
def test_map__line_over_the_antimeridian_stays_whole(document, opened) -> None:
    doc = document()
    table = doc["stations"]
    shift = 180.0 - float(table["lon"][450])
    for holder in (table, *doc["vents"], *doc["drains"], *doc["bends"]):
        holder["lon"] = (holder["lon"] + shift + 180.0) % 360.0 - 180.0
    page = opened(doc, None)
    widths = page.locator("path.line").evaluate_all(
        "paths => paths.map(path => path.getBoundingClientRect().width)"
    )
    assert max(widths) < 900
    assert sum(widths) > 300


def test_map_html__classes_of_ground_are_areas_with_their_names(document) -> None:
    doc = document()
    table = doc["stations"]
    lon, lat = float(table["lon"][0]), float(table["lat"][0])
    ring = [[lon + dx, lat + dy] for dx, dy in ((-1e-3, -1e-3), (1e-3, -1e-3), (1e-3, 1e-3))]
    rock = {
        "type": "Feature",
        "properties": {"soil": "rock"},
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
    }
    layer = {"kind": "ground", "label": "soil", "features": {"features": [rock]}}
    assert "Classes of ground" not in map_html(doc, None)
    doc["settings"] = {**(doc.get("settings") or {}), "layer": [layer]}
    page = map_html(doc, None)
    assert "Classes of ground" in page
    assert "class of ground rock" in page

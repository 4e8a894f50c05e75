"""Every finding that the page offers to mend exists, and leads to a field that is there."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from plan_page import bring_line, set_settings, settled

import sample_dem
import web
from routing.finding import FINDING_CODES

SAMPLE = sample_dem.sample_paths()
TEXT = (Path(web.__file__).parent / "js" / "mends.js").read_text(encoding="utf-8")
CONTROLS, CODES = TEXT.partition("const CODES = {")[::2]


def test_mends__are_of_codes_that_exist() -> None:
    rows = dict(re.findall(r'^  (\w+): "([a-z_ ]+)",$', CODES, re.MULTILINE))
    named = set(re.findall(r"^  (\w+): \{ words:", CONTROLS, re.MULTILINE))
    assert set(rows) == named
    codes = [code for row in rows.values() for code in row.split()]
    assert set(codes) <= set(FINDING_CODES)
    assert len(codes) == len(set(codes)) > 40


@pytest.mark.browser
def test_mends__bring_their_field_to_hand(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        rows = re.findall(r'tab: "(\w+)", field: "([\w-]+)"', CONTROLS)
        assert len(rows) > 15
        for tab, field in rows:
            page.evaluate(
                "([tab, field]) => import('/js/mends.js').then(({ open }) => open({ tab, field }))",
                [tab, field],
            )
            held = page.evaluate(
                "() => document.activeElement.dataset.key "
                "?? document.activeElement.parentElement.dataset.table"
            )
            assert held == field or (tab == "water" and field == "all-pipes"), (tab, field)


@pytest.mark.browser
def test_findings__offer_the_control_and_the_list_follows_the_place(
    open_page: Any, terrain: str
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-fittings")
        page.click(".findings .mend >> text=Another pipe")
        assert page.is_visible("#panel-water")
        page.click("#tab-fittings")
        settled(page)
        vent = page.evaluate("() => leatline.state.model.vents[3]")
        page.evaluate("station => leatline.state.setHover(station)", vent["station_m"])
        near = page.locator(".fittings .near [data-id]").evaluate_all(
            "nodes => nodes.map((node) => node.dataset.id)"
        )
        assert vent["id"] in near
        page.hover(f"[data-id={vent['id']}] summary")
        assert page.evaluate("() => leatline.state.hover") == vent["station_m"]


@pytest.mark.browser
def test_findings__speak_of_fields_and_open_the_one_they_name(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, {"trench": {"max_depth": "0.9 m"}})
        page.click("#tab-fittings")
        told = page.inner_text("#panel-fittings")
        assert re.findall(r"\b[a-z_]+\.[a-z]\w+\b|\[\[?\w+\]|\bunder \[", told) == []
        assert "“Pipes”" in told
        page.evaluate(
            "() => import('/js/mends.js').then(({ mendOf, open }) =>"
            " open(mendOf('a_code', 'Set site.drain_hours to what it takes.')))"
        )
        held = page.evaluate("() => document.activeElement.dataset.key")
        assert held == "all-site-drain_hours"
        assert page.locator(":focus").is_visible()


OFFERED = """async () => {
  const { mendOf } = await import('/js/mends.js');
  return Object.fromEntries(leatline.state.model.warnings.map(
    ({ code, message }) => [code, mendOf(code, message)?.field ?? null]));
}"""
"""Which field each finding of the line leads to."""


@pytest.mark.browser
def test_findings__what_is_offered_mends_them(open_page: Any, terrain: str) -> None:
    given = {
        "flow": {"design": "20 L/s"},
        "pipe": [{"catalogue": "PE100-SDR17-200"}],
        "turbine": {"kind": "crossflow", "closure_time": "20 s"},
    }
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, given)
        page.click("#tab-fittings")
        offered = page.evaluate(OFFERED)
        assert offered["block_wide"] == "site"
        for code in ("column_separation", "subatmospheric", "surge_peaks_unreliable"):
            assert offered[code] is None, "no closing time mends a sudden blockage"
        lifted = {"grade_below_least", "arc_leaves_trench", "low_pressure"}
        assert lifted <= {code for code, field in offered.items() if field == "trench-max_depth"}
        page.click(".findings li:has-text('below the least grade') .mend")
        page.keyboard.press("Control+a")
        page.keyboard.type("1.5 m")
        page.keyboard.press("Enter")
        settled(page)
        assert not lifted & set(page.evaluate(OFFERED))
        set_settings(page, given | {"site": {"soil": "hardpan"}})
        assert not {"block_wide", "soil_unknown"} & set(page.evaluate(OFFERED))
        set_settings(page, given | {"turbine": {"closure_time": "1 s"}})
        assert page.evaluate(OFFERED)["closing_too_fast"] == "turbine-closure_time"
        set_settings(page, given | {"turbine": {"closure_time": "20 s"}})
        assert "closing_too_fast" not in page.evaluate(OFFERED)


@pytest.mark.browser
def test_findings__name_a_value_by_hand_as_the_page_does(open_page: Any, terrain: str) -> None:
    by_hand = {"material": "PE100", "inside_diameter": "184 mm", "wall": "9 mm"}
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, {"flow": {"design": "20 L/s"}, "pipe": [by_hand]})
        page.click("#tab-fittings")
        told = page.inner_text(".findings")
        assert "Give “Pressure rating” from the maker's sheet." in told
        assert "pressure_rating" not in told

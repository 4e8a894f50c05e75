"""The whole job by the keys alone: the focus is seen at every step and never lost."""

from __future__ import annotations

from typing import Any

import pytest
from plan_page import HILLSIDE, bring_line, plan_of, points_of, set_settings, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
FOCUS = """() => {
  const node = document.activeElement;
  const { left, top, right, bottom, width, height } = node.getBoundingClientRect();
  const { outlineStyle, outlineWidth } = getComputedStyle(node);
  const upon = document.elementFromPoint(left + width / 2, Math.max(0, top) + Math.min(height, innerHeight) / 2);
  return {
    what: node.dataset.key || node.id || node.getAttribute('aria-label') || node.textContent,
    lost: node === document.body,
    ringed: outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2,
    inside: left >= -1 && right <= innerWidth + 1 && bottom > 0 && top < innerHeight,
    covered: !upon || !(node.contains(upon) || upon.contains(node) || upon.closest('label')?.contains(node)),
  };
}"""  # noqa: E501


def seen(page: Any) -> dict[str, Any]:
    """Return what has the focus, which must be seen to have it."""
    focus: dict[str, Any] = page.evaluate(FOCUS)
    wrong = [key for key in ("lost", "covered") if focus[key]]
    wrong += [key for key in ("ringed", "inside") if not focus[key]]
    assert wrong == [], focus["what"]
    return focus


def held(page: Any) -> str:
    """Return what has the focus once all that was pressed is drawn."""
    settled(page)
    page.wait_for_timeout(400)
    return str(seen(page)["what"])


def tab_to(page: Any, there: str, key: str = "Tab") -> None:
    """Press Tab until the focus is where it is wanted, seen at each step."""
    for _ in range(120):
        page.keyboard.press(key)
        if seen(page) and page.evaluate(
            f"() => {{ const node = document.activeElement; return {there}; }}"
        ):
            return
    pytest.fail(f"Tab never led to: {there}")


@pytest.mark.parametrize("size", [(1440, 900), (1024, 700)])
def test_keys__from_an_empty_map_to_a_saved_study_with_pipe_and_price(
    open_page: Any, terrain: str, size: tuple[int, int]
) -> None:
    with open_page(f"/?terrain={terrain}", size=size) as page:
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        press, write = page.keyboard.press, page.keyboard.type
        press("Tab")
        assert seen(page)["what"] == "Skip to the map"
        press("Enter")
        press("Enter")
        press("+")
        page.wait_for_timeout(350)
        for move in ("ArrowRight ArrowDown", "ArrowRight", "ArrowRight"):
            for key in move.split():
                press(key)
                page.wait_for_timeout(350)
            press("Enter")
        press("Escape")
        assert held(page) == "map"
        assert len(points_of(page)) == 4
        tab_to(page, "node.id === 'tab-line'")
        for i, (lon, lat) in enumerate(HILLSIDE[:4]):
            tab_to(page, f"node.dataset.key === 'point-{i}'")
            press("Control+a")
            write(f"{lon}, {lat}")
            press("Tab")
            assert held(page) == f"out-{i}"
        assert points_of(page) == [list(place) for place in HILLSIDE[:4]]
        tab_to(page, "node.dataset.key === 'intake-level'", "Shift+Tab")
        write("316 m")  # the ground between rises above that of the intake
        press("Tab")
        assert held(page) == "intake-level_above_ground"
        tab_to(page, "node.id === 'tab-line'", "Shift+Tab")
        press("End")
        assert held(page) == "tab-settings"
        tab_to(page, "node.closest('[data-table=site]') && node.matches('summary')")
        press("Enter")
        page.wait_for_selector("[data-key=all-site-drain_hours]")
        tab_to(page, "node.dataset.key === 'all-site-drain_hours'")
        write("3")
        press("Tab")
        assert held(page) != "all-site-drain_hours"
        tab_to(page, "node.id === 'tab-settings'", "Shift+Tab")
        press("Home")
        press("ArrowRight")
        press("ArrowRight")
        tab_to(page, "node.dataset.key === 'flow-design'")
        write("9 L/s")
        press("Tab")
        assert held(page) == "flow-temperature"
        page.wait_for_selector("[data-key=all-pipes]:enabled")
        tab_to(page, "node.dataset.key === 'all-pipes'", "Shift+Tab")
        press("Enter")
        assert held(page) == "catalogue-query"
        tab_to(page, "node.classList.contains('hit')")
        press("Enter")
        assert held(page) == "all-pipes", "a dialog gives the focus back"
        press("Enter")
        assert held(page) == "catalogue-query"
        press("Escape")
        assert held(page) == "all-pipes"
        tab_to(page, "node.id === 'tab-water'", "Shift+Tab")
        press("ArrowRight")
        press("ArrowRight")
        tab_to(page, "node.dataset.key === 'price-Currency'")
        write("EUR")
        press("Tab")
        assert held(page) == "price-Asked on", "fields that are drawn anew keep the way"
        tab_to(page, "node.dataset.key?.endsWith('per m')")
        write("31.50")
        press("Control+s")
        page.wait_for_selector("#message >> text=Saved as revision 1.")
        assert held(page).endswith("per m")
        plan = plan_of(page)
        (line,) = plan["lines"]
        assert line["settings"]["site"] == {"drain_hours": 3}
        assert line["settings"]["intake"] == {"level": "316 m"}
        assert line["settings"]["flow"] == {"design": "9 L/s"}
        (pipe,) = line["settings"]["pipe"]
        assert plan["prices"]["per_metre"] == {pipe["catalogue"]: 31.5}
        assert plan["prices"]["currency"] == "EUR"
        assert page.evaluate("() => leatline.state.model.cost.total") > 0


def test_keys__what_goes_or_is_switched_off_hands_the_focus_on(
    open_page: Any, terrain: str
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, {"flow": {"design": "20 L/s"}})
        press, write = page.keyboard.press, page.keyboard.type

        def go(selector: str) -> None:
            page.evaluate("where => document.querySelector(where).focus()", selector)

        go("[data-key=name-0]")
        press("Control+a")
        write("North")
        press("Control+s")
        page.wait_for_selector("#message >> text=Saved as revision 1.")
        assert held(page) == "name-0", "a field whose list was drawn anew"
        for key, then in (("Tab", "out-2"), ("Shift+Tab", "out-1")):
            go("[data-key=point-2]")
            press("End")
            press("Backspace")
            write("4" if key == "Tab" else "5")
            press(key)
            assert held(page) == then, key
        go("#save")
        press("Enter")
        page.wait_for_selector("#saved >> text=Saved, revision 2")
        assert "Study" in held(page), "a button that is switched off hands on to the next"
        page.get_by_text("Copy this line", exact=True).focus()
        press("Enter")
        settled(page)
        go("[data-key=drop-1]")
        press("Enter")
        assert held(page) == "Copy this line"
        go("#undo")
        press("Enter")
        assert held(page) == "undo"
        while page.get_attribute("#undo", "aria-disabled") == "false":
            press("Enter")
        press("Enter")
        page.wait_for_timeout(400)
        assert seen(page)["what"] == "undo", "pressed once too often it does nothing"
        assert page.get_attribute("#undo", "aria-disabled") == "true"
        page.mouse.click(700, 330)
        page.keyboard.press("Escape")
        page.evaluate("() => document.activeElement.blur()")
        page.wait_for_timeout(200)
        assert page.evaluate(FOCUS)["lost"], "what a person leaves is not given back"

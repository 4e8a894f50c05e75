"""The field sheet's diagnosis says what the command says, on lines with faults of known kind."""

from __future__ import annotations

import html
import json
import re
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from chromium import node_path
from sample_study import sample_document

import routing
from routing.papers.field import field_html
from routing.papers.field_works import diagnosis_model, works_html
from routing.papers.shopping import shopping
from routing.works_study import diagnose_document

SCRIPT = Path(routing.__file__).parent / "papers" / "data" / "field" / "diagnose.js"
RUN = """
import {{ diagnose }} from {script};
const {{ model, cases }} = JSON.parse(await new Response(process.stdin).text());
const found = cases.map(([readings, flow]) => diagnose(model, readings, flow));
for (let round = 0; round < 3; round += 1) for (const each of cases) diagnose(model, ...each);
const timed = ([readings, flow]) => {{
  const start = process.cpuUsage();
  diagnose(model, readings, flow);
  return process.cpuUsage(start).user / 1e3;
}};
const times = cases.map((each) => Math.min(timed(each), timed(each), timed(each)));
console.log(JSON.stringify({{ found, times }}));
"""


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return sample_document()


def expected(doc: dict[str, Any], flow: float) -> dict[str, float]:
    flows = sorted({each["flow_m3_s"] for each in doc["works"]["diagnosis"]})
    near = min(flows, key=lambda each: abs(each - flow))
    return {
        each["tap"]: each["gauge_kpa"]
        for each in doc["works"]["diagnosis"]
        if each["flow_m3_s"] == near
    }


def cases(doc: dict[str, Any]) -> dict[str, tuple[list[dict[str, Any]], float | None]]:
    """Readings with a fault: air and a blockage lower what lies below, a low intake all."""
    rest, flow = expected(doc, 0.0), doc["summary"]["flow_m3_s"]
    running = expected(doc, flow)
    at = {tap["id"]: tap["station_m"] for tap in doc["taps"]}

    def shut(lowered: Any) -> list[dict[str, Any]]:
        return [{"tap": t, "kpa": max(kpa - lowered(at[t]), 0.0), "running": False}
                for t, kpa in rest.items()]  # fmt: skip

    def ran(lowered: Any) -> list[dict[str, Any]]:
        return [{"tap": t, "kpa": max(kpa - lowered(at[t]), 0.0), "running": True}
                for t, kpa in running.items()]  # fmt: skip

    none = lambda s: 0.0  # noqa: E731
    return {
        "as predicted": ([*shut(none), *ran(none)], flow),
        "as predicted, one gauge": (shut(none)[-1:], None),
        "low": (shut(lambda s: 12.0), None),
        "air": (shut(lambda s: 40.0 if s > 380.0 else 0.0), None),
        "blockage": ([*shut(none), *ran(lambda s: 60.0 if s > 600.0 else 0.0)], flow),
        "two gauges": (shut(lambda s: 55.0 if s > 800.0 else 0.0)[-2:], None),
        "air and low": (shut(lambda s: 12.0 + (50.0 if s > 600.0 else 0.0)), None),
        "dry": (shut(lambda s: 300.0)[:4], None),
    }


@pytest.fixture(scope="module")
def both(doc: dict[str, Any]) -> dict[str, Any]:
    given = cases(doc)
    sent = json.dumps({"model": diagnosis_model(doc), "cases": list(given.values())})
    run = subprocess.run(
        [node_path(), "--input-type=module", "-e", RUN.format(script=json.dumps(SCRIPT.as_uri()))],
        input=sent, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    answer = json.loads(run.stdout)
    theirs = dict(zip(given, answer["found"], strict=True))
    ours = {}
    for name, (readings, flow) in given.items():
        texts = {
            state: [f"{r['kpa']!r}@{r['tap']}" for r in readings if r["running"] is state]
            for state in (False, True)
        }
        said = None if flow is None else f"{flow * 1e3!r} L/s"
        ours[name] = diagnose_document(doc, texts[False], texts[True], said)
    return {"ours": ours, "theirs": theirs, "times": answer["times"]}


def test_field_diagnosis__the_same_verdict_odds_and_sizes_as_the_command(both) -> None:
    for name, ours in both["ours"].items():
        theirs = both["theirs"][name]
        assert theirs["decided"] is ours.decided, name
        assert theirs["fits"] is ours.fits, name
        odds = {each["cause"]: each["odds"] for each in theirs["causes"]}
        for cause in ours.causes:
            assert odds.get(cause.cause, 0.0) == pytest.approx(cause.odds, abs=0.03), name
        top, own = theirs["causes"][0], ours.causes[0]
        assert top["cause"] == own.cause, name
        assert top["next"] == own.next
        if own.height_m is not None and own.odds > 0.5:
            assert top["height_m"] == pytest.approx(own.height_m, rel=0.1, abs=0.2), name
        assert top["vent_id"] == own.vent_id, name


def test_field_diagnosis__known_faults_are_found(both) -> None:
    found = {name: each["causes"][0]["cause"] for name, each in both["theirs"].items()}
    assert found["as predicted"] == "as predicted"
    assert found["low"] == "intake low"
    assert found["air"] == "air"
    assert found["blockage"] == "blockage"


def test_field_diagnosis__answers_at_once(both) -> None:
    """50 ms of the processor, once the sheet has run the rule, as it does while it waits."""
    assert max(both["times"]) < 50.0, both["times"]


def test_works_html__has_the_shopping_list_of_the_sheets(doc) -> None:
    page = html.unescape(works_html(doc))
    for what, size, count in shopping(doc).rows:
        assert f"<td>{what}</td>" in page or f"<td class=long>{what}</td>" in page
        assert size in page
        assert f"<td>{count}</td>" in page


def test_cards__carry_the_faults_and_warnings_that_concern_them(doc) -> None:
    fault = {"code": "x", "severity": "fault", "message": "The block T0 is missing at V3.",
             "station_m": None, "places_m": [], "waived": False}  # fmt: skip
    at = next(vent for vent in doc["vents"] if vent["id"] == "V4")["station_m"]
    warned = {**fault, "severity": "warning", "message": "Too low here.", "station_m": at}
    waived = {**fault, "code": "w", "message": "V5 is waived.", "waived": True}
    answers = {"code": "w", "name": "A. Rowan", "reason": "tested on site"}
    noted = {**fault, "message": "V6 is noted.", "severity": "note"}
    drain = next(each for each in doc["drains"] if each["id"] == "D3")
    folded = {**fault, "message": "D1 throws far.", "places_m": [drain["station_m"]]}
    told = [fault, warned, waived, noted, folded]
    page = html.unescape(field_html({**doc, "warnings": told, "waivers": [answers]}, None))
    cards = {
        name: page.split(f'data-id="{name}"')[1].split("</li>")[0]
        for name in ("V3", "V4", "V5", "V6", "V2", "D1", "D3", "M4")
    }
    assert doc["taps"][3]["station_m"] == pytest.approx(drain["station_m"], abs=0.5)  # M4
    assert all("D1 throws far." in cards[name] for name in ("D1", "D3"))
    assert "D1 throws far." not in cards["M4"]
    assert "<dt>Fault</dt><dd>The block T0 is missing at V3.</dd>" in cards["V3"]
    assert "<dt>Warning</dt><dd>Too low here.</dd>" in cards["V4"]
    assert "<dt>Fault</dt><dd>V5 is waived.</dd>" in cards["V5"]
    assert "<dt>Answered for</dt><dd>by A. Rowan: tested on site</dd>" in cards["V5"]
    for name in ("V6", "V2"):
        assert "<dt>Fault" not in cards[name]
        assert "<dt>Warning" not in cards[name]


def test_works_html__every_act_has_its_box_and_every_gauge_its_two(doc) -> None:
    page = works_html(doc)
    works = doc["works"]
    for act in (*works["hold_points"], *works["filling"]["stages"], *works["tests"]):
        assert page.count(f'data-act="{act["id"]}"') == 1
    for tap in doc["taps"]:
        assert page.count(f'data-tap="{tap["id"]}"') == 2
    assert diagnosis_model({**doc, "works": None}) is None


@pytest.mark.browser
def test_works__on_the_phone_gauges_and_acts_outlast_a_reload(
    doc, browser: Any, tmp_path: Path
) -> None:
    sheet = tmp_path / "field.html"
    sheet.write_text(field_html(doc, None), encoding="utf-8")
    page = browser.new_context(viewport={"width": 390, "height": 844}, offline=True).new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(sheet.as_uri())
    page.click("nav [data-part=works]")
    rest = expected(doc, 0.0)
    for tap, kpa in rest.items():
        page.fill(
            f'[data-tap="{tap}"][data-state=shut]', f"{kpa - (40.0 if tap > 'M3' else 0):.0f}"
        )
    page.wait_for_selector("#causes li >> text=air")
    page.click("#log-readings")
    page.wait_for_selector("#sync >> text=Readings recorded")
    page.click("#works summary >> text=Filling")
    page.check('[data-act="F1"]')
    stage, later = doc["works"]["filling"]["stages"][-3:-1]
    page.fill("#front-gauge", f"{stage['gauge_kpa']:.1f}")
    told = page.inner_text("#front-told")
    # A tenth of a kPa over its end is the next stage's beginning.
    assert told.startswith((f"Stage {stage['id']}:", f"Stage {later['id']}:"))
    level = float(re.search(r"at ([\d.]+) m;", told)[1])
    water = float(re.search(r"; ([\d.]+) m³", told)[1])
    assert level == pytest.approx(stage["level_m"], abs=0.06)
    assert water == pytest.approx(stage["cumulative_m3"], abs=0.3)
    page.fill("#front-gauge", "5000")
    assert "check the gauge" in page.inner_text("#front-told")
    page.fill("#front-gauge", "")
    page.click("#works summary >> text=step by step")
    test = page.locator("[data-test=Q1]")
    hold = next(step for step in doc["works"]["test_phases"] if step["name"] == "hold")
    for step, litres, minutes in (("stretch", "", "240"), ("hold", "3,5", "60")):
        test.locator("select").select_option(step)
        test.locator("[name=gauge_kpa]").fill(f"{hold['start_kpa']:.0f}")
        test.locator("[name=water_m3]").fill(litres)
        test.locator("[name=lasted_s]").fill(minutes)
        test.locator("button").click()
        page.wait_for_function(
            "() => document.querySelector('[data-test=Q1] [name=gauge_kpa]')?.value === ''"
        )
    assert test.locator("[role=status]").inner_text() == ("fail: 3.5 L were added, nothing may be")
    test.locator("[name=gauge_kpa]").fill("611")  # never recorded
    page.click("nav [data-part=list]")
    page.click('.card[data-id="V1"] summary')
    page.locator('.card[data-id="V1"] textarea').press_sequentially("half a wo")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
    page.reload()  # mid-note: the box was never left
    page.wait_for_function(
        "() => document.querySelector('.card[data-id=\"V1\"] textarea')?.value === 'half a wo'"
    )
    page.wait_for_function("() => document.querySelector('[data-act=F1]')?.checked")
    assert page.input_value('[data-tap="M1"][data-state=shut]') != ""
    assert page.input_value("[data-test=Q1] [name=gauge_kpa]") == "611"
    assert "3.5 L were added" in page.text_content("[data-test=Q1] [role=status]")
    page.click("nav [data-part=more]")
    page.wait_for_selector("#log li >> text=half a wo")
    assert page.locator("#log li", has_text="gauge").count() == len(rest) + 2
    # Three days later: nothing is lost, what was said then bears its day, the new word counts.
    later = datetime.now(UTC) + timedelta(days=3)
    page.clock.set_fixed_time(later)
    page.reload()
    page.wait_for_function("() => document.querySelector('[data-act=F1]')?.checked")
    assert page.input_value('[data-tap="M1"][data-state=shut]') != ""
    page.click("nav [data-part=works]")
    page.click("#works summary >> text=Filling")
    page.uncheck('[data-act="F1"]')
    page.click("nav [data-part=more]")
    page.wait_for_selector("#log li >> text=not done")
    lines = page.locator("#log li").all_inner_texts()
    assert "F1: not done" in lines[0]
    day = (later - timedelta(days=3)).astimezone().date().isoformat()
    assert all(day in line for line in lines[1:])
    assert day not in lines[0]
    assert wrong == []

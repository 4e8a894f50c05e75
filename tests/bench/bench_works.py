"""What the crew's side costs: the plan of works beside its study, a diagnosis, a long field sheet.

Processor time throughout, against the stated limits: the plan adds at most a tenth to a study, a
diagnosis takes 50 ms, a sheet of 500 items opens within 1 s on a page of the size of a phone's.

Run: python tests/bench/bench_works.py
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import orjson
from timing import spent

import routing
from routing import study as chain
from routing.line import read_route
from routing.papers.field import field_html
from routing.papers.field_works import diagnosis_model
from routing.record import study_document, to_json
from routing.settings import read_settings
from sample_dem import sample_paths

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

SHARE, DIAGNOSIS_MS, OPEN_MS, ITEMS = 0.10, 50.0, 1000.0, 500
FIELD = Path(routing.__file__).parent / "papers" / "data" / "field"
RUN = """
import {{ diagnose }} from {script};
const {{ model, readings, flow }} = JSON.parse(await new Response(process.stdin).text());
const once = () => {{
  const start = process.cpuUsage();
  diagnose(model, readings, flow);
  return process.cpuUsage(start).user / 1e3;
}};
console.log(Math.min(...Array.from({{ length: 8 }}, once)));
"""


def plan_share() -> tuple[float, dict[str, Any]]:
    """Return the plan's time over that of the rest of its study, and the study."""
    paths = sample_paths()
    settings = read_settings(paths.settings)
    terrain = chain.open_study_terrain([paths.terrain], settings)
    made, planned = chain.works_side, []

    def watched(*given: Any) -> Any:
        planned[:] = given
        return made(*given)

    chain.works_side = watched
    documents = []

    def whole() -> None:
        study = chain.run_study(terrain, read_route(paths.line), settings)
        documents[:] = [to_json(study_document(study))]

    total = spent(whole, 4)
    plan = spent(lambda: made(*planned), 4)
    return plan / (total - plan), orjson.loads(documents[0])


def diagnosis_ms(doc: dict[str, Any]) -> float:
    """Return how long every gauge, read at rest and running, takes to weigh once warm [ms]."""
    from chromium import node_path

    flow = doc["summary"]["flow_m3_s"]
    told = {(e["tap"], e["flow_m3_s"] > 0.0): e["gauge_kpa"] for e in doc["works"]["diagnosis"]}
    readings = [{"tap": tap, "kpa": max(0.9 * kpa, 0.0), "running": running}
                for (tap, running), kpa in told.items()]  # fmt: skip
    script = json.dumps((FIELD / "diagnose.js").as_uri())
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", RUN.format(script=script)],
        input=json.dumps({"model": diagnosis_model(doc), "readings": readings, "flow": flow}),
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(done.stdout)


def long_sheet(doc: dict[str, Any], count: int) -> dict[str, Any]:
    """Return a study with so many things to set: its anchors again and again along the line."""
    anchors = list(doc["anchors"])
    more = count
    length = doc["summary"]["plan_length_m"]
    made = [
        {**anchors[i % len(anchors)], "id": f"S{i + 1}", "station_m": length * (i + 0.5) / more}
        for i in range(more)
    ]
    kits = [{**doc["kits"][1], "of": each["id"]} for each in made]
    return {**doc, "anchors": made, "kits": [*doc["kits"], *kits]}


def open_ms(doc: dict[str, Any], slower: int = 1) -> tuple[int, float]:
    """Return how many cards a sheet has, and the processor's time until it has settled [ms].

    ``slower`` is how many times the browser slows its page down, as a stand-in for a phone.
    """
    from chromium import chromium_path
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        path = Path(folder) / "field.html"
        path.write_text(field_html(doc, None), encoding="utf-8")
        browser = play.chromium.launch(executable_path=chromium_path(), args=["--no-sandbox"])
        found = []
        for _ in range(4):
            page = browser.new_page(viewport={"width": 390, "height": 844})
            session = page.context.new_cdp_session(page)
            session.send("Performance.enable", {"timeDomain": "threadTicks"})
            session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
            page.goto(path.as_uri())
            page.click("nav [data-part=list]")
            page.wait_for_selector("#cards li >> nth=20")
            told = session.send("Performance.getMetrics")["metrics"]
            found.append(1e3 * {m["name"]: m["value"] for m in told}["TaskDuration"])
            count = page.locator(".card").count()
            page.close()
        browser.close()
    return count, min(found)


def main() -> None:
    """Print each as a ratio to its limit."""
    share, doc = plan_share()
    print(f"plan of works: {100 * share:.1f} % of its study, {SHARE / share:.1f} x under the limit")
    took = diagnosis_ms(doc)
    print(f"diagnosis: {took:.0f} ms, {DIAGNOSIS_MS / took:.1f} x under the limit")
    for slower, of in ((1, "this machine"), (4, "a processor four times slower")):
        count, opened = open_ms(long_sheet(doc, ITEMS), slower)
        print(
            f"{count} items open in {opened:.0f} ms on {of}, "
            f"{OPEN_MS / opened:.1f} x under the limit"
        )


if __name__ == "__main__":
    main()

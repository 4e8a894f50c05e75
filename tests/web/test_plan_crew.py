"""What crews brought home stands on the planning page, where the fitting is."""

from __future__ import annotations

import base64
from typing import Any

import httpx
import pytest
from plan_page import settled

pytestmark = pytest.mark.browser

PNG = base64.b64encode(
    base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
    )
).decode()


def record(of: str, station_m: float, kind: str, **said: Any) -> dict[str, Any]:
    time = said.pop("time", "2026-11-26T09:00:00Z")
    device = said.pop("device", "phone of the north crew")
    return {"kind": kind, "of": of, "station_m": station_m, "time": time, "device": device, **said}


def test_records__stand_where_the_fitting_is(open_page: Any, client: httpx.Client) -> None:
    with open_page() as page:
        page.click("#sample")
        page.wait_for_function("() => leatline.state.model !== null")
        settled(page)
        page.click("#save")
        page.wait_for_function("() => leatline.state.saved !== null && !leatline.state.dirty")
        assert page.locator("#crew").is_hidden()
        study = client.get(f"/api/studies/{page.evaluate('() => leatline.state.saved.id')}").json()
        at = {item["id"]: item for key in ("vents", "drains") for item in study[key]}
        invert = at["D2"]["ground_m"] - at["D2"]["depth_m"]
        here = {name: (name, at[name]["station_m"]) for name in ("V3", "D2", "V4")}
        said = [
            record(*here["V3"], "tick", done=True),
            record(*here["D2"], "asbuilt", invert_m=invert + 0.12),
            record(*here["D2"], "photo", photo=f"data:image/png;base64,{PNG}"),
            record(*here["D2"], "note", note="<b>rock</b> below"),
            record(here["V4"][0], here["V4"][1] + 30.0, "tick", done=True),
        ]
        taken = client.post(f"/api/studies/{study['id']}/records", json={"records": said})
        assert taken.json() == {"taken": 5}, taken.text
        page.click("#tab-fittings")
        page.wait_for_selector("#crew li")
        rows = {
            row.get_attribute("data-crew"): row.inner_text()
            for row in page.locator("#crew li").all()
        }
        assert list(rows) == ["V3", "D2", "V4"]
        assert "Done." in rows["V3"]
        assert "0.12 m above the line as drawn" in rows["D2"]
        assert "<b>rock</b> below" in rows["D2"]
        assert f"Was at {here['V4'][1] + 30.0:.1f} m: check" in rows["V4"]
        assert "Done." not in rows["V4"]
        page.wait_for_function(
            "() => { const i = document.querySelector('#crew img'); i.scrollIntoView();"
            " return i.complete && i.naturalWidth === 1; }"
        )
        for kind, count in (("done", 1), ("noted", 1), ("check", 1)):
            assert page.locator(f".crew-mark.is-{kind}").count() == count

"""The pages as the service sends them: policy, packing, what is and is not there."""

from __future__ import annotations

import json
import re
from pathlib import Path

import httpx
import pytest
from api_service import running

from api.assets import page_policy
from api.guide import guide_names
from routing.provenance import provenance_keys


def test_planning_page__runs_only_what_is_ours(client: httpx.Client) -> None:
    page = client.get("/")
    policy = page.headers["content-security-policy"]
    script = next(part for part in policy.split("; ") if part.startswith("script-src"))
    assert re.fullmatch(r"script-src 'self' 'sha256-[A-Za-z0-9+/]{43}='", script)
    assert "://" not in policy
    assert not re.findall(r'(?:src|href)="(?:https?:)?//', page.text)


def test_planning_page__names_every_module_so_that_none_waits(client: httpx.Client) -> None:
    html = client.get("/").text
    asked = set(re.findall(r'<link rel="modulepreload" href="([^"]+)">', html))
    own = {f"/js/{name}" for name in re.findall(r'src="/js/([\w-]+\.js)"', html)}
    vendor = json.loads(re.findall(r'importmap">(.*?)</script>', html)[0])["imports"]
    found = {*asked, *own}
    assert len(asked) > 40
    for module in sorted(found):
        text = client.get(module).text
        for name in re.findall(r'^import .*?"([^"]+)";$|from "([^"]+)";$', text, re.MULTILINE):
            needed = "".join(name)
            path = vendor.get(needed, f"/js/{needed.removeprefix('./')}")
            assert path in found, f"{module} asks for {needed} late"


def test_page_policy__another_import_map_has_another_mark() -> None:
    html = '<script type="importmap">{}</script>'
    assert page_policy(html) != page_policy(html.replace("{}", "{ }"))
    assert "sha256" not in page_policy("<p>")


def test_files__are_packed_and_asked_for_once(client: httpx.Client) -> None:
    path = "/vendor/leaflet/leaflet-src.esm.js"
    packed = client.get(path, headers={"accept-encoding": "gzip"})
    plain = client.get(path, headers={"accept-encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert packed.content == plain.content
    assert int(packed.headers["content-length"]) < 0.4 * len(plain.content)
    again = client.get(path, headers={"if-none-match": packed.headers["etag"]})
    assert again.status_code == 304


@pytest.mark.parametrize(
    "path",
    [
        "/vendor/axe-core/axe.js",
        "/vendor/leaflet/../package.json",
        "/vendor/leaflet/%2e%2e/package.json",
        "/js/../build.py",
        "/guide/page",
        "/guide/..%2Findex",
    ],
)
def test_files__nothing_else_is_served(client: httpx.Client, path: str) -> None:
    assert client.get(path).status_code == 404


def test_guide__every_page_opens_and_every_link_leads_somewhere(client: httpx.Client) -> None:
    first = client.get("/guide", follow_redirects=True)
    assert first.status_code == 200
    linked = set()
    for name in guide_names():
        page = client.get(f"/guide/{name}")
        assert page.status_code == 200, name
        assert "<h1 id=" in page.text
        for link in re.findall(r"<main.*</main>", page.text, re.DOTALL)[0].split('href="')[1:]:
            target = link.partition('"')[0].partition("#")[0]
            if target and "://" not in target:
                linked.add(target.removesuffix(".md"))
                assert client.get(f"/guide/{target}").status_code == 200, (name, target)
    assert guide_names() - {"index"} <= linked


def test_guide__methods_explain_every_number(client: httpx.Client) -> None:
    text = client.get("/guide/methods").text
    missing = [key for key in provenance_keys() if f"<code>{key}</code>" not in text]
    assert missing == []
    assert text.count("<math") > 40
    assert "\\frac" not in text


def test_online_background__only_its_own_host_is_let_in(tmp_path: Path) -> None:
    address = "https://{s}.tiles.example/{z}/{x}/{y}.png"
    with running(tmp_path, online_tiles=address, online_credit='A "B" & C') as client:
        page = client.get("/")
        assert f'data-tiles="{address}"' in page.text
        assert "A &quot;B&quot; &amp; C" in page.text
        policy = page.headers["content-security-policy"]
        assert "img-src 'self' data: blob: https://*.tiles.example;" in policy
        assert policy.count("://") == 1

"""Behind a proxy: a path of its own, forwarded headers, the log of requests, measurements."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, upload

from api.access.store import AccessFile
from api.watch import METRICS_MEDIA, log, write_access_log

Body = dict[str, Any]
ABSOLUTE = re.compile(r"(?:href|src|action)=\"(/[^\"]*)\"")


@pytest.mark.parametrize("taken_off", [True, False], ids=["path taken off", "path left on"])
def test_root__every_address_of_a_page_leads_below_it(
    serve: Serve, tmp_path: Path, hill: Path, line: Body, taken_off: bool
) -> None:
    with serve(tmp_path, root_path="/plans") as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        made = client.post("/api/studies", json=body)
        study = made.json()["id"]
        assert made.headers["location"] == f"/plans/api/studies/{study}"
        before = "" if taken_off else "/plans"
        for path in ("/", "/list", "/guide/index.md", f"/field/{study}"):
            page = client.get(before + path)
            assert page.status_code == 200, path
            found = ABSOLUTE.findall(page.text)
            assert found or path.startswith("/field"), path
            for address in found:
                assert address == "/plans" or address.startswith("/plans/"), (path, address)
        script = client.get(f"{before}/js/api.js").text
        assert '"/api/' not in script
        assert '"/plans/api/' in script
        link = client.post(f"{before}/api/studies/{study}/links", json={"role": "client"}).json()
        assert httpx.URL(link["url"]).path.startswith("/plans/shared/")
        assert client.get(httpx.URL(link["url"]).path).status_code == 200


def test_root__policy_holds_for_the_changed_page(serve: Serve, tmp_path: Path) -> None:
    with serve(tmp_path, root_path="/plans") as client:
        page = client.get("/plans/")
    scripts = re.findall(r'<script type="importmap">(.*?)</script>', page.text, re.DOTALL)
    assert "/plans/vendor/" in scripts[0]
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"'sha256-{digest}'" in page.headers["content-security-policy"]


@pytest.mark.parametrize(("allowed", "believed"), [("127.0.0.1", True), ("192.0.2.1", False)])
def test_forwarded__only_from_a_trusted_address(
    serve: Serve, tmp_path: Path, allowed: str, believed: bool
) -> None:
    access = AccessFile(tmp_path / "access", make=True)
    token = access.add("Ann", "planner")
    headers = {"x-forwarded-proto": "https", "x-forwarded-for": "198.51.100.7"}
    with serve(tmp_path / "d", access=access, forwarded_allow=allowed) as client:
        answer = client.post("/sign-in", data={"token": token}, headers=headers)
        assert ("secure" in answer.headers["set-cookie"].lower()) is believed
    assert (access.logged(1)[0].address == "198.51.100.7") is believed


@pytest.fixture
def log_file(tmp_path: Path) -> Iterator[Path]:
    write_access_log(str(tmp_path / "requests.log"))
    yield tmp_path / "requests.log"
    for handler in list(log.handlers):
        handler.close()
        log.removeHandler(handler)


def test_access_log__has_a_line_for_each_request_and_no_secret(
    serve: Serve, tmp_path: Path, log_file: Path, hill: Path, line: Body
) -> None:
    with serve(tmp_path / "d") as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        study = client.post("/api/studies", json=body).json()["id"]
        link = client.post(f"/api/studies/{study}/links", json={"role": "client"}).json()["url"]
        client.get(httpx.URL(link).path)
        client.get('/nowhere"%0a127.0.0.1 - forged')
    lines = log_file.read_text().splitlines()
    assert len(lines) == 5
    secret = link.rpartition(".")[2]
    for each in lines:
        # Common log format, as web servers have written it since NCSA httpd.
        assert re.fullmatch(
            r'[0-9.]+ - \S+ \[\d\d/\w{3}/\d{4}:\d\d:\d\d:\d\d \+0000\] "[A-Z]+ \S+ HTTP/1.1" '
            r"\d{3} \d+ \d+\.\d{3}",
            each,
        ), each
        assert secret not in each


def test_metrics__are_open_text(serve: Serve, tmp_path: Path) -> None:
    with serve(tmp_path) as client:
        client.get("/api/health")
        client.get("/api/studies/none")
        answer = client.get("/metrics")
    assert answer.headers["content-type"] == METRICS_MEDIA
    text = answer.text
    # OpenMetrics 1.0: ends with "# EOF", counters end in _total, every family has one TYPE line.
    assert text.endswith("# EOF\n")
    assert 'leatline_requests_total{method="GET",operation="/api/health",status="200"} 1' in text
    operation = 'operation="/api/studies/{study_id}",status="404"'
    assert f'leatline_requests_total{{method="GET",{operation}}} 1' in text
    families = re.findall(r"^# TYPE (\S+) ", text, re.MULTILINE)
    assert len(families) == len(set(families)) >= 6
    sample = re.compile(r"leatline_[a-z_]+(\{[^}]*(\{[a-z_:]+\}[^}]*)*\})? [0-9.e+]+")
    for each in text.splitlines():
        assert each.startswith("# ") or sample.fullmatch(each), each
    counts = [int(count) for count in re.findall(r'bucket\{lane="other",le="[^"]+"\} (\d+)', text)]
    assert counts == sorted(counts)
    assert counts[-1] == 2

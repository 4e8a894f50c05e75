"""The API's description against what the service really does."""

from __future__ import annotations

import copy
import json
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest
from api_service import Serve, upload

from api.access.store import AccessFile

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # of the test tool's own imports
    import schemathesis
    from schemathesis.engine import events, from_schema

OPERATIONS = {
    ("GET", "/api/health"),
    ("GET", "/api/problems"),
    ("GET", "/api/studies/{study_id}/works"),
    ("GET", "/api/terrains"),
    ("POST", "/api/terrains"),
    ("GET", "/api/terrains/{terrain_id}"),
    ("DELETE", "/api/terrains/{terrain_id}"),
    ("GET", "/api/studies"),
    ("POST", "/api/studies"),
    ("GET", "/api/studies/{study_id}"),
    ("PUT", "/api/studies/{study_id}"),
    ("DELETE", "/api/studies/{study_id}"),
    ("GET", "/api/studies/{study_id}/map"),
    ("GET", "/api/studies/{study_id}/pipes"),
    ("GET", "/api/studies/{study_id}/profile"),
    ("GET", "/api/studies/{study_id}/export"),
    ("GET", "/api/studies/{study_id}/sheet.pdf"),
    ("GET", "/api/studies/{study_id}/report.pdf"),
    ("GET", "/api/studies/{study_id}/field"),
    ("GET", "/api/studies/{study_id}/revisions"),
    ("GET", "/api/who"),
    ("GET", "/api/studies/{study_id}/links"),
    ("POST", "/api/studies/{study_id}/links"),
    ("DELETE", "/api/studies/{study_id}/links/{link_id}"),
    ("GET", "/api/studies/{study_id}/records"),
    ("POST", "/api/studies/{study_id}/records"),
    ("GET", "/api/studies/{study_id}/photos/{name}"),
    ("GET", "/api/terrains/{terrain_id}/relief/{z}/{x}/{y}"),
    ("GET", "/api/terrains/{terrain_id}/contours/{z}/{x}/{y}"),
    ("GET", "/api/terrains/{terrain_id}/streams"),
    ("POST", "/api/terrains/{terrain_id}/catchment"),
    ("POST", "/api/preview"),
    ("GET", "/api/crs"),
    ("GET", "/api/terrains/{terrain_id}/place"),
    ("GET", "/api/terrains/{terrain_id}/slope/{z}/{x}/{y}"),
    ("POST", "/api/layers"),
    ("POST", "/api/overlays"),
    ("POST", "/api/pipes"),
    ("POST", "/api/routes"),
    ("POST", "/api/sample"),
    ("POST", "/api/settings"),
    ("POST", "/api/searches"),
    ("POST", "/api/screens"),
    ("GET", "/api/catalogue"),
    ("GET", "/api/where-from"),
    ("GET", "/api/trash"),
    ("DELETE", "/api/trash"),
    ("DELETE", "/api/trash/{item_id}"),
    ("POST", "/api/trash/{item_id}/restore"),
    ("GET", "/api/jobs/{job_id}"),
    ("DELETE", "/api/jobs/{job_id}"),
    ("GET", "/api/jobs/{job_id}/events"),
}


@pytest.fixture(scope="module")
def described(client: httpx.Client) -> dict[str, Any]:
    document: dict[str, Any] = client.get("/api/openapi.json").json()
    return document


def operations(described: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def test_openapi__names_every_route(described: dict[str, Any]) -> None:
    assert {(method, path) for method, path, _ in operations(described)} == OPERATIONS


def test_openapi__every_route_lists_its_problems(described: dict[str, Any]) -> None:
    for method, path, operation in operations(described):
        answers = operation["responses"]
        assert "500" in answers, (method, path)
        if "{" in path:
            assert "404" in answers, (method, path)
        if method in ("POST", "PUT"):
            assert {"400", "413", "422"} <= answers.keys(), (method, path)
        for status, answer in answers.items():
            if int(status) >= 400:
                assert list(answer["content"]) == ["application/problem+json"], (method, path)


def test_openapi__every_reference_is_there(described: dict[str, Any]) -> None:
    schemas = described["components"]["schemas"]

    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if "$ref" in node:
                assert node["$ref"].rsplit("/", 1)[1] in schemas
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(described)
    for schema in schemas.values():
        jsonschema.Draft202012Validator.check_schema(schema)


CHECKS = {
    "allow_header_conformance", "content_type_conformance", "ensure_resource_availability",
    "ignored_auth", "max_response_time", "missing_required_header", "negative_data_rejection",
    "not_a_server_error", "object_level_authorization", "positive_data_acceptance",
    "response_headers_conformance", "response_schema_conformance", "status_code_conformance",
    "unsupported_method", "use_after_free",
}  # fmt: skip
"""All that the library has; which of them a request is held against depends on what it is for."""
FORM = {"invalid_request", "bad_request", "wrong_media"}
"""Codes of problems that say the description was not kept; all others are the trade's own: a line
in one place, a file that is no raster. No schema could say that before."""
MANY_CASES = {
    ("POST", "/api/studies"), ("PUT", "/api/studies/{study_id}"), ("POST", "/api/preview"),
    ("POST", "/api/pipes"), ("POST", "/api/searches"), ("POST", "/api/studies/{study_id}/records"),
}  # fmt: skip
"""Bodies of so many members that each of their cases, some 2 000 in all, is for the slow tests."""
Found = dict[str, str]


@pytest.fixture(scope="module")
def guarded(
    tmp_path_factory: pytest.TempPathFactory, serve: Serve, hill: Path
) -> Iterator[httpx.Client]:
    """A service that keeps access, with a terrain, asked by a planner."""
    folder = tmp_path_factory.mktemp("guarded")
    access = AccessFile(folder / "access", make=True)
    with serve(folder / "data", access=access) as client:
        client.headers["authorization"] = f"Bearer {access.add('Ann', 'planner')}"
        assert upload(client, hill).status_code == 201
        yield client


def attack(client: httpx.Client, document: dict[str, Any], **phases: int) -> tuple[set[str], Found]:
    """Send made-up requests, right and wrong ones, and hold every answer against the document.

    ``phases`` are those of the library with the number of examples of each. Returned are the
    checks that were made and what was found, by check and operation.
    """
    limits = {"max-examples": max(phases.values()), "deterministic": True, "no-shrink": True}
    token = client.headers["authorization"]
    config = {
        "base-url": str(client.base_url), "headers": {"Authorization": token}, "seed": 1,
        "request-timeout": 60, "continue-on-failure": True, "generation": limits,
        "checks": {"enabled": True, "max_response_time": 60.0},
        "phases": {
            name: {"enabled": name in phases}
            for name in ("examples", "coverage", "fuzzing", "stateful")
        },
    }  # fmt: skip
    config["phases"]["coverage"]["unexpected-methods"] = ["patch"]  # test_every_address has others
    schema = schemathesis.openapi.from_dict(
        document, config=schemathesis.Config.from_dict({**config})
    )
    made: set[str] = set()
    found: Found = {}
    for event in from_schema(schema).execute():
        if isinstance(event, events.NonFatalError | events.FatalError):
            raise AssertionError(str(getattr(event, "info", event)))
        if isinstance(event, events.ScenarioFinished):
            checked, failed = outcome(event.recorder)
            made |= checked
            found |= failed
    return made, found


def outcome(recorder: Any) -> tuple[set[str], Found]:
    """Return the checks of some requests, and what is left of their failures."""
    made, found = set(), {}
    for case, nodes in recorder.checks.items():
        for node in nodes:
            made.add(node.name)
            if node.failure_info is None:
                continue
            sent = recorder.interactions[case]
            answer = json.loads(sent.response.content or b"{}")
            if node.name == "positive_data_acceptance" and answer.get("code") not in FORM:
                continue
            failure = node.failure_info.failure
            text = f"{failure.message} {sent.request.uri} {answer}"
            found[f"{node.name} {failure.operation}"] = text[:1000]
    return made, found


def without(described: dict[str, Any], some: set[tuple[str, str]]) -> dict[str, Any]:
    """Return the document without some of its operations."""
    paths: dict[str, dict[str, Any]] = {}
    for method, path, operation in operations(described):
        if (method, path) not in some:
            paths.setdefault(path, {})[method.lower()] = operation
    return {**described, "paths": paths}


def with_plain_settings(described: dict[str, Any]) -> dict[str, Any]:
    """Return the document with settings that say nothing: every case of theirs is thousands."""
    plain = copy.deepcopy(described)
    for name in ("PreviewIn", "StudyIn", "Alternative", "SearchIn", "ScreenIn", "PipesIn"):
        members = plain["components"]["schemas"].get(name, {}).get("properties", {})
        if "settings" in members:
            members["settings"] = {"type": "object", "maxProperties": 0}
    return plain


pytestmark = pytest.mark.filterwarnings(  # threads of the service draw numbers of their own beside
    "ignore:Do not use the `random` module:hypothesis.errors.HypothesisDeprecationWarning"
)


@pytest.fixture(scope="module")
def guarded_described(guarded: httpx.Client) -> dict[str, Any]:
    document: dict[str, Any] = guarded.get("/api/openapi.json").json()
    return document


def test_openapi__says_what_opens_each_operation(
    described: dict[str, Any], guarded_described: dict[str, Any]
) -> None:
    assert all("security" not in operation for _, _, operation in operations(described))
    for _, path, operation in operations(guarded_described):
        anyone = path in ("/api/health", "/api/problems")
        assert operation["security"] == ([] if anyone else [{"token": []}, {"session": []}])


def test_openapi__answers_are_as_described_by_every_check(
    guarded: httpx.Client, guarded_described: dict[str, Any]
) -> None:
    plain = with_plain_settings(guarded_described)
    made, found = attack(guarded, plain, stateful=1)
    for document, phases in (
        (guarded_described, {"fuzzing": 1}),
        (without(plain, MANY_CASES), {"coverage": 1}),
    ):
        more, failed = attack(guarded, document, **phases)
        made, found = made | more, found | failed
    assert found == {}
    assert made == CHECKS


@pytest.mark.parametrize("lie", ["status", "schema", "input", "security"])
def test_openapi__a_false_description_would_be_noticed(
    guarded: httpx.Client, guarded_described: dict[str, Any], lie: str
) -> None:
    false = copy.deepcopy(guarded_described)
    path, method = "/api/studies", "get"
    if lie == "status":
        del false["paths"][path][method]["responses"]["200"]
    elif lie == "schema":
        path = "/api/health"
        false["components"]["schemas"]["Health"]["properties"]["gdal"]["type"] = "integer"
    elif lie == "input":
        limit = next(one for one in false["paths"][path][method]["parameters"]
                     if one["name"] == "limit")  # fmt: skip
        limit["schema"] = {"type": "integer", "maximum": 0}
    else:
        path = "/api/health"
        false["paths"][path][method]["security"] = [{"token": []}]
    false["paths"] = {path: {method: false["paths"][path][method]}}
    _, found = attack(guarded, false, fuzzing=10)
    check = {"status": "status_code_conformance", "schema": "response_schema_conformance",
             "input": "positive_data_acceptance", "security": "ignored_auth"}[lie]  # fmt: skip
    assert f"{check} {method.upper()} {path}" in found


@pytest.mark.slow
def test_openapi__answers_are_as_described_to_very_many(
    guarded: httpx.Client, guarded_described: dict[str, Any]
) -> None:
    plain = with_plain_settings(guarded_described)
    assert attack(guarded, plain, coverage=1, stateful=20)[1] == {}
    assert attack(guarded, guarded_described, fuzzing=300)[1] == {}

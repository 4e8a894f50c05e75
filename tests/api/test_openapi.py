"""The API's description against what the service really does."""

from __future__ import annotations

import copy
import warnings
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest
from api_service import upload
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # of the test tool's own imports
    import schemathesis
    from schemathesis import GenerationMode
    from schemathesis.checks import not_a_server_error
    from schemathesis.core.failures import FailureGroup
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        negative_data_rejection,
        response_headers_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

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


CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]


def attack(client: httpx.Client, document: dict[str, Any], examples: int) -> None:
    """Send made-up requests, right and wrong ones, and hold every answer against the document."""
    schema = schemathesis.openapi.from_dict(document)
    sent = 0
    for result in schema.get_all_operations():
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
            sent += try_out(client, result.ok(), mode, examples)
    assert sent >= examples


def try_out(client: httpx.Client, operation: Any, mode: GenerationMode, examples: int) -> int:
    """Try one operation; return the number of requests sent."""
    checks = [*CHECKS, *([negative_data_rejection] if mode.is_negative else [])]
    base = str(client.base_url).rstrip("/")
    sent = 0

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def attempt(case: schemathesis.Case) -> None:
        nonlocal sent
        sent += 1
        response = case.call(base_url=base, timeout=30)
        case.validate_response(response, checks=checks)

    with suppress(Unsatisfiable):  # an operation without input has nothing to get wrong
        attempt()
    return sent


@pytest.mark.filterwarnings(  # threads of the service draw numbers of their own beside
    "ignore:Do not use the `random` module:hypothesis.errors.HypothesisDeprecationWarning"
)
def test_openapi__answers_are_as_described(
    client: httpx.Client, described: dict[str, Any], hill: Path
) -> None:
    assert upload(client, hill).status_code == 201
    attack(client, described, 5)


@pytest.mark.parametrize("lie", ["status", "schema"])
def test_openapi__a_false_description_would_be_noticed(
    client: httpx.Client, described: dict[str, Any], lie: str
) -> None:
    false = copy.deepcopy(described)
    operation = false["paths"]["/api/studies"]["get"]
    if lie == "status":
        del operation["responses"]["422"]
    elif lie == "schema":
        operation = false["paths"]["/api/health"]["get"]
        false["components"]["schemas"]["Health"]["properties"]["gdal"]["type"] = "integer"
    path = "/api/health" if lie == "schema" else "/api/studies"
    false["paths"] = {path: {"get": operation}}
    with pytest.raises((FailureGroup, ExceptionGroup)):
        attack(client, false, 10)


@pytest.mark.slow
def test_openapi__answers_are_as_described_to_very_many(
    client: httpx.Client, described: dict[str, Any]
) -> None:
    attack(client, described, 300)

from __future__ import annotations

import pickle
from collections.abc import Iterator

import pytest

from api import errors
from routing.errors import LeatlineError


def every_error(kind: type[LeatlineError] = LeatlineError) -> Iterator[type[LeatlineError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from every_error(below)


@pytest.mark.parametrize("kind", list(every_error()), ids=lambda kind: kind.__name__)
def test_status__every_error_has_its_own_row(kind: type[LeatlineError]) -> None:
    assert kind in errors.STATUS
    assert 400 <= errors.STATUS[kind] <= 507
    assert errors.STATUS[kind] != 500


@pytest.mark.parametrize("kind", list(every_error()), ids=lambda kind: kind.__name__)
def test_errors__pickle_with_every_field(kind: type[LeatlineError]) -> None:
    error = kind("It is wrong.", "Mend it.", 12.5, 7.1, 46.2)
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert errors.problem_of(again) == errors.problem_of(error)


def test_codes__tell_all_errors_apart() -> None:
    codes = [kind.code for kind in every_error()]
    assert len(set(codes)) == len(codes)


def test_problem_response__leaves_out_what_is_not_known() -> None:
    response = errors.problem_response(
        instance="/api/x", **errors.problem_of(errors.NotFound("No.", "Look."))
    )
    assert response.status_code == 404
    assert response.media_type == "application/problem+json"
    assert b"station_m" not in response.body

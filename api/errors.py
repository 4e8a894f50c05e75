"""Errors as RFC 9457 problem details: one table, one body, whatever went wrong.

::

    ServiceError (a LeatlineError)
    ├── NotFound             no such terrain, study or job
    ├── StaleRevision        somebody saved in between
    ├── RevisionRequired     a change without saying which revision it is of
    ├── TerrainInUse         a study still needs the terrain
    ├── TooLarge             beyond a limit of the service
    ├── WrongMedia           a body of another kind than the route takes
    ├── BadUpload            a form that cannot be read
    ├── ForeignOrigin        a request that another web site made the browser send
    ├── UnknownHost          a request to a name that the service does not go by
    ├── NoRoom               the volume of the data folder is full
    ├── SignInNeeded         nobody known sent it
    ├── NotAllowed           a role that may not do this
    └── Busy                 too much work waits already
"""

from __future__ import annotations

import logging
import sqlite3
from http import HTTPStatus
from typing import Any, ClassVar

import orjson
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException

from api.tongue import requested_language
from routing import errors as trade
from routing.words import said_message, speaking

__all__ = [
    "KINDS",
    "PROBLEM_TYPE",
    "STATUS",
    "BadUpload",
    "Busy",
    "ForeignOrigin",
    "NoRoom",
    "NotAllowed",
    "NotFound",
    "RevisionRequired",
    "ServiceError",
    "SignInNeeded",
    "StaleRevision",
    "TerrainInUse",
    "TooLarge",
    "UnknownHost",
    "WrongMedia",
    "add_handlers",
    "error_response",
    "http_response",
    "problem_response",
    "status_of",
]

PROBLEM_TYPE = "application/problem+json"
MAX_DETAIL = 1000
"""Longest detail [characters]; a value that is quoted in one may be as long as the body."""
log = logging.getLogger("leatline")


class ServiceError(trade.LeatlineError):
    """The request cannot be answered.

    Something about the request itself, not about the pipeline.
    """

    code: ClassVar[str] = "service"


class NotFound(ServiceError):
    """There is no such thing here."""

    code = "not_found"


class StaleRevision(ServiceError):
    """The study was changed by somebody else in between."""

    code = "stale_revision"


class RevisionRequired(ServiceError):
    """A change must say which revision it was made from."""

    code = "revision_required"


class TerrainInUse(ServiceError):
    """A study still needs this terrain."""

    code = "terrain_in_use"


class TooLarge(ServiceError):
    """The request is beyond a limit of the service."""

    code = "too_large"


class WrongMedia(ServiceError):
    """The body is of another kind than the address takes."""

    code = "wrong_media"


class BadUpload(ServiceError):
    """The uploaded form cannot be read."""

    code = "bad_upload"


class ForeignOrigin(ServiceError):
    """Another web site made the browser send the request."""

    code = "foreign_origin"


class UnknownHost(ServiceError):
    """The service does not go by the name in the request."""

    code = "unknown_host"


class NoRoom(ServiceError):
    """The volume of the data folder is full, or nearly so."""

    code = "no_room"


class SignInNeeded(ServiceError):
    """The service does not know who sent the request."""

    code = "sign_in_needed"


class NotAllowed(ServiceError):
    """The role of whoever sent the request may not do this."""

    code = "not_allowed"


class Busy(ServiceError):
    """Too much work waits already."""

    code = "busy"


STATUS: dict[type[trade.LeatlineError], int] = {
    trade.LeatlineError: 422,
    trade.InputError: 422,
    trade.SettingsError: 422,
    trade.QuantityError: 422,
    trade.RouteError: 422,
    trade.PipeError: 422,
    trade.StudyFileError: 422,
    trade.TerrainError: 422,
    trade.UnreadableRaster: 422,
    trade.MissingCrs: 422,
    trade.NotElevation: 422,
    trade.TerrainMismatch: 422,
    trade.RasterTooLarge: 413,
    trade.ProfileError: 422,
    trade.OutsideTerrain: 422,
    trade.MissingElevation: 422,
    trade.NoLine: 422,
    ServiceError: 400,
    NotFound: 404,
    StaleRevision: 412,
    RevisionRequired: 428,
    TerrainInUse: 409,
    TooLarge: 413,
    WrongMedia: 415,
    BadUpload: 400,
    ForeignOrigin: 403,
    UnknownHost: 421,
    NoRoom: 507,
    SignInNeeded: 401,
    NotAllowed: 403,
    Busy: 503,
}
"""The status of every error; a class without a row of its own is a fault the tests find."""

_HTTP_CODE = {
    400: ("bad_request", "Send a well-formed request; the API is described at /api/openapi.json."),
    404: ("not_found", "Look up the address; the API is described at /api/openapi.json."),
    405: ("method_not_allowed", "Use one of the methods named in the Allow header."),
    408: ("too_slow", "Send the body faster, or in smaller parts."),
    413: ("too_large", "Send less, or have the operator raise the limit."),
    415: ("wrong_media", "Send the kind of body that /api/openapi.json names for this route."),
}

KINDS = {
    400: "The request is not well formed.",
    404: "There is nothing at this address.",
    405: "The address does not take this method.",
    408: "The request came too slowly.",
    413: "The request is larger than the service allows.",
    415: "The request has a body of another kind than the address takes.",
    422: "A field of the request is not valid.",
    500: "This is a fault of ours, not of what was given.",
}
"""What each status of the HTTP layer is, as :meth:`LeatlineError.kind` says it of an error."""


def status_of(error: trade.LeatlineError) -> int:
    """Return the HTTP status of an error, after its nearest class in the table."""
    return next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)


def problem_response(
    *,
    status: int,
    code: str,
    detail: str,
    instance: str,
    hint: str = "",
    headers: dict[str, str] | None = None,
    words: tuple[str, str] = ("", "en"),
    **more: Any,
) -> Response:
    """Return one problem as a response; ``more`` members that are None are left out.

    ``words`` are what is wrong whatever the values, and the language of the answer (RFC 9457,
    3.1.3): detail and hint are in it as far as they are known, else in English behind that.
    """
    kind, language = words
    with speaking(language):
        detail, hint = said_message(kind or hint, detail, hint)
    body = {
        "type": f"/api/problems#{code}",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail if len(detail) <= MAX_DETAIL else f"{detail[:MAX_DETAIL]} ...",
        "instance": instance,
        "code": code,
        "hint": hint,
        **{name: value for name, value in more.items() if value is not None},
    }
    headers = {**(headers or {}), "content-language": language}
    return Response(orjson.dumps(body), status, headers, media_type=PROBLEM_TYPE)


def problem_of(error: trade.LeatlineError) -> dict[str, Any]:
    """Return the members of a problem that an error itself fills."""
    return {
        "status": status_of(error),
        "code": error.code,
        "detail": error.problem,
        "hint": error.remedy,
        "station_m": error.station_m,
        "lon": error.lon,
        "lat": error.lat,
    }


def error_response(
    error: trade.LeatlineError, path: str, asked: Headers, headers: dict[str, str] | None = None
) -> Response:
    """Return an error as a problem in the language that the headers of a request ask for."""
    words = error.kind(), language_of(asked)
    return problem_response(instance=path, headers=headers, words=words, **problem_of(error))


def language_of(asked: Headers) -> str:
    """Return the language in which a request is answered."""
    return requested_language(asked.get("accept-language", ""))


def _leatline(request: Request, error: Exception) -> Response:
    assert isinstance(error, trade.LeatlineError)
    headers = {"retry-after": "5"} if isinstance(error, Busy) else None
    return error_response(error, request.url.path, request.headers, headers)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return http_response(error, request.url.path, request.headers)


def http_response(error: HTTPException, path: str, asked: Headers) -> Response:
    """Return an error of the HTTP layer as a problem."""
    code, hint = _HTTP_CODE.get(error.status_code, (f"http_{error.status_code}", ""))
    return problem_response(
        status=error.status_code,
        code=code,
        detail=str(error.detail),
        hint=hint,
        instance=path,
        headers=dict(error.headers) if error.headers else None,
        words=(KINDS.get(error.status_code, ""), language_of(asked)),
    )


def _validation(request: Request, error: Exception) -> Response:
    # Only where and what: the value itself may be a NaN, which no JSON can carry back.
    assert isinstance(error, RequestValidationError)
    found = [
        {"where": ".".join(str(part) for part in item["loc"]), "message": str(item["msg"])}
        for item in error.errors()
    ]
    shown = found[:20]
    first = shown[0] if shown else {"where": "request", "message": "is not valid"}
    return problem_response(
        status=422,
        code="invalid_request",
        detail=f"{first['where']}: {first['message']}",
        hint="Correct the fields named; the API is described at /api/openapi.json.",
        instance=request.url.path,
        words=(KINDS[422], language_of(request.headers)),
        fields=shown,
    )


def _unwritable(request: Request, error: Exception) -> Response:
    """Answer an error of the file system or the database: full is not a fault of ours."""
    from api.room import is_full

    if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY:
        return _leatline(request, Busy("Others write all the time.", "Try again in a while."))
    if not is_full(error):
        raise error
    log.error("no room while answering %s %s: %s", request.method, request.url.path, error)
    full = NoRoom(
        "The volume of the data folder is full.",
        "Delete studies or terrains that nobody needs, or have the operator make room.",
    )
    return error_response(full, request.url.path, request.headers)


def _fault(request: Request, error: Exception) -> Response:
    log.error("fault while answering %s %s", request.method, request.url.path, exc_info=error)
    return problem_response(
        status=500,
        code="fault",
        detail="A fault of ours: the request was fine as far as we know.",
        hint="Try again; if it stays, report it with what you sent.",
        instance=request.url.path,
        words=(KINDS[500], language_of(request.headers)),
    )


def add_handlers(app: FastAPI) -> None:
    """Give an application this module's answers to every kind of error."""
    app.add_exception_handler(trade.LeatlineError, _leatline)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _validation)
    app.add_exception_handler(OSError, _unwritable)
    app.add_exception_handler(sqlite3.OperationalError, _unwritable)
    app.add_exception_handler(Exception, _fault)

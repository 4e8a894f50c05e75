"""Request bodies that are JSON and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

import orjson
from fastapi import Request, Response
from fastapi.routing import APIRoute

__all__ = ["StrictJsonRoute"]


class StrictJsonRequest(Request):
    """A request whose JSON is JSON: no NaN, no number beyond float64, no broken text."""

    async def json(self) -> Any:
        """Return the body, parsed."""
        return orjson.loads(await self.body())


class StrictJsonRoute(APIRoute):
    """A route that reads its body strictly."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler, given a strict request."""
        handle = super().get_route_handler()

        async def strict(request: Request) -> Response:
            return await handle(StrictJsonRequest(request.scope, request.receive))

        return strict

"""What routes are handed: the parts of the running service."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import Depends, Request

from api.access.store import AccessFile
from api.jobs import Jobs
from api.lines import LineRows
from api.links import Links
from api.processes import SharedJobs
from api.relief import ReliefStore
from api.settings import ServiceSettings
from api.storage import Storage
from api.windows import WindowCache
from routing.value import dataclass

__all__ = ["Service", "ServiceDep", "service_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """The parts of one running service."""

    settings: ServiceSettings
    storage: Storage
    links: Links
    access: AccessFile | None
    windows: WindowCache
    lines: LineRows
    relief: ReliefStore
    jobs: Jobs | SharedJobs


async def service_of(request: Request) -> Service:
    """Return the service that a request came to; what waits for nothing needs no thread."""
    return cast(Service, request.app.state.service)


ServiceDep = Annotated[Service, Depends(service_of)]

"""What was deleted: look, bring back, delete for good."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import Field

from api.deps import ServiceDep
from api.schemas import Answer, Limit, Offset, PathIdentity, problems
from api.strict import StrictJsonRoute
from api.trash import TrashRow

router = APIRouter(prefix="/api/trash", tags=["trash"], route_class=StrictJsonRoute)


class TrashOut(Answer):
    """Something that was deleted and can be brought back."""

    kind: Literal["study", "terrain"]
    id: str
    name: str
    deleted: str
    who: str | None = Field(description="Who deleted it, where access is kept.")
    until: str = Field(description="When it goes for good.")


class Emptied(Answer):
    """How much was deleted for good."""

    removed: int


def _out(row: TrashRow) -> TrashOut:
    return TrashOut(
        kind=row.kind, id=row.id, name=row.name, deleted=row.deleted, who=row.who, until=row.until
    )


@router.get("", responses=problems(422))
def list_trash(service: ServiceDep, limit: Limit = 1000, offset: Offset = 0) -> list[TrashOut]:
    """List what was deleted and can be brought back, the newest first."""
    return [_out(row) for row in service.storage.trash.rows(limit, offset)]


@router.post("/{item_id}/restore", responses=problems(400, 403, 404, 413, 422))
def restore(item_id: PathIdentity, service: ServiceDep) -> list[TrashOut]:
    """Bring something back, a study with the terrains under it; answer what came back."""
    return [_out(row) for row in service.storage.trash.restore(item_id)]


@router.delete("/{item_id}", status_code=204, responses=problems(403, 404, 409, 422))
def remove(item_id: PathIdentity, service: ServiceDep) -> None:
    """Delete one thing for good."""
    service.storage.trash.remove(item_id)


@router.delete("", responses=problems(403))
def empty(service: ServiceDep) -> Emptied:
    """Delete for good all that is in the trash."""
    return Emptied(removed=service.storage.trash.empty())

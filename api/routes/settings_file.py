"""Settings files, read for the planning page as the command line reads them."""

from __future__ import annotations

from fastapi import APIRouter

from api.deps import ServiceDep
from api.page_schemas import SettingsIn, SettingsOut
from api.schemas import problems
from api.strict import StrictJsonRoute
from routing.errors import InputError
from routing.settings import read_settings

router = APIRouter(prefix="/api/settings", tags=["studies"], route_class=StrictJsonRoute)

NAME = "settings.toml"


@router.post("", responses=problems(400, 403, 413, 422))
def read_file(body: SettingsIn, service: ServiceDep) -> SettingsOut:
    """Read a settings file with the files it names; nothing is kept."""
    with service.storage.incoming_folder() as folder:
        for name, text in (*body.files.items(), (NAME, body.toml)):
            (folder / name).write_text(text, encoding="utf-8")
        try:
            settings = read_settings(folder / NAME, only=frozenset(body.files))
        except InputError as exc:
            problem, remedy = (text.replace(f"{folder}/", "") for text in (exc.problem, exc.remedy))
            raise type(exc)(problem, remedy) from exc
    return SettingsOut(settings=dict(settings.given))

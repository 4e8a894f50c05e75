"""Everything about the service that an operator may set, one row each."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import field, fields
from pathlib import Path
from typing import Any, NamedTuple

from routing.errors import SettingsError
from routing.value import dataclass

__all__ = ["PREFIX", "ServiceSettings", "SettingRow", "settings_from_environment", "settings_table"]

PREFIX = "LEATLINE_"
"""Environment variables that set a row: this prefix and the row's name in capitals."""


ONLINE_TILES = re.compile(
    r"https?://[A-Za-z0-9.{}:-]+/(?=.*\{z\})(?=.*\{x\})(?=.*\{y\})[^\s\"';,<>]*"
)
"""What an address of tiles looks like; it becomes part of a page's policy."""

HOST_NAME = re.compile(r"[a-z0-9]([a-z0-9._-]*[a-z0-9])?|\[[0-9a-f:.]+\]")
"""A name in a Host header, without its port."""


ROOT_PATH = re.compile(r"(/[A-Za-z0-9._~-]*[A-Za-z0-9_~-])+")
"""A path below which the service is placed."""


def _row(default: Any, least: float, unit: str, help_text: str) -> Any:
    return field(default=default, metadata={"least": least, "unit": unit, "help": help_text})


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceSettings:
    """The service's data folder and its limits."""

    data: Path = field(metadata={"unit": "path", "help": "Folder for terrains and studies."})
    max_body_bytes: int = _row(
        8 * 2**20, 1024, "bytes", "Largest JSON body; a larger one is answered 413."
    )
    max_upload_bytes: int = _row(
        2 * 2**30, 1024, "bytes", "Largest raster upload; a larger one is answered 413."
    )
    max_vertices: int = _row(
        20_000, 2, "points", "Most points a drawn line may have; more are answered 413."
    )
    max_pixels: int = _row(
        4_000_000_000, 1, "pixels", "Most pixels (columns x rows) an uploaded raster may have."
    )
    max_tiles: int = _row(
        1_000, 1, "rasters", "Most rasters in an uploaded archive; more are answered 413."
    )
    max_profile_samples: int = _row(
        500_000, 2, "cells", "Most raster cells a line may cross; more are answered 413."
    )
    max_window_cells: int = _row(
        4_000_000, 16, "cells", "Most raster cells kept in memory for one line being dragged."
    )
    max_water_cells: int = _row(
        100_000_000, 1, "cells", "Most raster cells whose water a request may have followed."
    )
    max_windows: int = _row(8, 1, "windows", "Most such windows kept in memory at a time.")
    max_tile_bytes: int = _row(
        64 * 2**20, 0, "bytes", "Memory for map tiles, so that the same one is not made twice."
    )
    max_revisions: int = _row(
        100, 1, "revisions", "Revisions kept of one study; the oldest go first."
    )
    max_terrains: int = _row(1_000, 1, "terrains", "Most terrains in the data folder.")
    max_studies: int = _row(100_000, 1, "studies", "Most studies in the data folder.")
    max_studies_each: int = _row(
        10_000, 1, "studies", "Most studies that one person saved last, where access is kept."
    )
    max_data_bytes: int = _row(
        2**40, 1024, "bytes", "Most that the data folder may hold; more is answered 507."
    )
    max_records: int = _row(20_000, 1, "records", "Most records that a study's crews may keep.")
    max_photo_bytes: int = _row(
        5_000_000, 1024, "bytes", "Largest photograph of a record; a larger one is refused."
    )
    max_photos_bytes: int = _row(
        2 * 2**30, 1024, "bytes", "Room for the photographs of one study; more are answered 413."
    )
    trash_days: float = _row(
        30.0, 0, "days", "How long deleted studies and terrains can be brought back; 0: not at all."
    )
    workers: int = _row(2, 1, "processes", "Long jobs that run at the same time.")
    processes: int = _row(
        1, 1, "processes", "Processes that answer requests behind the one socket."
    )
    max_waiting_jobs: int = _row(
        20, 0, "jobs", "Long jobs that may wait their turn; one more is answered 503."
    )
    min_free_bytes: int = _row(
        100 * 2**20, 0, "bytes", "Room kept free on the data's volume; of a small one a twentieth."
    )
    request_seconds: float = _row(
        120.0, 1, "seconds", "Longest heavy work of a request; longer is answered 503."
    )
    max_waiting_each: int = _row(
        16, 0, "requests", "Most heavy requests of one client that wait; of previews the newest."
    )
    max_waiting_requests: int = _row(
        64, 0, "requests", "Most heavy requests of all clients that wait; more are answered 503."
    )
    job_seconds: float = _row(300.0, 1, "seconds", "Longest a job may run before it is stopped.")
    lock_seconds: float = _row(
        30.0, 0.1, "seconds", "Longest a request waits for another one's write to finish."
    )

    allow_hosts: str = field(
        default="",
        metadata={
            "unit": "names",
            "help": "Names the service goes by, besides this machine's own; commas between.",
        },
    )
    root_path: str = field(
        default="",
        metadata={"unit": "path", "help": "Path below which a proxy places it, such as /plans."},
    )
    forwarded_allow: str = field(
        default="",
        metadata={
            "unit": "addresses",
            "help": "Proxies whose X-Forwarded-For and -Proto are believed; commas between.",
        },
    )
    access_log: str = field(
        default="",
        metadata={"unit": "file", "help": "Where each request is logged; -: on standard error."},
    )
    scheduler: str = field(
        default="",
        metadata={
            "unit": "address",
            "help": "Dask scheduler whose workers do the long jobs, as tcp://10.0.0.5:8786.",
        },
    )
    online_tiles: str = field(
        default="",
        metadata={
            "unit": "address",
            "help": "Tiles of an online background, as https://host/{z}/{x}/{y}.png; none: off.",
        },
    )
    online_credit: str = field(
        default="", metadata={"unit": "text", "help": "Attribution shown with that background."}
    )

    def __post_init__(self) -> None:
        if self.online_tiles and not ONLINE_TILES.fullmatch(self.online_tiles):
            raise SettingsError(
                f"{PREFIX}ONLINE_TILES = {self.online_tiles!r} is not an address of tiles.",
                "Give one such as https://host/{z}/{x}/{y}.png, or leave it empty.",
            )
        for name in self.host_names:
            if not HOST_NAME.fullmatch(name):
                raise SettingsError(
                    f"{PREFIX}ALLOW_HOSTS (--allow-host) has {name!r}, which is no name of a host.",
                    "Give the name alone, such as plans.example, without scheme, port or path.",
                )
        if self.root_path and not ROOT_PATH.fullmatch(self.root_path):
            raise SettingsError(
                f"{PREFIX}ROOT_PATH (--root-path) = {self.root_path!r} is no path.",
                "Give one such as /plans, without a slash at its end.",
            )
        for row in fields(self):
            least = row.metadata.get("least")
            value = getattr(self, row.name)
            if least is not None and not value >= least:
                raise SettingsError(
                    f"{PREFIX}{row.name.upper()} = {value} is below {least:g}.",
                    f"Give at least {least:g} {row.metadata['unit']}.",
                )

    @property
    def host_names(self) -> frozenset[str]:
        """The names of ``allow_hosts``, one by one."""
        named = (name.strip().lower() for name in self.allow_hosts.split(","))
        return frozenset(name for name in named if name)


class SettingRow(NamedTuple):
    """One row of the table that documents the service's settings."""

    variable: str
    default: object
    unit: str
    help: str


def settings_table() -> Iterator[SettingRow]:
    """Yield every setting with its environment variable, default, unit and meaning."""
    for row in fields(ServiceSettings):
        default = default_data_folder() if row.name == "data" else row.default
        yield SettingRow(
            PREFIX + row.name.upper(), default, row.metadata["unit"], row.metadata["help"]
        )


def default_data_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """Return the user's own folder for application data."""
    base = environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "leatline"


def settings_from_environment(
    environ: Mapping[str, str] = os.environ, **options: Any
) -> ServiceSettings:
    """Return the settings that the environment gives; ``options`` that are given win."""
    given: dict[str, Any] = {}
    for row in fields(ServiceSettings):
        text = environ.get(PREFIX + row.name.upper())
        if text is None:
            continue
        given[row.name] = _value(row, text)
    given |= {name: value for name, value in options.items() if value}
    given.setdefault("data", default_data_folder(environ))
    return ServiceSettings(**given)


def _value(row: Any, text: str) -> Path | str | int | float:
    if row.name == "data":
        return Path(text)
    return text if isinstance(row.default, str) else _number(row, text)


def _number(row: Any, text: str) -> int | float:
    kind = float if isinstance(row.default, float) else int
    try:
        return kind(text)
    except ValueError as exc:
        raise SettingsError(
            f"{PREFIX}{row.name.upper()} = {text!r} is not a number.",
            f"Give it in {row.metadata['unit']}, as the default {row.default}.",
        ) from exc

from __future__ import annotations

from pathlib import Path

import pytest

from api.settings import PREFIX, ServiceSettings, settings_from_environment, settings_table
from routing.errors import SettingsError

EXAMPLES = {
    "root_path": "/plans",
    "online_tiles": "https://{s}.tiles.example/{z}/{x}/{y}.png",
    "allow_hosts": "plans.example, beck.example",
}


def test_settings_from_environment__reads_every_row(tmp_path: Path) -> None:
    for row in settings_table():
        name = row.variable.removeprefix(PREFIX).lower()
        if name == "data":
            continue
        value: object = EXAMPLES.get(name, "some text")
        if not isinstance(row.default, str):
            value = row.default + 1  # type: ignore[operator]
        given = settings_from_environment({row.variable: str(value)}, data=tmp_path)
        assert getattr(given, name) == value


def test_settings_from_environment__option_wins_over_variable(tmp_path: Path) -> None:
    given = settings_from_environment({"LEATLINE_DATA": "/elsewhere"}, data=tmp_path)
    assert given.data == tmp_path
    assert settings_from_environment({"LEATLINE_DATA": "/here"}).data == Path("/here")


def test_settings_from_environment__default_folder_is_the_users_own() -> None:
    given = settings_from_environment({"XDG_DATA_HOME": "/home/someone/share"})
    assert given.data == Path("/home/someone/share/leatline")


@pytest.mark.parametrize("text", ["lots", "", "nan", "-1", "0"])
def test_settings_from_environment__bad_number_names_the_variable(
    text: str, tmp_path: Path
) -> None:
    with pytest.raises(SettingsError, match="LEATLINE_MAX_BODY_BYTES"):
        settings_from_environment({"LEATLINE_MAX_BODY_BYTES": text}, data=tmp_path)


@pytest.mark.parametrize(
    "address", ["tiles", "ftp://a/{z}/{x}/{y}", "https://a/{z}/{x}", "https://a;b/{z}/{x}/{y}"]
)
def test_service_settings__tiles_need_a_whole_address(tmp_path: Path, address: str) -> None:
    with pytest.raises(SettingsError, match="ONLINE_TILES"):
        ServiceSettings(data=tmp_path, online_tiles=address)


@pytest.mark.parametrize("name", ["http://a", "a:80", "a b", "-a", "a/b", "*"])
def test_service_settings__hosts_are_names(tmp_path: Path, name: str) -> None:
    with pytest.raises(SettingsError, match="--allow-host"):
        ServiceSettings(data=tmp_path, allow_hosts=f"good.example,{name}")


def test_service_settings__nan_seconds_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="JOB_SECONDS"):
        ServiceSettings(data=tmp_path, job_seconds=float("nan"))


def test_settings_table__every_row_explains_itself() -> None:
    rows = list(settings_table())
    assert len({row.variable for row in rows}) == len(rows)
    assert all(row.help.endswith(".") and row.unit for row in rows)


def test_settings_table__developers_page_names_every_row() -> None:
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [row.variable for row in settings_table() if row.variable not in page]
    assert missing == []

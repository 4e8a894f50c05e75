"""One data folder and several services: on one machine it holds, on a share it is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from api_service import Serve, is_problem, upload

from api import volume
from api.backup import back_up, restore
from api.server import serve as serve_at
from api.settings import ServiceSettings
from api.storage import Storage
from api.volume import volume_kind
from routing.errors import InputError

Body = dict[str, Any]
TABLE = r"""
/dev/disk / ext4 rw,relatime 0 0
box:/plans /srv/plans nfs4 rw,vers=4.2 0 0
/dev/other /srv/plans/fast xfs rw 0 0
//box/b /mnt/two\040words cifs rw 0 0
tmpfs /cover tmpfs rw 0 0
box:/c /cover nfs rw 0 0
""".strip()


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/plans", "nfs4"),
        ("/srv/plans/a", "nfs4"),
        ("/srv/plans-b", "ext4"),
        ("/srv/plans/fast/a", "xfs"),
        ("/mnt/two words/a", "cifs"),
        ("/cover", "nfs"),  # what was mounted last covers what lay there
        ("/home", "ext4"),
    ],
)
def test_volume__is_that_of_the_deepest_mount(folder: str, kind: str) -> None:
    # the form of the table: proc_pid_mounts(5), fstab(5)
    assert volume_kind(folder, TABLE) == kind


def test_serve__refuses_a_data_folder_on_a_share(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "mounts"
    table.write_text(f"/dev/disk / ext4 rw 0 0\nbox:/a {tmp_path} nfs4 rw 0 0\n", encoding="utf-8")
    monkeypatch.setattr(volume.check_local, "__defaults__", (table,))
    with pytest.raises(InputError, match="network share") as refused:
        serve_at("127.0.0.1", 0, ServiceSettings(data=tmp_path / "data"))
    assert "nfs4" in refused.value.problem
    assert "--data" in refused.value.remedy
    assert not (tmp_path / "data").exists()


def test_volume__is_not_asked_where_the_system_does_not_tell(tmp_path: Path) -> None:
    volume.check_local(tmp_path, tmp_path / "no such table")


def test_two_services__on_one_folder_of_one_machine_are_one(
    tmp_path: Path, serve: Serve, hill: Path, line: Body
) -> None:
    with serve(tmp_path) as one, serve(tmp_path) as other:
        body = {"terrain": upload(one, hill).json()["id"], "route": line}
        saved = other.post("/api/studies", json=body)
        assert saved.status_code == 201
        path, tag = saved.headers["location"], {"if-match": saved.headers["etag"]}
        changed = one.put(path, json=body, headers=tag)
        assert changed.json()["revision"] == 2
        is_problem(other.put(path, json=body, headers=tag), 412, "stale_revision")
        link = one.post(f"{path}/links", json={"role": "client", "expires": "2099-01-01"})
        shown = other.get(link.json()["url"], follow_redirects=True)
        assert shown.status_code == 200
        assert other.delete(path).status_code == 204
        is_problem(one.get(path), 404, "not_found")
        assert [row["id"] for row in one.get("/api/trash").json()] == [saved.json()["id"]]


def test_terrains__may_lie_on_a_share(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    for name in ("terrains", "incoming"):
        (tmp_path / "share" / name).mkdir(parents=True)
        (data / name).symlink_to(tmp_path / "share" / name)
    storage = Storage(ServiceSettings(data=data))
    with storage.incoming_folder() as folder:
        (folder / "elevation.tif").write_bytes(b"raster")
        terrain = storage.add_terrain(folder, "hill", {}).id
    assert (tmp_path / "share/terrains" / terrain / "elevation.tif").read_bytes() == b"raster"
    saved = storage.add_study("line", (terrain,), lambda *_: b"{}")
    back_up(data, tmp_path / "all.zip")
    restore(tmp_path / "all.zip", tmp_path / "again")
    again = Storage(ServiceSettings(data=tmp_path / "again"))
    assert again.terrain_path(terrain).read_bytes() == b"raster"
    assert again.study(saved.study) == saved

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from api.errors import NotFound, StaleRevision, TerrainInUse, TooLarge
from api.settings import ServiceSettings
from api.storage import STALE_SECONDS, Storage, etag_of
from routing.errors import StudyFileError


def store(folder: Path, **limits: int) -> Storage:
    return Storage(ServiceSettings(data=folder, **limits))  # type: ignore[arg-type]


def terrain(storage: Storage, content: bytes = b"raster") -> str:
    with storage.incoming_folder() as folder:
        (folder / "elevation.tif").write_bytes(content)
        return storage.add_terrain(folder, "hill", {"cell_m": 5.0}).id


def encode(text: str = "") -> Callable[[str, int], bytes]:
    return lambda identity, revision: f"{identity} {revision} {text}".encode()


def test_add_terrain__keeps_file_and_facts(tmp_path: Path) -> None:
    storage = store(tmp_path)
    identity = terrain(storage)
    assert storage.terrain_path(identity).read_bytes() == b"raster"
    assert storage.terrain(identity).facts == {"cell_m": 5.0}
    assert list(storage.incoming.iterdir()) == []


def test_add_terrain__failed_move_leaves_no_row(tmp_path: Path) -> None:
    storage = store(tmp_path)
    with pytest.raises(FileNotFoundError):
        storage.add_terrain(tmp_path / "nowhere", "hill", {})
    assert storage.terrains() == []


def test_incoming_folder__error_leaves_nothing(tmp_path: Path) -> None:
    storage = store(tmp_path)
    with pytest.raises(FileNotFoundError), storage.incoming_folder() as folder:
        storage.add_terrain(folder / "missing", "hill", {})
    assert list(storage.incoming.iterdir()) == []


def test_add_study__document_is_kept_to_the_byte(tmp_path: Path) -> None:
    storage = store(tmp_path)
    saved = storage.add_study("line", (terrain(storage),), encode())
    assert saved.document == f"{saved.study} 1 ".encode()
    assert saved.etag == etag_of(saved.document)
    assert store(tmp_path).study(saved.study) == saved  # after a restart


def test_add_study__unknown_terrain_leaves_nothing(tmp_path: Path) -> None:
    storage = store(tmp_path)
    with pytest.raises(NotFound, match="terrain"):
        storage.add_study("line", ("0" * 16,), encode())
    assert storage.studies() == []
    assert storage.count("studies") == 0


def test_replace_study__needs_the_newest_tag(tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    first = storage.add_study("line", (hill,), encode())
    second = storage.replace_study(first.study, first.etag, "line b", (hill,), encode("b"))
    assert second.revision == 2
    with pytest.raises(StaleRevision):
        storage.replace_study(first.study, first.etag, "line c", (hill,), encode("c"))
    assert storage.study(first.study) == second
    assert [row.name for row in storage.studies()] == ["line b"]


@pytest.mark.parametrize("tag", ["*", '"other", {etag}', "{etag}"])
def test_replace_study__if_match_forms(tag: str, tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    first = storage.add_study("line", (hill,), encode())
    tags = tag.format(etag=first.etag)
    assert storage.replace_study(first.study, tags, "n", (hill,), encode()).revision == 2


def test_replace_study__of_many_at_once_exactly_one_wins(tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    first = storage.add_study("line", (hill,), encode())
    start = threading.Barrier(8)

    def change(number: int) -> bool:
        def encode_together(identity: str, revision: int) -> bytes:
            start.wait(10)  # everybody has checked the tag, nobody has written
            return f"{revision} by {number}".encode()

        try:
            storage.replace_study(first.study, first.etag, "n", (hill,), encode_together)
        except StaleRevision:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        won = list(pool.map(change, range(8)))
    assert sum(won) == 1
    assert storage.study(first.study).document == f"2 by {won.index(True)}".encode()


def test_replace_study__keeps_only_so_many_revisions(tmp_path: Path) -> None:
    storage = store(tmp_path, max_revisions=2)
    hill = terrain(storage)
    saved = storage.add_study("line", (hill,), encode())
    for _ in range(4):
        saved = storage.replace_study(saved.study, saved.etag, "line", (hill,), encode())
    with sqlite3.connect(tmp_path / "leatline.sqlite3") as connection:
        kept = [row[0] for row in connection.execute("SELECT revision FROM revisions")]
    connection.close()
    assert kept == [4, 5]


def test_delete_terrain__not_while_a_study_needs_it(tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    saved = storage.add_study("line", (hill,), encode())
    with pytest.raises(TerrainInUse, match=saved.study):
        storage.delete_terrain(hill)
    storage.delete_study(saved.study, saved.etag)
    storage.delete_terrain(hill)
    assert storage.terrains() == []
    with pytest.raises(NotFound):
        storage.delete_terrain(hill)


def test_delete_study__stale_tag_deletes_nothing(tmp_path: Path) -> None:
    storage = store(tmp_path)
    saved = storage.add_study("line", (terrain(storage),), encode())
    with pytest.raises(StaleRevision):
        storage.delete_study(saved.study, '"stale"')
    assert storage.study(saved.study) == saved


def test_storage__limits_are_kept(tmp_path: Path) -> None:
    storage = store(tmp_path, max_terrains=1, max_studies=1)
    hill = terrain(storage)
    storage.add_study("line", (hill,), encode())
    with pytest.raises(TooLarge, match="LEATLINE_MAX_STUDIES"):
        storage.add_study("line", (hill,), encode())
    with pytest.raises(TooLarge, match="LEATLINE_MAX_TERRAINS"):
        terrain(storage)
    assert len(list(storage.terrain_folder.iterdir())) == 1


def test_storage__process_killed_while_writing_leaves_the_state_before(tmp_path: Path) -> None:
    storage = store(tmp_path)
    saved = storage.add_study("line", (terrain(storage),), encode())
    script = (
        "import os, pathlib, sys\n"
        "from api.settings import ServiceSettings\n"
        "from api.storage import Storage\n"
        "storage = Storage(ServiceSettings(data=pathlib.Path(sys.argv[1])))\n"
        "with storage.database.write() as connection:\n"
        "    connection.execute('UPDATE studies SET revision = 2, name = ?', ('half',))\n"
        "    os._exit(9)\n"
    )
    child = subprocess.run([sys.executable, "-c", script, str(tmp_path)], check=False)
    assert child.returncode == 9
    assert store(tmp_path).study(saved.study) == saved
    assert [row.name for row in storage.studies()] == ["line"]


def test_storage__start_sweeps_only_old_leftovers(tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    old, young = storage.incoming / "old", storage.incoming / "young"
    orphan = storage.terrain_folder / "orphan"
    for folder in (old, young, orphan):
        folder.mkdir()
        (folder / "elevation.tif").write_bytes(b"x")
    past = os.stat(old).st_mtime - STALE_SECONDS - 10
    for folder in (old, orphan, storage.terrain_folder / hill):
        os.utime(folder, (past, past))
    store(tmp_path)
    assert [path.name for path in storage.incoming.iterdir()] == ["young"]
    assert [path.name for path in storage.terrain_folder.iterdir()] == [hill]


def test_storage__folder_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    store(tmp_path)
    with sqlite3.connect(tmp_path / "leatline.sqlite3") as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    with pytest.raises(StudyFileError, match="newer version"):
        store(tmp_path)

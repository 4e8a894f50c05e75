from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import CRS, upload, write_hill
from leatline_command import clean, leatline
from printed import printed
from waiting import PATIENCE_SECONDS, answers, until

from api.folder import MANIFEST
from routing.line import read_route
from routing.outputs import OUTPUT_FILES, PAPER_FILES
from routing.papers import EXPORTS
from routing.record import study_document, to_json
from routing.settings import read_settings
from routing.study import run_study
from routing.terrain import open_terrain

ROOT = Path(__file__).parents[2]


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()} - {MANIFEST}


def test_study__writes_every_file_and_a_summary(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path
) -> None:
    done = leatline(
        "study", line_file, "--terrain", hill, "--settings", settings_file, cwd=tmp_path
    )
    said = clean(done, 0)
    folder = tmp_path / "beck-line"
    assert names(folder) == set(OUTPUT_FILES)
    assert all(path.stat().st_size for path in folder.iterdir())
    study = json.loads((folder / "study.json").read_bytes())
    printed = done.stdout.decode()
    for fitting in [*study["vents"], *study["drains"]]:
        assert f"{fitting['id']} " in printed
    assert f"{study['summary']['gross_head_m']:.1f} m" in printed
    assert study["cautions"][0]["text"][:40] in printed
    assert all(found["message"] in said for found in study["warnings"])
    assert "beck-line" in said


def test_study__default_folder_is_always_a_new_one(
    hill: Path, line_file: Path, tmp_path: Path
) -> None:
    for _ in range(2):
        clean(leatline("study", line_file, "--terrain", hill, cwd=tmp_path), 0)
    assert {"beck-line", "beck-line-2"} <= names(tmp_path)


def test_study__us_units(hill: Path, line_file: Path, tmp_path: Path) -> None:
    settings = tmp_path / "us.toml"
    settings.write_text('[study]\nunits = "us"\n')
    done = leatline(
        "study", line_file, "--terrain", hill, "--settings", settings, "--out", "o", cwd=tmp_path
    )
    clean(done, 0)
    assert "psi" in done.stdout.decode()
    assert "kPa" not in done.stdout.decode()


@pytest.mark.parametrize("compiled", [False, True])
def test_study__command_python_and_http_agree_to_the_last_digit(
    compiled: bool,
    hill: Path,
    line_file: Path,
    settings_file: Path,
    client: httpx.Client,
    line: dict[str, Any],
    tables: dict[str, Any],
    tmp_path: Path,
) -> None:
    from routing.compiled import prefer_compiled

    done = leatline(
        "study", line_file, "--terrain", hill, "--settings", settings_file,
        "--out", "o", "--format", "json", cwd=tmp_path,
    )  # fmt: skip
    clean(done, 0)
    assert done.stdout == (tmp_path / "o" / "study.json").read_bytes()
    by_command = json.loads(done.stdout)
    prefer_compiled(compiled)
    try:
        study = run_study(
            open_terrain([hill], rmse_m=0.8), read_route(line_file), read_settings(settings_file)
        )
        by_python = json.loads(to_json(study_document(study)))
        body = {"terrain": upload(client, hill).json()["id"], "route": line, "settings": tables}
        saved = client.post("/api/studies", json=body).json()
        preview = client.post("/api/preview", json=body).json()
    finally:
        prefer_compiled(False)
    for key in ("id", "revision", "terrain_ids"):
        del saved[key]
    assert saved == preview
    assert by_python == by_command
    assert preview == by_command


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["study"], "ROUTE"),
        (["study", "{line}"], "--terrain"),
        (["study", "{line}", "--terrain", "{hill}", "--bad"], "--bad"),
        (["study", "{line}", "--terrain", "{hill}", "--format", "xml"], "xml"),
        (["study", "missing.geojson", "--terrain", "{hill}"], "missing.geojson"),
        (["study", "{line}", "--terrain", "missing.tif"], "missing.tif"),
        (["study", "{line}", "--terrain", "{line}"], "beck line.geojson"),
        (["study", "{hill}", "--terrain", "{hill}"], "hill.tif"),
        (["study", "{line}", "--terrain", "{hill}", "--settings", "no.toml"], "no.toml"),
        (["study", "{line}", "--terrain", "{hill}", "--settings", "{line}"], "TOML"),
        (["study", "{line}", "--terrain", "{hill}", "--out", "{line}"], "--out"),
        (["study", "{line}", "--terrain", "{hill}", "--out", "{line}/x"], "--out"),
        (["terrain"], "DEM"),
        (["terrain", "missing.tif"], "missing.tif"),
        (["export", "missing.json", "--format", "csv", "--out", "a.csv"], "missing.json"),
        (["export", "{line}", "--format", "csv", "--out", "a.csv"], "study"),
        (["export", "{line}", "--format", "exe", "--out", "a.exe"], "gpkg"),
        (["export", "{line}", "--format", "quantities", "--out", "a.pdf"], "bill"),
        (["export", "{line}", "--format", "quantities", "--out", "a.pdf"], "end in .xlsx"),
        (["serve", "--port", "70000"], "65535"),
        (["serve", "--host", "no.such.host.invalid"], "no.such.host.invalid"),
        (["dig"], "dig"),
    ],
    ids=" ".join,
)
def test_bad_input__one_message_code_2_and_nothing_written(
    arguments: list[str], said: str, hill: Path, line_file: Path, tmp_path: Path
) -> None:
    given = [text.format(line=line_file, hill=hill) for text in arguments]
    before = names(tmp_path)
    done = leatline(*given, cwd=tmp_path)
    assert said in clean(done, 2)
    assert done.stdout == b""
    assert names(tmp_path) == before


def test_study__line_off_the_raster_names_the_place(hill: Path, tmp_path: Path) -> None:
    away = tmp_path / "away.geojson"
    away.write_text('{"type": "LineString", "coordinates": [[-16.9, 62.2], [-16.9, 62.3]]}')
    said = clean(leatline("study", away, "--terrain", hill, cwd=tmp_path), 2)
    assert "-16.9" in said
    assert names(tmp_path) == {"away.geojson"}


def test_terrain__says_what_is_understood(hill: Path, tmp_path: Path) -> None:
    done = leatline("terrain", hill, cwd=tmp_path)
    clean(done, 0)
    assert CRS in done.stdout.decode()
    as_json = leatline("terrain", hill, "--format", "json", cwd=tmp_path)
    assert json.loads(as_json.stdout)["crs"] == CRS


def test_terrain__raster_without_crs_is_one_clear_message(tmp_path: Path) -> None:
    bare = write_hill(tmp_path / "bare.tif", crs=None)
    said = clean(leatline("terrain", bare, cwd=tmp_path), 2)
    assert "coordinate system" in said


def test_export__from_a_saved_study(hill: Path, line_file: Path, tmp_path: Path) -> None:
    clean(leatline("study", line_file, "--terrain", hill, "--out", "o", cwd=tmp_path), 0)
    for form in ("gpkg", "csv", "stakes", "package"):
        out = tmp_path / f"line-{form}.{EXPORTS[form].ending}"
        clean(leatline("export", "o/study.json", "--format", form, "--out", out, cwd=tmp_path), 0)
        assert out.stat().st_size > 500
    on_ground = ["--terrain", hill, "--out", tmp_path / "ground.pdf"]
    clean(leatline("export", "o/study.json", "--format", "pdf", *on_ground, cwd=tmp_path), 0)
    assert b"/Image" in (tmp_path / "ground.pdf").read_bytes()
    missing = leatline(
        "export", "o/study.json", "--format", "csv", "--out", "no/a.csv", cwd=tmp_path
    )
    assert "no" in clean(missing, 2)


def test_demo__ends_by_itself_with_every_file(tmp_path: Path) -> None:
    done = leatline("demo", cwd=tmp_path)
    assert "map.html" in clean(done, 0)
    assert names(tmp_path) == {"leatline-demo"}
    given = {"otterfell.tif", "otterfell-line.geojson", "otterfell.toml"}
    assert names(tmp_path / "leatline-demo") == {*OUTPUT_FILES, *PAPER_FILES, *given}
    again = next(
        line.split()[1:] for line in done.stderr.decode().splitlines() if " --settings " in line
    )
    clean(leatline(*again, "--out", "again", cwd=tmp_path), 0)
    assert (tmp_path / "again/study.json").read_bytes() == (
        tmp_path / "leatline-demo/study.json"
    ).read_bytes()


def test_new__makes_a_folder_and_says_what_comes_next(tmp_path: Path) -> None:
    done = leatline("new", "mine", cwd=tmp_path)
    assert "Wrote mine/line.geojson" in clean(done, 0)
    assert names(tmp_path / "mine") == {"settings.toml", "line.geojson", "next.txt"}
    assert "leatline study mine/line.geojson" in done.stdout.decode()
    assert "settings.toml is already there" in clean(leatline("new", "mine", cwd=tmp_path), 2)


def test_help__imports_nothing_heavy(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from api.cli import app\n"
        "heavy = {'numpy', 'rasterio', 'fastapi', 'pydantic', 'folium', 'scipy', 'pandas'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    assert printed(code) == "[]"


def test_study__does_without_heavy_libraries(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path
) -> None:
    code = (
        "import sys\n"
        "from api import cli\n"
        "try:\n    cli.main()\n"
        "finally:\n"
        "    heavy = {'scipy', 'numba', 'pint', 'matplotlib', 'fastapi', 'pandas', 'geopandas'}\n"
        "    heavy |= {'folium.features', 'requests'}\n"
        "    there = {name for name, module in sys.modules.items() if module is not None}\n"
        "    print(sorted(heavy & there), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "study", line_file, "--terrain", hill, "--settings",
         settings_file, "--out", "o"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert done.stderr.splitlines()[-1] == "[]"


def test_lean_start__package_read_in_parts_is_whole_for_whoever_asks_for_it() -> None:
    code = (
        "import sys\n"
        "from api.lean import start_lean\n"
        "start_lean()\n"
        "from folium.vector_layers import PolyLine\n"
        "print('folium.features' in sys.modules)\n"
        "import folium\n"
        "print(folium.PolyLine is PolyLine, 'folium.features' in sys.modules)\n"
    )
    assert printed(code).split() == ["False", "True", "True"]


def test_study__reader_that_goes_away_is_no_fault(
    hill: Path, line_file: Path, tmp_path: Path
) -> None:
    command = f"{sys.executable} -m api.cli study '{line_file}' --terrain '{hill}' --format json"
    done = subprocess.run(
        ["/bin/sh", "-c", f"({command}; echo code $? >&2) | head -c 10 > /dev/null"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "fault" not in done.stderr.split("code")[-1]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_study__stopped_in_the_middle_leaves_nothing(
    number: signal.Signals, hill: Path, line_file: Path, tmp_path: Path
) -> None:
    out = tmp_path / "deep" / "o"
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", "study", line_file, "--terrain", hill, "--out", out],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
    )
    until(  # the draft is about to be written
        lambda: out.parent.exists() or process.poll() is not None, "the folder", pause_s=0.001
    )
    process.send_signal(number)
    _, said = process.communicate(timeout=PATIENCE_SECONDS)
    if process.returncode == 0:  # it was done before the signal came
        assert names(out) == set(OUTPUT_FILES)
        return
    assert process.returncode in (130, 143)
    assert b"Traceback" not in said
    assert not (tmp_path / "deep").exists()


def test_serve__answers_and_stops_on_a_signal(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", "serve", "--port", "0", "--data", tmp_path / "data"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    address = process.stderr.readline().split()[3]
    try:
        until(lambda: answers(address.rstrip("/")), "the service to answer")
        assert httpx.get(f"{address}api/health").json()["status"] == "ok"
    finally:
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=PATIENCE_SECONDS)
    assert "Traceback" not in said
    assert process.returncode in (0, 130)


def test_serve__port_in_use(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = leatline("serve", "--port", port, "--data", tmp_path / "d", cwd=tmp_path)
    assert port in clean(done, 2)
    assert names(tmp_path) == set()


def test_serve__data_folder_that_cannot_be_used(line_file: Path, tmp_path: Path) -> None:
    in_the_way = leatline("serve", "--port", "0", "--data", line_file, cwd=tmp_path)
    assert "--data" in clean(in_the_way, 2)
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "leatline.sqlite3").write_bytes(b"this is no database" * 100)
    assert "--data" in clean(leatline("serve", "--port", "0", "--data", broken, cwd=tmp_path), 2)

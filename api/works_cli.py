"""``leatline works``: the plan of commissioning, and what gauge readings say."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer
from typer.core import TyperGroup

from api.terminal import tell
from routing.errors import InputError

if TYPE_CHECKING:
    from routing.crew import Photo

__all__ = ["works_app"]

PLAN, RECORDS = "plan", "records"
MOST_PHOTO = 50_000_000
"""Largest photograph that a file of records may hold [bytes]."""


class _PlanUnlessNamed(TyperGroup):
    """A group whose first command runs where none is named: ``works STUDY.json``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if args and args[0] not in self.commands and args[0] != "--help":
            args = [PLAN, *args]
        return super().parse_args(ctx, args)


works_app = typer.Typer(
    cls=_PlanUnlessNamed,
    help="Plan the filling, testing and draining of a saved study's line.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Saved = Annotated[Path, typer.Argument(metavar="STUDY.json", help="A saved study.")]
Format = Annotated[
    str,
    typer.Option("--format", help="What goes to standard output: text or json.", metavar="FORMAT"),
]


@works_app.command(PLAN)
def plan(
    saved: Saved,
    out: Annotated[
        Path | None, typer.Option(help="File to write instead: .txt, .json or .pdf.")
    ] = None,
    answer: Format = "text",
    language: Annotated[
        str | None,
        typer.Option(metavar="CODE", help="Its language, such as es; else the study's."),
    ] = None,
) -> None:
    """Print or write the plan: hold points, filling, flushing, tests, gauges, draining."""
    from routing.document import damage_named, read_document
    from routing.papers import in_language

    document = in_language(read_document(saved), "works", language)
    if document.get("works") is None:
        raise InputError(
            f"{saved} has no plan of works, as its study has no pipe.",
            "Give a [[pipe]] table and run the study again.",
        )
    if out is None:
        with damage_named(document):
            _say(_as_json(document) if _wants_json(answer) else _as_text(document))
        return
    from api.folder import output_file
    from routing.papers.files import write_bytes

    if not out.parent.is_dir():
        raise InputError(f"The folder {out.parent} does not exist.", "Make it, or change --out.")
    with output_file(out), damage_named(document):
        write_bytes(out, _file(document, out.suffix.lower()))
    tell(f"Wrote {out}")


@works_app.command()
def diagnose(
    saved: Saved,
    shut: Annotated[
        list[str] | None,
        typer.Option(metavar="KPA@TAP", help="Reading with the outlet shut; may be repeated."),
    ] = None,
    running: Annotated[
        list[str] | None,
        typer.Option(metavar="KPA@TAP", help="Reading while water runs; may be repeated."),
    ] = None,
    flow: Annotated[str | None, typer.Option(help='Flow while it ran, such as "12 L/s".')] = None,
    answer: Format = "text",
) -> None:
    """Say what gauge readings mean: what fits, with what odds, what to read next."""
    from routing.document import damage_named, read_document
    from routing.works_study import diagnose_document, diagnosis_record

    wants_json = _wants_json(answer)
    document = read_document(saved)
    with damage_named(document):
        found = diagnosis_record(diagnose_document(document, shut or (), running or (), flow))
    if wants_json:
        from routing.record import to_json

        _say(to_json(found))
    else:
        _print_diagnosis(document, found, sys.stdout)


@works_app.command(context_settings={"allow_interspersed_args": True})
def asbuilt(
    saved: Saved,
    records: Annotated[
        list[Path],
        typer.Argument(metavar="RECORDS...", help="Files of records, as field sheets save them."),
    ],
    terrain: Annotated[
        list[Path],
        typer.Option(
            "--terrain", metavar="DEM", help="Elevation raster of the study; may be repeated."
        ),
    ],
    out: Annotated[Path, typer.Option(help="Folder for the files.")],
    papers: Annotated[
        bool, typer.Option("--papers", help="Sheets, report, workbook and the rest too.")
    ] = False,
    answer: Format = "text",
) -> None:
    """Run the whole study again on the levels as built; write map and files, marked so."""
    from api.earlier import take_photos
    from api.folder import output_folder
    from api.summary import print_built, print_summary, print_warnings
    from api.tongue import shown_in
    from routing.as_built_study import as_built_document
    from routing.document.files import read_document
    from routing.outputs import write_outputs, write_papers
    from routing.record import to_json
    from routing.settings import settings_from_mapping
    from routing.study import open_study_terrain
    from routing.words import speaking

    wants_json = _wants_json(answer)
    document = read_document(saved)
    brought, photos = _brought(records)
    opened = open_study_terrain(terrain, settings_from_mapping(document.get("settings") or {}))
    found = as_built_document(document, brought, opened)
    with output_folder(out) as folder:
        write_outputs(found, opened, folder.draft)
        if papers:
            write_papers(found, opened, folder.draft)
    _keep_photos(photos, folder.place)
    take_photos(found, saved.parent, folder.place)
    if wants_json:
        _say(to_json(found))
    else:
        with speaking(shown_in(None, sys.stdout)):
            print_summary(found, sys.stdout)
            print_built(found, sys.stdout)
    sys.stdout.flush()
    with speaking(shown_in(None, sys.stderr)):
        print_warnings(found, sys.stderr)
    for line in folder.told("map.html"):
        tell(line)


@works_app.command(RECORDS)
def bring(
    saved: Saved,
    records: Annotated[
        list[Path],
        typer.Argument(metavar="RECORDS...", help="Files of records, as field sheets save them."),
    ],
) -> None:
    """Take crews' records into a saved study, so that its papers show them."""
    from api.folder import still_ours
    from api.summary import print_conflicts, print_tests
    from routing.crew import conflicts
    from routing.document.files import read_document, write_document
    from routing.record import check_records, with_records
    from routing.record.built import built_levels

    document = read_document(saved)
    brought, photos = _brought(records)
    check_records(document, brought)
    _keep_photos(photos, saved.parent)
    before = len(document.get("records") or ())
    found = with_records(document, brought)
    with still_ours(saved):
        write_document(found, saved)
    print_tests(found, sys.stdout)
    print_conflicts(conflicts(found["records"]), sys.stdout)
    news = len(found["records"]) - before
    typer.echo(f"{news} records are new in {saved}; export its papers anew.", err=True)
    if any(each["kind"] == "asbuilt" and each["invert_m"] is not None for each in brought):
        try:
            built_levels(document, brought, stick_m=1.0)
        except InputError as exc:  # what a crew brings home is kept, and doubted aloud
            typer.echo(f"warning: {exc}", err=True)


def _brought(paths: list[Path]) -> tuple[list[dict[str, Any]], tuple[Photo, ...]]:
    """Return the records of all files as one list, and the photographs in them apart."""
    from routing.crew import merged, photos_apart, read_records

    records, photos = photos_apart([r for path in paths for r in read_records(path)], MOST_PHOTO)
    return merged(records), photos


def _keep_photos(photos: tuple[Photo, ...], folder: Path) -> None:
    """Write photographs as files into the folder beside a study to which its records point."""
    from routing.papers.files import write_bytes

    if photos:
        (folder / "photos").mkdir(exist_ok=True)
    for photo in photos:
        write_bytes(folder / "photos" / photo.name, photo.data)


def _wants_json(answer: str) -> bool:
    if answer not in ("text", "json"):
        raise InputError(f"--format {answer} is not a format.", "Choose text or json.")
    return answer == "json"


def _say(data: bytes) -> None:
    sys.stdout.flush()
    sys.stdout.buffer.write(data + b"\n")
    sys.stdout.buffer.flush()


def _file(document: Mapping[str, Any], ending: str) -> bytes:
    if ending == ".json":
        return _as_json(document)
    if ending == ".pdf":
        from routing.papers.works import works_pdf

        return works_pdf(document)
    if ending in (".txt", ""):
        return _as_text(document)
    raise InputError(
        f"A plan of works cannot be written as {ending}.", "End the file in .txt, .json or .pdf."
    )


def _as_json(document: Mapping[str, Any]) -> bytes:
    from api.study_schema import WORKS_KEYS
    from routing.record import to_json

    return to_json({key: document[key] for key in WORKS_KEYS})


def _as_text(document: Mapping[str, Any]) -> bytes:
    import io

    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from routing.papers.works import works_told

    stream = io.StringIO()
    console = Console(file=stream, highlight=False, width=140)
    for part in works_told(document):
        console.print(Text(part.title.upper(), style="bold"))
        for caution in part.cautions:
            console.print(Text(f"! {caution}"))
        for label, value in part.facts:
            console.print(Text(f"{label}: {value}"))
        if part.rows:
            table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0))
            for head in part.heads:
                table.add_column(head)
            for row in part.rows:
                table.add_row(*map(Text, row))
            console.print(table)
        console.print()
    return stream.getvalue().encode()


def _print_diagnosis(document: Mapping[str, Any], found: Mapping[str, Any], stream: TextIO) -> None:
    from routing.papers.works.part import leak_text
    from routing.units import show

    units = document["units"]
    if found["decided"]:
        stream.write("Decided.\n")
    elif found["read"]:
        how = "with water running" if found["running"] else "with the outlet shut"
        stream.write(f"Not decided: read the gauge at {found['read'][0]} {how}.\n")
    else:
        stream.write("Not decided: no gauge tells more. Shut the valves between and read again.\n")
    if not found["fits"]:
        stream.write("Nothing that was tried agrees with the readings: read the gauges again.\n")
    for each in found["causes"]:
        words = [f"{100.0 * each['odds']:3.0f} %  {each['cause']}"]
        if each["from_m"] is not None:
            ends = (show(each[end], "station", units) for end in ("from_m", "to_m"))
            words.append(" to ".join(ends))
        if each["vent_id"] is not None:
            words.append(f"below {each['vent_id']}")
        if each["height_m"] is not None:
            words.append(show(each["height_m"], "head", units))
        if each["flow_m3_s"] is not None:
            words.append(f"{leak_text(each['flow_m3_s'], units)} at rest")
        stream.write(", ".join(words) + f". {each['next']}\n")

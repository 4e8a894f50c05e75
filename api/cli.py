"""The ``leatline`` command.

Exit codes: 0 done; 2 usage or bad input, with one message on standard error; 1 a fault of ours.
Whatever takes time to import is imported by the command that needs it.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from api.access.cli import access_app
from api.ending import BAD_INPUT, asked_language, end, run_command
from api.host_cli import backup, restore, serve, with_log_place
from api.lean import start_lean
from api.screen_cli import screen
from api.search_cli import search
from api.terminal import Answer, Format, Terrain, Tongue, tell, working, write_stdout
from api.tongue import shown_in
from api.trash_cli import trash_app
from api.works_cli import works_app
from routing.errors import InputError
from routing.words import said, said_message, speaking

if TYPE_CHECKING:
    from api.folder import OutputFolder
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["main"]

app = typer.Typer(
    name="leatline",
    help="Plan a small gravity pipeline: from a line over terrain to a laid pipe.",
    add_completion=True,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

# An argument's name says what it is; the library would put its type in Python beside it.
typer.core.TyperArgument.display_type_rich = lambda _self, ctx: None  # type: ignore

app.add_typer(works_app, name="works")
app.add_typer(access_app, name="access")
app.add_typer(trash_app, name="trash")
for hosted in (serve, backup, restore):
    app.command()(hosted)
app.command()(search)
app.command()(screen)


@app.callback(invoke_without_command=True)
def leatline(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Plan a small gravity pipeline: from a line over terrain to a laid pipe."""
    if version:
        from routing import __version__

        typer.echo(f"leatline {__version__}")
        raise typer.Exit()


@app.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("leatline-demo"),
    language: Tongue = None,
) -> None:
    """Run the whole job on the sample terrain."""
    import sample_dem
    from api.lines import Lines
    from api.study_run import StudyRun

    sample = sample_dem.sample_paths()
    given = (sample.terrain, sample.line, sample.settings)
    run = StudyRun(
        lines=Lines(paths=(sample.line,)),
        terrain=(sample.terrain,),
        settings=sample.settings,
        papers=True,
        beside=given,
        language=language,
    )
    folder, document = run.written(out, new=False)
    _report(document, folder, Answer.text, language, papers=True)
    terrain, line, settings = (folder.place / path.name for path in given)
    tell("Raster, line and settings lie beside them. Change them and run", language)
    typer.echo(
        f"  leatline study {line} --terrain {terrain} --settings {settings} --papers", err=True
    )


@app.command()
def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder; made if it does not exist.")
    ],
    language: Tongue = None,
) -> None:
    """Make a folder to start from: settings, a line, next commands."""
    from api.start_folder import make_start_folder, next_text

    with speaking(shown_in(language, sys.stdout)):
        made = make_start_folder(folder)
        steps = next_text(folder)
    for path in made:
        tell(f"Wrote {path}", language)
    typer.echo(steps, nl=False)


@app.command()
def study(
    route: Annotated[
        list[Path],
        typer.Argument(
            metavar="ROUTE...",
            help="GeoJSON, GPX, KML, KMZ, GeoPackage, shapefile (zipped too), CSV or WKT; further "
            "ones are lines to compare with the first.",
        ),
    ],
    terrain: Terrain,
    settings: Annotated[Path | None, typer.Option(help="Settings file (TOML).")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the files; else a new one named after ROUTE.")
    ] = None,
    line: Annotated[
        str | None,
        typer.Option(
            help="Which line of several in ROUTE: its name or number; 'all' compares them."
        ),
    ] = None,
    papers: Annotated[
        bool, typer.Option("--papers", help="Sheets, report, workbook, DXF and stake-out list too.")
    ] = False,
    before: Annotated[
        Path | None,
        typer.Option(
            help="Earlier study.json: what lasts keeps its name, what crews recorded comes along; "
            "else the one that lies in --out."
        ),
    ] = None,
    language: Tongue = None,
    answer: Format = Answer.text,
) -> None:
    """Lay the pipe along a line; write map and files."""
    from api.lines import Lines
    from api.study_run import StudyRun
    from routing.papers.document import file_stem

    wanted = out if out is not None else Path(file_stem(route[0].stem))
    run = StudyRun(
        lines=Lines(paths=tuple(route), choice=line),
        terrain=tuple(terrain),
        settings=settings,
        papers=papers,
        before=before,
        language=language,
    )
    folder, document = run.written(wanted, new=out is None)
    _report(document, folder, answer, language, papers=papers)


@app.command()
def terrain(
    dem: Annotated[list[Path], typer.Argument(metavar="DEM...", help="Raster, or its tiles.")],
    streams: Annotated[
        Path | None, typer.Option(help="Write its streams to this file (GeoJSON).")
    ] = None,
    threshold: Annotated[
        str, typer.Option(help="Least catchment of a stream, with --streams.")
    ] = "0.1 km2",
    language: Tongue = None,
    answer: Format = Answer.text,
) -> None:
    """Print what is understood of an elevation raster; its streams to a file."""
    from api.summary import print_terrain
    from routing.papers.given import code_words
    from routing.record import to_json
    from routing.terrain import describe_terrain, open_terrain

    with working("Reading the raster"):
        opened = open_terrain(dem)
        facts = describe_terrain(opened)
    if streams is not None:
        from api.streams_file import write_streams

        with working("Following the water"):
            write_streams(opened, threshold, streams)
    if answer is Answer.json:
        write_stdout(to_json(facts) + b"\n")
        return
    with speaking(shown_in(language, sys.stdout)):
        print_terrain(facts, sys.stdout)
    sys.stdout.flush()
    with speaking(shown_in(language, sys.stderr)):
        for found in opened.findings:
            told, _ = said_message(code_words(found.code), found.message)
            typer.echo(f"{said(found.severity.capitalize())}: {told}", err=True)


@app.command()
def pipes(
    route: Annotated[Path, typer.Argument(metavar="ROUTE", help="The line, as for study.")],
    terrain: Terrain,
    settings: Annotated[
        Path | None, typer.Option(help="Settings file (TOML); it needs a design flow.")
    ] = None,
    material: Annotated[
        str | None, typer.Option(help="Only pipes of this material, such as PE100.")
    ] = None,
    line: Annotated[
        str | None, typer.Option(help="Which line of several in ROUTE: its name or number.")
    ] = None,
    most: Annotated[int, typer.Option(help="Rows to print.", min=1, max=1000)] = 15,
    language: Tongue = None,
    answer: Format = Answer.text,
) -> None:
    """Try every pipe of the catalogue on a line; print the best."""
    from api.pipes_table import print_pipes
    from routing.choice_study import choose_pipes
    from routing.line import read_route
    from routing.record import to_json
    from routing.settings import Settings, read_settings
    from routing.stream_study import settings_at_intake
    from routing.study import open_study_terrain, run_study

    with working("Trying the pipes"):
        given = read_settings(settings) if settings is not None else Settings()
        drawn = read_route(route, line=line or given.study.line)
        study = run_study(open_study_terrain(terrain, given), drawn, given, pressures=False)
        known = settings_at_intake(given, study.terrain, study.line)
        choice = choose_pipes(study.line, known, name=study.name, material=material)
    if answer is Answer.json:
        write_stdout(to_json(choice) + b"\n")
        return
    with speaking(shown_in(language, sys.stdout)):
        print_pipes(choice, most, sys.stdout)


@app.command()
def doctor(
    data: Annotated[Path | None, typer.Option(help="Folder the service would use.")] = None,
    language: Tongue = None,
) -> None:
    """Try every part the tool stands on; say what is wrong."""
    from api.doctor import trials
    from api.settings import default_data_folder

    with working("Trying every part"):
        tried = trials(data or default_data_folder())
    with speaking(shown_in(language, sys.stdout)):
        for trial in tried:
            told, _ = said_message("", trial.told)
            head = said("works" if trial.works else "FAILS")
            typer.echo(f"{head}  {said(trial.part)}: {told.strip()}")
    if not all(trial.works for trial in tried):
        raise typer.Exit(BAD_INPUT)


@app.command()
def guide(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder; made if it does not exist.")
    ],
) -> None:
    """Write the guide as pages that open without the service."""
    from api.guide_site import write_guide

    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file, not a folder.", "Name another folder.")
    with working("Writing the guide"):
        write_guide(folder)
    tell(f"Wrote {folder}{os.sep}; open index.html first.")


@app.command()
def export(
    saved: Annotated[Path, typer.Argument(metavar="STUDY.json", help="A saved study.")],
    form: Annotated[
        str,
        typer.Option(
            "--format",
            help="pdf (sheets), report, alternatives, works, package, xlsx, quantities, bill, dxf, "
            "landxml, ifc, stakes, gpkg, geojson, kml, gpx, csv, svg, json or shp.",
            metavar="FORMAT",
        ),
    ],
    out: Annotated[Path, typer.Option(help="File to write; its name ends as the format does.")],
    terrain: Annotated[
        list[Path] | None,
        typer.Option(
            "--terrain", metavar="DEM", help="Raster for relief and contours on the sheets."
        ),
    ] = None,
    language: Annotated[
        str | None,
        typer.Option(
            metavar="CODE",
            help="Language of sheets and works plan, such as es; else the study's.",
        ),
    ] = None,
) -> None:
    """Write a saved study as papers or as a file for another program."""
    from api.folder import output_file
    from routing import papers
    from routing.document import damage_named
    from routing.record import read_document

    if form not in papers.EXPORTS:
        known = ", ".join(papers.EXPORTS)
        raise InputError(f"--format {form} is not a format.", f"Choose one of: {known}.")
    papers.need_ending(form, out)
    document = papers.in_language(read_document(saved), form, language)
    if out.exists() and out.samefile(saved):
        raise InputError(f"--out {out} is the study itself.", "Name another file.")
    if not out.parent.is_dir():
        raise InputError(f"The folder {out.parent} does not exist.", "Make it, or change --out.")
    with output_file(out), damage_named(document), working("Writing"):
        relief: Relief | None = None
        contours: tuple[DrawnContour, ...] = ()
        if terrain and papers.EXPORTS[form].shows_terrain:
            from routing.outputs import study_contours, study_relief
            from routing.settings import settings_from_mapping
            from routing.study import open_study_terrain

            given = settings_from_mapping(document.get("settings") or {})
            opened = open_study_terrain(terrain, given)
            relief, contours = study_relief(document, opened), study_contours(document, opened)
        papers.export(document, form, out, relief, contours)
    tell(f"Wrote {out}")


def _report(
    document: dict[str, Any],
    folder: OutputFolder,
    answer: Answer,
    language: str | None,
    *,
    papers: bool = False,
) -> None:
    """Say what came of a study: the study on standard output, then warnings on standard error."""
    from api.summary import PAPERS_IN_ENGLISH, print_summary, print_warnings

    if answer is Answer.json:
        write_stdout((folder.place / "study.json").read_bytes())
    else:
        with speaking(shown_in(language, sys.stdout)):
            print_summary(document, sys.stdout)
    sys.stdout.flush()
    with speaking(shown_in(language, sys.stderr)):
        print_warnings(document, sys.stderr)
    if papers and document.get("language", "en") != "en":
        tell(PAPERS_IN_ENGLISH, language)
    for line in folder.told("map.html"):
        tell(line, language)


def _run(arguments: list[str], **how: Any) -> Any:
    """Run a command line; its help in the language asked for, else this machine's."""
    command = typer.main.get_command(app)
    if "--help" in arguments or len(arguments) < 2:
        from api.help_words import speak_help

        speak_help(command, asked_language(arguments))
    return command(arguments, **how)


def main() -> NoReturn:
    """Run the command line; every way out is an exit code."""
    signal.signal(signal.SIGTERM, end)  # so that drafts are removed on the way out
    if sys.argv[1:2] in (["study"], ["demo"]):
        start_lean()
    run_command(_run, with_log_place(sys.argv[1:]))


if __name__ == "__main__":
    main()

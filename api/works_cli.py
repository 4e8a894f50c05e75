"""``leatline works``: the plan of commissioning, and what gauge readings say."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, TextIO

import typer
from typer.core import TyperGroup

from routing.errors import InputError

__all__ = ["works_app"]

PLAN = "plan"


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
    str, typer.Option("--format", help="What standard output gets: text or json.", metavar="FORMAT")
]


@works_app.command(PLAN)
def plan(
    saved: Saved,
    out: Annotated[
        Path | None, typer.Option(help="File to write instead: .txt, .json or .pdf.")
    ] = None,
    answer: Format = "text",
) -> None:
    """Print or write the plan: hold points, filling, flushing, tests, gauges, draining."""
    from routing.document.files import read_document

    document = read_document(saved)
    if document.get("works") is None:
        raise InputError(
            f"{saved} has no plan of works, as its study has no pipe.",
            "Give a [[pipe]] table and run the study again.",
        )
    if out is None:
        _say(_as_json(document) if _wants_json(answer) else _as_text(document))
        return
    from routing.papers.files import write_bytes

    if not out.parent.is_dir():
        raise InputError(f"The folder {out.parent} does not exist.", "Make it, or change --out.")
    write_bytes(out, _file(document, out.suffix.lower()))
    typer.echo(f"Wrote {out}", err=True)


@works_app.command()
def diagnose(
    saved: Saved,
    shut: Annotated[
        list[str] | None,
        typer.Option(help="Reading with the outlet shut, kPa@tap; may be repeated."),
    ] = None,
    running: Annotated[
        list[str] | None,
        typer.Option(help="Reading while water runs, kPa@tap; may be repeated."),
    ] = None,
    flow: Annotated[str | None, typer.Option(help='Flow while it ran, such as "12 L/s".')] = None,
    answer: Format = "text",
) -> None:
    """Say what gauge readings mean: what fits, with what odds, what to read next."""
    from routing.document.files import read_document
    from routing.works_study import diagnose_document, diagnosis_record

    wants_json = _wants_json(answer)
    document = read_document(saved)
    found = diagnosis_record(diagnose_document(document, shut or (), running or (), flow))
    if wants_json:
        from routing.record import to_json

        _say(to_json(found))
    else:
        _print_diagnosis(document, found, sys.stdout)


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

    from routing.papers.works import works_parts

    stream = io.StringIO()
    console = Console(file=stream, highlight=False, width=140)
    for part in works_parts(document):
        if not (part.rows or part.facts):
            continue
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
            words.append(f"{show(each['flow_m3_s'], 'flow', units)} at rest")
        stream.write(", ".join(words) + f". {each['next']}\n")

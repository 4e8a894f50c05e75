"""Measured ratios of sheets, tables, drawings and the package against bare libraries.

Run as ``python tests/bench/bench_papers_files.py``; nothing here is collected by pytest.
"""

from __future__ import annotations

import io
import itertools
import json
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pypdf
import typst
import xlsxwriter

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from drawn_sheets import longer
from made_study import as_read_from_disk, made_document, made_relief
from timing import best

from routing.papers.document import Document
from routing.papers.dxf import dxf_text
from routing.papers.package import package_zip
from routing.papers.report import report_pdf
from routing.papers.sheet import sheet_pdf
from routing.papers.sheet.ink import Drawing, svg_text
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.style import STYLE
from routing.papers.subject import subjects
from routing.papers.typeset import _fonts
from routing.papers.workbook import workbook

fresh = itertools.count()
"""Typst remembers equal input: every run gets a study with another name."""


def named(count: int = 2000) -> dict[str, Any]:
    """Return a study that no run has seen."""
    return made_document(count=count, name=f"line {next(fresh)}")


def bare_pages(drawings: list[str], width: float, height: float) -> bytes:
    """Return drawings handed bare to typst, one a page."""
    main = (
        f"#set page(width: {width}mm, height: {height}mm, margin: 0mm)\n"
        + "#pagebreak()\n".join(f'#image("{n}.svg")\n' for n in range(len(drawings)))
    )
    files = {f"{n}.svg": text.encode() for n, text in enumerate(drawings)}
    return typst.compile({"main.typ": main.encode(), **files}, format="pdf", font_paths=_fonts())


def bare_workbook(doc: Document) -> None:
    """Write the same cells with the library alone."""
    with xlsxwriter.Workbook(io.BytesIO(), {"in_memory": True}) as book:
        for number, subject in enumerate(subjects(doc)):
            sheet = book.add_worksheet(f"t{number}")
            for row, values in enumerate(subject.rows):
                for col, value in enumerate(values):
                    if value is not None:
                        sheet.write(row, col, value)


def bare_drawing(doc: Document) -> None:
    """Write the same lines and as many blocks and points with the library alone."""
    drawing = ezdxf.new("R2010", setup=["linetypes"])
    space = drawing.modelspace()
    table = doc["stations"]
    places = np.column_stack([table["lon"], table["lat"], table["pipe_m"]])
    for _ in range(2):
        space.add_polyline3d(places.tolist())
    block = drawing.blocks.new("SIGN")
    block.add_lwpolyline([(0, 0), (1, 0), (0, 1)])
    for tag in ("A", "B", "C", "D", "E"):
        block.add_attdef(tag, (0, 0))
    for item in (*doc["vents"], *doc["drains"], *doc["bends"]):
        sign = space.add_blockref("SIGN", (item["lon"], item["lat"]))
        sign.add_auto_attribs(dict.fromkeys(("A", "B", "C", "D", "E"), "x"))
    for k in range(120):
        space.add_point((k, 0))
        space.add_text("x")
        space.add_line((k, 0), (k, 1))
    profile = drawing.layouts.new("Profile")
    for _ in range(4):
        profile.add_lwpolyline(places[:, :2].tolist())
    drawing.write(io.StringIO())


def whole_svg(ink: Drawing) -> str:
    """Return a drawing with the words of its tables, which the page sets; never the same."""
    words = "".join(svg_text(label) for label in ink.labels if label.in_table)
    return ink.svg(STYLE + f"/*{next(fresh)}*/").replace("</svg>", f"{words}</svg>")


def sheets() -> None:
    """Print what a page of a set costs beside the same drawing handed bare to typst, by turns."""
    sheet_pdf(named())
    ours, bare, pages = [], [], 0
    for _ in range(5):
        doc = named()
        start = time.process_time()
        sheet_pdf(doc)
        ours.append(time.process_time() - start)
        paper = paper_of(doc)
        svgs = [whole_svg(sheet.ink) for sheet in sheet_set(doc, paper)]
        pages = len(svgs)
        start = time.process_time()
        bare_pages(svgs, paper.frame_width, paper.frame_height)
        bare.append(time.process_time() - start)
    print(
        f"sheets: {min(ours) / pages * 1e3:.1f} ms of processor a page of {pages}, bare typst "
        f"{min(bare) / pages * 1e3:.1f} ms, {min(ours) / min(bare):.2f} x"
    )


def long_set() -> None:
    """Print what the set of a line of twelve kilometres takes, with relief."""
    spent = []
    for _ in range(2):
        doc = longer(named(6000), 12_000.0)
        start = time.process_time()
        pdf = sheet_pdf(doc, made_relief(doc))
        spent.append(time.process_time() - start)
    count = len(pypdf.PdfReader(io.BytesIO(pdf)).pages)
    print(f"12 km: {count} sheets in {min(spent):.2f} s of processor")


def whole_process() -> None:
    """Print what the package costs as a process beside an import of numpy and rasterio."""
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder) / "study.json"
        study.write_text(json.dumps(as_read_from_disk(named(900))), encoding="utf-8")
        target = Path(folder) / "package.zip"
        command = [sys.executable, "-m", "api.cli", "export", str(study)]
        command += ["--format", "package", "--out", str(target)]

        def run(arguments: list[str]) -> Callable[[], object]:
            return lambda: subprocess.run(arguments, check=True, capture_output=True)

        floor = best(run([sys.executable, "-c", "import numpy, rasterio"]))
        spent = best(run(command), 3)
        names = len(zipfile.ZipFile(target).namelist())
    print(
        f"package of {names} files: {spent:.2f} s, {spent / floor:.1f} x the import ({floor:.2f} s)"
    )


def main() -> None:
    """Print the ratios."""
    sheets()
    long_set()
    doc = named()
    print(f"report: {best(lambda: report_pdf(named(900))) * 1e3:.0f} ms")
    for name, ours, bare in (
        ("xlsx", lambda: workbook(doc), lambda: bare_workbook(doc)),
        ("dxf", lambda: dxf_text(doc), lambda: bare_drawing(doc)),
    ):
        mine, theirs = best(ours), best(bare)
        print(f"{name}: {mine * 1e3:.0f} ms, bare {theirs * 1e3:.0f} ms, {mine / theirs:.2f} x")
    print(f"package in a warm process: {best(lambda: package_zip(named(900)), 3):.2f} s")
    whole_process()


if __name__ == "__main__":
    main()

"""A study asked of the terminal: its files read, the pipe laid, a folder written."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from api.earlier import after, take_photos
from api.folder import OutputFolder, output_folder
from api.lines import Lines, document_of_lines
from api.terminal import working
from routing.outputs import write_outputs, write_papers
from routing.settings import Settings, read_settings
from routing.study import open_study_terrain
from routing.words import language

__all__ = ["StudyRun"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRun:
    """What a study is made of and what is written; files ``beside`` are copied to its folder."""

    lines: Lines
    terrain: tuple[Path, ...]
    settings: Path | None
    papers: bool = False
    beside: tuple[Path, ...] = ()
    before: Path | None = None
    language: str | None = None

    def written(self, out: Path, *, new: bool) -> tuple[OutputFolder, dict[str, Any]]:
        """Run the study and write its files to a folder."""
        with working("Laying the pipe"):
            given = read_settings(self.settings) if self.settings is not None else Settings()
            if self.language is not None:
                code = language(self.language).code
                given = replace(given, study=replace(given.study, language=code))
            drawn = self.lines.routes(given.study.line)
            opened = open_study_terrain(list(self.terrain), given)
            document = document_of_lines(opened, drawn, given)
            document = after(document, None if new else out / "study.json", self.before)
        with output_folder(out, new=new) as folder, working("Writing the files"):
            write_outputs(document, opened, folder.draft)
            if self.papers:
                write_papers(document, opened, folder.draft)
            for path in self.beside:
                shutil.copyfile(path, folder.draft / path.name)
        if self.before is not None:
            take_photos(document, self.before.parent, folder.place)
        return folder, document

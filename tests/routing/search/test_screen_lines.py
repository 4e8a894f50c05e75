"""Lines for the best candidates of a made valley: as many as asked for, as near as they go."""

from __future__ import annotations

import io

import numpy as np
import pytest
from made_valley import CELL_M, told, valley

from api import screen_cli
from routing.errors import NoLine, PipeError
from routing.search.propose import propose
from routing.search.valley import best_studies, screen_document, screen_valley, studies

pytestmark = pytest.mark.usefixtures("compiled")


def silent(_share, _doing):
    """Take no notice of how far the work is."""


def test_best_studies__candidates_without_a_line_say_why(raster, monkeypatch):
    """No more than four are tried for each that was asked for."""
    tried = []

    def refuse(*_args: object) -> None:
        tried.append(1)
        raise PipeError("No pipe holds this head.", "Price stronger pipe.")

    monkeypatch.setattr(studies, "propose", refuse)
    found = screen_valley([raster], told(screen={"top": 2}))
    document = screen_document(found)
    assert list(best_studies(found, document, silent)) == []
    assert len(tried) == 8
    best = document["candidates"]
    assert [each.get("no_line") for each in best[:9]] == ["No pipe holds this head."] * 8 + [None]
    assert "ends of 8 of the best 8 candidates" in document["notes"][-1]
    assert "2 lines were asked for and 0 found." in document["notes"][-1]
    assert document["notes"][1].startswith("Costs are in cubic metres of trench. Priced by usual")
    printed = io.StringIO()
    screen_cli._print(document, "us", printed)
    assert (
        f"Candidate {best[1]['rank']} has no line: No pipe holds this head." in printed.getvalue()
    )


def test_best_studies__the_next_takes_the_place_of_one_without_a_line(raster, monkeypatch):
    def refuse_first(terrain, start, end, settings):
        if start == refused:
            raise PipeError("No pipe holds this head.", "Price stronger pipe.")
        return propose(terrain, start, end, settings)

    found = screen_valley([raster], told(screen={"top": 2}))
    document = screen_document(found)
    refused = tuple(document["candidates"][0]["route"]["geometry"]["coordinates"][0])
    monkeypatch.setattr(studies, "propose", refuse_first)
    laid = list(best_studies(found, document, silent))
    assert len(laid) == 2
    ranks = [each["rank"] for each, _ in laid]
    starts = [tuple(each["route"]["geometry"]["coordinates"][0]) for each in document["candidates"]]
    assert ranks == [at for at, start in enumerate(starts, start=1) if start != refused][:2]
    without = ranks[-1] - 2
    note = next(each for each in document["notes"] if "No line could be laid" in each)
    assert f"ends of {without} of the best {ranks[-1]} candidates" in note
    assert "asked for" not in note


def test_best_studies__an_intake_without_a_line_is_moved_along_its_stream(make_raster):
    """A sill of 1.5 m across the valley, two cells below the best intake, lets none past."""
    heights = valley()
    free = screen_valley([make_raster(heights, cell=CELL_M)], told(screen={"top": 1}))
    best = free.best[0]
    at = int(free.chains.first[free.rated.intake[best]])
    row, col = int(free.chains.row[at]), int(free.chains.col[at])
    # The sill stands above the water that enters here and below that of the cell above.
    heights[:, col + 1] = np.maximum(heights[:, col + 1], heights[row, col] + 1.2)
    heights[row, col - 1] = heights[row, col] + 3.0
    heights[row, col - 2] = heights[row, col] + 3.4
    found = screen_valley([make_raster(heights, cell=CELL_M, name="sill.tif")], told())
    document = screen_document(found)
    starts = free.chains.row[at], free.chains.col[at]
    ranks = [
        number
        for number, each in enumerate(found.best)
        if (
            found.chains.row[found.chains.first[found.rated.intake[each]]],
            found.chains.col[found.chains.first[found.rated.intake[each]]],
        )
        == starts
    ]
    candidate = document["candidates"][ranks[0]]
    study = studies._study(found, candidate)
    assert study is not None
    assert candidate["intake_moved_m"] == pytest.approx(CELL_M, rel=0.01)
    assert study["summary"]["intake_level_m"] == pytest.approx(heights[row, col] + 3.0, abs=1e-3)
    assert not [each for each in study["warnings"] if each["code"] == "above_intake"]


def test_best_studies__where_no_place_near_has_a_line_the_first_reason_stands(raster, monkeypatch):
    def refuse(terrain, start, end, settings):
        raise NoLine(f"None from {start[0]:.5f}.", "Lift it.")

    monkeypatch.setattr(studies, "propose", refuse)
    found = screen_valley([raster], told(screen={"top": 1}))
    document = screen_document(found)
    assert not list(best_studies(found, document, silent))
    first = document["candidates"][0]
    lon = first["route"]["geometry"]["coordinates"][0][0]
    assert first["no_line"] == f"None from {lon:.5f}."
    assert "intake_moved_m" not in first


def test_best_studies__the_line_has_the_pipe_it_was_screened_with(raster):
    found = screen_valley([raster], told(screen={"top": 2}))
    document = screen_document(found)
    for each, study in best_studies(found, document, silent):
        nominal = each["pipe"].split("DN/OD ")[1].split(",")[0]
        pipes = study["settings"]["pipe"]
        assert {pipe["catalogue"].rsplit("-", 1)[1] for pipe in pipes} == {nominal}


def test_best_studies__what_is_wrong_with_a_study_is_told(raster, monkeypatch):
    """A flow that no valve of the time given stops without a surge beyond the pipe."""
    found = screen_valley([raster], told(screen={"top": 2}, turbine={"closure_time": "0.1 s"}))
    document = screen_document(found)
    faults = [
        (each["rank"], sorted({w["code"] for w in study["warnings"] if w["severity"] == "fault"}))
        for each, study in best_studies(found, document, silent)
    ]
    assert [document["candidates"][rank - 1]["faults"] for rank, _ in faults] == [
        codes for _, codes in faults
    ]
    named = ", ".join(f"candidate {rank}" for rank, codes in faults if codes)
    assert named
    assert any(each.endswith(f"must mend: {named}.") for each in document["notes"])

"""What must be bought: lengths with spare and what they weigh."""

from __future__ import annotations

import pytest
from made_study import made_document

from routing.papers.schedule import schedules
from routing.papers.shopping import shopping


def test_schedule__length_with_spare_and_mass_of_the_pipe() -> None:
    doc = made_document()
    (pipe,) = doc["pipes"][:1]
    doc["pipes"] = [dict(pipe, length_m=1234.0, mass_kg_m=5.0), dict(pipe, length_m=266.0)]
    (bought,) = (each for each in schedules(doc) if each.title == "Pipe")
    (row,) = bought.rows
    assert float(row[4]) == pytest.approx(1500.0)
    # Common practice: 4 % for cuts and damage; the mass is that of the pipe in the ground.
    assert float(row[5]) == pytest.approx(1500.0 * 1.04)
    assert float(row[6]) == pytest.approx(1500.0 * 5.0)
    assert "4 %" in bought.note
    # The shopping list buys the same length, in whole metres.
    assert [row[2] for row in shopping(doc).rows if row[0] == "pipe"] == ["1560.0 m"]

"""The study document as the papers read it."""

from __future__ import annotations

import numpy as np
import pytest

from routing.errors import StudyFileError
from routing.papers.document import at_station, column, file_stem, has_flow, near_meridian, plain


def test_column__same_from_arrays_and_from_lists(document, from_disk) -> None:
    fresh = document()
    for name in fresh["stations"]:
        np.testing.assert_array_equal(column(fresh, name), column(from_disk(fresh), name))


def test_column__missing_column_is_nan(document) -> None:
    assert np.isnan(column(document(flow=False), "flowing_head_m")).all()


def test_column__wrong_length_names_the_column(document) -> None:
    doc = document(count=60)
    doc["stations"]["pipe_m"] = [1.0, 2.0]
    with pytest.raises(StudyFileError, match=r"pipe_m.*2 values for 60 stations"):
        column(doc, "pipe_m")


def test_column__no_stations() -> None:
    with pytest.raises(StudyFileError, match="no stations"):
        column({"schema": 1}, "pipe_m")


def test_at_station__between_and_missing(document) -> None:
    doc = document(count=60, flow=False)
    middle = float(doc["stations"]["station_m"][:2].mean())
    assert at_station(doc, "pipe_m", middle) == pytest.approx(doc["stations"]["pipe_m"][:2].mean())
    assert at_station(doc, "flowing_head_m", middle) is None


def test_has_flow__only_with_flow(document) -> None:
    assert has_flow(document())
    assert not has_flow(document(flow=False))


def test_plain__drops_what_xml_forbids() -> None:
    assert plain("a\x00b\x0bc\ud800d\nе😀\ufffe") == "abcd е😀"


def test_file_stem__no_separators_left() -> None:
    assert file_stem("../../etc/passwd <x>") == "etc-passwd-x"
    assert file_stem("///") == "study"


def test_near_meridian__array_follows_the_reference() -> None:
    np.testing.assert_allclose(near_meridian(np.array([179.9, -179.9]), 179.9), [179.9, 180.1])
    assert near_meridian(12.0, 13.0) == 12.0

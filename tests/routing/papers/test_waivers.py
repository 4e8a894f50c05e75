"""What somebody answers for stands on every paper that a next person acts on by itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO, StringIO
from typing import Any

import ezdxf
import pypdf
import pytest

from routing.papers import profile_svg
from routing.papers.dxf import dxf_text
from routing.papers.given import MARK, status
from routing.papers.gps import gpx_text, kml_text
from routing.papers.quantities import quantities_pdf

REASON = "burst test of 12 November"


def _waived(document: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    doc = document()
    doc["settings"] = {"sheet": {"signed": "O. Elm 2026-11-25"}}
    doc["waivers"] = [{"code": "over_rating", "reason": REASON, "name": "O. E.", "covers": 1}]
    return doc


def _pdf(doc: dict[str, Any]) -> str:
    pages = pypdf.PdfReader(BytesIO(quantities_pdf(doc))).pages
    return " ".join(page.extract_text() for page in pages)


def _dxf(doc: dict[str, Any]) -> str:
    drawing = ezdxf.read(StringIO(dxf_text(doc)))
    return " ".join(text.dxf.text for text in drawing.modelspace().query("TEXT"))


PAPERS: dict[str, Callable[[dict[str, Any]], str]] = {
    "gpx": gpx_text,
    "kml": kml_text,
    "profile": profile_svg,
    "quantities": _pdf,
    "dxf": _dxf,
}


def _bare(text: str) -> str:
    return re.sub(r"\s+", "", re.sub(r"<[^>]+>", "", text)).replace("&#x27;", "'")


@pytest.mark.parametrize("name", PAPERS)
def test_papers__tell_who_answers_for_what_beside_the_mark_or_the_name(
    document: Callable[..., dict[str, Any]], name: str
) -> None:
    doc = _waived(document)
    doc["verdict"] |= {"open": [], "preliminary": False}
    told = _bare(PAPERS[name](doc))
    assert _bare("Answered for: the static pressure is above the pipe's rating, by O. E.") in told
    assert _bare(REASON) in told
    assert _bare("Signed: O. Elm") in told
    doc["verdict"] |= {"faults": 1, "open": ["siphon"], "preliminary": True}
    told = _bare(PAPERS[name](doc))
    assert _bare(f"{MARK}: 1 fault") in told
    assert _bare("Left open:") in told


def test_status__counts_what_nobody_answers_for(document: Callable[..., dict[str, Any]]) -> None:
    doc = _waived(document)
    found = {"code": "over_rating", "severity": "fault", "message": "", "station_m": None}
    check = {"subject": "x", "severity": "fault", "passed": False}
    unsettled = check | {"severity": "warning"}
    doc["warnings"] = [found | {"waived": True}, found | {"code": "siphon", "waived": False}]
    doc["checks"] = [
        check | {"waived": True}, check | {"waived": False}, check | {"waived": False},
        unsettled | {"waived": True}, unsettled | {"waived": False},
    ]  # fmt: skip
    doc["verdict"] |= {
        "faults": 2, "failed_checks": 3, "unsettled_checks": 2,
        "open": ["siphon"], "preliminary": True,
    }  # fmt: skip
    assert status(doc) == f"{MARK}: 1 fault, 2 failed checks, 1 check to settle"

"""The calculation report: every number traceable, the formulas true, nothing invented."""

from __future__ import annotations

import math
import re
from typing import Any

import pypdfium2
import pytest
from made_study import as_read_from_disk, made_document
from sample_study import sample_report, sample_study

from routing.papers.report import Extras, report_pdf
from routing.papers.report.basis import basis
from routing.papers.report.confirm import confirm_rows
from routing.papers.report.parts import MOST_ROWS, table
from routing.papers.report.report import report_data
from routing.papers.schedule import schedules
from routing.papers.shopping import shopping
from routing.papers.spare import SPARE_SHARE
from routing.papers.typeset import text_width
from routing.papers.wording import true_minus, worded
from routing.papers.works import works_parts
from routing.record import study_document
from routing.report_study import given_words, sensitivity
from routing.settings import settings_from_mapping


@pytest.fixture(scope="module")
def real() -> dict:
    """Return the document of the sample study: numbers that belong together."""
    return study_document(sample_study())


def test_sensitivity__is_the_study_run_again(real) -> None:
    cases = {case.name: case for case in sensitivity(real)}
    told, summary = cases["as calculated"], real["summary"]
    assert told.head_loss_m == pytest.approx(summary["head_loss_m"], rel=1e-4)
    assert told.power_kw == pytest.approx(summary["power_kw"], rel=1e-4)
    assert told.surge_rise_m == pytest.approx(real["surge"][0]["bound_rise_m"], rel=1e-4)
    assert told.blocked_rise_m == pytest.approx(real["surge"][-1]["bound_rise_m"], rel=1e-3)
    # In rough flow the loss grows with the square of the flow; in smooth flow a little less.
    more = cases["flow 10 % more"].head_loss_m / told.head_loss_m
    assert 1.1**1.75 < more < 1.1**2
    new = cases["roughness of new pipe"].head_loss_m
    assert new == pytest.approx(real["flow"]["head_loss_new_m"], rel=1e-4)
    rough = cases["roughness 2 times that of the aged pipe"]
    assert rough.head_loss_m > told.head_loss_m > new
    faster = cases["wave speed 20 % higher"].blocked_rise_m
    assert faster == pytest.approx(1.2 * told.blocked_rise_m, rel=1e-6)
    lower = next(case for name, case in cases.items() if name.endswith("against"))
    assert told.net_head_m - lower.net_head_m == pytest.approx(summary["gross_head_sd_m"], rel=1e-3)
    assert list(sensitivity(made_document(flow=False))) == []


def test_report_pdf__prints_the_documents_numbers(real) -> None:
    pages, text = len(pypdfium2.PdfDocument(sample_report())), printed()
    summary = real["summary"]
    for value in ("gross_head_m", "net_head_m", "head_loss_m", "power_kw", "pipe_length_m"):
        assert f"{summary[value]:.4g}" in text, value
    for item in (*real["vents"], *real["drains"]):
        assert f"{item['id']} {item['station_m']:.1f}" in text
        assert " ".join(item["reason"].split())[:50] in text
    for warning in real["warnings"]:
        assert " ".join(worded(warning["message"]).split())[:50] in text
    for caution in real["cautions"]:
        assert " ".join(caution["text"].split())[:60] in text
    assert "What the tool does not check" in text
    assert "NOT FOR CONSTRUCTION" in text
    assert "Colebrook" in text
    assert f"page {pages} of {pages}" in text
    # A question mark would stand for a sign that no font of the tool has.
    assert "?" not in text


PRINTED = {
    "Vents and drains: Vents": ("vents", "station_m ground_m pipe_m depth_m"),
    "Vents and drains: Drains": ("drains", "station_m ground_m pipe_m depth_m drained_m3"),
    "Vents and drains: How the vents were sized": (
        "vent_sizes",
        "needed_mm bore_mm release_mm rating_kpa allowed_vacuum_kpa",
    ),
    "Vents and drains: How the drains empty their stretch": (
        "drain_sizes",
        "bore_mm drained_m3 shortest_s longest_s jet_m_s reaction_n",
    ),
    "Structures: Bends": ("bends", "station_m pipe_m plan_deg vertical_deg deflection_deg"),
    "Structures: Slope anchors": ("anchors", "station_m"),
    "Structures: Supports": ("supports", "station_m ground_m pipe_m height_m load_kn"),
    "Structures: Spans as structures": ("bridges", "from_m to_m bay_m weight_n_m movement_m"),
    "Surge: Ways in which the flow may stop": (
        "surge",
        "closing_s critical_s bound_rise_m peak_rise_m highest_rise_m",
    ),
    "Line, heads and pressures: Straights of the pipe": ("grades", "from_m to_m from_z_m to_z_m"),
    "Line, heads and pressures: Head lost along the line": (
        "flow.reaches",
        "from_m to_m velocity_m_s reynolds friction_factor friction_m",
    ),
}
"""Tables of the report, the part of the document that each shows, and members that stand in it."""


def figures(cells: list[str]) -> list[tuple[float, float]]:
    """Return the numbers of a row of a table, each with half its last digit."""
    found = []
    for cell in cells:
        for number in re.findall(r"(?<![\w.])[+−]?\d+(?:\.\d+)?(?![\w.])", cell):
            step = 10.0 ** -len(number.partition(".")[2])
            found.append((float(number.replace("−", "-")), 0.501 * step))
    return found


def test_report__every_figure_of_its_tables_is_the_studys(real) -> None:
    """Row by row, whatever the columns: each member stands in its row, rounded as printed."""
    found, text = sections(as_read_from_disk(real)), printed()
    for title, (part, members) in PRINTED.items():
        held: Any = as_read_from_disk(real)
        for key in part.split("."):
            held = held[key]
        made = found[title]["table"]
        rows_ = made["rows"]
        if made["heads"][0] == "from, m" and len(made["heads"]) == len(held) + 1:
            rows_ = list(zip(*([made["heads"], *rows_]), strict=True))[1:]
        assert rows_, title
        for row, item in zip(rows_, held, strict=len(rows_) < MOST_ROWS):
            shown = figures(list(row)) + figures(re.findall(r"[\d.]+", made["note"]))
            for member in members.split():
                value = item[member]
                if value is None:
                    continue
                value = abs(value) if member == "plan_deg" else value
                near = [n for n, half in shown if abs(n - value) <= half]
                assert near, (title, member, value, row)
        for row in made["rows"]:
            line = " ".join(" ".join(row).split())
            assert line in text, (title, line)


def printed() -> str:
    """Return the text of the sample's report, with one blank between words."""
    pages = pypdfium2.PdfDocument(sample_report())
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


def test_report_pdf__same_bytes_fresh_and_from_disk(real) -> None:
    assert report_pdf(made_document()) == report_pdf(as_read_from_disk(made_document()))


def sections(doc: dict, extras: Extras | None = None) -> dict[str, dict]:
    """Return the sections of a report by chapter and title."""
    return {
        f"{chapter['title']}: {section['title']}".rstrip(": "): section
        for chapter in report_data(doc, extras)["chapters"]
        for section in chapter["sections"]
    }


@pytest.mark.parametrize("units", ["metric", "us"])
def test_report_data__leaves_out_what_is_not_there(units: str) -> None:
    doc = made_document(flow=False, units=units)
    doc["pipes"] = []
    found = sections(doc)
    assert "Line, heads and pressures: Head lost along the line" not in found
    assert "Pipe and class: Pipes" not in found
    kept = {"Vents and drains: Vents", "Line, heads and pressures: Pressures along the line"}
    assert kept <= set(found)
    assert report_pdf(doc).startswith(b"%PDF")


def test_report_data__chapters_stand_in_reading_order(real) -> None:
    titles = [chapter["title"] for chapter in report_data(real)["chapters"]]
    assert titles[:2] == ["Summary", "Basis and assumptions"]
    assert titles[-1] == "Signature"
    order = ["Pipe and class", "Surge", "Vents and drains", "Structures", "Sensitivity", "Doubt"]
    assert [title for title in titles if title in order] == order
    assert "Other results" not in titles


def test_report_data__worked_formulas_say_that_they_print_rounded(real) -> None:
    # 310.37 less 245.13 is 65.24 where the head is 65.25: a reviewer's own sum is off by a digit.
    sections = [each for chapter in report_data(real)["chapters"] for each in chapter["sections"]]
    worked = [each for each in sections if each.get("formulas")]
    assert worked
    assert all("rounded" in each["text"] for each in worked)


def test_report_data__new_sections_of_a_study_appear() -> None:
    doc = made_document()
    doc["props"] = [{"bend_id": "B1", "thrust_kn": 12.25, "volume_m3": 0.8}]
    table = sections(doc)["Other results: Props"]["table"]
    assert table["heads"] == ["bend id", "thrust, kN", "volume, m³"]
    assert table["rows"] == [["B1", "12.25", "0.8"]]


def test_schedules__pipe_is_bought_along_the_slope_with_spare() -> None:
    doc = made_document()
    table = next(item for item in schedules(doc) if item.title == "Pipe")
    for row, pipe in zip(table.rows, doc["pipes"], strict=True):
        assert float(row[4]) == pytest.approx(pipe["length_m"], abs=0.05)
        # With spare, and in whole metres, as the shopping list has it.
        assert float(row[5]) == math.ceil(pipe["length_m"] * (1.0 + SPARE_SHARE))
    # 3 to 5 %: common practice, no source.
    assert 0.03 <= SPARE_SHARE <= 0.05
    # Two runs of the same pipe are bought as one.
    doc["pipes"][1]["label"] = doc["pipes"][0]["label"]
    table = next(item for item in schedules(doc) if item.title == "Pipe")
    assert len(table.rows) == 1
    total = sum(pipe["length_m"] for pipe in doc["pipes"])
    assert float(table.rows[0][4]) == pytest.approx(total, abs=0.05)


def test_given_words__settings_in_the_words_of_their_rows() -> None:
    doc = made_document()
    doc["settings"] = {
        "trench": {"span": [{"from": "525 m", "to": "557 m"}]},
        "flow": {"design": "18 L/s"},
        "sheet": {"owner": "x"},
    }
    settings_from_mapping(doc["settings"])
    given = dict(given_words(doc))
    assert given["flow: design flow"] == "18 L/s"
    assert list(given.values()) == ["from 525 m, to 557 m", "18 L/s"]
    many = Extras(given=(("energy: flows", "; ".join(f"{k} L/s" for k in range(1096))),))
    facts = sections(doc, many)["Basis and assumptions: What was given"]["facts"]
    assert facts == [["energy: flows", "1096 values, 0\u00a0L/s to 1095\u00a0L/s"]]


def test_report_data__what_a_crossing_asks_is_told_apart() -> None:
    doc = made_document()
    doc["crossings"] = [
        {
            "id": "X1", "station_m": 60.0, "to_m": 64.2, "kind": "stream", "name": "Vell Brook",
            "angle_deg": 70.0, "length_m": 4.2, "width_m": 4.0, "relation": "crosses",
            "asks": ["at least 0.60 m to the pipe", "joints that bend and stay tight"],
            "consent": None, "cover_m": 0.8, "top_m": None, "lon": doc["stations"]["lon"][0],
            "lat": doc["stations"]["lat"][0], "ground_m": 100.0, "pipe_m": 99.0,
        }
    ]  # fmt: skip
    told = sections(doc)["Crossings, parcels and consents: What each crossing asks"]
    assert ("X1", "at least 0.60\u00a0m to the pipe; joints that bend and stay tight") in [
        tuple(row) for row in told["rows"]
    ]


def test_given_words__no_marks_of_the_settings_file_on_paper() -> None:
    doc = made_document()
    doc["settings"] = {
        "terrain": {"source": "srtm"},
        "trench": {"ground": [{"from": "2 m", "to": "9 m", "kind": "rock"}]},
        "prices": {"crossing": {"road": 900.0}, "ground": {"rock": 95.0}},
    }
    given = list(given_words(doc))
    assert len(given) == 4
    for meaning, _ in given:
        assert not set("`[]") & set(meaning), meaning


def test_report_data__checks_stand_near_the_top_and_failures_are_loud() -> None:
    doc = made_document()
    check = {
        "subject": "cover",
        "place": "trench",
        "demand": 0.7,
        "limit": 0.9,
        "unit": "m",
        "sense": "at least",
        "passed": False,
        "severity": "fault",
        "waived": False,
        "station_m": 12.0,
        "rule": "ground to crown",
        "source": "the settings",
    }
    doc["checks"] = [
        check,
        check | {"severity": "warning"},
        check | {"waived": True},
        check | {"passed": True},
    ]
    failed = "Checks: What does not hold, or is answered for"
    found = sections(doc)
    rows = found[failed]["table"]["rows"]
    assert [row[0] for row in rows] == ["FAILS", "warning", "waived"]
    assert rows[0][3:6] == ["0.7", "at least 0.9", "m"]
    held = found["Checks: What holds, the closest of each requirement"]["table"]["rows"]
    assert [row[0] for row in held] == ["holds"]
    doc["units"] = "us"
    assert sections(doc)[failed]["table"]["rows"][0][3:6] == ["2.297", "at least 2.953", "ft"]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_report_data__the_test_of_each_section_stands_in_two_tables_that_fit(real, units) -> None:
    # Reference: the works plan, which holds all of it in one table on a page set crosswise.
    first = real["works"]["tests"][0]
    tests = [{**first, "id": f"Q{k}", "meets": k != 2, "to_m": 1e4 + k} for k in range(1, 5)]
    doc = {**real, "units": units, "works": {**real["works"], "tests": tests}}
    (plan,) = (part for part in works_parts(doc) if part.title == "Pressure test")
    made = [
        section["table"]
        for chapter in report_data(doc)["chapters"]
        for section in chapter["sections"]
        if "table" in section
    ]
    (at,) = (number for number, each in enumerate(made) if "takes" in each["heads"])
    upper, lower = made[at - 1 : at + 1]
    assert (upper["heads"][1], lower["heads"]) == ("from, to", ["", "rule", "held", "takes"])
    for each in (upper, lower):
        for row in each["rows"]:
            wide = [text_width(cell, each["size"]) * 25.4 / 72.0 for cell in row]
            lines = [a / (b - 2.6) for a, b in zip(wide, each["widths"], strict=True)]
            assert max(lines) < 2.0
    for row, above, below in zip(plan.rows, upper["rows"], lower["rows"], strict=True):
        name, reach, *rest = above
        assert {name, *reach.split(" to "), *rest, *below} == set(map(true_minus, row))


def test_compact_table__says_once_what_never_varies_and_drops_the_empty() -> None:
    doc = made_document()
    doc["props"] = [
        {"id": f"T{k}", "soil": "loose sand and gravel", "face_m2": None, "thrust_kn": 1.0 + k}
        for k in range(4)
    ]
    table = sections(doc)["Other results: Props"]["table"]
    assert table["heads"] == ["id", "thrust, kN"]
    assert table["note"] == "soil: loose sand and gravel"
    assert len(table["rows"]) == 4


def test_sources__each_says_its_edition_or_that_none_was_stated(real: dict) -> None:
    told = {title: made for title, made in sections(real).items() if title.startswith("Sources")}
    rows = [row for made in told.values() for row in made.get("table", {"rows": []})["rows"]]
    assert len(rows) > 20
    named = ("AWWA", "NRCS", "EN 1610", "Design", "Regulation", "municipal code", "Standards for")
    publications = [row[0] for row in rows if any(name in row[0] for name in named)]
    assert len(publications) > 6
    for source in publications:
        year = re.search(r"\b(?:1[89]|20)\d\d\b|\d-\d\d\b", source)
        stated = "edition not stated in the source" in source
        assert (year is None) == stated, source


def test_confirm_rows__gather_what_was_remembered_or_seen_second_hand() -> None:
    check = {"subject": "fastest flow", "source": "a handbook, 1990", "status": "from memory"}
    other = {"subject": "slowest flow", "source": "a handbook, 1990", "status": "source seen"}
    sure = {"subject": "cover", "source": "the settings", "status": "common practice"}
    rows = dict(confirm_rows(made_document() | {"checks": [check, other, check, sure]}))
    told = "fastest flow (from memory); slowest flow (seen second-hand)"
    assert rows["a handbook, 1990"] == told
    assert "the settings" not in rows


def test_report_data__bill_adds_up_in_the_users_money() -> None:
    """Sum, share and total follow from the rows that are printed beside them."""
    doc = made_document()
    row = {"size": "", "unit": "m3", "quantity": 40.0, "price": 25.0, "amount": 1000.0}
    doc["quantities"] = [
        {**row, "what": "trench"},
        {**row, "what": "crossings", "size": "protected", "unit": "", "price": None},
    ]
    doc["cost"] = {
        "total": 1300.0, "contingency": 300.0, "currency": "crowns", "date": None,
        "not_priced": ["crossings of protected areas"],
    }  # fmt: skip
    doc["settings"] = {"prices": {"currency": "crowns", "contingency": "30 %"}}
    found = sections(doc)
    bill = found["Quantities and cost: Bill of quantities"]["table"]
    assert bill["heads"][-2:] == ["price of one, crowns", "amount, crowns"]
    assert bill["rows"] == [
        ["trench", "", "40.0", "m³", "25.00", "1\u202f000"],
        ["crossings", "protected area", "40", "pieces", "no price", "–"],
    ]
    amounts = [amount for _, amount in found["Quantities and cost: Cost"]["facts"]]
    assert amounts == ["1\u202f000 crowns", "300 crowns", "1\u202f300 crowns"]
    cost = {term.symbol: term for term in basis(doc)[-1].terms}
    assert cost["C"].si == pytest.approx((1.0 + cost["c"].si) * cost[""].si)
    assert cost["C"].unit == "crowns"
    assert dict(given_words(doc))["prices: name of the currency"] == "crowns"


def test_table__lies_on_its_side_with_its_first_row_as_heads() -> None:
    heads = [f"h{at}" for at in range(10)]
    made = table("", heads, [["T40"] + ["1"] * 9, ["T41"] + ["2"] * 9], [True] * 10)["table"]
    assert made["heads"] == ["h0", "T40", "T41"]
    assert made["rows"][0] == ["h1", "1", "2"]
    many = table("", ["no.", "cover, m"], [[str(at), "0.80"] for at in range(20)], [True] * 2)
    assert many["table"]["heads"] == ["no."]
    assert many["table"]["note"] == "Cover, m: 0.80 in each row."


def test_shopping__valves_alike_but_for_what_they_bear_are_one_row() -> None:
    doc = made_document()
    pieces = [
        [{"what": "valve", "size": f"50 mm, for {kpa} kPa at rest and the test", "count": 1},
         {"what": "marker post", "size": name, "count": 1}]
        for name, kpa in (("V1", 66), ("V2", 743), ("D1", 98))
    ]  # fmt: skip
    doc["kits"] = [{"of": "V1", "pieces": each} for each in pieces]
    rows_ = shopping(doc).rows
    assert ["marker post", "", "3"] in rows_
    assert ["valve", "50 mm, for up to 743 kPa at rest and the test", "3"] in rows_

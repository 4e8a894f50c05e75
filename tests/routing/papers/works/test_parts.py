"""The works plan on paper: each part with its cautions, figures of the study, room to write."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from sample_study import sample_document

from routing.fittings import size_text
from routing.papers.block_picture import block_views
from routing.papers.field_works import works_html
from routing.papers.set_facts import force_text
from routing.papers.works import works_parts, works_pdf
from routing.papers.works.parts import tolerances
from routing.papers.works.plan import _cast, _figures, _views
from routing.words import speaking


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return sample_document()


def test_works_parts__every_act_that_can_hurt_has_its_caution_before_it(doc) -> None:
    parts = {part.title: part for part in works_parts(doc)}
    for title in ("Before water", "Thrust on the ends", "Filling", "What vents throw", "Flushing",
                  "Pressure test", "Draining for the winter"):  # fmt: skip
        assert parts[title].cautions, title
    assert any("never with air" in text for text in parts["Pressure test"].cautions)


def test_works_parts__rows_fit_their_heads_and_name_the_acts(doc) -> None:
    for part in works_parts(doc):
        assert all(len(row) == len(part.heads) for row in part.rows), part.title
    parts = {part.title: part for part in works_parts(doc)}
    assert [row[0] for row in parts["Filling"].rows] == [
        stage["id"] for stage in doc["works"]["filling"]["stages"]
    ]
    assert [row[0] for row in parts["Pressure test"].rows] == [
        section["id"] for section in doc["works"]["tests"]
    ]


def test_works_parts__concrete_cures_as_long_as_on_the_sheets_and_cards(doc) -> None:
    # A municipal code on water mains: blocks in place ten days before the test.
    (before,) = (part for part in works_parts(doc) if part.title == "Before water")
    cast = {block["cure_days"] for block in doc["blocks"] if block["cure_days"] is not None}
    assert cast == {10.0} == {doc["works"]["drain_down"]["cure_days"]}
    assert ("Concrete cures at least", "10 days, longer in the cold") in before.facts


def test_works_parts__the_test_says_at_which_point_each_pressure_is(doc) -> None:
    (test,) = (part for part in works_parts(doc) if part.title == "Pressure test")
    low, high = (test.heads.index(f"at the {end} point") for end in ("lowest", "highest"))
    kpa = [(float(row[low].split()[0]), float(row[high].split()[0])) for row in test.rows]
    assert kpa
    assert all(below >= above for below, above in kpa)


def test_works_parts__the_test_says_how_as_its_rule_has_it(doc) -> None:
    # ASTM F2164 for polyethylene (from memory): 4 h of expansion, 10 psi let off, 1 h within 5 %.
    (test,) = (part for part in works_parts(doc) if part.title == "Pressure test")
    ((label, how),) = test.facts
    assert label == "How"
    for words in ("4 hours", "69 kPa", "5 %", "1 hour", "8 hours"):
        assert words in how
    assert [row[test.heads.index("may be added")] for row in test.rows] == ["nothing"]
    (us,) = (p for p in works_parts({**doc, "units": "us"}) if p.title == "Pressure test")
    assert "10.0 psi" in us.facts[0][1]


def test_works_parts__the_test_names_the_standard_of_its_rule(doc) -> None:
    # Titles as in the strength room's table of test rules, from memory of the standards.
    rules = {
        "polyethylene": "ASTM F2164-21",
        "municipal": "ANSI/AWWA C600 and C605",
        "EN 805": "EN 805:2000",
        "Indian": "Manual on Water Supply and Treatment",
    }
    for rule, standard in rules.items():
        tests = [{**doc["works"]["tests"][0], "rule": rule, "meets": True}]
        made = {**doc, "works": {**doc["works"], "tests": tests}}
        (test,) = (part for part in works_parts(made) if part.title == "Pressure test")
        assert test.rows[0][test.heads.index("rule")] == standard


def test_works_parts__filling_tells_how_near_each_gauge_reads(doc) -> None:
    (filling,) = (part for part in works_parts(doc) if part.title == "Filling")
    told = dict(filling.facts)["Gauges within"].split("; ")
    readings = doc["works"]["filling"]["stages"][-1]["readings"]
    alone = {f"{each['tap']} ± {each['tolerance_kpa']:.0f} kPa" for each in readings}
    assert {one for one in told if "," not in one and "–" not in one} < alone
    for each in (readings[0], readings[-1]):
        assert f"± {each['tolerance_kpa']:.0f} kPa" in " ".join(told)


def test_tolerances__neighbours_of_one_tolerance_share_it() -> None:
    within = [8.0, 25.6, 25.6, 25.6, 35.8, 35.8, 8.0]
    read = [{"tap": f"M{k}", "tolerance_kpa": kpa} for k, kpa in enumerate(within, start=1)]
    told = tolerances([{"readings": []}, {"readings": read}], "metric")
    assert told == "M1 ± 8 kPa; M2–M4 ± 26 kPa; M5, M6 ± 36 kPa; M7 ± 8 kPa"
    assert tolerances([], "metric") == ""


def test_works_parts__filling_names_a_gauge_where_it_moves(doc) -> None:
    stages = doc["works"]["filling"]["stages"]
    read = [{"M1": 20.0}, {"M1": 20.2, "M2": 5.0}, {"M1": 31.0, "M2": 5.0}, {"M1": 31.0, "M2": 5.0}]
    told = [
        {
            **stages[0],
            "readings": [
                *({"tap": t, "gauge_kpa": k, "tolerance_kpa": 9.0} for t, k in each.items()),
                last,
            ],
        }
        for each, last in zip(read, [stages[0]["readings"][-1]] * len(read), strict=True)
    ]
    filling = {**doc["works"]["filling"], "stages": told}
    parts = works_parts({**doc, "works": {**doc["works"], "filling": filling}})
    (part,) = (part for part in parts if part.title == "Filling")
    column = [row[part.heads.index("other gauges")] for row in part.rows]
    assert column == ["M1 20 kPa", "M2 5 kPa", "M1 31 kPa", "–"]
    assert "the rest keep what they read" in dict(part.facts)["Other gauges"]


def test_works_parts__a_bridge_says_what_the_water_does_to_it(doc) -> None:
    (part,) = (part for part in works_parts(doc) if part.title == "Bridges, empty and full")
    assert part.cautions
    (row,), (bridge,) = part.rows, doc["bridges"]
    pipe = doc["pipes"][0]
    bore, outside = pipe["inside_diameter_m"], pipe["outside_diameter_m"]
    # Geometry: the water fills the bore; its density and gravity are those of the study.
    water = math.pi / 4.0 * bore**2 * 9.80665 * doc["water"]["density_kg_m3"]
    assert bridge["weight_n_m"] - bridge["empty_n_m"] == pytest.approx(water, rel=2e-3)
    # A beam over many supports, w L4 / (185 E I) at the outer bay and at most the simple 5 / 384.
    stiff = math.pi / 64.0 * (outside**4 - bore**4)
    for key, load in (("sag_empty_m", "empty_n_m"), ("sag_full_m", "weight_n_m")):
        simple = 5.0 / 384.0 * bridge[load] * bridge["bay_m"] ** 4 / stiff
        # Polyethylene: 0.5 to 1.5 GPa within the hour (handbooks of the pipe, from memory).
        assert simple / 1.5e9 / 6.0 < bridge[key] < simple / 0.5e9
    assert bridge["sag_empty_m"] < bridge["sag_full_m"] < bridge["sag_years_m"]
    assert row[3:5] == (f"{bridge['empty_n_m']:.0f}", f"{bridge['weight_n_m']:.0f}")
    assert all(cell.endswith("mm") for cell in row[5:])


def test_works_parts__a_vent_throws_as_torricelli_has_it(doc) -> None:
    # Torricelli: under a head h water rises to h; thrown at 45 degrees it flies 2 h.
    for spout in doc["works"]["spouts"]:
        vent = next(vent for vent in doc["vents"] if vent["id"] == spout["vent_id"])
        assert spout["full_height_m"] == pytest.approx(vent["static_head_m"], abs=0.01)
        assert spout["full_reach_m"] == pytest.approx(2.0 * spout["full_height_m"], abs=1e-3)
        assert spout["reach_m"] == pytest.approx(2.0 * spout["height_m"], abs=1e-3)


def test_works_parts__us_readers_get_their_units(doc) -> None:
    parts = {part.title: part for part in works_parts({**doc, "units": "us"})}
    cells = " ".join(cell for row in parts["Filling"].rows for cell in row)
    assert "psi" in cells
    assert "kPa" not in cells


def test_works_parts__bores_as_sold_and_forces_as_on_the_cards(doc) -> None:
    us = {part.title: part for part in works_parts({**doc, "units": "us"})}
    sold = [size_text(each["bore_mm"] / 1e3, "us") for each in doc["works"]["flushing"]]
    assert [row[1] for row in us["Flushing"].rows] == sold
    assert "2 in" in sold  # 50 mm; 1.97 in is sold nowhere
    end = doc["works"]["ends"][0]
    assert us["Thrust on the ends"].rows[0][4] == force_text({"units": "us"}, end["test_kn"])


def test_works_pdf__every_block_and_anchor_has_its_picture_and_sides(doc) -> None:
    cast = [item for key in ("blocks", "anchors") for item in doc[key] if item["length_m"]]
    made = list(_cast(doc).values())
    assert sorted(title.split()[0] for title, _, _ in made) == sorted(i["id"] for i in cast)
    by_name = {title.split()[0]: (facts, picture) for title, facts, picture in made}
    for item in cast:
        facts, picture = by_name[item["id"]]
        assert any(fact.startswith("Wide × high × long: ") for fact in facts)
        assert any(fact.startswith("Level of the ") for fact in facts)
        for side in ("width_m", "height_m", "length_m"):
            assert f">{item[side]:.2f}</text>" in picture


def test_works_pdf__letters_that_join_are_set_by_the_page_not_in_the_picture(doc) -> None:
    for code, in_picture in (("en", True), ("ne", False), ("ar", False)):
        with speaking(code):
            views, cast = block_views(doc), _cast(doc)
            assert _views(doc) == (() if in_picture else views)
        assert cast
        for _, _, picture in cast.values():
            assert (f">{views[0]}</text>" in picture) is in_picture
        assert works_pdf({**doc, "language": code}).startswith(b"%PDF")


def test_works_pdf__is_made_and_says_what_is_missing_without_a_pipe(doc) -> None:
    assert works_pdf(doc).startswith(b"%PDF")
    (part,) = works_parts({**doc, "works": None})
    assert "no pipe" in part.facts[0][1]


@pytest.mark.parametrize(
    ("cells", "right"),
    [(("0.0 m", "1167.1 m"), True), (("± 7 kPa", "–"), True), (("", ""), False),
     (("sag", "12 m"), False), (("M2 6 kPa, M3 14 kPa",), False)],
)  # fmt: skip
def test_figures__line_up_on_the_right_and_words_do_not(cells, right) -> None:
    assert _figures(cells) is right


def test_works_parts__each_step_of_the_test_has_its_water_and_when_it_passes(doc) -> None:
    """The litres of study.json, step for step; ASTM F2164's 5 % band, from memory."""
    phases = doc["works"]["test_phases"]
    (part,) = (part for part in works_parts(doc) if part.title == "Pressure test, step by step")
    assert len(part.rows) == len(phases)
    for row, phase in zip(part.rows, phases, strict=True):
        assert row[0].startswith(phase["test"] + "/")
        assert f"{phase['end_kpa']:.0f} kPa" == row[4]
        if phase["water_m3"]:
            assert f"{abs(1e3 * phase['water_m3']):.1f} L" in row[5]
    hold = next(phase for phase in phases if phase["name"] == "hold")
    assert hold["least_kpa"] == pytest.approx(0.95 * hold["start_kpa"], abs=0.01)


def test_works_parts__drains_are_told_in_turns_or_degrees(doc) -> None:
    parts = {part.title: part for part in works_parts(doc)}
    for title, steps in (
        ("Flushing", doc["works"]["flushing"]),
        ("Draining for the winter", doc["works"]["drain_down"]["steps"]),
    ):
        for row, step in zip(parts[title].rows, steps, strict=True):
            assert f"{100.0 * step['opening']:.0f} %" in row[2]
            assert ("turns" in row[2]) is (step["valve"] == "gate")
            assert ("°" in row[2]) is (step["valve"] == "ball")
    wide = {**doc["works"]["flushing"][0], "turns": 3.3, "full_turns": 14.0, "angle_deg": None}
    changed = {**doc, "works": {**doc["works"], "flushing": [wide]}}
    (flushing,) = (part for part in works_parts(changed) if part.title == "Flushing")
    assert "3.3 of 14 turns" in flushing.rows[0][2]


def test_works_parts__a_line_with_faults_is_not_filled_before_they_are_settled(doc) -> None:
    fault = {"code": "over_rating", "severity": "fault", "message": "Take a stronger class here.",
             "station_m": 446.0}  # fmt: skip
    first, *_ = works_parts({**doc, "warnings": [fault, *doc["warnings"]]})
    assert first.title == "Faults to settle first"
    assert "Nobody fills or tests" in first.cautions[0]
    assert first.facts == (("At station 446.0 m", "Take a stronger class here."),)
    # Nobody has to unfold them on the phone.
    sheet = works_html({**doc, "warnings": [fault]})
    assert "<details class=part open><summary>Faults to settle first<" in sheet


def test_works_parts__a_fault_that_somebody_answers_for_stands_before_the_crew(doc) -> None:
    fault = {"code": "over_rating", "severity": "fault", "message": "Take a stronger class here.",
             "station_m": 446.0, "places_m": [], "waived": True}  # fmt: skip
    waiver = {"code": "over_rating", "reason": "Agreed, letter of 3 May.", "name": "O. E.",
              "covers": 1}  # fmt: skip
    answered = {**doc, "warnings": [fault], "waivers": [waiver]}
    first, second, *_ = works_parts(answered)
    assert (first.title, second.title) == ("Answered for", "Before water")
    assert first.facts == (
        ("The static pressure is above the pipe's rating", "by O. E.: Agreed, letter of 3 May"),
    )
    assert "<details class=part open><summary>Answered for<" in works_html(answered)


def test_works_parts__a_section_that_cannot_bear_the_water_at_rest_says_so(doc) -> None:
    (one, *others) = doc["works"]["tests"]
    light = {**one, "meets": False, "pump_kpa": 300.0, "top_kpa": -200.0, "elastic_m3": None}
    works = {**doc["works"], "tests": [light, *others], "test_phases": []}
    (test,) = (p for p in works_parts({**doc, "works": works}) if p.title == "Pressure test")
    row = dict(zip(test.heads, test.rows[0], strict=True))
    assert row["rule"] == "not tested: this pipe is too light for its water"
    assert row["at the highest point"] == row["gauge at the pump"] == row["held"] == "–"


def test_works_parts__what_bears_no_test_is_taken_off_before_it(doc) -> None:
    # The relief valve of the sample opens below the pressure of the test, and gauges end below it.
    (before,) = (part for part in works_parts(doc) if part.title == "Before water")
    (words,) = (row[3] for row in before.rows if row[1] == "weak parts off")
    for part in ("relief valve", "gauge", "machine"):
        assert part in words
    when = [row[2] for row in before.rows]
    assert [k for k, _ in itertools.groupby(when)] == [
        "before water", "before flushing", "before test", "after test", "before first run"
    ]  # fmt: skip
    assert [r[0] for r in before.rows if r[1] in ("blocks cured", "closing time")] == ["W1", "W15"]


def test_works_parts__water_is_told_in_gallons_where_rates_are(doc) -> None:
    (filling,) = (p for p in works_parts({**doc, "units": "us"}) if p.title == "Filling")
    gallons = doc["works"]["filling"]["volume_m3"] / 3.785411784e-3
    assert dict(filling.facts)["Water"] == f"{gallons:.0f} gal"


def test_works__a_drain_flushes_with_the_bore_that_is_bought(doc) -> None:
    bought = {drain["id"]: drain["size_mm"] for drain in doc["drains"]}
    assert {f["drain_id"]: f["bore_mm"] for f in doc["works"]["flushing"]} == bought
    kit = {kit["of"]: {p["what"]: p["size"] for p in kit["pieces"]} for kit in doc["kits"]}
    for name, mm in bought.items():
        assert kit[name]["drain leg with stilling piece"] == size_text(mm / 1e3, "metric")

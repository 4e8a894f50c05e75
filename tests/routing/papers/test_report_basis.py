"""The formulas of the report: each has a source, its symbols values, its result follows."""

from __future__ import annotations

import csv
import math
import re
from importlib.resources import files

import pytest
from made_study import as_read_from_disk, made_document
from sample_study import sample_study

from routing.papers.report.basis import _latex, basis, value_at
from routing.papers.report.worked import worked
from routing.record import study_document


@pytest.fixture(scope="module")
def real() -> dict:
    """Return the document of the sample study: numbers that belong together."""
    return study_document(sample_study())


def rows(name: str) -> list[dict[str, str]]:
    text = (files("routing.papers.report") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def test_formulas__every_row_has_a_source_and_every_symbol_a_formula() -> None:
    ids = [row["id"] for row in rows("formulas.csv")]
    assert len(ids) == len(set(ids))
    for row in rows("formulas.csv"):
        assert all(row[key] for key in ("title", "equation", "holds", "source", "status")), row[
            "id"
        ]
    for row in rows("symbols.csv"):
        assert row["formula"] in ids
        assert row["result"] in ("", "yes")


SYMBOL = re.compile(
    r"\\mathrm\{[A-Za-z]+\}|\\[A-Za-z]+(?:_(?:\{[^}]*\}|\\?[A-Za-z0-9]+(?:\{[^}]*\})?))?"
    r"|[A-Za-z](?:_(?:\\mathrm\{[^}]*\}|\{[^}]*\}|[A-Za-z0-9]))?"
)
"""A letter of an equation with what stands below it, or a command."""
WORKINGS = {
    "pressure": "",
    "station": "s_g",
    "slope_length": "s z",
    "trench_volume": "t_b s",
    "characteristics": "H_A H_P Q_P Q_A R T_c",
    "critical": "",
    "air": "A p_2 r",
    "drain": "g h",
    "energy": "q H_n P Q \\eta",
    "weight": "w_x",
    "uplift": "W U",
    "uplift_cover": "U w_p D \\gamma_s \\gamma_w",
    "bending": "",
    "cost": "q_i p_i",
}
"""What varies along the line, or is worked out on the way, or stands in the formula before."""


def test_formulas__every_symbol_of_an_equation_has_a_printed_value() -> None:
    """A reader works each formula with what stands below it: no letter without a value."""
    commands = {
        "frac",
        "tfrac",
        "sqrt",
        "sum",
        "int",
        "int_0",
        "left",
        "right",
        "quad",
        "qquad",
        "text",
    }
    commands |= {"min", "max", "sin", "cos", "tan", "log_{10}", "Delta", "pi", "le", "ge", "mathrm"}
    for row in rows("formulas.csv"):
        latex = re.sub(r"\\text\{[^}]*\}|\\quad \(.*|\\mathrm\{(d|si)\}", " ", _latex(row))
        latex = re.sub(r"\\q?quad k = .*|\\[,;!]", " ", latex)
        printed = " ".join(
            each["symbol"] for each in rows("symbols.csv") if each["formula"] == row["id"]
        )
        found = {found for found in SYMBOL.findall(latex) if found.lstrip("\\") not in commands}
        known = {*SYMBOL.findall(printed), *WORKINGS.get(row["id"], "").split()}
        assert found <= known, (row["id"], found - known)


def test_basis__each_result_follows_from_the_values_printed(real) -> None:
    """Work each formula anew from the document's values; the formulas are typed again here."""
    terms = {
        formula.id: {term.meaning: term.si for term in formula.terms} for formula in basis(real)
    }
    # What the sample says nothing of: its intake as built, the energy of a year, prices.
    untold = {"notch", "mouth", "grain", "settling", "energy", "cost"}
    assert set(terms) == {row["id"] for row in rows("formulas.csv")} - untold

    def check(formula: str, result: str, value: float, rel: float) -> None:
        assert value == pytest.approx(terms[formula][result], rel=rel), formula

    t = terms["gross_head"]
    check(
        "gross_head", "gross head", t["water level at the intake"] - t["level of the outlet"], 1e-6
    )
    t = terms["static_head"]
    check(
        "static_head",
        "static head",
        t["water level at the intake"] - t["centreline of the pipe"],
        1e-6,
    )
    t = terms["pressure"]
    kpa = t["density of the water"] * t["gravity"] * t["static head there"] / 1000.0
    check("pressure", "static pressure there", kpa, 1e-5)
    t = terms["level_to_invert"]
    invert = t["centreline of the pipe"] - t["bore"] / 2.0
    check("level_to_invert", "invert", invert, 1e-6)
    check("level_to_invert", "ground to invert", t["ground"] - invert, 1e-3)
    t = terms["velocity"]
    velocity = 4.0 * t["design flow"] / (math.pi * t["bore"] ** 2)
    check("velocity", "velocity", velocity, 1e-3)
    t = terms["reynolds"]
    check("reynolds", "Reynolds number", t["velocity"] * t["bore"] / t["kinematic viscosity"], 1e-3)
    t = terms["colebrook"]
    f = t["friction factor"]
    right = -2.0 * math.log10(
        t["roughness of the aged wall"] / t["bore"] / 3.7
        + 2.51 / (t["Reynolds number"] * math.sqrt(f))
    )
    assert 1.0 / math.sqrt(f) == pytest.approx(right, rel=1e-4)
    t = terms["darcy"]
    head = (
        f
        * t["length of the reach along its slope"]
        / t["bore"]
        * t["velocity"] ** 2
        / 2.0
        / t["gravity"]
    )
    check("darcy", "friction head of the reach", head, 1e-3)
    t = terms["head_loss"]
    total = t["entrance and screen"] + t["friction, all reaches"] + t["local losses"]
    check("head_loss", "head lost", total, 1e-4)
    t = terms["net_head"]
    check("net_head", "net head", t["gross head"] - t["head lost"], 1e-5)
    t = terms["power"]
    watts = t["density of the water"] * t["gravity"] * t["design flow"] * t["net head"]
    check("power", "power", watts * t["efficiency, from water to generator"] / 1000.0, 1e-4)
    t = terms["derating"]
    rated = t["rating at its reference temperature"] * t["factor for temperature"]
    check("derating", "rating in this water", rated, 1e-4)


def test_basis__worked_examples_are_what_the_study_found(real) -> None:
    """Hold each example against the study's own result, and against the formula typed again."""
    made = worked(real)
    case, flow = real["surge"][0], real["flow"]
    assert made["wave"]["speed_m_s"] == pytest.approx(max(case["wave_speeds_m_s"]), rel=1e-4)
    k, e = made["wave"]["bulk_mpa"], made["wave"]["elastic_mpa"]
    stretch = k / e * made["wave"]["bore_per_wall"] * made["wave"]["restraint"]
    speed = math.sqrt(k * 1e6 / made["wave"]["density_kg_m3"] / (1.0 + stretch))
    assert made["wave"]["speed_m_s"] == pytest.approx(speed, rel=1e-9)
    assert made["critical"]["time_s"] == pytest.approx(case["critical_s"], rel=1e-4)
    assert made["joukowsky"]["rise_m"] == pytest.approx(case["joukowsky_m"], rel=1e-4)
    assert made["michaud"]["rise_m"] == pytest.approx(case["bound_rise_m"], rel=1e-4)
    assert made["characteristics"]["step_s"] == pytest.approx(
        case["critical_s"] / 2.0 / case["segments"], rel=1e-4
    )
    bends = [block for block in real["blocks"] if block["deflection_deg"]]
    worst = max(bends, key=lambda block: block["thrust_kn"])
    assert made["thrust"]["thrust_kn"] == pytest.approx(worst["thrust_kn"], rel=1e-3)
    assert made["thrust"]["thrust_kn"] == pytest.approx(
        2.0 * made["thrust"]["arm_kn"] * math.sin(math.radians(worst["deflection_deg"]) / 2.0)
    )
    face = next(block for block in real["blocks"] if block["least_face_m2"])
    assert made["block"]["face_m2"] == pytest.approx(face["least_face_m2"], rel=1e-4)
    size = next(size for size in real["vent_sizes"] if size["kind"] != "open vent")
    assert made["vent"]["orifice_mm"] == pytest.approx(size["needed_mm"], rel=2e-3)
    drain = max(real["drain_sizes"], key=lambda size: size["jet_m_s"])
    assert made["drain"]["jet_m_s"] == pytest.approx(drain["jet_m_s"], rel=1e-4)
    assert made["drain"]["push_kn"] * 1000.0 == pytest.approx(drain["reaction_n"], rel=1e-3)
    end = max(real["works"]["ends"], key=lambda end: end["test_kn"])
    assert made["end"]["thrust_kn"] == pytest.approx(end["test_kn"], rel=1e-3)
    bridge = real["bridges"][0]
    sag = next(check for check in real["checks"] if check["subject"] == "span: sag")
    assert made["span"]["weight_n_m"] == bridge["weight_n_m"]
    assert made["span"]["sag_mm"] / 1000.0 == pytest.approx(sag["demand"], rel=2e-3)
    least = next(check for check in real["checks"] if check["subject"].startswith("uplift"))
    assert made["uplift"]["needed_m"] == pytest.approx(least["limit"], rel=1e-4)
    assert flow["flow_m3_s"] > 0.0


def test_basis__examples_follow_from_what_is_printed_beside_them(real) -> None:
    """Work each example again from its printed values; the formulas are typed here anew."""
    doc = as_read_from_disk(real)
    doc["intake"] = {
        "notch_head_m": 0.1132, "notch_angle_deg": 90.0, "settling": {"grain_m": 0.0003,
        "needed_m2": 1.324}, "mouth": {"gordon_m": 0.0, "prosser_m": 0.0,
        "hydraulic_institute_m": 0.0},
    }  # fmt: skip
    told = {
        formula.id: {term.path.rpartition(".")[2]: term.si for term in formula.terms}
        for formula in basis(doc)
    }
    t = told["arm"]
    force = t["pressure_kpa"] * math.pi / 4.0 * (t["outside_diameter_mm"] / 1e3) ** 2
    water = math.pi / 4.0 * (t["bore_mm"] / 1e3) ** 2 * t["velocity_m_s"]
    assert water == pytest.approx(doc["flow"]["flow_m3_s"], rel=1e-6)
    force += t["density_kg_m3"] * water * t["velocity_m_s"] / 1e3
    assert t["arm_kn"] == pytest.approx(force, rel=1e-6)
    t = told["ring"]
    assert t["mean_diameter_mm"] == pytest.approx(t["outside_diameter_mm"] - t["wall_mm"])
    bent = 2.0 * t["elastic_mpa"] * 1e3 / (1.0 - t["poisson"] ** 2)
    collapse = bent * (t["wall_mm"] / t["mean_diameter_mm"]) ** 3
    assert t["collapse_kpa"] == pytest.approx(collapse, rel=1e-3)
    bridge = doc["bridges"][0]
    t = told["bending"]
    assert t["load_n_m"] == bridge["load_n_m"]
    assert t["moment_knm"] == pytest.approx(t["load_n_m"] * t["bay_m"] ** 2 / 10.0 / 1e3)
    assert t["bending_mpa"] == pytest.approx(t["moment_knm"] / t["modulus"] * 1e3)
    t = told["swing"]
    stiff = t["rigidity"] * 1e3 / t["mass_kg_m"]
    assert t["swing"] == pytest.approx(t["mode"] * math.pi / t["bay_m"] ** 2 * math.sqrt(stiff))
    # A pinned bay swings in half a sine: k = pi/2 over pi.
    assert t["mode"] == pytest.approx(0.5)
    e_i = told["sag"]["elastic_mpa"] * told["sag"]["inertia"] / 1e5
    assert t["rigidity"] > 2.0 * e_i, "stiffer over minutes than over years"
    t = told["movement"]
    # Polyethylene, the most that is published: 0.2 mm a metre and degree.
    assert t["expansion_mm"] == pytest.approx(0.2)
    grown = t["expansion_mm"] / 1e3 * t["length_m"] * t["change_k"]
    assert t["movement_m"] == pytest.approx(grown, rel=1e-3)
    t = told["notch"]
    head = t["head_m"] + t["offset_mm"] / 1e3
    flow = 8.0 / 15.0 * t["coefficient"] * math.sqrt(2.0 * t["gravity_m_s2"]) * head**2.5
    assert t["flow_m3_s"] == pytest.approx(flow)
    t = told["grain"]
    weight, grain = t["lighter"] * t["gravity_m_s2"], t["grain_mm"] / 1e3
    drag = math.sqrt(0.75 * t["turbulent"] * weight * grain**3)
    speed = weight * grain**2 / (t["laminar"] * t["viscosity_m2_s"] + drag)
    assert t["velocity_m_s"] == pytest.approx(speed)
    t = told["settling"]
    assert t["area_m2"] == pytest.approx(t["factor"] * t["flow_m3_s"] / speed, rel=1e-3)
    t = told["mouth"]
    bore = t["bore_mm"] / 1e3
    assert t["froude"] == pytest.approx(t["velocity_m_s"] / math.sqrt(9.80665 * bore))
    # Gordon 1970 (from memory): 0.72 beside, 0.54 where the water comes straight on.
    assert t["factor"] == 0.72
    doc["settings"]["intake"]["straight_approach"] = True
    assert worked(doc)["mouth"]["factor"] == 0.54
    t = told["local"]
    head = t["velocity_m_s, first"] ** 2 / 2.0 / t["gravity_m_s2"]
    assert t["local_m"] == pytest.approx(t["bends"] * head)
    assert t["entrance"] == pytest.approx(0.5, rel=3e-3)
    t = told["hazen_williams"]
    flow, bore = t["flow_m3_s"], t["bore_mm"] / 1e3
    head = 10.674 * t["length_m"] * (flow / t["c"]) ** 1.852 / bore**4.8704
    assert t["friction_m"] == pytest.approx(head)
    assert 0.0 < head < t["hazen_williams_m"]
    t = told["air"]
    ratio = t["inside_kpa"] / t["outside_kpa"]
    assert t["ratio"] == pytest.approx(max(ratio, 0.5283))
    # Through an orifice, after Saint-Venant and Wantzel; dry air of 287 J/(kg K).
    power = (t["heats"] + 1.0) / t["heats"]
    heat = (t["heats"] - 1.0) / (2.0 * t["heats"]) * t["gas"] * (t["air_c"] + 273.15)
    area = math.pi / 4.0 * (t["orifice_mm"] / 1e3) ** 2
    mass = math.sqrt((t["ratio"] ** (2.0 / t["heats"]) - t["ratio"] ** power) / heat)
    assert t["gas"] == pytest.approx(287.0, abs=0.2)
    assert t["mass"] == pytest.approx(t["discharge"] * area * t["outside_kpa"] * 1e3 * mass)
    t = told["critical"]
    assert t["time_s"] == pytest.approx(2.0 * t["length_m"] / t["speed_m_s"])


def test_value_at__missing_things_are_none() -> None:
    doc = made_document(flow=False)
    for path in ("flow.flow_m3_s", "summary.nothing", "pipes.nothing@first", "nowhere.at_all"):
        assert value_at(doc, path) is None


def test_worked__the_end_with_the_greatest_push_under_its_own_test() -> None:
    """0.25 pi 0.2**2 m2 x 980 kPa = 30.8 kN: the second section's end, not the first test's."""
    doc = made_document()
    last = float(doc["stations"]["station_m"][-1])
    doc["works"] = {
        "ends": [{"station_m": last, "outside_diameter_mm": 200.0, "test_kn": 30.8}],
        "tests": [
            {"from_m": 0.0, "to_m": 700.0, "bottom_station_m": 700.0, "bottom_kpa": 409.0},
            {"from_m": 700.0, "to_m": last, "bottom_station_m": last, "bottom_kpa": 980.0},
        ],
    }
    assert worked(doc)["end"]["thrust_kn"] == pytest.approx(30.79, abs=0.01)


def test_basis__a_us_report_has_no_metric_unit(real) -> None:
    metric = re.compile(r"(?<![\w/])(?:m|mm|km|kPa|MPa|N|kN|kg|L|J|K|degC)(?![\w])|[mk]²|m³|cm")
    for item in basis({**real, "units": "us"}):
        for term in item.terms:
            assert not metric.search(term.unit), (item.id, term.meaning, term.unit)
        assert not re.search(r"\d (?:mm|m|degC|kPa)\b", item.holds), item.holds
    (movement,) = [item for item in basis({**real, "units": "us"}) if item.id == "movement"]
    told = {term.meaning: (float(term.value), term.unit) for term in movement.terms}
    # 0.2 mm/(m K) over 55 K, in inches and degrees Fahrenheit.
    assert told["expansion, as gaps are made by"] == (0.1333, "in/(100 ft °F)")
    assert told["from coldest to hottest"] == (99.0, "°F")
    length, _ = told["length of the span"]
    feet, _ = told["movement"]
    assert feet == pytest.approx(0.1333 / 12.0 * length / 100.0 * 99.0, rel=2e-3)

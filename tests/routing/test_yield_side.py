import json
import math

import fluids
import jsonschema
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from known_lines import known_line
from scipy.integrate import quad

from routing.document import study_schema
from routing.energy_study import energy_of_year, machine_of
from routing.flow import line_resistance
from routing.pipe import load_catalogue
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.stream_study import stream_over_year
from routing.water import water_at

PIPE = [{"catalogue": "PE100-SDR17-200"}]
FLOW = {"design": "20 L/s"}
CURVE = [
    {"share": f"{share} %", "flow": f"{flow} L/s"}
    for share, flow in ((0, 120), (20, 60), (40, 42), (60, 28), (80, 18), (100, 9))
]
TURBINE = {"kind": "crossflow"}


def codes(study):
    return [finding.code for finding in study.findings]


def subjects(study):
    return {row["subject"]: row for row in study_document(study)["checks"]}


def test_yield_side__nothing_asked_nothing_said(slope):
    study = slope(pipe=PIPE, flow=FLOW, intake={"level_above_ground": "0.5 m", "loss": 0.4})
    assert study.stream.intake is None
    assert study.stream.energy is None
    assert [finding.code for finding in study.stream.findings] == ["residual_missing"]
    assert not {"intake", "energy"} & study_document(study).keys()


def test_intake__missing_residual_is_a_warning_and_never_assumed(slope):
    study = slope(pipe=PIPE, flow=FLOW, intake={"bar": "6 mm", "bar_gap": "12 mm"})
    assert "residual_missing" in codes(study)
    assert study.stream.intake.residual_m3_s is None
    assert study.stream.intake.notch_head_m is None
    stated = slope(pipe=PIPE, flow=FLOW, intake={"residual": "0 L/s"})
    assert "residual_missing" not in codes(stated)


def test_intake__residual_notch(slope):
    # 5 L/s through a 90 degree V need h = 105 mm, independently computed from ISO 1438's form.
    intake = slope(pipe=PIPE, flow=FLOW, intake={"residual": "5 L/s"}).stream.intake
    assert intake.notch_head_m == pytest.approx(0.105, abs=5e-4)


def test_intake__gauging_is_shared_bed_first(slope):
    # Ce 0.578: 0.50 ft over a 90 degree notch pass 12.56 L/s, independently computed (k 0.88 mm).
    gauging = [{"weir": "v notch", "head": "152.4 mm"}]
    study = slope(pipe=PIPE, flow=FLOW, intake={"residual": "5 L/s", "gauging": gauging})
    intake = study.stream.intake
    assert intake.gaugings[0].flow_m3_s == pytest.approx(0.012559, rel=2e-3)
    assert intake.share.residual_m3_s == pytest.approx(0.005)
    assert intake.share.machine_m3_s == pytest.approx(0.00756, abs=5e-5)
    assert "residual_first" in codes(study)


def test_intake__residual_is_held_against_what_the_machine_leaves(slope):
    # 0.2155 m over a 90 degree notch pass 8/15 0.578 sqrt(2 g) (0.2155 + 0.00088)^2.5 = 29.72 L/s:
    # with 20 L/s in the pipe 9.72 L/s stay in the bed, not the 25 L/s that the permit asks.
    gauging = [{"weir": "v notch", "head": "215.5 mm"}]
    study = slope(pipe=PIPE, flow=FLOW, intake={"residual": "25 L/s", "gauging": gauging})
    check = subjects(study)["flow left in the bed at the design flow"]
    assert check["demand"] == pytest.approx(9.72, abs=0.05)
    assert (check["limit"], check["passed"]) == (25.0, False)
    assert "residual_first" in codes(study)
    enough = slope(pipe=PIPE, flow=FLOW, intake={"residual": "9 L/s", "gauging": gauging})
    assert subjects(enough)["flow left in the bed at the design flow"]["passed"]
    # Without a gauging there is nothing to hold it against, and no check that cannot fail.
    alone = slope(pipe=PIPE, flow=FLOW, intake={"residual": "25 L/s", "mean_annual_flow": "1 m3/s"})
    assert "flow left in the bed at the design flow" not in subjects(alone)
    assert not subjects(
        slope(pipe=PIPE, flow=FLOW, intake={"residual": "25 L/s", "mean_annual_flow": "260 L/s"})
    )["residual flow beside the mean annual flow"]["passed"]


def test_scope__says_what_was_checked_and_what_was_not(slope):
    """A paper must not say "not checked" of what was, nor keep silent of what was not."""
    bare = study_document(slope(pipe=PIPE, flow=FLOW, intake={"residual": "5 L/s"}))
    assert {"residual flow", "sediment", "water right"} <= set(bare["scope"]["not_checked"])
    assert {"flow", "surge"} <= set(bare["scope"]["checked"])
    gauging = [{"weir": "v notch", "head": "215.5 mm"}]
    intake = {"residual": "5 L/s", "gauging": gauging, "grain": "0.3 mm", "basin_area": "9 m2"}
    full = study_document(slope(pipe=PIPE, flow=FLOW, intake=intake))
    assert {"residual flow", "sediment"} <= set(full["scope"]["checked"])
    texts = {each["id"]: each["text"] for each in full["cautions"]}
    assert "fish passage, power licence" in texts["permits"]
    assert "not part of them" not in texts["flow_estimate"]
    texts = {each["id"]: each["text"] for each in bare["cautions"]}
    assert "fish passage, residual flow" in texts["permits"]


def test_intake__a_flow_without_a_residual_flow_is_always_told(slope):
    study = slope(pipe=PIPE, flow=FLOW)
    (told,) = [each for each in study.findings if each.code == "residual_missing"]
    assert told.severity == "warning"
    assert "residual_missing" not in codes(slope(pipe=PIPE))


def test_intake__stream_below_the_residual_leaves_nothing_to_take(slope):
    gauging = [{"weir": "v notch", "head": "70 mm"}]
    study = slope(pipe=PIPE, flow=FLOW, intake={"residual": "5 L/s", "gauging": gauging})
    assert study.stream.intake.share.machine_m3_s == 0.0
    assert not subjects(study)["flow left in the bed at the design flow"]["passed"]


def test_intake__mouth_is_judged_at_the_lowest_level_and_the_dirty_screen(slope):
    def depth(**intake):
        return slope(pipe=PIPE, flow=FLOW, intake=intake).stream.intake.mouth.depth_m

    base = depth(level="500 m", mouth_level="498 m")
    bore = load_catalogue().find("PE100-SDR17-200").inside_diameter_m
    assert base == pytest.approx(2.0 - bore / 2.0)
    lower = depth(level="500 m", mouth_level="498 m", working_drop="0.3 m", screen_loss="0.2 m")
    assert lower == pytest.approx(base - 0.5)


def test_intake__shallow_mouth_is_a_fault_and_a_failed_check(slope):
    study = slope(
        pipe=PIPE, flow=FLOW, intake={"level": "500 m", "mouth_level": "499.7 m", "bar": "5 mm",
                                      "bar_gap": "10 mm"},
    )  # fmt: skip
    assert "mouth_too_shallow" in codes(study)
    assert "screen_loss_missing" in codes(study)
    assert not subjects(study)["water over the mouth of the pipe"]["passed"]


def test_intake__every_part_has_its_check_and_its_finding(slope):
    small = {
        "residual": "5 L/s",
        "bar": "6 mm",
        "bar_gap": "12 mm",
        "screen_area": "0.1 m2",
        "machine_passage": "30 mm",
        "grain": "0.3 mm",
        "basin_area": "0.5 m2",
        "flushing_depth": "1 mm",
        "floor_slope": 0.002,
        "storage": "0.5 m3",
        "crest_width": "0.2 m",
        "crest_head": "0.1 m",
        "screen_loss": "0.05 m",
    }
    study = slope(pipe=PIPE, flow=FLOW, intake=small, turbine={"kind": "pelton"})
    wanted = {"bars_wide", "screen_small", "grains_stay", "storage_small", "crest_narrow"}
    assert wanted <= set(codes(study))
    failed = {name for name, row in subjects(study).items() if not row["passed"]}
    assert {
        "area of the screen",
        "gap between the bars",
        "area of the settling basin",
        "grain moved by flushing",
        "water stored at the intake",
        "width of the overflow crest",
    } <= failed
    large = {
        **small,
        "bar_gap": "6 mm",
        "screen_area": "3 m2",
        "basin_area": "9 m2",
        "flushing_depth": "0.1 m",
        "floor_slope": 0.03,
        "storage": "3 m3",
        "crest_width": "2 m",
    }
    good = slope(pipe=PIPE, flow=FLOW, intake=large, turbine={"kind": "pelton"})
    assert not wanted & set(codes(good))


def test_intake__bars_without_a_rule_are_named_as_such(slope):
    intake = {"residual": "5 L/s", "machine_passage": "30 mm"}
    assert "bars_unjudged" in codes(slope(pipe=PIPE, flow=FLOW, intake=intake, turbine=TURBINE))


def test_intake__without_flow_or_pipe_only_what_needs_neither(slope):
    study = slope(intake={"residual": "5 L/s", "grain": "0.3 mm", "storage": "2 m3"})
    intake = study.stream.intake
    assert intake.mouth is None
    assert intake.settling is None
    assert intake.notch_head_m is not None
    assert study_document(study)["intake"]["storage_least_m3"] is None


def test_energy__residual_missing_means_no_energy(slope):
    study = slope(pipe=PIPE, flow=FLOW, energy={"curve": CURVE}, turbine=TURBINE)
    assert study.stream.energy.year is None
    assert "residual_missing" in codes(study)
    assert study_document(study)["energy"]["energy_kwh"] is None


def test_energy__spot_gaugings_are_no_curve(slope):
    given = {"residual": "5 L/s"}
    few = slope(pipe=PIPE, flow=FLOW, intake=given, energy={"record": ["30 L/s"] * 29})
    none = slope(pipe=PIPE, flow=FLOW, intake=given, energy={"availability": 0.9})
    for study in (few, none):
        assert study.stream.energy.year is None
        assert "energy_not_estimated" in codes(study)
    enough = slope(pipe=PIPE, flow=FLOW, intake=given, energy={"record": ["30 L/s"] * 30})
    assert enough.stream.energy.year is not None
    assert "record_short" in codes(enough)


def test_energy__against_an_independent_integral(slope):
    """Friction after the fluids library, integrated by scipy over the year."""
    design, residual, bends = 0.020, 0.006, 1.2
    tables = {
        "pipe": PIPE,
        "flow": {"design": "20 L/s", "local_loss": bends},
        "intake": {"residual": "6 L/s", "loss": 0.5},
        "energy": {"curve": CURVE, "availability": 0.9, "least_share": 0.2},
        "turbine": {"efficiency": 0.6},
    }
    study = slope(**tables)
    pipe, water = study.line.schedule.runs[0].pipe, study.line.water
    bore, length = pipe.inside_diameter_m, study.line.pipe.pipe_length_m
    shares = [row / 100 for row in (0, 20, 40, 60, 80, 100)]
    flows = [row / 1000 for row in (120, 60, 42, 28, 18, 9)]

    def kilowatts(share):
        flow = min(design, np.interp(share, shares, flows) - residual)
        if flow < 0.2 * design:
            return 0.0
        speed = flow / (math.pi / 4 * bore**2)
        factor = fluids.friction_factor(
            Re=speed * bore / water.kinematic_viscosity_m2_s, eD=pipe.roughness_m / bore
        )
        lost = (factor * length / bore + bends + 0.5) * speed**2 / (2 * 9.80665)
        return water.density_kg_m3 * 9.80665 * flow * (study.line.gross_head_m - lost) * 0.6 / 1000

    breaks = [*shares[1:-1], np.interp(-(residual + design), -np.array(flows), shares)]
    year, _ = quad(kilowatts, 0.0, 1.0, points=sorted(breaks), limit=200)
    found = study.stream.energy.year
    assert found.energy_kwh == pytest.approx(8760 * 0.9 * year, rel=1e-4)
    assert found.rated_kw == pytest.approx(study.flow.power_kw, rel=1e-9)


def test_energy__worked_case_through_the_settings():
    """Rated 17.2 kW and about 103 600 kWh, independently computed for a loss of 6 m at design.

    The loss there goes with the square of the flow; a line of pipe with all its loss in one
    coefficient and none in friction does the same.
    """
    rows = [(0, 300), (20, 120), (40, 70), (60, 45), (80, 30), (100, 15)]
    tables = settings_from_mapping(
        {
            "intake": {"residual": "10 L/s"},
            "flow": {"design": "50 L/s"},
            "energy": {
                "curve": [{"share": f"{p} %", "flow": f"{q} L/s"} for p, q in rows],
                "availability": "92 %",
                "least_share": "20 %",
            },
            "turbine": {"efficiency": "65 %"},
        }
    )
    pipe, water = load_catalogue().find("PE100-SDR17-250"), water_at(10.0)
    head = (0.05 / (math.pi / 4 * pipe.inside_diameter_m**2)) ** 2 / (2 * 9.80665)
    line = known_line([0.0, 1e-6], 0.0, pipe, intake_m=60.0, entrance_k=6.0 / head, water=water)
    year = energy_of_year(tables, line, 0.05, stream_over_year(tables.energy)).year
    assert year.rated_kw == pytest.approx(17.21, abs=0.005)
    assert year.energy_kwh == pytest.approx(103_600, abs=50)
    assert year.capacity_factor == pytest.approx(0.687, abs=5e-4)


@pytest.mark.parametrize("flow", [1e-6, 0.002, 0.02, 0.2])
def test_head_losses__are_those_of_one_flow_at_a_time(slope, flow):
    study = slope(pipe=[*PIPE, {"from": "300 m", "catalogue": "PE100-SDR11-180"}], flow=FLOW)
    resistance = line_resistance(study.line)
    many = resistance.head_losses_m(np.array([flow, 2 * flow]))
    assert many[0] == pytest.approx(resistance.head_loss_m(flow), rel=1e-12)
    assert many[1] == pytest.approx(resistance.head_loss_m(2 * flow), rel=1e-12)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    residual=st.floats(0.0, 40.0),
    more=st.floats(0.0, 20.0),
    availability=st.floats(0.05, 1.0),
    kind=st.sampled_from(["pelton", "turgo", "crossflow", "francis", "pump as turbine"]),
)
def test_energy__more_for_the_bed_is_never_more_energy(residual, more, availability, kind):
    pipe, water = load_catalogue().find("PE100-SDR17-200"), water_at(8.0)
    line = known_line([0.0, 900.0], 0.0, pipe, intake_m=60.0, water=water)

    def year(flow):
        tables = settings_from_mapping(
            {
                "intake": {"residual": f"{flow} L/s"},
                "energy": {"curve": CURVE, "availability": availability},
                "turbine": {"kind": kind},
            }
        )
        return energy_of_year(tables, line, 0.02, stream_over_year(tables.energy))

    less, base = year(residual + more), year(residual)
    assert 0.0 <= less.year.energy_kwh <= base.year.energy_kwh * (1 + 1e-9)
    assert base.year.energy_kwh <= base.lossless_kwh
    assert base.year.running_share <= availability * (1 + 1e-9)
    assert base.year.volume_m3 <= 0.02 * 8760 * 3600 * (1 + 1e-9)


def test_machine_of__least_share_moves_the_range_only():
    given = {"turbine": {"kind": "crossflow"}, "energy": {"least_share": 0.4}}
    machine = machine_of(settings_from_mapping(given))
    usual = machine_of(settings_from_mapping({"turbine": {"kind": "crossflow"}}))
    share = np.array([0.2, 0.5, 1.0])
    assert machine.at(share)[0] == 0.0
    assert machine.at(share)[1:] == pytest.approx(usual.at(share)[1:])
    # A machine of no known curve: one efficiency from the least share up.
    flat = machine_of(settings_from_mapping({"energy": {"least_share": 0.4}}))
    assert flat.at(share).tolist() == [0.0, 0.5, 0.5]


def test_document__sections_keep_to_the_schema(slope):
    study = slope(
        pipe=PIPE,
        flow=FLOW,
        turbine=TURBINE,
        intake={
            "residual": "5 L/s",
            "bar": "6 mm",
            "bar_gap": "12 mm",
            "grain": "0.3 mm",
            "gauging": [{"weir": "cipolletti", "head": "0.1 m", "width": "0.5 m"}],
        },
        energy={"curve": CURVE, "price_per_kwh": 0.15},
    )
    document = json.loads(to_json(study_document(study)))
    jsonschema.validate(document, study_schema())
    energy = document["energy"]
    assert energy["worth_per_year"] == pytest.approx(0.15 * energy["energy_kwh"], abs=0.05)
    flows = energy["curve"]["flow_m3_s"]
    assert len(flows) == 101
    assert flows == sorted(flows, reverse=True)

import csv
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from pyproj import Transformer

import routing
from routing import pipe_trial
from routing.check import requirements_of
from routing.choice_study import choose_pipes as choose
from routing.errors import InputError, PipeError
from routing.line import read_route
from routing.pipe import load_catalogue
from routing.relaid import relaid
from routing.settings import read_settings, settings_from_mapping
from routing.strength import allowance
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)
FLOW = {"design": "20 L/s"}
TURBINE = {"kind": "crossflow", "efficiency": "65 %", "closure_time": "20 s"}
CALM = {"vents_may_freeze": False}
PRICES = {
    "date": "2026-11-25",
    "currency": "crowns",
    "per_kg": {"PE100": 3.0, "PVC": 2.2},
    "joint": 30.0,
}
YEAR = {"price_per_kwh": 0.15, "interest": "6 %", "years": 25.0, "hours": 5000.0}


def choose_pipes(study, **more):
    return choose(study.line, study.settings, name=study.name, **more)


@pytest.fixture
def document(slope):
    def make(**tables):
        return slope(**{"flow": FLOW, "turbine": TURBINE, "site": CALM, **tables})

    return make


@pytest.fixture
def gentle(studies_over):
    """A slope of 5 % to the east with a knoll at one half; returns a study maker."""
    x = np.arange(220) * 5.0 + 2.5
    return studies_over(500 - 0.05 * x + 5 * np.exp(-(((x - 520) / 50) ** 2)))


def test_choose_pipes__tries_the_whole_catalogue_and_ranks_it(document):
    choice = choose_pipes(document(prices=PRICES))
    distinct = {
        (
            pipe.material, round(pipe.outside_diameter_m, 5), round(pipe.wall_m or 0.0, 5),
            round(pipe.inside_diameter_m, 5), round(pipe.rating_pa or 0.0, 5),
        )
        for pipe in load_catalogue()
    }  # fmt: skip
    assert choice["tried"] == len(choice["sweep"]) == len(distinct)
    fits = [row["fits"] for row in choice["sweep"]]
    assert fits == sorted(fits, reverse=True)
    assert sum(fits) == choice["fitting"] > 0
    prices = [row["price"] for row in choice["sweep"] if row["fits"]]
    assert prices == sorted(prices)
    assert choice["ranked_by"] == "price"
    for row in choice["sweep"]:
        assert (row["verdict"] == "fits") == row["fits"]
        if row["fits"]:
            assert row["loss_share"] <= 0.1
            assert row["class_margin_kpa"] >= 2 * 9.8


def test_choose_pipes__loss_and_power_are_those_of_a_study_with_that_pipe(document, slope):
    choice = choose_pipes(document(prices=PRICES))
    rows = [row for row in choice["sweep"] if row["fits"]][::60]
    for row in rows:
        pipe = [{"catalogue": row["id"]}]
        study = slope(pipe=pipe, flow=FLOW, turbine=TURBINE, site=CALM)
        # Another outside diameter lays the line a little differently.
        assert row["loss_m"] == pytest.approx(study.flow.aged.head_loss_m, rel=0.01)
        assert row["power_kw"] == pytest.approx(study.flow.power_kw, rel=0.01)
        assert row["velocity_m_s"] == pytest.approx(study.flow.aged.velocity_m_s[0], abs=1e-4)
        blocked = study.pressures.surges[-1]
        rise = blocked.rise_m.max() if row["tried"] == "full" else blocked.bound.rise_m
        assert row["surge_m"] == pytest.approx(rise, rel=1e-3)
        assert all(each.passed for each in study.checks if each.code == "class_exceeded")


def test_choose_pipes__what_was_followed_tells_the_figures_of_its_study():
    """Steep ground high up, where a blockage parts the water: the bound is far too kind there."""
    paths = sample_paths()
    given = read_settings(paths.settings).given
    flow = {"design": "22 L/s", "temperature": "7 degC"}
    tables = {**given, "flow": flow, "pipe": [], "prices": PRICES, "energy": YEAR}
    settings = settings_from_mapping(tables)
    terrain, route = open_study_terrain([paths.terrain], settings), read_route(paths.line)
    bare = run_study(terrain, route, settings, pressures=False)
    rows = choose(bare.line, settings, material="PVC")["sweep"]
    full = [row for row in rows if row["tried"] == "full" and row["fits"]]
    parted = 0
    for row in full[:4]:
        with_it = {**tables, "pipe": [{"from": "0 m", "catalogue": row["id"]}]}
        study = run_study(terrain, route, settings_from_mapping(with_it))
        blocked = study.pressures.surges[-1]
        assert row["surge_m"] == pytest.approx(blocked.rise_m.max(), abs=0.002)
        assert row["loss_m"] == pytest.approx(study.flow.aged.head_loss_m, abs=0.001)
        assert row["loss_new_m"] == pytest.approx(study.flow.new.head_loss_m, abs=0.001)
        assert row["power_kw"] == pytest.approx(study.flow.power_kw, abs=0.001)
        length_m = float(study.line.slope_station_m[-1])
        mass_kg = load_catalogue().find(row["id"]).mass_kg_m * length_m
        assert row["mass_kg"] == pytest.approx(mass_kg, rel=1e-4)
        assert row["price"] == pytest.approx(PRICES["per_kg"]["PVC"] * mass_kg, rel=1e-4)
        allowed = allowance(study.line.pipes.runs[0].pipe, 7.0)
        rest = study.line.static_pressure_pa
        weight = study.line.water.weight_n_m3
        in_hand = min(
            allowed.static_pa - rest.max(),
            allowed.total_pa - (rest + weight * blocked.rise_m).max(),
        )
        assert row["class_margin_kpa"] == pytest.approx(in_hand / 1000.0, abs=0.05)
        parted += row["surge_m"] > 1.1 * blocked.bound.rise_m
    assert parted
    # Ranked by what is told.
    costs = [row["yearly_cost"] for row in rows if row["fits"]]
    assert costs == sorted(costs)


def test_choose_pipes__class_line_laid_again_holds(document, slope):
    choice = choose_pipes(document(prices=PRICES, intake={"level_above_ground": "20 m"}))
    for part in ("class_line", "diameters"):
        runs = choice[part]["runs"]
        assert runs[0]["from_m"] == 0.0
        for above, below in pairwise(runs):
            assert above["to_m"] == below["from_m"]
        pipe = [{"from": f"{run['from_m']} m", "catalogue": run["id"]} for run in runs]
        study = slope(
            pipe=pipe,
            flow=FLOW,
            turbine=TURBINE,
            site=CALM,
            intake={"level_above_ground": "20 m"},
            surge={"run": False},
        )
        rest = study.line.static_pressure_pa
        assert np.all(rest <= study.line.rating_pa * (1 + 1e-9))
    best = choice["sweep"][0]
    assert choice["class_line"]["cost"] <= best["price"] + 1e-6
    assert choice["diameters"]["cost"] <= choice["class_line"]["cost"] + 1e-6
    assert choice["diameters"]["lower_bound"] <= choice["diameters"]["value"] + 1e-6
    assert choice["diameters"]["loss_m"] <= 0.1 * choice["line"]["gross_head_m"] + 1e-3


def test_choose_pipes__yearly_cost_is_its_two_parts(document):
    choice = choose_pipes(document(prices=PRICES, energy=YEAR))
    assert choice["ranked_by"] == "yearly cost"
    # Recovery of 1 in 25 years at 6 %: 0.07823, engineers' tables of the capital recovery factor.
    priced = [row for row in choice["sweep"] if row["price"] is not None]
    assert len(priced) > 400
    for row in priced:
        parts = 0.07823 * row["price"] + 0.15 * row["lost_kwh"]
        assert row["yearly_cost"] == pytest.approx(parts, rel=1e-3)
    costs = [row["yearly_cost"] for row in choice["sweep"] if row["fits"]]
    assert costs == sorted(costs)


def test_choose_pipes__dearer_energy_never_asks_for_a_smaller_bore(document):
    bores, losses = [], []
    for price in (0.0, 0.05, 0.2, 0.8, 3.0):
        made = document(prices=PRICES, energy={**YEAR, "price_per_kwh": price})
        choice = choose_pipes(made, material="PE100")
        bores.append(choice["sweep"][0]["inside_diameter_m"])
        losses.append(choice["diameters"]["loss_m"])
    assert bores == sorted(bores)
    assert bores[-1] > bores[0]
    assert np.all(np.diff(losses) <= 1e-3)


def test_choose_pipes__without_prices_the_lightest_and_it_says_so(document):
    choice = choose_pipes(document(), material="PE100")
    assert choice["ranked_by"] == "mass"
    assert any("lightest" in note for note in choice["notes"])
    masses = [row["mass_kg"] for row in choice["sweep"] if row["fits"]]
    assert masses == sorted(masses)
    assert all(row["price"] is None for row in choice["sweep"])
    assert {row["material"] for row in choice["sweep"]} == {"PE100"}


def test_choose_pipes__own_price_of_one_pipe_outweighs_its_mass(document):
    cheap = {**PRICES, "per_metre": {"PE100-SDR11-225": 0.5}}
    choice = choose_pipes(document(prices=cheap))
    best = choice["sweep"][0]
    assert best["id"] == "PE100-SDR11-225"
    assert best["price"] == pytest.approx(0.5 * choice["line"]["length_m"], abs=0.01)


def test_choose_pipes__where_vents_freeze_only_pipe_that_bears_a_vacuum(document, gentle):
    given = {"flow": FLOW, "turbine": TURBINE, "prices": PRICES}
    careful = choose_pipes(gentle(**given, site={"vents_may_freeze": True}))
    assert all(row["vacuum_margin_kpa"] >= 0 for row in careful["sweep"] if row["fits"])
    assert "vacuum flattens it" in {row["verdict"] for row in careful["sweep"]}
    calm = choose_pipes(gentle(**given, site=CALM))
    assert calm["fitting"] > careful["fitting"]
    assert not any("working vents" in note for note in careful["notes"])
    calm = choose_pipes(document(prices=PRICES), material="PE100")
    margin = {row["id"]: row["vacuum_margin_kpa"] for row in calm["sweep"]}
    assert margin[calm["class_line"]["runs"][0]["id"]] < 0  # thin where little weighs on it
    assert any("working vents" in note for note in calm["notes"])


def test_choose_pipes__the_class_is_that_of_a_sudden_blockage(document):
    # Joukowsky: a V / g, with the wave speed of each row.
    choice = choose_pipes(document(prices=PRICES))
    for row in choice["sweep"][::25]:
        joukowsky = row["wave_speed_m_s"] * row["velocity_m_s"] / 9.80665
        if row["tried"] == "bound":
            assert row["surge_m"] == pytest.approx(joukowsky, rel=2e-3)
        else:  # cavities that fall shut add to it, and so do later swings
            assert row["surge_m"] >= 0.99 * joukowsky
    unhurried = choose_pipes(document(prices=PRICES, turbine={**TURBINE, "closure_time": "90 s"}))
    assert unhurried["fitting"] == choice["fitting"]


def test_choose_pipes__a_surge_factor_above_the_standards_own_fits_nothing_more(gentle):
    # A fast flow under little head, so that the surge decides and not the test.
    def fitting(**surge):
        made = gentle(flow={"design": "40 L/s"}, site={**CALM, "test_factor": 1.0}, surge=surge)
        return {row["id"] for row in choose_pipes(made)["sweep"] if row["fits"]}

    assert fitting(factor=1.5) <= fitting()
    assert fitting(factor=1.0) < fitting()


def failed(study):
    """Return the faults, and the failed checks of pipe, flow, class and test."""
    asked = {
        "over_rating", "rating_too_high", "diameters_mixed", "class_exceeded", "surge_factor_high",
        "velocity_high", "velocity_low", "loss_high", "flow_exceeds", "siphon", "low_pressure",
        "test_over_class",
    }  # fmt: skip
    checks = {
        check.code
        for check in study.checks
        if not check.passed and check.severity != "note" and check.code in asked
    }
    return checks | {finding.code for finding in study.findings if finding.severity == "fault"}


LINES = [
    ("slope", "505 m", "20 L/s", {}, None),
    ("slope", "505 m", "20 L/s", {"closure_time": "2 s"}, None),
    ("slope", "500 m", "35 L/s", TURBINE, "PE100"),
    ("slope", "520 m", "12 L/s", {"closure_time": "3 s"}, "PE100"),
    ("slope", "501 m", "60 L/s", {"closure_time": "90 s"}, "STEEL"),
    ("slope", "540 m", "8 L/s", {"closure_time": "8 s"}, None),
    # Here a joint lies 0.03 mm beside its station as read back, where the heads leap by 18 m.
    ("gentle", "502 m", "15 L/s", {"closure_time": "4 s"}, "PVC"),
    ("gentle", "501 m", "40 L/s", {"closure_time": "30 s"}, None),
    ("gentle", "510 m", "25 L/s", {}, "PE100"),
]


@pytest.mark.parametrize(("line", "level", "flow", "turbine", "material"), LINES)
def test_choose_pipes__what_fits_gives_no_fault(request, line, level, flow, turbine, material):
    tables = {
        "flow": {"design": flow}, "turbine": turbine, "site": CALM, "intake": {"level": level},
    }  # fmt: skip
    lay = request.getfixturevalue(line)
    bare = lay(**tables)
    choice = choose_pipes(bare, material=material)
    fits = [row for row in choice["sweep"] if row["fits"]]
    assert fits
    full = [row for row in fits if row["tried"] == "full"]
    assert full == fits[:8]
    bounded = sorted(
        (row for row in fits if row["tried"] == "bound"), key=lambda row: row["class_margin_kpa"]
    )
    sequences = [[(0.0, row["id"])] for row in (*full, *bounded[:1], *bounded[-1:])]
    for part in ("class_line", "diameters"):
        runs = choice[part]["runs"]
        sequences.append([(run["from_m"], run["id"]) for run in runs])
        assert len({run["id"] for run in runs}) <= 3
        shortest = 5 * min(load_catalogue().find(run["id"]).jointing.stick_m for run in runs)
        for run in runs:
            assert run["to_m"] - run["from_m"] >= shortest - 1e-3 or len(runs) == 1
    for runs in sequences:
        pipe = [{"from": f"{start} m", "catalogue": id} for start, id in runs]
        assert failed(lay(**tables, pipe=pipe)) - failed(bare) == set(), runs


LINE_ONLY = {"above_intake", "uphill", "no_fall"}
"""Faults of the line itself, which no pipe mends."""


def test_reasons__every_fault_that_hangs_on_the_pipe_turns_a_pipe_down():
    # The lists of what is asked, each row with its own source; what fails there, fails here.
    told = set()
    for room in ("pipe", "strength", "flow"):
        folder = Path(routing.__file__).parent / room
        asked = requirements_of(folder)
        with (folder / "data" / "requirements.csv").open(newline="", encoding="utf-8") as file:
            rows = [asked(row["key"]) for row in csv.DictReader(file)]
        told |= {_reason(row) for row in rows}
    assert told - {None} == set(pipe_trial.REASONS.values())


def _reason(row):
    if row.severity == "note" or row.code in LINE_ONLY:
        return None
    limit = 10.0 if row.limit is None else row.limit
    check = row.judge(limit * (2.0 if row.at_most else 0.4), "", limit=limit)
    assert not check.passed
    reason = pipe_trial._worst([check])
    if row.severity == "fault":
        assert reason == pipe_trial.REASONS[row.code]
    return reason


def test_choose_pipes__a_fast_closure_does_not_turn_down_what_its_waves_clear(document):
    # The bound lets the column part everywhere at once; the waves of 2 s do not part it.
    choice = choose_pipes(document(turbine={"closure_time": "2 s"}))
    assert [row["tried"] for row in choice["sweep"] if row["fits"]] == ["full"] * 8
    turned = [row for row in choice["sweep"] if row["verdict"] == "the water parts"]
    assert {row["tried"] for row in turned} == {"bound"}
    assert any(note.startswith(f"{len(turned)} pipes are turned down") for note in choice["notes"])


def test_choose_pipes__sequences_bear_the_test_of_the_whole_line(document):
    # ASTM F2164: fused polyethylene to 1.5 times its rating, here 1.5 times the highest static.
    study = document(prices=PRICES)
    for part in ("class_line", "diameters"):
        for run in choose_pipes(study, material="PE100")[part]["runs"]:
            inside = (study.line.station_m >= run["from_m"]) & (study.line.station_m <= run["to_m"])
            lowest = study.line.static_pressure_pa.max()
            above = lowest - study.line.static_pressure_pa[inside]
            assert np.all(1.5 * lowest - above <= 1.5 * 1000.0 * run["rating_kpa"])


def test_choose_pipes__one_wall_under_two_names_is_one_pipe(document):
    rows = choose_pipes(document(), material="STEEL")["sweep"]
    walls = [(row["inside_diameter_m"], row["loss_m"], row["mass_kg"]) for row in rows]
    assert len(set(walls)) == len(walls)


@pytest.mark.parametrize("schedule", ["STD", "40"])
def test_choose_pipes__of_two_names_of_one_wall_the_one_of_the_study_stands(document, schedule):
    # ASME B36.10M, from memory: standard weight and schedule 40 are one wall up to NPS 10.
    own = f"STEEL-B3610-{schedule}-6in"
    study = document(pipe=[{"catalogue": own}])
    rows = choose_pipes(study, material="STEEL", sizes=False)["sweep"]
    both = [row["id"] for row in rows if row["id"] in ("STEEL-B3610-STD-6in", "STEEL-B3610-40-6in")]
    assert both == [own]


def test_choose_pipes__flow_too_large_for_any_pipe(document):
    choice = choose_pipes(document(flow={"design": "9 m3/s"}))
    assert choice["fitting"] == 0
    assert choice["class_line"] is choice["diameters"] is None
    assert any("No pipe" in note for note in choice["notes"])


@pytest.mark.parametrize(
    ("tables", "options", "error", "words"),
    [
        ({"flow": {}}, {}, InputError, "design flow"),
        ({"outlet": {"level": "600 m"}}, {}, InputError, "not below the intake"),
        ({}, {"material": "BAMBOO"}, InputError, "BAMBOO"),
        (
            {"prices": {"date": "2026-11-25", "per_metre": {"PE100-SDR17-20O": 1.0}}},
            {},
            PipeError,
            "PE100-SDR17-200",
        ),
    ],
)
def test_choose_pipes__what_it_cannot_do_without(document, tables, options, error, words):
    with pytest.raises(error, match=words):
        choose_pipes(document(**tables), **options)


def test_choose_pipes__tries_few_pipes_at_length(document, monkeypatch):
    tried = []
    plain = pipe_trial.tried

    def counted(settings, line):
        tried.append(settings.surge.run)
        return plain(settings, line)

    monkeypatch.setattr(pipe_trial, "tried", counted)
    choice = choose_pipes(document(prices=PRICES, energy=YEAR))
    follows = [run for run in tried if run is None]
    # eight pipes, and both sequences sought up to three times
    assert len(follows) <= 8 + 6
    assert len(tried) - len(follows) < 0.2 * choice["tried"]


def test_choose_pipes__costs_no_more_than_a_few_studies(document):
    # A ratio, so that a machine busy with other work measures the same; 3 where it was measured.
    made = document(prices=PRICES, energy=YEAR)

    def seconds(work):
        work()
        start = time.process_time()
        work()
        return time.process_time() - start

    study = seconds(lambda: document(pipe=[{"catalogue": "PE100-SDR11-225"}]))
    assert seconds(lambda: choose_pipes(made)) < 6.0 * study


def test_choose_pipes__a_pipe_is_judged_in_the_trench_that_it_gets():
    # 500 mm under 0.8 m of cover do not fit 1.3 m of depth: the line then follows the ground.
    paths = sample_paths()
    given = read_settings(paths.settings).given
    tables = {**given, "flow": {"design": "150 L/s", "temperature": "7 degC"}, "pipe": []}
    settings = settings_from_mapping(tables)
    terrain, route = open_study_terrain([paths.terrain], settings), read_route(paths.line)
    bare = run_study(terrain, route, settings, pressures=False)
    found = {row["id"]: row for row in choose_pipes(bare, material="PE100")["sweep"]}
    assert found["PE100-SDR17-500"]["tried"] == "full"
    assert found["PE100-SDR17-500"]["verdict"] == "class exceeded"
    laid = {**tables, "pipe": [{"from": "0 m", "catalogue": "PE100-SDR17-500"}]}
    assert "class_exceeded" in failed(run_study(terrain, route, settings_from_mapping(laid)))


def test_relaid__is_the_line_of_a_study_with_those_pipes(gentle):
    tables = {"flow": {"design": "15 L/s"}, "intake": {"level": "502 m"}}
    bare = gentle(**tables)
    study = gentle(**tables, pipe=[{"from": "0 m", "catalogue": "PE100-SDR11-110"}])
    again = relaid(bare.settings, bare.line, study.line.pipes)
    assert again.pipe_m == pytest.approx(study.line.pipe_m, abs=1e-9)
    assert not np.allclose(again.pipe_m, bare.line.pipe_m, atol=0.02)
    assert again.levels == study.line.levels
    for told, laid in zip(again.bends, study.line.bends, strict=True):
        assert told.station_m == laid.station_m
        assert told.deflection_deg == pytest.approx(laid.deflection_deg, abs=1e-4)

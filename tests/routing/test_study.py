import numpy as np
import pytest
from pyproj import Transformer

from routing.errors import LeatlineError, PipeError, SettingsError
from routing.line import Route
from routing.record import read_document, study_document, to_json, write_document
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study

CRS = "EPSG:32633"
BACK = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
PIPE = {"catalogue": "PE100-SDR17-200"}


def route(points, name="line"):
    lon, lat = BACK.transform(*np.array(points, dtype=float).T)
    return Route(name=name, lon=lon, lat=lat)


@pytest.fixture
def hillside(make_raster):
    """A slope of 10 % to the east with a ridge across it at 350 m; 5 m cells."""
    x = np.arange(160) * 5.0 + 2.5
    height = 500 - 0.1 * x + 4.0 * np.exp(-(((x - 350) / 25) ** 2))
    path = make_raster(np.tile(height, (60, 1)), cell=5.0, unit="metre")
    return lambda **tables: (
        open_study_terrain([path], settings_from_mapping(tables)),
        settings_from_mapping(tables),
    )


LINE = [(500_050, 5_199_850), (500_400, 5_199_850), (500_750, 5_199_800)]


def study(hillside, **tables):
    terrain, settings = hillside(**tables)
    return study_document(run_study(terrain, route(LINE), settings))


def test_run_study__whole_chain(hillside):
    doc = study(
        hillside,
        flow={"design": "18 L/s", "temperature": "10 degC"},
        pipe=[PIPE],
        turbine={"efficiency": 0.64},
        intake={"level_above_ground": "0.4 m"},
    )
    summary, stations = doc["summary"], doc["stations"]
    assert summary["intake_level_m"] == pytest.approx(stations["ground_m"][0] + 0.4)
    assert summary["outlet_level_m"] == stations["pipe_m"][-1]
    assert summary["gross_head_m"] == pytest.approx(
        summary["intake_level_m"] - summary["outlet_level_m"], abs=1e-4
    )
    assert summary["net_head_m"] == pytest.approx(
        summary["gross_head_m"] - summary["head_loss_m"], abs=2e-4
    )
    # P = rho g Q H eta with the density of water at 10 degC, 999.70 kg/m3 (Tanaka et al. 2001).
    assert summary["power_kw"] == pytest.approx(
        999.70 * 9.80665 * 0.018 * summary["net_head_m"] * 0.64 / 1000, rel=1e-5
    )
    assert stations["static_head_m"] == pytest.approx(
        summary["intake_level_m"] - stations["pipe_m"], abs=1e-4
    )
    assert len(doc["ground"]["highs"]) == 1
    assert [v["rule"] for v in doc["vents"]].count("summit") == 1
    assert [d["rule"] for d in doc["drains"]].count("sag") == 1
    assert np.all(np.diff(stations["station_m"]) > 0)
    # Every vertex of the drawn line is a station.
    assert np.isin(doc["route"]["station_m"], stations["station_m"]).all()


def test_run_study__head_of_250_feet_reads_just_under_110_psi(hillside):
    # A fact of the trade, common practice, no source: 0.433 psi for each foot of fall.
    doc = study(hillside, intake={"level": "500 m"}, outlet={"level": f"{500 - 250 * 0.3048} m"})
    psi = doc["summary"]["static_pressure_kpa"] / 6.894757
    assert 107 < psi < 110
    assert psi == pytest.approx(250 * 0.433, abs=0.15)


def test_run_study__without_pipe_or_flow(hillside):
    doc = study(hillside)
    codes = [w["code"] for w in doc["warnings"]]
    assert "pipe_assumed" in codes
    assert doc["flow"] is None
    assert doc["pipes"] == []
    assert "flowing_head_m" not in doc["stations"]
    assert "net_head_m" not in doc["summary"]
    assert doc["trench"]["outside_diameter_m"] == 0.2


def test_run_study__flow_without_pipe_is_told(hillside):
    doc = study(hillside, flow={"design": "18 L/s"})
    assert "flow_without_pipe" in [w["code"] for w in doc["warnings"]]
    assert doc["flow"] is None


def test_run_study__drawn_uphill_is_a_fault_not_an_error(hillside):
    terrain, settings = hillside(pipe=[PIPE], flow={"design": "10 L/s"})
    doc = study_document(run_study(terrain, route(LINE[::-1]), settings))
    faults = {w["code"] for w in doc["warnings"] if w["severity"] == "fault"}
    assert {"uphill", "above_intake"} <= faults
    assert doc["summary"]["gross_head_m"] < 0
    assert doc["summary"]["power_kw"] <= 0


def test_run_study__level_ends_are_a_fault(hillside):
    doc = study(hillside, intake={"level": "480 m"}, outlet={"level": "480 m"})
    assert "no_fall" in [w["code"] for w in doc["warnings"] if w["severity"] == "fault"]


def test_run_study__too_much_pressure_is_a_fault_with_place(hillside):
    doc = study(hillside, pipe=[{"catalogue": "PE100-SDR41-200"}], intake={"level": "700 m"})
    (fault,) = [w for w in doc["warnings"] if w["code"] == "over_rating"]
    assert fault["severity"] == "fault"
    assert fault["station_m"] == doc["summary"]["max_static_station_m"]


def test_run_study__greatest_pressure_may_be_at_a_sag(make_raster):
    x = np.arange(160) * 5.0 + 2.5
    height = 500 - 60 * np.sin(np.pi * x / 800) ** 2 - 0.02 * x
    terrain = open_study_terrain([make_raster(np.tile(height, (60, 1)), cell=5.0)])
    doc = study_document(run_study(terrain, route(LINE)))
    summary = doc["summary"]
    assert summary["max_static_pressure_kpa"] > summary["static_pressure_kpa"]
    assert 300 < summary["max_static_station_m"] < 420


def test_run_study__span_and_joint_are_stations(hillside):
    doc = study(
        hillside,
        pipe=[PIPE, {"from": "301.5 m", "catalogue": "PE100-SDR11-200"}],
        trench={"span": [{"from": "330.25 m", "to": "350.75 m"}]},
    )
    station = doc["stations"]["station_m"]
    for at in (301.5, 330.25, 350.75):
        assert np.min(np.abs(station - at)) < 1e-6
    assert [p["from_m"] for p in doc["pipes"]] == [0.0, 301.5]
    inside = np.asarray(doc["stations"]["span"], dtype=bool)
    assert inside.any()
    assert station[inside].min() > 330.25
    assert station[inside].max() < 350.75


def test_run_study__deeper_trench_makes_the_vent_vanish(hillside):
    vents = [
        [v["rule"] for v in study(hillside, trench={"max_depth": depth})["vents"]].count("summit")
        for depth in ("1.2 m", "3 m", "5 m")
    ]
    assert vents[0] == 1
    assert vents[-1] == 0


def test_run_study__offer_names_the_vent_it_would_save(hillside):
    doc = study(hillside, trench={"max_depth": "1.2 m"})
    (offer,) = doc["trench"]["offers"]
    (vent,) = [v for v in doc["vents"] if v["rule"] == "summit"]
    assert offer["vent_id"] == vent["id"]
    assert offer["extra_volume_m3"] > 0
    sags = [d for d in doc["drains"] if d["rule"] == "sag"]
    assert offer["drain_id"] == sags[0]["id"]
    assert offer["pits"] == 2
    assert offer["air_m3"] == vent["lost"]["air_m3"]


def test_run_study__a_valve_has_its_vent_and_its_drain(hillside):
    # AWWA Manual M51, from memory of it: air enters on the draining side of a shut valve.
    doc = study(hillside, pipe=[PIPE], valve=[{"at": "100 m"}])
    assert [v["rule"] for v in doc["vents"] if v["station_m"] == 100.0] == ["at a valve"]
    assert [d["rule"] for d in doc["drains"] if d["station_m"] == 100.0] == ["above a valve"]
    plain = study(hillside, pipe=[PIPE])
    assert "at a valve" not in {rule for v in plain["vents"] for rule in v["rules"]}


def test_run_study__frost_asks_what_the_settings_know_of_it(hillside):
    span = [{"from": "100 m", "to": "120 m"}]
    cold = {"winter_air": "-15 degC", "frost_depth": "3 m"}
    tables = {"pipe": [PIPE], "trench": {"span": span}}
    codes = {w["code"] for w in study(hillside, **tables, site=cold)["warnings"]}
    assert {"span_freezes", "cover_in_frost"} <= codes
    drained = study(hillside, **tables, site={**cold, "drained_in_winter": True})
    assert not {"span_freezes", "cover_in_frost", "frost_unknown"} & {
        w["code"] for w in drained["warnings"]
    }


@pytest.mark.parametrize(
    ("tables", "error", "words"),
    [
        ({"pipe": [{"catalogue": "PE100-SDR17-2000"}]}, PipeError, "PE100-SDR17-2000"),
        ({"pipe": [{"from": "5 m", **PIPE}]}, PipeError, "5 m"),
        ({"pipe": [{"from": "0 m", **PIPE}, {"from": "5000 m", **PIPE}]}, PipeError, "5000 m"),
        ({"pipe": [{"material": "PE100"}]}, PipeError, "names no pipe"),
        ({"pipe": [{"material": "PE100", "nominal": 200}]}, PipeError, "fits"),
        ({"pipe": [{"material": "PVC", "wall": "5 mm"}]}, PipeError, "inside_diameter"),
        ({"pipe": [{**PIPE, "wall": "5 mm"}]}, PipeError, "mixes"),
        ({"trench": {"span": [{"from": "9 m", "to": "3 m"}]}}, SettingsError, "9 m"),
    ],
)
def test_run_study__bad_settings_are_one_clear_error(hillside, tables, error, words):
    with pytest.raises(error) as caught:
        study(hillside, **tables)
    assert words in str(caught.value)
    assert caught.value.remedy


def test_run_study__same_numbers_from_memory(hillside):
    from routing.terrain import read_window

    terrain, settings = hillside(pipe=[PIPE], flow={"design": "18 L/s"})
    line = route(LINE)
    window = read_window(
        terrain, float(line.lon.min()), float(line.lat.min()), float(line.lon.max()),
        float(line.lat.max()), 4,
    )  # fmt: skip
    plain = to_json(study_document(run_study(terrain, line, settings)))
    assert to_json(study_document(run_study(terrain, line, settings, window=window))) == plain


def test_document__round_trip_and_no_nan(hillside, tmp_path):
    doc = study(hillside, pipe=[PIPE], flow={"design": "18 L/s"})
    path = tmp_path / "study.json"
    write_document(doc, path)
    text = path.read_text(encoding="utf-8")
    assert "NaN" not in text
    assert "Infinity" not in text
    back = read_document(path)
    assert to_json(back) == to_json(doc)
    assert back["stations"]["pipe_m"] == doc["stations"]["pipe_m"].tolist()
    assert list(tmp_path.glob("*study*")) == [path]


@pytest.mark.parametrize("text", ["", "{}", "[]", "{", '{"schema": 9, "stations": {}}', "\x00"])
def test_read_document__not_a_study(tmp_path, text):
    path = tmp_path / "s.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(LeatlineError, match=r"s\.json"):
        read_document(path)


def test_energy_line__losses_add_up(hillside):
    doc = study(hillside, pipe=[PIPE], flow={"design": "25 L/s"})
    flow, stations = doc["flow"], doc["stations"]
    velocity_head = doc["summary"]["velocity_m_s"] ** 2 / (2 * 9.80665)
    grade_line_end = stations["flowing_head_m"][-1] + stations["pipe_m"][-1]
    assert doc["summary"]["intake_level_m"] - grade_line_end - velocity_head == pytest.approx(
        flow["head_loss_m"], abs=1e-3
    )
    assert flow["head_loss_m"] == pytest.approx(
        flow["entrance_m"] + flow["friction_m"] + flow["local_m"], abs=3e-4
    )
    assert np.all(np.abs(np.diff(stations["static_pressure_kpa"])) < 200)


def test_document__every_station_column_follows_from_the_pipe(hillside):
    doc = study(
        hillside,
        pipe=[PIPE, {"from": "400 m", "catalogue": "PE100-SDR11-200"}],
        flow={"design": "18 L/s"},
        turbine={"closure_time": "15 s"},
        trench={"max_depth": "1.4 m"},
    )
    stations, (upper, lower) = doc["stations"], doc["pipes"]
    below = stations["station_m"] >= 400.0
    bore = np.where(below, lower["inside_diameter_m"], upper["inside_diameter_m"])
    outside = np.where(below, lower["outside_diameter_m"], upper["outside_diameter_m"])
    ground, pipe = stations["ground_m"], stations["pipe_m"]
    # Invert and crown are half a bore and half an outside diameter from the centreline.
    assert stations["invert_m"] == pytest.approx(pipe - bore / 2, abs=2e-4)
    assert stations["depth_m"] == pytest.approx(ground - stations["invert_m"], abs=2e-4)
    assert stations["cover_m"] == pytest.approx(ground - pipe - outside / 2, abs=2e-4)
    weight = doc["water"]["density_kg_m3"] * doc["water"]["gravity_m_s2"] / 1000
    for head, pressure in (
        ("static_head_m", "static_pressure_kpa"),
        ("flowing_head_m", "flowing_pressure_kpa"),
    ):
        assert stations[pressure] == pytest.approx(stations[head] * weight, abs=2e-3)
    rated = np.where(below, lower["derated_rating_kpa"], upper["derated_rating_kpa"])
    assert stations["rating_kpa"] == pytest.approx(rated)
    assert np.all(stations["surge_max_kpa"] >= stations["static_pressure_kpa"] - 1e-3)


def test_document__lengths_and_volumes_add_up(hillside):
    doc = study(
        hillside,
        pipe=[PIPE, {"from": "400 m", "catalogue": "PE100-SDR11-200"}],
        trench={"span": [{"from": "100 m", "to": "120 m"}]},
    )
    stations, trench, summary = doc["stations"], doc["trench"], doc["summary"]
    steps = np.diff(stations["station_m"])
    assert summary["pipe_length_m"] == pytest.approx(
        np.hypot(steps, np.diff(stations["pipe_m"])).sum(), abs=2e-3
    )
    assert summary["ground_length_m"] == pytest.approx(
        np.hypot(steps, np.diff(stations["ground_m"])).sum(), abs=2e-3
    )
    assert sum(pipe["length_m"] for pipe in doc["pipes"]) == pytest.approx(
        summary["pipe_length_m"], abs=1e-3
    )
    od, bedding = trench["outside_diameter_m"], trench["bedding_m"]
    depth = stations["ground_m"] - stations["pipe_m"] + od / 2 + bedding
    inside = np.asarray(stations["span"], dtype=bool)
    dug = np.where(inside[:-1] | inside[1:], 0.0, steps)
    volume = trench["width_m"] * float(np.sum(dug * (depth[:-1] + depth[1:]) / 2))
    assert trench["volume_m3"] == pytest.approx(volume, rel=1e-5)
    assert summary["trench_volume_m3"] == trench["volume_m3"]
    assert trench["deepest_m"] == pytest.approx(np.where(inside, 0, depth).max(), abs=2e-4)
    assert trench["spans"][0]["clearance_m"] == pytest.approx(
        (stations["pipe_m"] - stations["ground_m"])[
            (stations["station_m"] >= 100 - 1e-3) & (stations["station_m"] <= 120 + 1e-3)
        ].max(),
        abs=2e-4,
    )


def test_document__offer_is_priced_by_the_trench_it_would_need(hillside):
    doc = study(hillside, trench={"max_depth": "1.2 m"})
    (offer,) = doc["trench"]["offers"]
    deeper = study(hillside, trench={"max_depth": f"{1.2 + offer['extra_depth_m'] + 1e-4} m"})
    assert not [vent for vent in deeper["vents"] if vent["rule"] == "summit"]
    added = deeper["trench"]["volume_m3"] - doc["trench"]["volume_m3"]
    # The offer follows the ground, the two pipes as laid are straights.
    assert offer["extra_volume_m3"] == pytest.approx(added, rel=0.1)


def test_document__an_offer_is_taken_on_its_own_stretch(hillside):
    doc = study(hillside, trench={"max_depth": "1.2 m"})
    (offer,) = doc["trench"]["offers"]
    own = {
        "from": f"{offer['from_m']} m",
        "to": f"{offer['to_m']} m",
        "max_depth": f"{offer['depth_m'] + 1e-3} m",
    }
    taken = study(hillside, trench={"max_depth": "1.2 m", "limit": [own]})
    assert not [vent for vent in taken["vents"] if vent["rule"] == "summit"]
    assert taken["trench"]["limits"] == [
        {"from_m": offer["from_m"], "to_m": offer["to_m"], "cover_m": None,
         "max_depth_m": pytest.approx(offer["depth_m"], abs=2e-3)}
    ]  # fmt: skip
    station = np.asarray(taken["stations"]["station_m"])
    depth = np.asarray(taken["stations"]["depth_m"]) + taken["trench"]["bedding_m"]
    outside = (station < offer["from_m"]) | (station > offer["to_m"])
    assert depth[outside].max() <= 1.2 + 2e-3
    (check,) = (each for each in taken["checks"] if each["subject"] == "trench depth")
    assert check["passed"]


def test_document__a_limit_of_a_stretch_holds_while_dragging_for_choice_and_for_doubt(hillside):
    from routing.choice_study import choose_pipes

    plain = study(hillside, trench={"max_depth": "1.2 m"})
    (offer,) = plain["trench"]["offers"]
    own = {"from": f"{offer['from_m']} m", "to": f"{offer['to_m']} m", "max_depth": "3.0 m"}
    tables = {
        "trench": {"max_depth": "1.2 m", "limit": [own]},
        "pipe": [PIPE],
        "flow": {"design": "18 L/s"},
    }
    terrain, settings = hillside(**tables)
    dragged = run_study(terrain, route(LINE), settings, pressures=False)
    station, depth = dragged.profile.station_m, dragged.line.pipe.excavation.depth_m
    inside = (station > offer["from_m"]) & (station < offer["to_m"])
    assert depth[~inside].max() <= 1.2 + 1e-6
    assert depth[inside].max() > 1.2
    assert depth.max() <= 3.0 + 1e-6
    # Whoever enters the deeper stretch is warned there, and the caution stands in the study.
    document = study_document(run_study(terrain, route(LINE), settings))
    told = next(each for each in document["warnings"] if each["code"] == "depth_for_people")
    assert offer["from_m"] <= told["station_m"] <= offer["to_m"]
    assert {"trench", "trench_hillside"} <= {each["id"] for each in document["cautions"]}
    summits = [vent for vent in document["vents"] if vent["rule"] == "summit"]
    assert summits == []
    assert document["doubt"]["depths"][0]["summits"] == 0
    assert document["trench"]["deepest_m"] == pytest.approx(depth.max(), abs=0.02)
    choice = choose_pipes(dragged.line, settings, name="line")
    assert choice["fitting"] > 0


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        ({"from": "200 m", "to": "100 m"}, "Exchange the two"),
        ({"from": "100 m", "to": "200 m", "max_depth": "90 m"}, "max_depth"),
        ({"from": "100 m"}, "has no to"),
        ({"from": "100 m", "to": "200 m", "depth": "2 m"}, "nearest known"),
    ],
)
def test_trench_limit__bad_ones_are_named(hillside, limit, told):
    with pytest.raises(LeatlineError, match=told):
        study(hillside, trench={"limit": [limit]})


def test_trench_limit__beyond_the_line_is_told(hillside):
    doc = study(hillside, trench={"limit": [{"from": "9 km", "to": "10 km", "max_depth": "2 m"}]})
    assert "limit_outside_line" in {each["code"] for each in doc["warnings"]}


def test_document__a_no_go_area_on_the_line_is_a_fault_at_its_place(hillside):
    plain = study(hillside)
    place = [plain["stations"][key] for key in ("lon", "lat", "station_m")]
    k = len(place[0]) // 2
    lon, lat, station = (column[k] for column in place)
    d = 2e-4
    ring = [[lon - d, lat - d], [lon + d, lat - d], [lon + d, lat + d], [lon - d, lat + d]]
    feature = {
        "type": "Feature",
        "properties": {"name": "bog"},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    layer = [{"kind": "no-go", "features": {"type": "FeatureCollection", "features": [feature]}}]
    doc = study(hillside, layer=layer)
    (found,) = (each for each in doc["warnings"] if each["code"] == "no_go_crossed")
    assert found["severity"] == "fault"
    assert "'bog'" in found["message"]
    assert found["station_m"] < station
    assert doc["verdict"]["faults"] == plain["verdict"]["faults"] + 1
    assert doc["settings"]["layer"] == layer
    away = [{**layer[0], "features": {"features": [{**feature, "geometry": {
        "type": "Polygon", "coordinates": [[[x + 0.5, y] for x, y in ring]]}}]}}]  # fmt: skip
    assert "no_go_crossed" not in {each["code"] for each in study(hillside, layer=away)["warnings"]}


TWO_PIPES = [
    {"from": "0 m", "catalogue": "PE100-SDR17-200"},
    {"from": "120 m", "catalogue": "PE100-SDR11-200"},
]
PRICED = {"date": "2026-11-25", "currency": "crowns"}


def cost_of(hillside, **prices):
    return study(hillside, pipe=TWO_PIPES, prices={**PRICED, **prices})


def test_document__cost_is_the_sum_of_what_has_a_price(hillside) -> None:
    doc = cost_of(
        hillside, per_metre={"PE100-SDR17-200": 30.0}, per_kg={"PE100": 2.0},
        trench_per_m3=20.0, vent=100.0, drain=50.0, joint=7.0,
    )  # fmt: skip
    first, second = doc["pipes"]
    by_hand = (
        30.0 * first["length_m"]
        + 2.0 * second["mass_kg_m"] * second["length_m"]
        + 20.0 * doc["trench"]["volume_m3"]
        + 100.0 * len(doc["vents"])
        + 50.0 * len(doc["drains"])
        + 7.0
    )
    assert doc["cost"]["total"] == pytest.approx(by_hand, abs=0.05)
    assert doc["cost"]["currency"] == "crowns"
    assert doc["cost"]["date"] == "2026-11-25"
    assert doc["cost"]["not_priced"][-2:] == [
        "a share for what is not foreseen", "intake, machine, tax and all else",
    ]  # fmt: skip


def test_document__cost_names_what_has_no_price(hillside) -> None:
    doc = cost_of(hillside, per_metre={"PE100-SDR17-200": 30.0})
    lacking = doc["cost"]["not_priced"]
    assert "trench" in lacking
    assert doc["pipes"][1]["label"] in lacking
    assert doc["pipes"][0]["label"] not in lacking


def test_document__cost_is_null_without_a_price(hillside) -> None:
    assert cost_of(hillside)["cost"] is None


def test_document__grades_are_the_pipe_as_laid(hillside):
    doc = study(hillside)
    station, pipe = (np.asarray(doc["stations"][key]) for key in ("station_m", "pipe_m"))
    grades = doc["grades"]
    ends = [grades[0]["from_m"], *(each["to_m"] for each in grades)]
    levels = [grades[0]["from_z_m"], *(each["to_z_m"] for each in grades)]
    assert np.abs(np.interp(station, ends, levels) - pipe).max() < 1e-3
    assert len(grades) < station.size - 1
    for each in grades:
        rise, run = each["to_z_m"] - each["from_z_m"], each["to_m"] - each["from_m"]
        assert each["grade"] == pytest.approx(rise / run, abs=2e-4 / run)
    choices = doc["trench"]["grade_choices"]
    assert [each["name"] for each in choices if each["name"]] == [
        "close to the ground", "balanced", "fewest grades",
    ]  # fmt: skip
    (own,) = (each for each in choices if each["name"] == "balanced")
    assert own["grades"] == len(grades)
    assert own["volume_m3"] == doc["trench"]["volume_m3"]
    assert own["break_price_m3"] == doc["trench"]["break_price_m3"] == 0.5
    free = study(hillside, trench={"break_price": "0 m3"})
    assert len(free["grades"]) == choices[0]["grades"] >= len(grades)


def test_document__balanced_is_the_usual_price_whatever_the_own_one(hillside):
    usual = study(hillside)["trench"]["grade_choices"]
    doc = study(hillside, trench={"break_price": "0.7 m3"})
    choices = doc["trench"]["grade_choices"]
    named = {each["name"]: each for each in choices if each["name"]}
    assert named["balanced"]["break_price_m3"] == 0.5
    (own,) = (each for each in choices if each["break_price_m3"] == 0.7)
    assert own["name"] is None
    assert own["grades"] == len(doc["grades"])
    # Found among fewer levels, so not the very same digging as that of the pipe laid by it.
    (balanced,) = (each for each in usual if each["name"] == "balanced")
    assert named["balanced"]["volume_m3"] == pytest.approx(balanced["volume_m3"], rel=0.01)
    assert len(choices) == len(usual) + 1

"""Readings of lines with faults of known kind, place and size, simulated on their own."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np
import pytest

from routing.errors import InputError
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue
from routing.works import Diagnosis, GaugeReading, diagnose
from routing.works.causes import LOW, Gauges, explanations
from routing.works.evidence import Fitted, Guesses
from routing.works.expected import expected_readings
from routing.works.gauge import Tap, place_taps
from routing.works.odds import PREDICTED, weigh
from routing.works.trade_data import number

PIPE = load_catalogue().find("PE100-SDR17-110")
STATIONS = np.arange(7) * 150.0
LEVELS = np.array([98.0, 70.0, 82.0, 50.0, 66.0, 30.0, 0.0])
INTAKE = 100.0
FLOW = 0.006
VENTS = {"V1": 0.0, "V2": 300.0, "V3": 600.0}


def built(levels: np.ndarray = LEVELS) -> LaidLine:
    return simple_line(STATIONS, levels, PIPE, intake_m=INTAKE)


LINE = built()
TAPS = place_taps(LINE, given_m=[750.0])
PH = TAPS[-1]


def darcy(flow: float, reach: float) -> float:
    """Return the head lost in a length of the pipe: Darcy with Colebrook's factor, solved here."""
    if flow <= 0.0:
        return 0.0
    bore, rough = PIPE.inside_diameter_m, PIPE.roughness_m
    speed = flow / (np.pi / 4.0 * bore**2)
    reynolds = speed * bore / LINE.water.kinematic_viscosity_m2_s
    if reynolds < 2300.0:
        factor = 64.0 / reynolds
    else:
        root = 8.0
        for _ in range(60):
            root = -2.0 * np.log10(rough / bore / 3.7 + 2.51 * root / reynolds)
        factor = root**-2.0
    return float(factor * reach / bore * speed**2 / (2.0 * LINE.water.gravity_m_s2))


def simulated(
    truth: Mapping[str, tuple[float, float]], run_m3_s: float, at: Tap, line: LaidLine = LINE
) -> float:
    """Return the gauge's pressure [Pa]: one walk down the line, the leak an orifice.

    ``truth``: "intake low" (-, height), "air" (summit, height), "leak" (station, m2 of hole with
    its coefficient), "blockage" (station, loss over the flow squared).
    """

    def head(station: float, leak: float) -> float:
        level = INTAKE - truth.get("intake low", (0.0, 0.0))[1]
        if "air" in truth and truth["air"][0] < station:
            level -= truth["air"][1]
        hole, end = truth.get("leak", (np.inf, 0.0))[0], float(STATIONS[-1])
        slope = np.interp([min(hole, station, end), station], STATIONS, line.slope_station_m)
        level -= darcy(run_m3_s + leak, float(slope[0]))
        level -= darcy(run_m3_s, float(slope[1] - slope[0]))
        if "blockage" in truth and truth["blockage"][0] < station:
            through = run_m3_s + (leak if hole > truth["blockage"][0] else 0.0)
            level -= truth["blockage"][1] * through**2
        speed = (run_m3_s + (leak if station < hole else 0.0)) / (
            np.pi / 4.0 * PIPE.inside_diameter_m**2
        )
        # The entrance, and the velocity head that a gauge does not show.
        return level - 1.5 * speed**2 / (2.0 * line.water.gravity_m_s2)

    leak = 0.0
    if "leak" in truth:
        hole, area = truth["leak"]
        ground = float(np.interp(hole, STATIONS, line.pipe_m))
        low, high = 0.0, 0.05
        for _ in range(60):
            leak = 0.5 * (low + high)
            gives = area * np.sqrt(2 * 9.80665 * max(head(hole, leak) - ground, 0.0))
            low, high = (leak, high) if gives > leak else (low, leak)
    return max(head(at.station_m, leak) - at.level_m, 0.0) * line.water.weight_n_m3


def asked(
    truth: Mapping[str, tuple[float, float]],
    first: list[tuple[Tap, bool]],
    rng: np.random.Generator | None = None,
    line: LaidLine = LINE,
) -> tuple[Diagnosis, bool]:
    """Read on until it is decided; tell whether the last gauge was read running."""
    taps = TAPS if line is LINE else place_taps(line, given_m=[750.0])
    first = [(next(tap for tap in taps if tap.id == each.id), running) for each, running in first]
    readings: list[GaugeReading] = []
    wanted, ran = first, False
    for _ in range(14):
        for tap, running in wanted:
            gauge = simulated(truth, FLOW if running else 0.0, tap, line)
            if rng is not None and gauge > 0.0:
                # Half the class: a gauge that keeps its class errs by less than it.
                gauge = max(gauge + rng.normal(0.0, 0.005 * tap.full_scale_pa), 0.0)
            readings.append(GaugeReading(tap, gauge, running))
            ran = ran or (running and tap is taps[-1])
        found = diagnose(line, readings, taps, VENTS, flow_m3_s=FLOW, design_m3_s=FLOW)
        if found.decided or not found.read:
            return found, ran
        wanted = [(next(tap for tap in taps if tap.id == found.read[0]), found.running)]
    raise AssertionError("it goes on asking")


def at_work(found: Diagnosis) -> set[str]:
    return {each.cause for each in found.causes if each.odds >= 0.5}


SINGLE = {
    "nothing": {},
    "intake 8 m low": {"intake low": (0.0, 8.0)},
    "air below the first summit": {"air": (300.0, 9.0)},
    "air below the second summit": {"air": (600.0, 14.0)},
    "leak above the first summit": {"leak": (200.0, 3.0e-4)},
    "leak low down": {"leak": (800.0, 1.6e-4)},
    "valve half shut high up": {"blockage": (100.0, 4.0e5)},
    "rag low down": {"blockage": (700.0, 3.0e5)},
}
PAIRS = {
    f"{one} and {two}": {**SINGLE[one], **SINGLE[two]}
    for one, two in itertools.combinations(list(SINGLE)[1:], 2)
    if not set(SINGLE[one]) & set(SINGLE[two])
}
STARTS = {
    "powerhouse at rest": [(PH, False)],
    "powerhouse both ways": [(PH, False), (PH, True)],
}


def right_or_open(truth: Mapping[str, tuple[float, float]], found: Diagnosis, ran: bool) -> None:
    # Only gauges below it that were read running show a blockage, and the answer says so.
    unseen = set() if ran else {"blockage"}
    wanted = (set(truth) - unseen) or {"as predicted"}
    if found.decided:
        assert (at_work(found) - unseen or {"as predicted"}) == wanted
    else:
        # What really is at work has not been ruled out.
        assert sum(each.odds for each in found.causes if each.cause in wanted) > 0.01
    for each in found.causes:
        if found.decided and each.cause == "air" and each.odds > 0.5:
            assert each.vent_id == {300.0: "V2", 600.0: "V3"}[truth["air"][0]]
        # Two causes at once may trade places for sizes; which they are is sure all the same.
        alone = found.decided and len(truth) == 1 and each.odds > 0.5
        if alone and each.cause in ("leak", "blockage"):
            assert each.from_m is not None
            assert each.to_m is not None
            assert each.from_m - 40.0 <= truth[each.cause][0] <= each.to_m + 40.0
        if found.decided and each.cause in ("air", "intake low") and each.odds > 0.5:
            assert each.height_m == pytest.approx(truth[each.cause][1], abs=2.0)


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("name", [*SINGLE, *PAIRS])
def test_diagnose__right_or_not_decided(name: str, start: str) -> None:
    truth = {**SINGLE, **PAIRS}[name]
    found, ran = asked(truth, STARTS[start])
    right_or_open(truth, found, ran)


AIR_AND_BLOCKAGE = [name for name in PAIRS if {"air", "blockage"} <= set(PAIRS[name])]


@pytest.mark.parametrize("name", AIR_AND_BLOCKAGE)
def test_diagnose__air_with_a_blockage_names_the_gauge_to_read_and_is_never_wrong(
    name: str,
) -> None:
    """From the powerhouse alone it is "not decided: read the gauge at ..."; then right or open."""
    truth = PAIRS[name]
    both = [GaugeReading(PH, simulated(truth, flow, PH), flow > 0.0) for flow in (0.0, FLOW)]
    first = diagnose(LINE, both, TAPS, VENTS, flow_m3_s=FLOW, design_m3_s=FLOW)
    assert not first.decided
    assert first.read[0] in {tap.id for tap in TAPS if tap is not PH}
    found, ran = asked(truth, STARTS["powerhouse both ways"])
    assert ran
    assert not found.decided or at_work(found) == {"air", "blockage"}
    assert {"air", "blockage"} <= {each.cause for each in found.causes}


@pytest.mark.parametrize("name", [name for name in SINGLE if "valve" not in name])
def test_diagnose__a_single_cause_is_found_by_reading_on(name: str) -> None:
    found, _ = asked(SINGLE[name], STARTS["powerhouse both ways"])
    assert found.decided


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("name", [*SINGLE, *list(PAIRS)[::5]])
def test_diagnose__with_gauges_that_err(name: str, seed: int) -> None:
    truth = {**SINGLE, **PAIRS}[name]
    found, _ = asked(truth, STARTS["powerhouse both ways"], np.random.default_rng(seed))
    if found.decided:
        assert at_work(found) == (set(truth) or {"as predicted"})


def drawn(seed: int) -> tuple[LaidLine, dict[str, tuple[float, float]]]:
    """Return a line of its own levels with one or two causes of their own places and sizes."""
    rng = np.random.default_rng(seed)
    first, second = rng.uniform(8.0, 16.0, 2)
    down = rng.uniform([24.0, 26.0, 30.0], [30.0, 32.0, 36.0])
    a = 98.0 - down[0]
    c = a + first - down[1]
    e = c + second - down[2]
    levels = np.array([98.0, a, a + first, c, c + second, e, e - rng.uniform(20.0, 30.0)])
    causes = {
        "intake low": (0.0, float(rng.uniform(4.0, 11.0))),
        "air": (
            float(rng.choice([300.0, 600.0])),
            float(rng.uniform(0.5, 0.9) * min(first, second)),
        ),
        "leak": (float(rng.uniform(180.0, 850.0)), float(rng.uniform(1.5e-4, 3.5e-4))),
        "blockage": (float(rng.uniform(80.0, 820.0)), float(rng.uniform(2.5e5, 5.0e5))),
    }
    chosen = rng.choice(list(causes), size=1 + seed % 2, replace=False)
    return built(levels), {name: causes[name] for name in chosen}


@pytest.mark.parametrize("seed", range(0, 20, 2))
def test_diagnose__one_fault_drawn_at_random_on_a_line_drawn_at_random(seed: int) -> None:
    line, truth = drawn(seed)
    found, ran = asked(truth, STARTS["powerhouse both ways"], line=line)
    right_or_open(truth, found, ran)


@pytest.mark.parametrize("seed", range(1, 20, 2))
def test_diagnose__two_faults_at_once_drawn_at_random(seed: int) -> None:
    """Which they are is right or not decided; a leak below a blockage is never told as air."""
    line, truth = drawn(seed)
    found, _ = asked(truth, STARTS["powerhouse both ways"], line=line)
    if found.decided:
        assert at_work(found) == set(truth)
    else:
        assert sum(each.odds for each in found.causes if each.cause in truth) > 0.01


def test_diagnose__one_gauge_at_rest_cannot_tell_air_from_a_low_intake() -> None:
    gauge = PH.static_pa - 5.0 * LINE.water.weight_n_m3
    found = diagnose(LINE, [GaugeReading(PH, gauge, False)], TAPS, VENTS, design_m3_s=FLOW)
    assert not found.decided
    assert found.read != ()
    assert not found.running
    assert {"air", "intake low"} <= {each.cause for each in found.causes if each.odds > 0.1}


def test_diagnose__a_flow_that_nobody_measured() -> None:
    """Without the flow one gauge that runs low tells nothing; two with the same flow do."""
    readings = [
        GaugeReading(PH, simulated({}, 0.0, PH), False),
        GaugeReading(PH, simulated({}, FLOW, PH) - 5e4, True),
    ]
    found = diagnose(LINE, readings, TAPS, VENTS, design_m3_s=FLOW)
    assert not (found.decided and at_work(found) != {"as predicted"})
    with pytest.raises(InputError, match="flow"):
        diagnose(LINE, readings, TAPS, VENTS)


def test_diagnose__refuses_what_cannot_be_read() -> None:
    with pytest.raises(InputError, match="no reading"):
        diagnose(LINE, [], TAPS, VENTS)
    with pytest.raises(InputError, match="cannot be"):
        diagnose(LINE, [GaugeReading(PH, 9e6, False)], TAPS, VENTS)


def test_expected_readings__as_the_walk_down_the_line() -> None:
    found = expected_readings(LINE, TAPS, FLOW)
    assert len(found) == 5 * len(TAPS)
    for each in found:
        own = simulated({}, each.flow_m3_s, each.tap)
        assert each.gauge_pa == pytest.approx(own, abs=300.0)


def weighed(misfit: float, low: float) -> Diagnosis:
    """Return what two explanations say: all as predicted, and an intake that stands low."""
    count = len(TAPS)
    gauges = Gauges(line=LINE, station_m=np.array([tap.station_m for tap in TAPS]), flow_m3_s=None)
    found = []
    for causes, prior, share in (
        ((PREDICTED,), "odds_predicted", 1.0 - low),
        ((LOW,), "odds_one", low),
    ):
        guesses = Guesses(
            causes=causes, effect_m=np.zeros((1, count)), weight=np.ones(1),
            place=np.zeros((1, 2)), size=np.ones(1), limb=np.zeros(1),
        )  # fmt: skip
        fitted = Fitted(
            guesses=guesses, log_weight=np.log([share / number(prior)]), best_m=np.zeros(1),
            heads_m=np.zeros((1, count)), misfit=np.array([misfit]),
        )  # fmt: skip
        found.append((fitted, gauges))
    return weigh(LINE, found, TAPS, [0, 1], VENTS)


def test_weigh__nothing_fits_beyond_four_standard_deviations_of_the_misfit() -> None:
    """Of n readings the squared errors sum to n, with variance 2 n (chi-squared): 2 + 4 x 2."""
    assert weighed(9.9, 0.01).fits
    assert not weighed(10.1, 0.01).fits


def test_weigh__causes_from_half_a_percent_are_named() -> None:
    assert [cause.cause for cause in weighed(2.0, 0.006).causes] == [PREDICTED, LOW]
    assert [cause.cause for cause in weighed(2.0, 0.004).causes] == [PREDICTED]
    assert weighed(2.0, 0.2).causes[1].odds == pytest.approx(0.2)


def test_leak__of_any_size_up_to_nine_tenths_of_the_head_at_rest() -> None:
    """Beyond that a gauge reads no more than an open end, and eyes find it: common practice.

    Every head that a leak may take is as likely as another, so that the odds of all leaks are the
    mean over the line of the most that one may take.
    """
    station = np.linspace(0.0, 900.0, 61)
    line = simple_line(station, 90.0 - 0.1 * station, PIPE, intake_m=90.0)
    gauges = Gauges(line, np.array([900.0]), None)
    (leaks,) = [each for each in explanations(gauges, [], runs=False) if each.causes == ("leak",)]
    most = 0.9 * np.mean(np.linspace(0.0, 90.0, 31)[1:])
    assert leaks.weight.sum() == pytest.approx(most / gauges.range_m, rel=1e-6)

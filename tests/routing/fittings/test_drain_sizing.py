"""Sizes of drains: time, flushing, jets, and the vents that must keep up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from made_line import sizes_of
from scipy.optimize import brentq

from routing.errors import InputError
from routing.fittings import FrostData
from routing.fittings.place.drain_words import duration_text
from routing.flow import head_loss_darcy
from routing.pipe import Pipe, pipe_by_hand, schedule_pipes

G = 9.80665
HILLS = ([0, 200, 400, 700], [100, 80, 95, 40])


def codes(sized):
    return {finding.code for finding in sized.findings}


def test_drain__limbs_hold_what_the_drain_empties(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS)))
    assert [drain.station_m for drain in sized.drains] == [200.0, 700.0]
    for drain in sized.drains:
        assert sum(limb.volume_m3 for limb in drain.limbs) == pytest.approx(drain.drained_m3)
        assert drain.shortest_s == pytest.approx(0.8 * drain.time_s)
        assert drain.longest_s == pytest.approx(1.2 * drain.time_s)


def test_drain__valve_cuts_the_limb(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS, valves_m=(550.0,))))
    above, below = (drain for drain in sized.drains if drain.station_m >= 550.0)
    assert (above.limbs[0].from_m, above.limbs[0].to_m) == (400.0, 550.0)
    assert (below.limbs[0].from_m, below.limbs[0].to_m) == (550.0, 700.0)
    assert len(above.limbs) == len(below.limbs) == 1


def test_drain__wanted_time_widens_the_bore(line, sizing_of) -> None:
    easy = sizes_of(sizing_of(line(*HILLS)))
    hasty = sizes_of(sizing_of(line(*HILLS), drain_hours=0.05))
    for slow, quick in zip(easy.drains, hasty.drains, strict=True):
        # A quarter of the bore empties it in time; flushing asks for more where the head is low.
        assert slow.time_bore_m == 0.05
        assert slow.governing == ("table" if slow.bore_m == 0.05 else "flushing")
        assert slow.bore_m == slow.flush_bore_m
        assert slow.wanted_s == 8 * 3600.0  # one working day, common practice
        assert quick.governing == "time"
        assert quick.bore_m > slow.bore_m
        assert quick.time_s <= quick.wanted_s == 180.0
        assert quick.time_bore_m == quick.bore_m


def test_drain__time_that_no_bore_meets(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS), drain_hours=0.001))
    assert all(drain.time_bore_m is None for drain in sized.drains)
    assert all(drain.bore_m == pytest.approx(0.2) for drain in sized.drains)
    assert "drain_slow" in codes(sized)


def test_flush__bernoulli_from_intake_to_drain(line, sizing_of) -> None:
    # 0.76 m/s of the pipe, 2.5 ft/s: americanfork.elaws.us ch. 15.01 sec. 790.
    inputs = sizing_of(line(*HILLS))
    drain = sizes_of(inputs).drains[1]
    flow = 0.76 * math.pi / 4 * 0.2**2
    length = math.hypot(200, 20) + math.hypot(200, 15) + math.hypot(300, 55)
    lost = head_loss_darcy(
        flow_m3_s=flow,
        length_m=length,
        inside_diameter_m=0.2,
        roughness_m=inputs.line.pipes.runs[0].pipe.roughness_m,
        kinematic_viscosity_m2_s=inputs.line.water.kinematic_viscosity_m2_s,
    )
    assert drain.flush_flow_m3_s == pytest.approx(flow)
    assert drain.flush_head_m == pytest.approx(61.0 - lost)
    passed = 0.6 * math.pi / 4 * drain.flush_bore_m**2 * math.sqrt(2 * G * drain.flush_head_m)
    assert passed >= flow


def test_flush__too_little_head_left(line, sizing_of) -> None:
    flat = line([0, 3000, 3500], [10.0, 6.0, 6.5], bore=0.05)
    sized = sizes_of(sizing_of(flat))
    assert sized.drains[0].flush_bore_m is None
    assert "drain_cannot_flush" in codes(sized)


def test_jet__force_and_power_of_the_static_head(line, sizing_of) -> None:
    # 44 m/s at 100 m, independently computed; F = rho Q V and P = rho g Q h.
    drain = sizes_of(sizing_of(line([0, 500], [120.0, 20.0], intake_level=120.0))).drains[0]
    assert drain.jet_m_s == pytest.approx(44.3, abs=0.05)
    flow = 0.6 * math.pi / 4 * 0.05**2 * drain.jet_m_s
    assert drain.reaction_n == pytest.approx(999.7 * flow * drain.jet_m_s, rel=1e-4)
    assert drain.jet_power_w == pytest.approx(999.7 * G * flow * 100.0, rel=1e-4)
    assert "stilling pipe" in drain.text


def test_vents_as_sized__let_the_drains_run_wide_open(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS), pipe="PVC-D2241PIP-SDR81-15in"))
    for drain in sized.drains:
        assert drain.safe_opening == 1.0
        for limb in drain.limbs:
            assert limb.vent_capacity_m3_s >= limb.first_flow_m3_s
    assert "drain_faster_than_vents" not in codes(sized)


def test_no_vent_at_the_top__nothing_lets_air_in(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS), vents=()))
    assert sized.drains[0].safe_opening == 0.0
    faults = [f for f in sized.findings if f.code == "drain_faster_than_vents"]
    assert "Nothing lets air into the pipe" in faults[0].message


def test_level_sag__still_runs_empty(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line([0, 200, 260, 400], [100, 80, 80, 95])))
    assert all(math.isfinite(drain.time_s) and drain.time_s > 0.0 for drain in sized.drains)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("flood_rise_m", -1.0, "flood"),
        ("drain_hours", 0.0, "time to drain"),
        ("flow_m3_s", math.nan, "flow"),
        ("operating_pa", np.zeros(3), "operating_pa has shape"),
        ("emergency_pa", np.full(4, np.nan), "emergency_pa has a missing value"),
    ],
)
def test_sizing_inputs__refuse_what_cannot_be(line, sizing_of, name, value, words) -> None:
    with pytest.raises(InputError, match=words):
        sizing_of(line(*HILLS), **{name: value})


def test_air_carry__hardest_reach_after_each_summit(line, sizing_of) -> None:
    slow = sizes_of(sizing_of(line(*HILLS), flow_m3_s=0.01)).air_carry
    fast = sizes_of(sizing_of(line(*HILLS), flow_m3_s=0.08)).air_carry
    assert [reach.from_m for reach in slow] == [400.0]
    assert slow[0].angle_deg == pytest.approx(math.degrees(math.atan(55 / 300)))
    assert slow[0].carries is False
    assert fast[0].carries is True
    assert sizes_of(sizing_of(line(*HILLS))).air_carry[0].carries is None


def rated(pressure_pa: float) -> Pipe:
    return pipe_by_hand(
        material="steel",
        inside_diameter_m=0.2,
        wall_m=0.005,
        roughness_m=1e-4,
        rating_pa=pressure_pa,
    )


def test_relief__protects_the_weakest_pipe_wherever_it_lies(line, sizing_of) -> None:
    made = line(*HILLS)
    pipes = schedule_pipes([(0.0, rated(3e5)), (200.0, rated(8e5))], 700.0)
    job = sizing_of(made, schedule=pipes, flow_m3_s=0.03)
    valve = sizes_of(job).relief
    water = made.water.density_kg_m3 * G
    # at the outlet, 60 m below the top, the top's pipe has its rating with that much more
    allowed = min(3e5 - water * -60.0, 8e5)
    assert valve.most_setting_pa == pytest.approx(allowed)
    assert valve.capacity_m3_s >= 0.03
    tight = sizes_of(sizing_of(made, pipe=rated(6.2e5), flow_m3_s=0.03))
    assert not tight.relief.can_be_set
    assert "relief_cannot_be_set" in codes(tight)
    assert sizes_of(sizing_of(made, schedule=pipes)).relief is None


def test_duration_text__over_the_range() -> None:
    for seconds in np.geomspace(0.1, 1e6, 50):
        assert duration_text(float(seconds)).split()[1] in ("s", "min", "h")


@st.composite
def hills(draw):
    steps = draw(st.lists(st.floats(20.0, 400.0), min_size=2, max_size=7))
    grades = draw(
        st.lists(
            st.floats(-0.5, 0.4).filter(lambda grade: abs(grade) > 0.004),
            min_size=len(steps),
            max_size=len(steps),
        )
    )
    station = np.concatenate(([0.0], np.cumsum(steps)))
    pipe = 500.0 + np.concatenate(([0.0], np.cumsum(np.multiply(steps, grades))))
    return station, pipe


FLAT_ABOVE_STEEP = np.array([0.0, 1000.0, 1050.0]), np.array([500.0, 496.0, 456.0])


def test_vent__of_a_flat_limb_above_a_steep_one_serves_the_flow_that_comes_later(
    line, sizing_of
) -> None:
    # Torricelli's law with Darcy's friction, level by level: the flow grows while the flat reach
    # runs empty, so that the first flow is the wrong measure of the air that must come in.
    laid = line(*FLAT_ABOVE_STEEP, bore=0.2)
    placed = sizing_of(laid, drain_hours=0.02)
    one = sizing_of(laid, drain_hours=0.02, vents=placed.vents[:1])
    (drain,) = sizes_of(one).drains
    assert drain.time_s < 0.8 * drain.drained_m3 / drain.first_flow_m3_s
    slope = np.array([0.0, math.hypot(50.0, 40.0), math.hypot(50.0, 40.0) + math.hypot(1e3, 4.0)])
    level = np.union1d(np.linspace(1.0, slope[-1], 40), slope[1])
    head = np.interp(level, slope, [0.0, 40.0, 44.0]) + 0.1
    roughness = one.line.pipes.runs[0].pipe.roughness_new_m
    through = 0.6 * 0.25 * math.pi * drain.bore_m**2
    greatest = 0.0
    for length, above in zip(level, head, strict=True):

        def short(flow: float, length: float = length, above: float = above) -> float:
            lost = head_loss_darcy(
                flow_m3_s=flow, length_m=length, inside_diameter_m=0.2, roughness_m=roughness,
                kinematic_viscosity_m2_s=laid.water.kinematic_viscosity_m2_s,
            )  # fmt: skip
            return above - float(lost) - (flow / through) ** 2 / (2.0 * G)

        greatest = max(greatest, brentq(short, 1e-6, 2.0))
    (vent,) = sizes_of(one).vents
    needed = next(case.air_m3_s for case in vent.cases if case.name == "draining")
    assert greatest > 1.5 * drain.first_flow_m3_s
    # friction is taken at one flow for the whole emptying, whose error is told with every time
    assert needed == pytest.approx(greatest, rel=0.1)
    assert vent.capacity_m3_s >= greatest
    assert drain.safe_opening == pytest.approx(1.0)
    # with a vent where the grade steepens, that one serves the steep reach, the others the flat one
    every = {vent.station_m: vent for vent in sizes_of(placed).vents}
    air = {
        station: next(case.air_m3_s for case in vent.cases if case.name == "draining")
        for station, vent in every.items()
        if station <= 1000.0
    }
    assert air[1000.0] == pytest.approx(needed, rel=1e-9)
    assert list(air.values()) == sorted(air.values())


@settings(max_examples=60, deadline=None)
@example(hill=FLAT_ABOVE_STEEP, bore=0.2, pipe="PE100-SDR26-200")
@given(
    hill=hills(),
    bore=st.floats(0.05, 0.6),
    pipe=st.sampled_from(["PVC-D2241PIP-SDR81-15in", "PE100-SDR26-200", None]),
)
def test_sizes__any_line_is_on_the_safe_side(line, sizing_of, hill, bore, pipe) -> None:
    inputs = sizing_of(line(*hill, bore=bore), pipe=pipe, vents_may_freeze=True)
    sized = sizes_of(inputs)
    station, levels = hill
    assert len(sized.vents) == len(inputs.vents)
    assert len(sized.drains) == len(inputs.drains)
    for vent in sized.vents:
        assert vent.bore_m >= max(vent.needed_m, vent.least_m) * (1 - 1e-9)
        inward = [case for case in vent.cases if case.name in ("draining", "break")]
        assert vent.capacity_m3_s >= max(case.air_m3_s for case in inward) * (1 - 1e-6)
        assert vent.allowed_vacuum_pa <= 34_474.0
        if vent.open_top_m is not None:
            assert vent.open_top_m >= inputs.line.levels.intake_m + 0.3 - 1e-9
            assert vent.open_height_m <= 6.0
    tops = {vent.station_m for vent in sized.vents}
    for drain in sized.drains:
        assert 0.0 < drain.time_s < math.inf
        # The flow need not fall from the first moment on: a level reach above a steep one takes its
        # friction with it. But it never passes what the full head drives without any (Torricelli).
        ends = [limb.from_m for limb in drain.limbs] + [limb.to_m for limb in drain.limbs]
        on_it = (station >= min(ends) - 1e-6) & (station <= max(ends) + 1e-6)
        low = np.interp(drain.station_m, station, levels)
        head = max(levels[on_it].max() - low, 0.0) + 0.5 * bore
        most = drain.cd * 0.25 * math.pi * drain.bore_m**2 * math.sqrt(2.0 * G * head)
        assert drain.time_s >= drain.drained_m3 / most * (1 - 1e-6)
        assert sum(limb.volume_m3 for limb in drain.limbs) == pytest.approx(drain.drained_m3)
        far = {limb.from_m for limb in drain.limbs} | {limb.to_m for limb in drain.limbs}
        if far - {drain.station_m} <= tops:
            assert drain.safe_opening >= 1.0 - 1e-6


@settings(max_examples=25, deadline=None)
@given(hill=hills(), rise=st.floats(0.0, 3.0))
def test_flood__never_lowers_a_vent_or_its_rating(line, sizing_of, hill, rise) -> None:
    dry = sizes_of(sizing_of(line(*hill)))
    wet = sizes_of(sizing_of(line(*hill), flood_rise_m=rise))
    for before, after in zip(dry.vents, wet.vents, strict=True):
        assert after.rating_pa >= before.rating_pa
        if before.open_top_m is not None and after.open_top_m is not None:
            assert after.open_top_m >= before.open_top_m


def test_frost__reaches_the_findings(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS), frost=FrostData(depth_m=2.0)))
    assert "cover_in_frost" in codes(sized)
    assert "frost_unknown" in codes(sizes_of(sizing_of(line(*HILLS))))

"""What a line loses without a vent: vacuum on a break, air that the flow gathers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_line import made_job, sizes_of, vents_of, wished
from scipy.optimize import brentq

from routing.fittings import Lost, place_vents
from routing.fittings.air_carry import carrying_velocity_m_s, carrying_velocity_sanks_m_s
from routing.fittings.place.earn import _worth
from routing.fittings.place.lost import break_vacuum_m, vacuum_without
from routing.fittings.place.vents import _judged_over_m
from routing.flow import head_loss_darcy

G = 9.80665


def test_break_vacuum__bernoulli_from_the_vent_to_the_break() -> None:
    # Darcy and Weisbach with the factor of Colebrook and White, solved for the flow: 400 m at 1 %,
    # then 200 m at 30 %, cut at the low end. The pressure at the break of grade follows from the
    # friction before it alone; the closed form takes the same factor on both reaches.
    length = np.array([math.hypot(400, 4), math.hypot(200, 60)])
    common = {
        "inside_diameter_m": 0.2, "roughness_m": 5e-5, "kinematic_viscosity_m2_s": 1.3e-6,
    }  # fmt: skip

    def lost(flow: float, along: float) -> float:
        return float(head_loss_darcy(flow_m3_s=flow, length_m=along, **common))

    flow = brentq(lambda q: 64.0 - lost(q, length.sum()), 1e-4, 5.0)
    drawn = lost(flow, length[0]) - 4.0
    level, along = np.array([64.0, 60.0, 0.0]), np.concatenate(([0.0], np.cumsum(length)))
    assert break_vacuum_m(level, along, 1) == pytest.approx(drawn, rel=1e-9)


@settings(max_examples=80, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(3, 30))
def test_break_vacuum__is_the_pipe_over_the_chord_to_the_worst_break(seed, count) -> None:
    rng = np.random.default_rng(seed)
    along = np.concatenate(([0.0], np.cumsum(rng.uniform(1.0, 50.0, count - 1))))
    level = 100.0 + np.cumsum(rng.normal(-1.0, 4.0, count))
    at = int(rng.integers(1, count - 1))
    most = 0.0
    for upper, breaks in ((0, range(at + 1, count)), (count - 1, range(at))):
        for b in breaks:
            if level[b] < level[upper]:
                chord = np.interp(
                    along[at], *zip(*sorted([(along[b], level[b]), (along[upper], level[upper])]),
                                    strict=True)
                )  # fmt: skip
                most = max(most, level[at] - chord)
    assert break_vacuum_m(level, along, at) == pytest.approx(most, abs=1e-9)


def test_break_vacuum__even_slope_draws_none_and_turned_round_the_same() -> None:
    along, even = np.linspace(0.0, 500.0, 6), np.linspace(50.0, 10.0, 6)
    assert break_vacuum_m(even, along, 2) == pytest.approx(0.0, abs=1e-12)
    bulged = even + np.array([0.0, 3.0, 9.0, 8.0, 2.0, 0.0])
    turned = break_vacuum_m(bulged[::-1], along[-1] - along[::-1], 3)
    assert turned == pytest.approx(break_vacuum_m(bulged, along, 2))


def test_vacuum_without__never_more_than_the_air_itself(line) -> None:
    made = line([0, 500, 600], [900, 890, 400])
    drawn, _ = vacuum_without(made.line, 500.0, [0.0, 600.0])
    # U.S. Standard Atmosphere, from memory: 91.1 kPa at 890 m
    assert drawn == pytest.approx(91.1e3, rel=2e-3)


@pytest.mark.parametrize(("drop", "listed"), [(4.0, False), (25.0, True)])
def test_advised__only_what_saves_something_is_a_vent(line, drop, listed) -> None:
    # Gentle then steeper: the taller the convex bend, the more a break below would draw there.
    made = line([0, 200, 380], [100, 97, 97 - drop], bore=0.2)
    (wish,) = [vent for vent in wished(made) if vent.rule == "steepening"] or [None]
    if drop == 4.0:
        assert wish is None
        return
    placed = place_vents(made.line, made.given)
    assert (wish in placed.vents) is listed
    assert wish.lost.over_vacuum_pa > 0.0
    assert wish.rank == 1
    assert "a full break nearby would draw" in wish.reason


def test_folded__saves_nothing_and_is_told_without_a_number(line) -> None:
    made = line([0, 300, 340, 640, 900], [100, 97, 94.6, 91.6, 89.0], bore=0.2)
    placed = place_vents(made.line, made.given)
    assert [vent.rule for vent in placed.vents] == ["below the intake", "end of line"]
    assert [vent.rules for vent in placed.folded] == [
        ("steepening", "spacing"),
        ("spacing",),
    ]
    assert "one every 400.0 m" in placed.folded[1].reason


@pytest.mark.parametrize(("share", "stays"), [(0.98, False), (1.02, True)])
def test_gathered_air__between_the_two_carrying_velocities(line, share, stays) -> None:
    # HR Wallingford SR 649 and Sanks, from memory of the first: air comes from where the flow is
    # fast enough for the gentle reach and stays where it is too slow for the steep one.
    gentle = {"inside_diameter_m": 0.2, "angle_rad": math.atan(0.005), "gravity_m_s2": G}
    slowest = min(carrying_velocity_m_s(**gentle), carrying_velocity_sanks_m_s(**gentle))
    area = 0.25 * math.pi * 0.2**2
    made = line([0, 100, 200], [50, 49.5, 43.5], flow_m3_s=share * slowest * area)
    (wish,) = [vent for vent in wished(made) if vent.rule == "steepening"]
    assert (wish in vents_of(made)) is stays
    if stays:
        assert wish.lost.air_m3 == pytest.approx(area * math.hypot(100.0, 6.0))
        assert wish.lost.head_m == pytest.approx(6.0)
        assert "of air may stay and hold back up to 6.0 m" in wish.reason


def test_ranks__the_one_that_saves_most_first(line) -> None:
    station = [0, 300, 500, 900, 1300, 1600, 2000]
    level = [300, 298, 230, 225, 245, 243, 140]
    made = line(station, level, intake_level=301.0)
    advised = [vent for vent in vents_of(made) if vent.rank is not None]
    ranked = sorted(advised, key=lambda vent: vent.rank)
    over = [vent.lost.over_vacuum_pa for vent in ranked]
    assert over == sorted(over, reverse=True)
    assert [vent.need for vent in ranked] == ["advise"] * len(ranked)


def test_summit__says_what_air_it_would_hold(line) -> None:
    made = line([0, 100, 200, 300, 400], [50, 40, 45, 30, 32])
    (summit,) = [vent for vent in vents_of(made) if vent.rule == "summit"]
    assert summit.lost.head_m == pytest.approx(15.0)
    assert summit.lost.air_m3 == pytest.approx(0.25 * math.pi * 0.2**2 * math.hypot(100.0, 15.0))


def test_final_vent__kind_in_the_reason_is_the_kind(line) -> None:
    made = line([0, 200, 400, 700], [100, 80, 95, 40])
    high = 9806.65 * 0.9997 * (made.static_head_m + 30.0)
    for more in ({}, {"operating_pa": high}, {"flood_rise_m": 6.0}):
        for vent in sizes_of(made_job(made, **more)).found.vents:
            says = "Open vent of" if vent.kind == "open vent" else f"Fit a {vent.kind} of"
            assert says in vent.reason
            assert (vent.open_top_m is None) == (vent.kind != "open vent")


@pytest.mark.parametrize(("head", "counts"), [(0.102, True), (0.098, False)])
def test_air__counts_from_ten_centimetres_of_head(head, counts) -> None:
    # What a gauge can tell: common practice, no source.
    assert (_worth(Lost(head_m=head)) > (0.0, 0.0)) is counts


@pytest.mark.parametrize(
    ("bore", "cell", "over"),
    [(0.2, 1.0, 6.0), (1.0, 1.0, 10.0), (0.2, 30.0, 60.0)],
)
def test_grades__judged_over_bores_a_stick_or_cells(line, bore, cell, over) -> None:
    # Ten bores, two cells: common practice; a stick of gasketed PVC is 6.1 m or shorter.
    made = line([0, 100, 200], [50, 49, 40], bore=bore, cell_m=cell)
    stick = made.line.pipes.runs[0].pipe.jointing.stick_m
    assert _judged_over_m(made.line, made.given) == pytest.approx(max(over, stick))


@pytest.mark.parametrize(("at", "snaps"), [(226.0, True), (223.0, False)])
def test_spacing__a_step_gives_way_to_a_change_of_grade_near_it(line, at, snaps) -> None:
    # A gap of 600 m takes one step at 300 m, and a quarter of that is its slack.
    end = 600.0
    made = line([0, at, at + 20, end], [50.0, 50.0, 48.8, 48.8 - 0.003 * (end - at - 20)])
    told = [vent.rules for vent in wished(made)][1:-1]
    assert told == (
        [("flat reach ends", "spacing")] if snaps else [("flat reach ends",), ("spacing",)]
    )

"""Levels as built: carried along the line by a stated rule, and held against the plan."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.trench import (
    BuiltLevels,
    TrenchLimits,
    built_pipe,
    carry_levels,
    judge_built,
    turns_of,
)

STATION = np.linspace(0.0, 300.0, 61)
PLAN = 100.0 - 0.02 * STATION
BREAKS = np.array([0.0, 100.0, 200.0, 300.0])
LIMITS = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)


def built(at: list[float], off: list[float]) -> BuiltLevels:
    return BuiltLevels(
        names=tuple(f"V{n}" for n in range(1, len(at) + 1)),
        station_m=np.array(at),
        level_m=np.interp(at, STATION, PLAN) + np.array(off),
        planned_station_m=STATION,
        planned_m=PLAN,
        breaks_m=BREAKS,
        stick_m=6.0,
    )


def carried(at: list[float], off: list[float]) -> np.ndarray:
    made = built(at, off)
    return carry_levels(STATION, PLAN, made.station_m, made.level_m, BREAKS, 6.0)


def test_carry_levels__as_planned_at_every_break_that_nobody_levelled() -> None:
    level = carried([150.0], [-0.4])
    off = dict(zip(STATION.tolist(), (level - PLAN).tolist(), strict=True))
    # Straight from the levelled place to the breaks at 100 m and 200 m, nothing beyond them.
    expected = {90.0: 0.0, 100.0: 0.0, 125.0: -0.2, 150.0: -0.4, 175.0: -0.2, 200.0: 0.0}
    assert {at: off[at] for at in expected} == pytest.approx(expected, abs=1e-9)


def test_carry_levels__a_break_within_a_stick_follows_the_place_levelled() -> None:
    near, far = carried([104.0], [0.3]), carried([107.0], [0.3])
    at = int(np.searchsorted(STATION, 100.0))
    assert near[at] - PLAN[at] == pytest.approx(0.3 * 100.0 / 104.0)
    assert far[at] - PLAN[at] == pytest.approx(0.0, abs=1e-12)


@given(
    st.lists(st.floats(-0.5, 0.5), min_size=1, max_size=20),
    st.integers(0, 2**31),
)
def test_carry_levels__keeps_what_was_levelled_and_invents_nothing(
    off: list[float], seed: int
) -> None:
    at = np.sort(np.random.default_rng(seed).choice(STATION, len(off), replace=False))
    level = carried(at.tolist(), off)
    found = np.interp(at, STATION, level - PLAN)
    np.testing.assert_allclose(found, off, atol=1e-9)
    # No difference from the plan is greater than one that was measured.
    assert np.all(level - PLAN <= max([*off, 0.0]) + 1e-9)
    assert np.all(level - PLAN >= min([*off, 0.0]) - 1e-9)


def test_carry_levels__without_levels_there_is_nothing_as_built() -> None:
    with pytest.raises(InputError, match="none, not finite"):
        carried([], [])
    with pytest.raises(InputError):
        carried([150.0], [float("nan")])


@pytest.mark.parametrize(("off", "failed"), [(0.029, False), (0.031, True), (-0.031, True)])
def test_judge_built__within_three_centimetres(off: float, failed: bool) -> None:
    # Setting out and as-built levels of gravity pipelines to +-0.03 m: common practice.
    made = built([100.0, 200.0], [off, 0.0])
    pipe = built_pipe(made, STATION, PLAN + 1.0, LIMITS, ())
    level, *_ = judge_built(made, pipe)
    assert level.passed is not failed
    assert ("above" if off > 0.0 else "below") in level.message


@pytest.mark.parametrize(("lift", "asks"), [(1.04, False), (1.06, True), (2.0, True)])
def test_judge_built__a_new_summit_from_a_quarter_of_the_diameter(lift: float, asks: bool) -> None:
    """A lift of 1 m at the end of 50 m at 2 % makes it level; OD / 4 is 0.05 m more."""
    made = built([150.0], [lift])
    pipe = built_pipe(made, STATION, PLAN + 3.0, LIMITS, ())
    turns = {turn.turn: turn for turn in turns_of(made, pipe) if turn.new}
    assert turns["summit"].station_m == 150.0
    assert turns["summit"].height_m == pytest.approx(lift - 1.0, abs=1e-9)
    failed = [check for check in judge_built(made, pipe) if not check.passed]
    assert any("summit" in check.message for check in failed) is asks


def test_turns_of__one_that_went_is_told_too() -> None:
    plan = np.interp(STATION, [0.0, 100.0, 150.0, 300.0], [100.0, 96.0, 97.0, 90.0])
    made = BuiltLevels(
        names=("V1", "V2"), station_m=np.array([100.0, 150.0]), level_m=np.array([96.0, 95.0]),
        planned_station_m=STATION, planned_m=plan, breaks_m=np.array([0.0, 100.0, 150.0, 300.0]),
        stick_m=6.0,
    )  # fmt: skip
    turns = turns_of(made, built_pipe(made, STATION, plan + 1.0, LIMITS, ()))
    assert [(turn.turn, turn.station_m, turn.new) for turn in turns] == [
        ("sag", 100.0, False),
        ("summit", 150.0, False),
    ]


def _turn_kinds(plan_low: float, low: float) -> list[tuple[str, bool]]:
    """Turns of a sag planned at 100 m, and as built at another place of the same depth."""
    plan = np.interp(STATION, [0.0, plan_low, 200.0, 300.0], [100.0, 96.0, 97.0, 90.0])
    laid = np.interp(STATION, [0.0, low, 200.0, 300.0], [100.0, 96.0, 97.0, 90.0])
    made = BuiltLevels(
        names=tuple(f"V{n}" for n in range(STATION.size)), station_m=STATION, level_m=laid,
        planned_station_m=STATION, planned_m=plan, breaks_m=STATION[[0, -1]], stick_m=6.0,
    )  # fmt: skip
    pipe = built_pipe(made, STATION, plan + 2.0, LIMITS, ())
    return [(turn.turn, turn.new) for turn in turns_of(made, pipe)]


@pytest.mark.parametrize(("low", "same"), [(75.0, True), (125.0, True), (70.0, False)])
def test_turns_of__a_sag_that_moved_at_most_25_m_is_the_same(low: float, same: bool) -> None:
    # Common practice, no source: the drain that stands there still drains it.
    assert (_turn_kinds(100.0, low) == []) is same


@pytest.mark.parametrize(("rise", "told"), [(0.0099, False), (0.0102, True)])
def test_turns_of__a_rise_below_a_centimetre_is_none(rise: float, told: bool) -> None:
    # A level is read to the centimetre: common practice, no source.
    made = built([150.0], [1.0 + rise])
    pipe = built_pipe(made, STATION, PLAN + 3.0, LIMITS, ())
    assert bool(turns_of(made, pipe)) is told

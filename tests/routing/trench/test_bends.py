import pickle

import numpy as np
import pytest

from routing.trench.bends import deflection_rad, deflections_deg, find_bends, indices_of


def test_deflection__plane_angles_stand_alone():
    assert np.degrees(deflection_rad(0.0, 0.0, np.radians(37.0))) == pytest.approx(37.0)
    assert np.degrees(deflection_rad(np.radians(-5), np.radians(-25), 0.0)) == pytest.approx(20.0)


def test_deflection__small_angles_stay_exact():
    assert float(deflection_rad(0.0, 1e-9, 0.0)) == pytest.approx(1e-9, rel=1e-6)


def test_deflection__agrees_with_the_cosine_formula_over_its_range():
    rng = np.random.default_rng(0)
    a1, a2 = rng.uniform(-1.4, 1.4, (2, 1000))
    turn = rng.uniform(-np.pi, np.pi, 1000)
    cosine = np.cos(a1) * np.cos(a2) * np.cos(turn) + np.sin(a1) * np.sin(a2)
    assert deflection_rad(a1, a2, turn) == pytest.approx(np.arccos(cosine), abs=1e-7)
    assert np.all(deflection_rad(a1, a2, turn) >= np.abs(a1 - a2) - 1e-12)


def test_find_bends__plan_and_slope():
    station = np.arange(0.0, 201.0, 5.0)
    pipe = np.where(station <= 100, 100 - 0.1 * station, 90 - 0.3 * (station - 100))
    breaks = np.array([0, 20, 40])
    bends = find_bends(station, pipe, breaks, np.array([50.0]), np.array([np.radians(20)]))
    assert [b.id for b in bends] == ["B1", "B2"]
    assert [b.station_m for b in bends] == [50.0, 100.0]
    assert bends[0].plan_deg == pytest.approx(20)
    assert bends[0].deflection_deg == pytest.approx(19.9, abs=0.05)
    assert bends[1].vertical_deg == pytest.approx(np.degrees(np.arctan(0.1) - np.arctan(0.3)))
    assert bends[1].deflection_deg == pytest.approx(-bends[1].vertical_deg)


def test_find_bends__small_turns_and_rounding_are_no_bends():
    station = np.arange(0.0, 101.0)
    pipe = 100 - 0.1 * station + 1e-5 * np.sin(station)
    breaks = np.array([0, 30, 100])
    assert find_bends(station, pipe, breaks, np.array([50.0]), np.array([np.radians(0.5)])) == ()
    assert find_bends(station, pipe, breaks, np.array([]), np.array([])) == ()


@pytest.mark.parametrize(("angle_deg", "bends"), [(1.96, 0), (2.04, 1)])
def test_find_bends__turns_of_less_than_two_degrees_are_left_to_the_joints(angle_deg, bends):
    # Common practice: makers usually allow 1 degree at a joint of PVC, 3 to 5 of ductile iron
    # (AWWA C600, from memory), so that two joints take a turn of 2 degrees.
    station = np.array([0.0, 50.0, 100.0])
    turn, breaks = np.radians([angle_deg]), np.array([0, 2])
    assert len(find_bends(station, np.full(3, 90.0), breaks, np.array([50.0]), turn)) == bends


def test_bends__columns_and_single_bends_say_the_same():
    station = np.arange(0.0, 301.0, 5.0)
    pipe = 100 - 0.1 * station + 4.0 * np.abs(np.sin(station / 30.0))
    bends = find_bends(station, pipe, np.arange(0, 61, 6), np.array([50.0]), np.array([0.5]))
    assert len(bends) == len(list(bends)) >= 5
    assert [bend.id for bend in bends] == [f"B{k}" for k in range(1, len(bends) + 1)]
    assert [bend.index for bend in bends] == bends.indices.tolist()
    for name in ("station_m", "plan_deg", "vertical_deg", "deflection_deg"):
        assert [getattr(bend, name) for bend in bends] == getattr(bends, name).tolist()
    assert bends[-1].station_m == bends[len(bends) - 1].station_m == max(bends.station_m)
    assert bends[1:3] == (bends[1], bends[2])
    alone = tuple(bends)
    assert bends == alone
    assert hash(bends) == hash(alone)
    assert bends != alone[1:]
    assert deflections_deg(alone).tolist() == deflections_deg(bends).tolist()
    assert indices_of(alone).tolist() == indices_of(bends).tolist()
    assert pickle.loads(pickle.dumps(bends)) == bends
    with pytest.raises(ValueError, match="read-only"):
        bends.station_m[0] = 0.0

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_line import Made, air_of, vents_of

from routing.fittings import air_verdict
from routing.flow import atmosphere_pa


def saw(*heights: float) -> tuple[list[float], list[float]]:
    return [100.0 * k for k in range(len(heights))], list(heights)


def test_trapped_air__a_falling_line_has_none(line):
    assert air_of(line([0, 100, 200], [50, 40, 30])) == ()


def test_trapped_air__summits_add_up(line):
    stations, pipe = saw(119, 100, 116, 90, 98, 80, 95, 40)
    pockets = air_of(line(stations, pipe, intake_level=120.0))
    assert [p.needed_m for p in pockets] == pytest.approx([0.0, 26.0, 44.0])
    assert [p.available_m for p in pockets] == pytest.approx([4.0, 22.0, 25.0])
    assert [p.verdict for p in pockets] == ["clear", "will not start", "will not start"]
    # Each pocket is squeezed less than the one before: the pressure falls by every column.
    held = [p.compressed_m for p in pockets]
    assert held[0] == 0.0 < held[1] < 26.0
    assert held[2] < 44.0


def test_trapped_air__a_line_that_rises_to_its_end(line):
    stations, pipe = saw(119, 100, 116, 60, 100)
    pockets = air_of(line(stations, pipe, intake_level=120.0))
    assert pockets[-1].station_m == 400.0
    assert pockets[-1].needed_m == pytest.approx(56.0)
    assert pockets[-1].available_m == pytest.approx(20.0)
    assert pockets[-1].verdict == "will not start"


def test_trapped_air__a_riser_at_the_end_must_be_filled_too(line):
    stations, pipe = saw(119, 100, 116, 60, 100)
    made = line(stations, pipe, intake_level=120.0, outlet_level=103.0)
    assert air_of(made)[-1].available_m == pytest.approx(17.0)


def test_trapped_air__summit_above_the_intake(line):
    stations, pipe = saw(100, 90, 105, 60)
    (pocket,) = air_of(line(stations, pipe, intake_level=101.0))
    assert pocket.available_m == pytest.approx(-4.0)
    assert pocket.verdict == "will not start"


def test_trapped_air__names_its_vents(line):
    stations, pipe = saw(119, 100, 116, 90, 98, 40)
    made = line(stations, pipe)
    vents = vents_of(made)
    pockets = air_of(made, vents)
    by_id = {vent.id: vent.station_m for vent in vents}
    assert [by_id[p.vent_id] for p in pockets] == [200.0, 400.0]
    assert air_of(made)[0].vent_id is None


@pytest.mark.parametrize(
    ("needed", "available", "verdict"),
    [
        (22.0, 22.0, "will not start"),
        (21.9, 22.0, "starts slowly"),
        (3.0, 10.0, "starts slowly"),
        (2.9, 10.0, "clear"),
        (0.0, 0.0, "will not start"),
        (0.0, -3.0, "will not start"),
    ],
)
def test_air_verdict__limits(needed, available, verdict):
    assert air_verdict(needed, available) == verdict


class Filling:
    """A line filled step by step, at rest at every step, with air sealed in every falling limb.

    The water's front climbs each rising limb in small steps. At every step the intake level that
    would hold it there follows backwards, limb by limb, from the balance of water and air; the
    filling stops where that level is above the intake's. Nothing is shared with the code under
    test: it goes upstream, cuts every limb into thin slices and finds the air's lower face by
    halving an interval.
    """

    def __init__(self, inputs: Made, *, squeezed: bool) -> None:
        self.weight = inputs.water.density_kg_m3 * inputs.water.gravity_m_s2
        self.squeezed = squeezed
        self.intake = inputs.levels.intake_m
        s, z, d = inputs.station_m, inputs.pipe_m, inputs.inside_diameter_m
        tops = inputs.summits.tolist()
        lows = [int(i) for i in inputs.sags if i > tops[0]]
        self.crests = [float(z[i]) for i in tops]
        self.limbs = []
        for top, low in zip(tops, lows, strict=False):
            fine = np.linspace(s[top], s[low], 20_001)
            height = np.interp(fine, s, z)
            middle = 0.5 * (fine[1:] + fine[:-1])
            bore = d[np.searchsorted(s, middle, side="right") - 1]
            piece = bore**2 * np.hypot(np.diff(fine), np.diff(height))
            self.limbs.append((height, 0.5 * (height[1:] + height[:-1]), piece))

    def air_above(self, limb: int, face: float) -> float:
        _, middle, piece = self.limbs[limb]
        return float(piece[middle > face].sum())

    def level_to_hold(self, limb: int, front: float) -> float:
        """Intake level that holds the front at a height on the limb that rises to a crest."""
        level = front
        for j in range(limb - 1, -1, -1):
            height = self.limbs[j][0]
            top, low = float(height[0]), float(height[-1])
            face = low
            if self.squeezed:
                still = float(atmosphere_pa(top)) / self.weight
                whole = self.air_above(j, -1e9)
                below, above = low, top
                for _ in range(40):
                    face = 0.5 * (below + above)
                    if self.air_above(j, face) * (still + level - face) > whole * still:
                        below = face
                    else:
                        above = face
            level = top + (level - face)
        return level

    def crests_passed(self, steps: int = 12) -> int:
        for k, crest in enumerate(self.crests):
            start = self.limbs[k - 1][0][-1] if k else crest - 1.0
            for front in np.linspace(start, crest, steps):
                if self.level_to_hold(k, float(front)) >= self.intake:
                    return k
        return len(self.crests)


def first_stopped(heads, pockets) -> int:
    stopped = [k for k, p in enumerate(pockets) if heads(p) >= p.available_m]
    return stopped[0] if stopped else len(pockets)


LINES = st.tuples(st.integers(0, 100_000), st.integers(2, 4))


@settings(deadline=None, max_examples=25)
@given(made=LINES, squeezed=st.booleans())
def test_trapped_air__as_a_filling_step_by_step(line, made, squeezed):
    seed, count = made
    rng = np.random.default_rng(seed)
    heights = [119.0]
    for _ in range(count):
        top = rng.uniform(80.0, 119.0)
        low = min(top, heights[-1]) - rng.uniform(1.0, 18.0)
        # Two grades to each limb, so that volume is not in proportion to height.
        heights += [0.7 * low + 0.3 * heights[-1], low, 0.4 * low + 0.6 * top, top]
    heights += [20.0]
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(20.0, 200.0, len(heights) - 1))))
    bore = np.where(station < 0.5 * station[-1], 0.25, 0.2)
    made_line = line(station, heights, bore=bore, intake_level=120.0)
    pockets = air_of(made_line)

    def heads(pocket):
        return pocket.compressed_m if squeezed else pocket.needed_m

    # Within the slices' own coarseness of the balance either answer is right.
    if min(abs(heads(p) - p.available_m) for p in pockets) < 0.02:
        return
    assert Filling(made_line, squeezed=squeezed).crests_passed() == first_stopped(heads, pockets)


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 100_000))
def test_trapped_air__squeezed_pockets_in_a_row_balance(line, seed):
    """At the intake level that just holds water at a crest, that crest has just what it needs."""
    rng = np.random.default_rng(seed)
    heights = [100.0]
    for _ in range(4):
        low = heights[-1] - rng.uniform(1.0, 6.0)
        heights += [low, low + rng.uniform(0.5, 6.0)]
    heights += [40.0]
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(20.0, 200.0, len(heights) - 1))))
    filling = Filling(line(station, heights, intake_level=130.0), squeezed=True)
    for k in range(1, 4):
        level = filling.level_to_hold(k, filling.crests[k])
        pocket = air_of(line(station, heights, intake_level=level))[k]
        assert pocket.compressed_m == pytest.approx(pocket.available_m, abs=0.02)


def test_filling__both_outcomes_of_the_squeeze_occur(line):
    """Air that stops the line when it keeps its volume may let it pass when it is squeezed."""
    stations, pipe = saw(119, 100, 116, 90, 98, 40)
    made = line(stations, pipe, intake_level=120.0)
    assert Filling(made, squeezed=False).crests_passed() == 1
    assert Filling(made, squeezed=True).crests_passed() == 2

"""Straights against an independent dynamic programme, a linear programme and what must hold."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trench_oracles import below_grade, corridors, least_digging, least_price, turns

from routing.compiled import prefer_compiled
from routing.trench.grade_line import best_grade_line
from routing.trench.pieces import search
from routing.trench.pieces_plain import search_plain
from routing.trench.straight import DRAGGED_PASSES, QUICK_PASSES, BreakTerms, Pass, straighten

DEMO = Path(__file__).resolve().parents[3] / "sample_dem"


@pytest.fixture(scope="module")
def compiled():
    prefer_compiled()
    yield
    prefer_compiled(False)


def rough(seed, n=400, step=2.5, size=0.2, fall=0.06, play=0.5):
    """Return a corridor of rough ground with uneven stations."""
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(0.2, 2.0, n - 1) * step)))
    ground = 200.0 - fall * station + np.cumsum(rng.normal(0.0, size, n))
    return station, ground - 0.9, ground - 0.9 - play


def straights(corridor, price=0.5, width=0.6, rising=0.0, falling=0.0, least=0.0, **options):
    station, highest, lowest = corridor
    line = best_grade_line(station, highest, lowest, rising=rising, falling=falling)
    terms = BreakTerms(break_price_m3=price, least_piece_m=least, rising=rising, falling=falling)
    widths = np.full(station.size - 1, width)
    return line, straighten(station, highest, lowest, widths, line, terms, **options)


def digging(corridor, z, width=0.6):
    return width * float(np.trapezoid(corridor[1] - z, corridor[0]))


def price_of(corridor, found, price=0.5, width=0.6):
    return digging(corridor, found.elevation_m, width) + price * (found.breaks.size - 2)


def reverse(corridor):
    station, highest, lowest = corridor
    return station[-1] - station[::-1], highest[::-1].copy(), lowest[::-1].copy()


def lattice_excess(corridor, price, rising=0.0, falling=0.0):
    """Return how much more a line costs than the best on a lattice, as a share of all digging.

    The whole digging has the least cover and the pipe in it, here 1 m. None where another line has
    fewer turns or no line keeps the grades.
    """
    station, highest, lowest = corridor
    line, found = straights(corridor, price=price, width=1.0, rising=rising, falling=falling)
    levels = [
        np.unique(np.append(np.linspace(high, low, 7), z))
        for high, low, z in zip(highest, lowest, line.elevation_m, strict=True)
    ]
    best = least_price(station, highest, lowest, levels, price, rising=rising, falling=falling)
    if not line.keeps_grade:
        assert best is None or best[:2] > turns(line.elevation_m)
        return 0.0
    assert turns(found.elevation_m) == turns(line.elevation_m) == best[:2]
    excess = price_of(corridor, found, price, 1.0) - best[2]
    # Where the corridor is a single point, levels may miss the one way to save a break.
    assert excess <= price + 1e-9
    return excess / (best[2] + station[-1])


@given(
    corridors(most=6),
    st.sampled_from([0.05, 0.2, 1.0, 5.0]),
    st.sampled_from([(0.0, 0.0), (0.03, 0.05)]),
)
@settings(max_examples=80, deadline=None)
def test_straighten__against_every_line_of_straights_on_a_lattice(corridor, price, grades):
    lattice_excess(corridor, price, *grades)


@pytest.mark.parametrize("price", [0.1, 0.5, 2.0])
def test_straighten__against_every_line_on_a_lattice_in_the_mean(price):
    excess = []
    for seed in range(20):
        station, highest, lowest = rough(seed, n=7, fall=0.03, play=0.4)
        excess.append(lattice_excess((station, highest, lowest), price, 0.002, 0.004))
    assert np.mean(excess) < 0.001


@pytest.mark.parametrize("seed", range(4))
def test_straighten__digs_little_more_than_the_linear_programme(seed, compiled):
    corridor = station, highest, lowest = rough(seed, n=250)
    line, found = straights(corridor, rising=0.002, falling=1 / 300)
    rising, falling = (0.002, 1 / 300) if line.keeps_grade else (0.0, 0.0)
    knots = found.elevation_m[found.breaks]
    senses = [1 if b > a else -1 for a, b in pairwise(knots)]
    best = least_digging(
        station, highest, lowest, found.breaks, senses, 0.6, rising=rising, falling=falling
    )
    dug = digging(corridor, found.elevation_m)
    assert best - 1e-6 <= dug <= 1.03 * best + 0.5


def demo_corridor():
    from routing.line import ground_profile, read_route
    from routing.terrain import open_terrain

    terrain = open_terrain([DEMO / "otterfell.tif"])
    profile = ground_profile(terrain, read_route(DEMO / "otterfell-line.geojson"))
    return profile.station_m, profile.ground_m - 0.9, profile.ground_m - 1.1


@pytest.mark.parametrize("price", [0.1, 0.5, 2.0])
def test_straighten__demo_line_against_far_more_levels(price, compiled):
    corridor = demo_corridor()
    station = corridor[0]
    line, found = straights(corridor, price=price, rising=0.002, falling=1 / 300)
    fine = (Pass(65, 1.0, 0.3), Pass(65, 0.05, 0.05), Pass(65, 0.01, 0.01))
    _, best = straights(corridor, price=price, rising=0.002, falling=1 / 300, passes=fine)
    assert turns(found.elevation_m) == turns(best.elevation_m) == turns(line.elevation_m)
    assert found.breaks.size - 2 <= 1.02 * (best.breaks.size - 2) + 1 or (
        price_of(corridor, found, price) <= 1.005 * price_of(corridor, best, price)
    )
    assert digging(corridor, found.elevation_m) <= (
        1.15 * digging(corridor, best.elevation_m) + 1.0
    )
    whole = 0.6 * (station[-1] * 1.1) + digging(corridor, best.elevation_m)
    gap = price_of(corridor, found, price) - price_of(corridor, best, price)
    assert gap <= 0.002 * whole


@given(
    corridors(most=40),
    st.sampled_from([(0.0, 0.0), (0.05, 0.1), (0.002, 0.003)]),
    st.sampled_from([0.0, 0.05, 0.5, 50.0]),
    st.sampled_from([0.0, 3.0]),
)
@settings(max_examples=80, deadline=None)
def test_straighten__keeps_corridor_turns_and_grades(corridor, grades, price, least):
    station, highest, lowest = corridor
    rising, falling = grades
    line, found = straights(corridor, price, rising=rising, falling=falling, least=least)
    z = found.elevation_m
    assert np.all(z <= highest + 1e-8)
    assert np.all(z >= lowest - 1e-8)
    assert turns(z) <= turns(line.elevation_m)
    assert z == pytest.approx(np.interp(station, station[found.breaks], z[found.breaks]), abs=1e-12)
    if line.keeps_grade:
        assert below_grade(station, z, rising, falling) == 0.0
    elif least == 0.0:
        flat = below_grade(station, line.elevation_m, rising, falling)
        assert below_grade(station, z, rising, falling) <= flat + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_straighten__reversing_the_line_changes_next_to_nothing(seed, compiled):
    corridor = rough(seed)
    _, ahead = straights(corridor, rising=0.002, falling=0.004, least=3.0)
    _, back = straights(reverse(corridor), rising=0.004, falling=0.002, least=3.0)
    assert turns(ahead.elevation_m) == turns(back.elevation_m)
    whole = 0.6 * corridor[0][-1]
    gap = price_of(corridor, ahead) - price_of(reverse(corridor), back)
    assert abs(gap) < 0.002 * whole


@pytest.mark.parametrize("seed", range(4))
def test_straighten__more_depth_never_costs_more(seed, compiled):
    station, highest, _ = rough(seed, fall=0.3)
    before = None
    for play in (0.05, 0.1, 0.2, 0.4, 0.8, 1.6):
        corridor = station, highest, highest - play
        _, found = straights(corridor)
        now = (*turns(found.elevation_m), price_of(corridor, found))
        if before is not None:
            assert now[:2] <= before[:2]
            if now[:2] == before[:2]:
                assert now[2] <= before[2] + 0.002 * 0.6 * station[-1]
        before = now


def test_straighten__dearer_breaks_are_fewer_and_dig_more(compiled):
    corridor = rough(11)
    found = [straights(corridor, price)[1] for price in (0.0, 0.05, 0.5, 5.0, 500.0)]
    counts = [each.breaks.size for each in found]
    dug = [digging(corridor, each.elevation_m) for each in found]
    assert counts == sorted(counts, reverse=True)
    assert dug == sorted(dug)
    assert counts[0] > 2 * counts[2] > 2 * counts[-1]


def test_straighten__a_price_of_nothing_is_the_line_itself():
    corridor = rough(12, n=80)
    line, found = straights(corridor, 0.0)
    assert found.elevation_m == pytest.approx(line.elevation_m, abs=1e-9)


def fewest_pieces(station, highest, lowest):
    """Return the fewest pieces that break at stations, by reachable intervals of levels.

    From an interval at one station the reachable levels at another are again an interval: the ends
    follow from the support of all stations between, a small linear programme by two slopes.
    """
    from scipy.optimize import linprog

    n = station.size
    reachable = {0: (lowest[0], highest[0])}
    pieces = 0
    while n - 1 not in reachable:
        pieces += 1
        new = {}
        for j, (low, high) in reachable.items():
            for i in range(j + 1, n):
                run = (station[j : i + 1] - station[j]) / (station[i] - station[j])
                rows = np.column_stack((1.0 - run, run))
                bounds = [(low, high), (lowest[i], highest[i])]
                args = {
                    "A_ub": np.vstack((rows, -rows)),
                    "b_ub": np.concatenate((highest[j : i + 1], -lowest[j : i + 1])),
                    "bounds": bounds,
                }
                down, up = linprog([0.0, 1.0], **args), linprog([0.0, -1.0], **args)
                if down.status != 0 or up.status != 0:
                    break
                least, most = new.get(i, (np.inf, -np.inf))
                new[i] = (min(least, down.fun), max(most, -up.fun))
        # What was reached before stays reachable with a piece more only through new pieces.
        reachable = new
    return pieces


@pytest.mark.parametrize("seed", range(3))
def test_straighten__dear_breaks_find_the_fewest_pieces(seed):
    # A steep fall leaves no turns to care for.
    corridor = rough(seed, n=22, size=0.3, fall=1.0, play=0.6)
    _, found = straights(corridor, 1000.0)
    assert found.breaks.size - 1 <= fewest_pieces(*corridor) + 1


def test_straighten__breaks_at_whole_metres_alone_would_add_turns():
    # Dips between the whole metres: a line that could not break there would have to turn more.
    station = np.arange(0.0, 60.0, 0.5)
    ground = 100.0 - 0.05 * station
    ground[1::2] -= np.tile([0.0, 0.3, 0.0, 0.0], 60)[: station[1::2].size]
    corridor = station, ground, ground - 0.05
    line, found = straights(corridor, 0.01)
    assert turns(found.elevation_m) == turns(line.elevation_m)
    assert np.any(station[found.breaks] % 1.0 != 0.0)


def test_straighten__short_pieces_only_where_a_turn_asks_for_them(compiled):
    corridor = station, _, _ = rough(3, size=0.05, fall=0.2)
    _, free = straights(corridor, 0.01)
    _, held = straights(corridor, 0.01, least=12.0)
    assert np.diff(station[free.breaks]).min() < 6.0
    assert np.diff(station[held.breaks]).min() >= 12.0 - 1e-9
    narrow = rough(3, size=0.3, play=0.05)
    line, found = straights(narrow, 0.01, least=12.0)
    assert turns(found.elevation_m) == turns(line.elevation_m)
    assert np.diff(narrow[0][found.breaks]).min() < 12.0


def test_straighten__metres_below_grade_have_a_price(compiled):
    # A terrace that sinks by less than the least grade, then a scarp: the room below is spent
    # where it saves most of the flat.
    station = np.arange(0.0, 600.0, 5.0)
    ground = np.interp(station, [0, 200, 400, 600], [100.0, 99.5, 99.1, 90.0])
    ground += 0.1 * np.sin(station / 9.0)
    corridor = station, ground, ground - 0.3
    line, found = straights(corridor, rising=0.01, falling=0.01)
    assert not line.keeps_grade
    flat = below_grade(station, line.elevation_m, 0.01, 0.01)
    assert 0.0 < below_grade(station, found.elevation_m, 0.01, 0.01) <= flat
    # At 1 % the terraces want 4 m; they fall 0.9 m and the corridor gives 0.3 m, so that level
    # pieces must win back at least the rest, a hundred metres of plan for each metre of height.
    assert below_grade(station, found.elevation_m, 0.01, 0.01) >= 400.0 - 100.0 * (0.9 + 0.3 + 0.2)


def test_straighten__even_and_wide_ground_stays_quick_and_good(compiled):
    station = np.arange(1500.0)
    highest = 100.0 - 0.1 * station + 0.3 * np.sin(station / 90.0)
    corridor = station, highest, highest - 1.9
    _, found = straights(corridor, least=3.0)
    _, best = straights(
        corridor, passes=(Pass(33, 1.0, 0.3), Pass(33, 0.1, 0.1), Pass(33, 0.02, 0.02))
    )
    whole = 0.6 * station[-1]
    assert price_of(corridor, found) <= price_of(corridor, best) + 0.002 * whole


def test_straighten__plane_ground_is_one_straight():
    station = np.arange(0.0, 1000.0, 7.0)
    highest = 300.0 - 0.2 * station
    _, found = straights((station, highest, highest - 0.5))
    assert found.breaks.tolist() == [0, station.size - 1]
    assert found.elevation_m == pytest.approx(highest)


def test_straighten__nothing_is_dug_over_a_span():
    station = np.arange(0.0, 100.0, 5.0)
    highest = 100.0 - 0.1 * station - np.where(station == 50.0, 0.4, 0.0)
    lowest = highest - 0.5
    line = best_grade_line(station, highest, lowest)
    terms = BreakTerms(break_price_m3=0.8)
    dug = straighten(station, highest, lowest, np.full(19, 0.6), line, terms)
    span = straighten(station, highest, lowest, np.zeros(19), line, terms)
    assert dug.breaks.size > span.breaks.size == 2


@pytest.mark.parametrize(
    ("seed", "options"),
    [
        (5, {"least": 3.0}),
        (6, {"rising": 0.002, "falling": 1 / 300}),
        (7, {"rising": 0.03, "falling": 0.05, "least": 5.0}),
        (8, {"size": 0.02, "play": 1.0}),
    ],
)
def test_straighten__compiled_interpreted_and_in_arrays_are_the_same(seed, options, monkeypatch):
    shape = {key: options.pop(key) for key in ("size", "play") if key in options}
    corridor = rough(seed, n=120, **shape)
    found = []
    for form in (search.native, search.python, search_plain):
        monkeypatch.setattr("routing.trench.straight.repays", lambda work: False)
        monkeypatch.setattr("routing.trench.straight.search_plain", form)
        found.append(straights(corridor, **options)[1])
    assert [each.breaks.tolist() for each in found[1:]] == [found[0].breaks.tolist()] * 2
    assert [each.elevation_m.tolist() for each in found[1:]] == [found[0].elevation_m.tolist()] * 2


@pytest.mark.parametrize("passes", [QUICK_PASSES, DRAGGED_PASSES], ids=["quick", "dragged"])
def test_straighten__fewer_levels_stay_close(compiled, passes):
    corridor = rough(6, fall=0.2)
    _, full = straights(corridor, least=3.0)
    line, quick = straights(corridor, least=3.0, passes=passes)
    assert turns(quick.elevation_m) == turns(line.elevation_m)
    assert price_of(corridor, quick) <= price_of(corridor, full) + 0.01 * 0.6 * corridor[0][-1]

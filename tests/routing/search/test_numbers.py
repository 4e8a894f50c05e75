"""The numbers that the search goes by: those that the guide tells, and what each of them does.

Where nothing else is named they are common practice or the search's own choice.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from made_valley import CELL_M as VALLEY_CELL_M
from made_valley import told as told_of_valley
from made_valley import valley
from plane_hill import place
from strips import strip, way

import web
from routing.errors import PipeError
from routing.search import bans, ends, lines, settle, weave
from routing.search.bans import land_tolls
from routing.search.grid import search_grid
from routing.search.ladder import ladders, sizes_on_offer
from routing.search.legs import bend_price, line_price
from routing.search.lines import improved
from routing.search.prices import land_prices, price_book
from routing.search.propose import (
    CROSSINGS_DEARER,
    DEARER,
    FEWEST,
    NEAREST_CELLS,
    TURNS_DEARER,
    Candidate,
    Search,
    _different,
)
from routing.search.rules import rules
from routing.search.settle import Tried, settled
from routing.search.smooth import _moved, legs_of
from routing.search.valley import screen as screening
from routing.search.valley import screen_valley
from routing.search.valley.chain import _gradient
from routing.search.valley.rank import route_of
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain
from routing.terrain import open_terrain

GUIDE = Path(web.__file__).parent / "guide"


def told(**tables):
    return settings_from_mapping(tables)


def test_numbers__are_those_that_the_guide_tells():
    text = " ".join((GUIDE / "search.md").read_text(encoding="utf-8").split())
    book, rule = price_book(told().prices), rules()
    for said in (
        f"half as much again where the grade is above {100 * rule['steep_from']:.0f} %",
        f"over a gully, up to {rule['longest_span']:.0f} m long",
        f"less the friction head of the design flow and {rule['margin']:g} m",
        f"up to {ends.MOST_PLACES} places along it",
        f"A built vent counts as {book.prices.vent:.0f} m3 of trench and a drain as "
        f"{book.prices.drain:.0f}",
        f"with the ground near earlier lines at {DEARER:g} times its price",
        f"at least {100 * rule['apart_share']:.0f} % of the distance",
        f"where that leaves fewer than {['', 'one', 'two', 'three'][FEWEST]}",
        f"so on down to {['', 'one', 'two', 'three'][int(NEAREST_CELLS)]} cells",
    ):
        assert said in text, said
    assert "vents and drains at three times their price" in text
    assert TURNS_DEARER == 3.0
    assert "crossings at eight times their price" in text
    assert CROSSINGS_DEARER == 8.0
    assert "within six cells to either side" in text
    assert max(weave.ACROSS) == 6.0


def test_price_book__ratios_to_a_cubic_metre_of_trench():
    """The usual ratios, written out once more: a price book with digging at 10 a cubic metre."""
    book = price_book(told(prices={"trench_per_m3": 10.0, "currency": "EUR"}).prices)
    assert book.bend == pytest.approx(40.0)
    assert book.bench_m3 == pytest.approx(3.0)
    assert book.span_m == pytest.approx(40.0)
    assert book.prices.per_kg["PE100"] == pytest.approx(0.9)


@pytest.mark.parametrize(
    ("kind", "crossing", "along"),
    [
        ("road", 12.0, 2.0),
        ("stream", 15.0, 4.0),
        ("parcel", 2.0, 0.0),
        ("protected", 20.0, 4.0),
        ("service", 3.0, 1.0),
        ("right of way", 1.0, 0.0),
    ],
)
def test_land_tolls__a_crossing_costs_what_is_told(make_raster, kind, crossing, along):
    """A line square across a strip of land two cells wide pays one crossing, in m3 of trench."""
    terrain = open_terrain([make_raster(np.zeros((30, 40)), cell=10.0)])
    grid = search_grid(terrain, [place(50.0, 150.0), place(350.0, 150.0)], 0.6)
    shape = {"type": "LineString", "coordinates": [list(place(204.0, y)) for y in (5.0, 295.0)]}
    feature = {"type": "Feature", "properties": {"name": "it"}, "geometry": shape}
    layer = {"kind": kind, "features": {"type": "FeatureCollection", "features": [feature]}}
    (held,) = told(layer=[layer]).layer
    across, beside = land_tolls(grid, [held.layer], land_prices())
    paid = (across + beside)[grid.shape[0] // 2]
    touched = paid > 0.0
    assert 1 <= touched.sum() <= 2
    assert paid[touched] == pytest.approx(crossing / (2.0 * grid.cell_m) + along, rel=1e-6)
    assert beside[grid.shape[0] // 2][touched] == pytest.approx(along)
    assert land_prices()[kind] == (crossing, along)


def test_bend_price__a_whole_bend_from_22_degrees_and_a_fifth_for_any():
    ground = SimpleNamespace(bend=10.0, radius_m=0.0)

    def price(angle):
        turned = math.radians(angle)
        return bend_price.python(ground, 0.0, 9.0, 9.0 * math.sin(turned), 9.0 * math.cos(turned))

    assert [price(angle) for angle in (0.0, 11.25, 22.5, 60.0)] == pytest.approx(
        [2.0, 7.0, 12.0, 12.0]
    )
    assert math.isinf(price(90.5))


def test_dug_leg__keeps_the_crown_below_the_intake_in_the_deepest_trench():
    """Water at 100 m; 1 m to the centreline and 0.1 m more to dig; half a pipe of 0.3 m."""
    for height, open_ in ((100.94, True), (100.96, False)):
        told_ = strip(np.full((15, 30), height), intake_m=100.0)
        points = way(7, 30)
        price = line_price(*told_, points, np.zeros(len(points) - 1, dtype=np.bool_))
        assert math.isfinite(price) is open_


def test_ladder__thinner_pipe_than_sdr_26_is_not_chosen_unasked():
    sizes = sizes_on_offer(told(), price_book(told().prices))
    ratios = {rung.pipe.series for ladder in sizes for rung in ladder.rungs if rung.pipe.series}
    assert "SDR26" in {str(each).replace(" ", "") for each in ratios}
    assert not {"SDR33", "SDR41"} & {str(each).replace(" ", "") for each in ratios}


def test_ladder__a_line_is_longer_than_straight_and_may_dip_below_its_end():
    """The classes on hand go 15 % and 2 m deeper than the fall where such pipe is on offer."""
    flowing = told(flow={"design": "10 L/s"})
    sought = ladders(flowing, price_book(flowing.prices), choose=True)
    with pytest.raises(PipeError, match=r"holds the 1002 m of head at rest"):
        sought(3000.0, 1000.0)
    # The cheap one, PE100 SDR26 (PN 6), is used under 49 m; the dear one, SDR17 (PN 10), under
    # 82 m. The cheap one serves where a dip stays within it, and where no other is on offer.
    weak, strong = {"PE100-SDR26-200": 1.0}, {"PE100-SDR17-180": 9.0}
    for prices, head_m, size_m in (
        ({**weak, **strong}, 40.0, 0.2),
        ({**weak, **strong}, 45.0, 0.18),
        (weak, 45.0, 0.2),
    ):
        priced = told(flow={"design": "10 L/s"}, prices={"per_metre": prices, "date": "2026-11-25"})
        ladder = ladders(priced, price_book(priced.prices), choose=True)(1000.0, head_m)
        assert ladder.outside_diameter_m == pytest.approx(size_m)
    with pytest.raises(PipeError, match="No pipe on offer"):
        ladders(priced, price_book(priced.prices), choose=True)(1000.0, 48.0)
    assert rules()["detour"] == rules()["dip"] == 1.15


def test_smoothed__a_corner_leaps_two_cells():
    """Beside the corner row 11 costs, below it row 13: one cell on is worse, two are best."""
    ground, field, terms = strip(np.full((20, 40), 100.0))
    field.extra[11, 15:26] = field.extra[13:] = 50.0
    points = np.array([[10.0, 2.0], [12.0, 20.0], [10.0, 38.0]])
    held = np.array([True, False, True])
    none = np.zeros(2, dtype=np.bool_)
    _moved(ground, field, terms, points, none, held, legs_of(ground, points))
    assert points[1, 0] == pytest.approx(10.0, abs=0.3)


def test_woven__looks_six_cells_to_either_side():
    """Bumps in a row on a strip eleven cells wide, even ground six cells beside the way."""
    heights = 100.0 - 0.5 * np.arange(60)[None, :] + np.zeros((25, 1))
    heights[7:18, 20:40:4] += 1.5
    told_ = strip(heights)
    points = way(12, 60)
    hung = np.zeros(len(points) - 1, dtype=np.bool_)
    line, _ = weave.woven(*told_, points, hung)
    assert np.abs(line[:, 0] - 12.0).max() == pytest.approx(6.0, abs=0.1)


def test_improved__moves_by_three_quarters_of_a_cell_where_the_graph_agrees(monkeypatch):
    """A move that the graph's prices make dearer by more than 2 % is not studied."""
    points = np.array([[0.0, 0.0], [0.0, 10.0], [0.0, 20.0]])
    held = np.array([True, False, True])
    line = SimpleNamespace(
        way=lines.Way(points=points, hung=np.zeros(2, dtype=np.bool_), fixed=held, price=1.0),
        cost=1.0,
    )
    tried = []

    def study(_site, moved):
        tried.append(float(np.abs(moved.points - points).max()))
        return SimpleNamespace(barred=(), cost=2.0, way=moved)

    monkeypatch.setattr(lines, "laid", study)
    site = SimpleNamespace(ground=None, terms=None)
    for dearer, first in ((1.019, 0.75), (1.021, None)):
        prices = iter([1.0])
        monkeypatch.setattr(lines, "line_price", lambda *_, p=prices, d=dearer: next(p, d))
        tried.clear()
        assert improved(site, None, line, 1) is line
        assert (tried[0] if tried else None) == first


@pytest.mark.parametrize(
    ("offers", "taken"),
    [
        # Room of 0.3 % of the limit is enough; less is tried on.
        ([(0.0031, 10.0), (0.5, 10.0)], 0),
        ([(0.0029, 10.0), (0.5, 10.0)], 1),
        # Stronger pipe must leave nine tenths of the net head of the first.
        ([(-0.1, 10.0), (0.5, 8.9), (-0.2, 9.9)], 0),
        ([(-0.1, 10.0), (0.5, 9.1)], 1),
    ],
)
def test_settled__takes_the_first_pipes_with_room(monkeypatch, offers, taken):
    tries = [
        Tried([{"number": at}], margin, np.zeros(1), net) for at, (margin, net) in enumerate(offers)
    ]
    monkeypatch.setattr(settle, "_offers", lambda *_: iter(tries))
    monkeypatch.setattr(
        settle, "laid", lambda *_, full, pipes: SimpleNamespace(faults=(), pipes=pipes)
    )
    site = SimpleNamespace(ladder=SimpleNamespace(varies=True))
    line = SimpleNamespace(study=SimpleNamespace(flow=1), way=None)
    assert settled(site, line).pipes == [{"number": taken}]


def test_different__a_lesser_distance_counts_where_there_are_fewer_than_three():
    """Lines 3, 6 and 9 cells beside the first: 20 cells apart none, two cells apart all of them."""

    def found(row, cost):
        points = np.array([[row, 0.0], [row, 30.0]])
        line = SimpleNamespace(cost=cost, way=SimpleNamespace(points=points))
        return Candidate(line, Search(None, None, None))

    pool = [found(row, cost) for cost, row in enumerate((0.0, 3.0, 6.0, 9.0))]
    grid = SimpleNamespace(south_m=10.0, east_m=10.0, cell_m=10.0)
    chosen, apart = _different(SimpleNamespace(grid=grid, apart_m=200.0), pool, 5)
    assert (len(chosen), apart) == (4, 25.0)
    near = [found(row, cost) for cost, row in enumerate((0.0, 1.9))]
    chosen, apart = _different(SimpleNamespace(grid=grid, apart_m=200.0), near, 5)
    assert (len(chosen), apart) == (1, 20.0)


@pytest.mark.parametrize(("cell_m", "spacing_m"), [(10.0, 40.0), (25.0, 100.0)])
def test_screen__places_are_four_cells_apart_and_40_m(make_raster, monkeypatch, cell_m, spacing_m):
    class Enough(Exception):
        pass

    def stopped(_network, spacing, _most):
        assert spacing == pytest.approx(spacing_m, rel=1e-3)
        raise Enough

    monkeypatch.setattr(screening, "chains_of", stopped)
    with pytest.raises(Enough):
        screen_valley([make_raster(valley(), cell=cell_m)], told_of_valley())


def test_route_of__has_a_point_for_three_cells_of_the_stream(make_raster):
    """20 cells down a stream: cells 0, 3, ... 18 and the last one."""
    terrain = open_study_terrain([make_raster(valley(), cell=VALLEY_CELL_M)])
    chains = SimpleNamespace(first=np.array([0, 21]), row=np.full(21, 30), col=np.arange(21) + 5)
    rated = SimpleNamespace(intake=np.array([0]), stop=np.array([20]), straight=np.array([0]))
    assert route_of(terrain, chains, rated, 0).lon.size == 8
    straight = SimpleNamespace(intake=rated.intake, stop=rated.stop, straight=np.array([1]))
    assert route_of(terrain, chains, straight, 0).lon.size == 2


def test_gradient__by_swamee_and_jain():
    """Factor at a relative roughness of 1e-4 and a Reynolds number of 1e5: 0.018452.

    0.25 / log10(1e-4 / 3.7 + 5.74 / 1e5^0.9)^2, worked out by hand from the formula of Swamee and
    Jain 1976 (from memory).
    """
    purse = SimpleNamespace(bore_m=np.array([0.1]), rough_m=np.array([1e-5]), viscosity=1.0e-6)
    flow = 1.0 * math.pi / 4.0 * 0.1**2  # 1 m/s
    expected = 0.018452 / 0.1 * 1.0 / (2.0 * 9.80665)
    assert float(_gradient.python(purse, 0, flow)) == pytest.approx(expected, rel=5e-5)


def test_offers__pipes_are_tried_for_the_surge_first_and_then_for_ever_more_head(monkeypatch):
    """Head at rest 50 m and a rise of 30 m; four fifths of a rating serve the head at rest."""
    station, head, asked_for = np.array([0.0, 100.0]), np.array([50.0, 50.0]), []
    monkeypatch.setattr(settle, "deepest_head", lambda *_: (station, head))
    monkeypatch.setattr(
        settle, "_tried", lambda _line, pipes: Tried(pipes, 0.0, np.full(2, 30.0), 1.0)
    )

    def runs(_station, heads):
        asked_for.append(float(heads[0]))
        return [{"number": len(asked_for)}]

    laid_line = SimpleNamespace(line=SimpleNamespace(station_m=station))
    line = SimpleNamespace(route=None, way=None, study=laid_line)
    list(settle._offers(SimpleNamespace(ladder=SimpleNamespace(runs=runs)), line))
    by_surge = [0.8 * (50.0 + 1.05 * 30.0), 0.8 * (50.0 + 1.25 * 30.0)]
    by_share = [57.5, 65.0, 80.0, 100.0, math.inf, 45.0, 40.0]
    assert asked_for == pytest.approx([50.0, *by_surge, *by_share])


def test_closed_steep__strip_by_strip_as_whole(make_raster, monkeypatch):
    draw = np.random.default_rng(4)
    field = (500.0 + np.cumsum(draw.normal(0.0, 3.0, (301, 200)), axis=1)).astype(np.float32)
    terrain = open_terrain([make_raster(field)])
    grid = search_grid(terrain, [place(50.0, 150.0), place(350.0, 150.0)], 3.0, most_cells=9000)
    assert grid.window is not None
    assert grid.factor > 1
    south, east = grid.south_m / grid.factor, grid.east_m / grid.factor
    steep = np.hypot(*np.gradient(grid.window.heights_m, south, east)) > 0.5
    want = np.zeros(grid.shape, dtype=np.uint8)
    for row, col in zip(*np.nonzero(steep), strict=True):
        at = min(row // grid.factor, want.shape[0] - 1), min(col // grid.factor, want.shape[1] - 1)
        want[at] = bans.STEEP
    assert 0.05 < (want > 0).mean() < 0.95
    rows, cols = grid.window.heights_m.shape
    for cells in (1, 7 * cols, (rows - 1) * cols, rows * cols):
        monkeypatch.setattr(bans, "STRIP_CELLS", cells)
        assert np.array_equal(bans.closed_steep(grid, 0.5), want)


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_search_grid__in_full_and_as_means(make_raster, monkeypatch, unit):
    field = (500.0 + np.random.default_rng(4).normal(0.0, 3.0, (97, 200))).astype(np.float32)
    terrain = open_terrain([make_raster(field)], unit=unit)
    monkeypatch.setattr("routing.search.grid.STRIP_CELLS", 20 * 200)
    grid = search_grid(terrain, [place(50.0, 50.0), place(350.0, 50.0)], 3.0, most_cells=3000)
    metres = {"m": 1.0, "ft": 0.3048}[unit]
    top, left = grid.row0, grid.col0
    rows, cols = grid.window.heights_m.shape
    want = field[top : top + rows, left : left + cols].astype(np.float64) * metres
    np.testing.assert_array_equal(grid.window.heights_m, want)
    f = grid.factor
    means = want[: rows // f * f, : cols // f * f].reshape(rows // f, f, cols // f, f)
    np.testing.assert_allclose(grid.heights, means.mean(axis=(1, 3)), rtol=1e-6)

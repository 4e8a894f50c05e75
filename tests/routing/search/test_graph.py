"""The search over cells and headings against exhaustive search and another library's."""

from __future__ import annotations

import heapq
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Flexible

from routing.compiled import compiling
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import MOVES, Terms, field_of, graph_of, moves_on

EAST_M, SOUTH_M = 5.0, 6.0


def terms(**changes):
    usual = {
        "intake_m": 430.0,
        "depth_m": 0.9,
        "trench": 0.7,
        "bench": 0.6,
        "bench_from": 0.2,
        "cut": 2.0,
        "steep_from": 0.35,
        "steep_factor": 1.5,
        "vent": 4.0,
        "drain": 3.0,
        "slack_m": 0.3,
        "span": 4.0,
        "longest_m": 0.0,
    }
    return Terms(**{**usual, **changes})


def hillside(seed, rows=9, cols=11, rough=1.5, closed=0.1):
    draw = np.random.default_rng(seed)
    plane = 420.0 - 0.8 * np.arange(cols)[None, :] + 0.3 * np.arange(rows)[:, None]
    shut = (draw.random((rows, cols)) < closed).astype(np.uint8)
    shut[rows // 2, 0] = shut[rows // 2, -1] = 0
    return field_of(
        heights=(plane + rough * draw.standard_normal((rows, cols))).astype(np.float32),
        shut=shut,
        extra=(draw.random((rows, cols)) * 0.5).astype(np.float32),
        strain=(1.0 + draw.random((rows, cols))).astype(np.float32),
        by_head=0.3 + 0.01 * np.arange(60.0),
    )


def moves(sharpest=90.0, bend=0.5):
    return moves_on(
        EAST_M, SOUTH_M, lambda a: math.inf if a > sharpest + 1.0 else bend * min(1.0, a / 45.0)
    )


def brushed(row, col, down, right):
    """Cells that a knight's move brushes on its way."""
    if abs(down) == 2:
        return [(row + down // 2, col), (row + down // 2, col + right)]
    if abs(right) == 2:
        return [(row, col + right // 2), (row + down, col + right // 2)]
    return []


def ground_price(field, told, row, col, down, right):
    """Price of one move, written out anew from the description of the terms."""
    rows, cols = field.heights.shape
    r, c = row + down, col + right
    for i, j in [(r, c), *brushed(row, col, down, right)]:
        if not (0 <= i < rows and 0 <= j < cols) or field.shut[i, j]:
            return math.inf
    z = field.heights.astype(float)
    flat = math.hypot(right * EAST_M, down * SOUTH_M)
    rise = z[r, c] - z[row, col]
    up, low = max(row - 1, 0), min(row + 1, rows - 1)
    left, far = max(col - 1, 0), min(col + 1, cols - 1)
    by_south = (z[low, col] - z[up, col]) / (low - up) / SOUTH_M
    by_east = (z[row, far] - z[row, left]) / (far - left) / EAST_M
    # The gradient's share square to the move.
    side = abs(by_south * right * EAST_M - by_east * down * SOUTH_M) / flat
    if side >= told.cut:
        return math.inf
    ditch = told.trench * (told.steep_factor if abs(rise) / flat > told.steep_from else 1.0)
    if side > told.bench_from:
        ditch += told.bench * side / (1.0 - side / told.cut)
    head = told.intake_m - (z[r, c] + z[row, col]) / 2.0 + told.depth_m
    toll = (float(field.extra[row, col]) + float(field.extra[r, c])) / 2.0
    pipe = field.by_head[min(max(int(head), 0), field.by_head.size - 1)]
    return float(field.strain[r, c]) * (math.hypot(flat, rise) * pipe + flat * (ditch + toll))


def turned_price(told, before, rise):
    if before <= 0.0 < rise:
        return told.drain * min(1.0, rise / told.slack_m)
    if rise <= 0.0 < before:
        return told.vent * min(1.0, before / told.slack_m)
    return 0.0


def exhaustive(field, told, steps, start, end):
    """Least cost over all states, found without any guide."""
    cols = field.heights.shape[1]
    z = field.heights.astype(float)
    cost, queue = {}, [(0.0, start // cols, start % cols, -1)]
    while queue:
        so_far, row, col, heading = heapq.heappop(queue)
        if (row, col, heading) in cost:
            continue
        cost[row, col, heading] = so_far
        if row * cols + col == end:
            return so_far
        for h, (down, right) in enumerate(MOVES):
            turn = 0.0 if heading < 0 else steps.turn[heading, h]
            step = ground_price(field, told, row, col, down, right)
            if math.isinf(turn + step):
                continue
            if heading >= 0:
                before = z[row, col] - z[row - MOVES[heading][0], col - MOVES[heading][1]]
                step += turned_price(told, before, z[row + down, col + right] - z[row, col])
            heapq.heappush(queue, (so_far + turn + step, row + down, col + right, h))
    return math.inf


def sought(field, told, steps, start, end):
    graph, cols, to = graph_of(field, told, steps), field.heights.shape[1], np.array([end])
    return least_cost(graph, cols, least_to_go(graph, cols, to), start, to)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("sharpest", [90.0, 46.0])
def test_least_cost__is_that_of_exhaustive_search(seed, sharpest):
    field, told, steps = hillside(seed), terms(), moves(sharpest)
    rows, cols = field.heights.shape
    start, end = rows // 2 * cols, rows // 2 * cols + cols - 1
    want = exhaustive(field, told, steps, start, end)
    found = sought(field, told, steps, start, end)
    if math.isinf(want):
        assert found is None
    else:
        assert found is not None
        assert found.cost == pytest.approx(want, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), closed=st.floats(0.0, 0.5))
def test_least_cost__never_enters_closed_cells(seed, closed):
    field = hillside(seed, closed=closed)
    rows, cols = field.heights.shape
    start, end = rows // 2 * cols, rows // 2 * cols + cols - 1
    found = sought(field, terms(), moves(), start, end)
    if found is None:
        return
    places = list(zip(*(each.tolist() for each in np.divmod(found.cells, cols)), strict=True))
    assert places[0] == divmod(start, cols)
    assert places[-1] == divmod(end, cols)
    for (row, col), (r, c) in pairwise(places):
        assert (r - row, c - col) in MOVES
        assert not any(field.shut[cell] for cell in [(r, c), *brushed(row, col, r - row, c - col)])


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("directed", [False, True])
def test_least_to_go__is_that_of_csgraph(seed, directed):
    """Checked against scipy.sparse.csgraph.dijkstra; undirected without benches and strain."""
    field = hillside(seed, rows=12, cols=15)
    told = terms()
    if not directed:
        field = field._replace(strain=np.ones_like(field.strain))
        told = terms(bench=0.0, cut=1e9)
    rows, cols = field.heights.shape
    edges = [
        (row * cols + col, (row + down) * cols + col + right, price)
        for row in range(rows)
        for col in range(cols)
        if not field.shut[row, col]
        for down, right in MOVES
        if not math.isinf(price := ground_price(field, told, row, col, down, right))
    ]
    one, other, price = (np.array(each) for each in zip(*edges, strict=True))
    graph = coo_matrix((price, (other, one)), shape=(rows * cols, rows * cols)).tocsr()
    if not directed:
        assert abs(graph - graph.T).max() < 1e-6
    end = rows // 2 * cols + cols - 1
    want = dijkstra(graph, indices=end)
    want[field.shut.reshape(-1) > 0] = np.inf
    found = least_to_go(graph_of(field, told, moves()), cols, np.array([end]))
    np.testing.assert_allclose(found, want, rtol=1e-5)


class ByMetre(MCP_Flexible):
    """A step costs its length at the mean price of the cells at its ends."""

    def travel_cost(self, old_cost, new_cost, offset_length):
        return offset_length * (old_cost + new_cost) / 2.0


@pytest.mark.parametrize("seed", range(4))
def test_least_to_go__is_that_of_scikit_image(seed):
    """Checked against skimage.graph.MCP_Flexible: on the flat a metre costs what its cells do."""
    extra = np.random.default_rng(seed).random((14, 17)).astype(np.float32)
    field = field_of(
        heights=np.full_like(extra, 420.0),
        shut=np.zeros(extra.shape, np.uint8),
        extra=extra,
        strain=np.ones_like(extra),
        by_head=np.full(60, 0.3),
    )
    rows, cols = field.heights.shape
    end = (rows // 2, cols - 1)
    price = 0.3 + terms().trench + extra.astype(float)
    known = ByMetre(price, offsets=list(MOVES), sampling=(SOUTH_M, EAST_M))
    want = known.find_costs([end])[0] - price[end]  # it counts the first cell too
    found = least_to_go(graph_of(field, terms(), moves()), cols, np.array([end[0] * cols + end[1]]))
    np.testing.assert_allclose(found.reshape(rows, cols), want, rtol=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_least_to_go__is_never_more_than_the_truth(seed):
    field, told, steps = hillside(seed), terms(longest_m=30.0), moves()
    rows, cols = field.heights.shape
    end = rows // 2 * cols + cols - 1
    bound = least_to_go(graph_of(field, told, steps), cols, np.array([end]))
    for start in range(0, rows * cols, 7):
        found = sought(field, told, steps, start, end)
        if found is not None and start != end and not field.shut.reshape(-1)[start]:
            assert bound[start] <= found.cost * (1.0 + 1e-5)


def gully(depth):
    heights = np.repeat((420.0 - 0.3 * np.arange(21.0))[None, :], 7, axis=0)
    heights[:, 8:12] -= depth
    shape = heights.shape
    return field_of(
        heights=heights.astype(np.float32),
        shut=np.zeros(shape, np.uint8),
        extra=np.zeros(shape, np.float32),
        strain=np.ones(shape, np.float32),
        by_head=np.full(60, 0.3),
    )


def test_least_cost__bridges_a_gully_where_that_is_cheaper():
    steps = moves()
    start, end = 3 * 21, 3 * 21 + 20
    over = sought(gully(6.0), terms(longest_m=40.0, span=0.9), steps, start, end)
    # Straight over: 15 moves in the ground, 25 m of bridge; the fall is 0.3 m in 5 m.
    ditch, slope = 0.7, math.hypot(5.0, 0.3) / 5.0
    assert over.cost == pytest.approx(75.0 * ditch + 25.0 * 0.9 + 100.0 * slope * 0.3, rel=1e-5)
    assert [(int(over.cells[a]) - start, int(over.cells[b]) - start) for a, b in over.spans] == [
        (7, 12)
    ]
    none = sought(gully(6.0), terms(longest_m=0.0), steps, start, end)
    assert none.spans == ()
    assert none.cost > over.cost


def test_least_cost__a_hump_costs_a_sag_and_a_summit():
    hump = gully(-5.0)
    told, steps = terms(vent=40.0, drain=1.0, bench=0.0, steep_factor=1.0), moves(bend=0.0)
    start, end = 3 * 21, 3 * 21 + 20
    over = sought(hump, told, steps, start, end).cost
    bare = terms(vent=0.0, drain=0.0, bench=0.0, steep_factor=1.0)
    assert over == pytest.approx(sought(hump, bare, steps, start, end).cost + 41.0, rel=1e-4)


def test_moves_on__turns_and_sides():
    steps = moves_on(5.0, 5.0, lambda angle: angle)
    assert steps.turn[0, 8] == pytest.approx(180.0)
    assert steps.turn[0, 2] == pytest.approx(45.0)
    assert steps.turn[15, 1] == pytest.approx(2.0 * math.degrees(math.atan(0.5)))
    # Going east on ground that rises a metre with every row (southwards): all of it is across.
    assert abs(1.0 * steps.across_row[0] + 0.0 * steps.across_col[0]) == pytest.approx(0.2)


@pytest.mark.parametrize(("depth", "spans"), [(0.28, 0), (0.32, 1)])
def test_least_cost__a_bridge_hangs_three_tenths_of_a_metre_clear(depth, spans):
    told = terms(longest_m=40.0, span=0.1)
    found = sought(gully(depth), told, moves(), 3 * 21, 3 * 21 + 20)
    assert (len(found.spans) > 0) is (spans > 0)


@pytest.mark.parametrize("seed", range(4))
def test_least_to_go__as_far_as_the_start_is_never_more(seed):
    """Cells nearer than the start have their cost, all others its own; the way is the same."""
    field, told, steps = hillside(seed, 25, 40, closed=0.05), terms(longest_m=30.0), moves()
    graph, cols, to = graph_of(field, told, steps), 40, np.array([12 * 40 + 39])
    whole = least_to_go(graph, cols, to)
    starts = [at for at in (12 * 40, 12 * 40 + 20, 12 * 40 + 30) if np.isfinite(whole[at])]
    assert starts
    for start in starts:
        found = least_to_go(graph, cols, to, start)
        np.testing.assert_array_equal(found, np.minimum(whole, whole[start]))
        ways = [least_cost(graph, cols, guide, start, to) for guide in (whole, found)]
        assert ways[0].cost == ways[1].cost
        assert ways[0].opened <= ways[1].opened


@pytest.mark.parametrize("seed", range(2))
def test_graph__the_same_however_few_pages_are_kept(seed, monkeypatch):
    """40 x 70 cells are 2 x 3 squares; of these as many prices are kept as memory allows."""
    field, told, steps = hillside(seed, 40, 70, closed=0.05), terms(longest_m=30.0), moves()
    start, end = 20 * 70, 20 * 70 + 69
    whole = sought(field, told, steps, start, end)
    kept = graph_of(field, told, steps).pages
    assert kept.price.shape == (6, 32 * 32, 16)
    for most in (2, 4):
        monkeypatch.setattr("routing.search.graph.MOST_PAGES", most)
        assert graph_of(field, told, steps).pages.price.shape[0] == most
        with compiling():
            found = sought(field, told, steps, start, end)
        assert found.cost == whole.cost
        np.testing.assert_array_equal(found.cells, whole.cells)


def test_graph__one_strain_is_that_of_every_cell():
    field, told, steps = hillside(3, 20, 30), terms(), moves()
    start, end = 10 * 30, 10 * 30 + 29
    costs = [
        sought(field._replace(strain=np.full(shape, 1.7, np.float32)), told, steps, start, end).cost
        for shape in ((20, 30), (1, 1))
    ]
    assert costs[0] == costs[1]
    plain = field._replace(strain=np.ones((1, 1), np.float32))
    assert sought(plain, told, steps, start, end).cost < costs[0]


def test_graph__keeps_the_prices_of_half_a_million_cells():
    """The search's own choice: 512 squares of 32 x 32 cells, 4 bytes for each of 16 moves."""
    shape = (1000, 1000)
    field = field_of(
        heights=np.zeros(shape, np.float32),
        shut=np.zeros(shape, np.uint8),
        extra=np.zeros(shape, np.float32),
        strain=np.ones((1, 1), np.float32),
        by_head=np.ones(10),
    )
    assert graph_of(field, terms(), moves()).pages.price.nbytes == 512 * 32 * 32 * 16 * 4

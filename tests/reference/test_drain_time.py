"""Drain times against a closed form, quadrature, and marching by a library's stiff solver."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published import gives, published
from published import table as records
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from routing.errors import InputError
from routing.fittings.size.drain_march import march, table
from routing.fittings.size.drain_time import STEP, TAIL, empty_limbs
from routing.fittings.size.limb import Limb, drain_constant, make_limb

G = 9.80665


def uniform_emptying_s(
    *, height_m, slope_sine, inside_diameter_m, drain_bore_m, cd, f_darcy, gravity_m_s2
):
    """The time of one limb of even slope, the integral of Torricelli's law with Darcy's friction.

    T = [sqrt(H (a + b H)) + a / sqrt(b) asinh(sqrt(b H / a))] / (sin theta sqrt(2 g)) with
    a = (A / (Cd Ad))^2 and b = f / (D sin theta); independently computed.
    """
    a = ((inside_diameter_m / drain_bore_m) ** 2 / cd) ** 2
    b = f_darcy / (inside_diameter_m * slope_sine)
    ratio = b * height_m / a
    if ratio < 1e-8:
        # The limit without friction; the general form would be 0/0 there.
        length = 2.0 * math.sqrt(a * height_m)
    else:
        length = math.sqrt(height_m * (a + b * height_m))
        length += a / math.sqrt(b) * math.asinh(math.sqrt(ratio))
    return length / (slope_sine * math.sqrt(2.0 * gravity_m_s2))


def limb(length, head, bore=0.3, friction=0.016) -> Limb:
    length = np.asarray(length, float)
    return make_limb(
        length_m=length,
        head_m=np.asarray(head, float),
        bore_m=np.broadcast_to(np.asarray(bore, float), length.size - 1),
        friction=np.broadcast_to(np.asarray(friction, float), length.size - 1),
        gravity_m_s2=G,
    )


def emptied(*limbs: Limb, drain: float = 0.1, cd: float = 0.6):
    return empty_limbs(limbs, drain_bore_m=drain, cd=cd, gravity_m_s2=G)


# Independently computed, quadrature agreeing to 1e-6: height, sine, bore, drain, f; time [s], time
# without friction [s], volume [m3], first flow [L/s]. Cd 0.6.
TABLE = [
    (40, 0.10, 0.300, 0.100, 0.015, 434.7, 428.4, 28.27, 126.5),
    (40, 0.10, 0.300, 0.050, 0.015, 1715.3, 1713.7, 28.27, 32.9),
    (15, 0.05, 0.200, 0.050, 0.018, 938.7, 932.8, 9.42, 19.8),
    (100, 0.25, 0.500, 0.150, 0.013, 336.2, 334.5, 78.54, 462.6),
]


def closed_s(height, sine, bore, drain, factor):
    return uniform_emptying_s(
        height_m=height,
        slope_sine=sine,
        inside_diameter_m=bore,
        drain_bore_m=drain,
        cd=0.6,
        f_darcy=factor,
        gravity_m_s2=G,
    )


def ran(height, sine, bore, drain, factor):
    return emptied(limb([0, height / sine], [0, height], bore, factor), drain=drain)


test_drain_time__table = published(
    records(
        "independently computed",
        [(*row[:5], row[5], row[6], row[5], row[7], row[8]) for row in TABLE],
        gives(closed_s, abs=0.05),
        gives(lambda *given: closed_s(*given[:4], 0.0), abs=0.05),
        gives(lambda *given: ran(*given).time_s, abs=0.05),
        gives(lambda *given: ran(*given).volume_m3, abs=0.005),
        gives(lambda *given: 1000 * ran(*given).first_flow_m3_s, abs=0.05),
    )
)


def test_one_limb__quadrature_over_a_real_profile() -> None:
    rng = np.random.default_rng(5)
    length = np.concatenate(([0.0], np.cumsum(rng.uniform(2.0, 30.0, 40))))
    head = 0.1 + np.concatenate(([0.0], np.cumsum(rng.uniform(0.0, 3.0, 40))))
    bore = np.where(np.arange(40) < 15, 0.2, 0.25)
    pipe = limb(length, head, bore, 0.017)
    constant = drain_constant(0.08, 0.6, G)

    def at(u: float) -> float:
        x = u * u
        k = min(int(np.searchsorted(length, x, side="right")) - 1, 39)
        lost = float(np.interp(x, length, pipe.resistance))
        area = math.pi / 4 * bore[k] ** 2
        return 2 * u * area * math.sqrt((constant + lost) / float(np.interp(x, length, head)))

    edges = np.sqrt(length)
    total = sum(quad(at, a, b)[0] for a, b in pairwise(edges))
    assert emptied(pipe, drain=0.08).time_s == pytest.approx(total, rel=1e-6)


def test_two_equal_limbs__are_one_with_half_the_drain() -> None:
    pipe = limb([0, 100, 400], [0.1, 20, 40])
    both = emptied(pipe, pipe, drain=0.1)
    half = emptied(pipe, drain=0.1 / math.sqrt(2))
    assert both.time_s == pytest.approx(half.time_s, rel=2e-4)
    assert both.first_flow_m3_s == pytest.approx(2 * half.first_flow_m3_s, rel=1e-5)
    assert both.fed_m3 == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("high", "low"), [(40.0, 10.0), (25.0, 25.0), (30.0, 29.0)])
def test_two_limbs_without_friction__closed_form(high: float, low: float) -> None:
    # The higher limb falls alone to the lower crest, then both share one level: with even slopes
    # T = 2 A/(Cd Ad root(2g)) [(root H1 - root H2)/s1 + root H2 (1/s1 + 1/s2)].
    one, two = 0.1, 0.05
    ratio = (0.3 / 0.1) ** 2 / 0.6
    root = math.sqrt(high) - math.sqrt(low)
    exact = 2 * ratio / math.sqrt(2 * G)
    exact *= root / one + math.sqrt(low) * (1 / one + 1 / two)
    run = emptied(
        limb([0, high / one], [0, high], friction=0.0),
        limb([0, low / two], [0, low], friction=0.0),
    )
    assert run.time_s == pytest.approx(exact, rel=2e-3)


def stiff_oracle(one: Limb, two: Limb, constant: float) -> float:
    """Return the time by scipy's Radau on both volumes, the tee's head found by bisection."""
    full = one.volume_m3[-1], two.volume_m3[-1]

    def flows(volume: np.ndarray) -> np.ndarray:
        heads, lost = [], []
        for pipe, held in zip((one, two), volume, strict=True):
            heads.append(float(np.interp(held, pipe.volume_m3, pipe.head_m)))
            lost.append(max(float(np.interp(held, pipe.volume_m3, pipe.resistance)), 1e-6))

        def each(tee: float) -> np.ndarray:
            gap = np.array(heads) - tee
            # Smooth near zero, where the root's slope has no bound.
            flow = gap / np.sqrt(np.array(lost) * np.sqrt(gap * gap + 1e-8))
            shut = (flow < 0.0) & (volume >= np.array(full) * (1 - 1e-7))
            return np.where(shut, 0.0, flow)

        tee = brentq(
            lambda h: each(h).sum() - math.sqrt(max(h, 0.0) / constant), 0.0, max(heads), xtol=1e-13
        )
        return each(tee)

    start = float(sum(full))

    def near_end(_t: float, volume: np.ndarray) -> float:
        return float(volume.sum()) - 1e-3 * start

    near_end.terminal = True
    done = solve_ivp(
        lambda _t, v: -flows(v),
        (0, 1e5),
        np.array(full),
        "Radau",
        events=near_end,
        rtol=1e-6,
        atol=1e-7,
    )
    last = done.y[:, -1]
    head = max(
        float(np.interp(v, p.volume_m3, p.head_m)) for v, p in zip(last, (one, two), strict=True)
    )
    base = max(one.head_m[0], two.head_m[0])
    rest = 2 * last.sum() / flows(last).sum() / (1 + math.sqrt(base / head))
    return float(done.t[-1] + rest)


PAIRS = [
    (limb([0, 400], [0.1, 40.1]), limb([0, 100, 300], [0.1, 15.1, 20.1]), 0.1),
    (limb([0, 50, 400], [0.1, 20.1, 40.1], 0.2), limb([0, 500], [0.1, 10.1]), 0.15),
    (limb([0, 2000], [0.1, 20.1], 0.1), limb([0, 200], [0.1, 20.1]), 0.1),
]


@pytest.mark.parametrize(("one", "two", "drain"), PAIRS, ids=["higher", "feeds", "thin"])
def test_two_limbs__stiff_solver(one: Limb, two: Limb, drain: float) -> None:
    run = emptied(one, two, drain=drain)
    assert run.time_s == pytest.approx(
        stiff_oracle(one, two, drain_constant(drain, 0.6, G)), rel=3e-3
    )
    turned = emptied(two, one, drain=drain)
    assert turned.time_s == pytest.approx(run.time_s, rel=1e-6)


def test_two_limbs__the_higher_feeds_the_lower() -> None:
    # A steep limb holds little water for its height, so its level falls below the other's.
    one, two, drain = PAIRS[1]
    assert emptied(one, two, drain=drain).fed_m3 > 0.0


def test_march__finer_steps_give_the_same() -> None:
    one, two, drain = PAIRS[1]
    times = []
    for share in (0.06, 0.02, 0.005):
        out = np.zeros(5)
        args = (table(one), table(two), drain_constant(drain, 0.6, G), share, 1e-3, out)
        march.python(*args)
        times.append(out[0])
    assert times[0] == pytest.approx(times[2], rel=1.5e-3)
    assert times[1] == pytest.approx(times[2], rel=5e-4)


def test_march__compiled_as_interpreted() -> None:
    one, two, drain = PAIRS[1]
    plain, quick = np.zeros(5), np.zeros(5)
    args = (table(one), table(two), drain_constant(drain, 0.6, G), 0.06, 1e-3)
    march.python(*args, plain)
    march.native(*args, quick)
    assert quick == pytest.approx(plain, rel=1e-9)


slopes = st.floats(0.01, 0.8)
heights = st.floats(1.0, 120.0)


@settings(max_examples=80, deadline=None)
@given(high=heights, low=heights, one=slopes, two=slopes, share=st.floats(0.1, 1.0))
def test_two_limbs__between_bounds(high, low, one, two, share) -> None:
    bore = 0.2
    first = limb([0, high / one], [0.1, high + 0.1], bore)
    second = limb([0, low / two], [0.1, low + 0.1], bore)
    drain = share * bore
    run = emptied(first, second, drain=drain)
    alone = [emptied(pipe, drain=drain) for pipe in (first, second)]
    # longer than either alone, shorter than one after the other
    assert run.time_s >= max(each.time_s for each in alone) * (1 - 2e-3)
    assert run.time_s <= sum(each.time_s for each in alone) * (1 + 2e-3)
    assert run.first_flow_m3_s >= max(each.first_flow_m3_s for each in alone) * (1 - 1e-3)
    # what went out is what was in
    out = np.zeros(5)
    march.python(table(first), table(second), drain_constant(drain, 0.6, G), STEP, TAIL, out)
    assert out[4] == pytest.approx(run.volume_m3, rel=5e-3)
    # never shorter than its water at the flow of the highest head without friction
    most = math.sqrt((max(high, low) + 0.1) / drain_constant(drain, 0.6, G))
    assert run.time_s >= run.volume_m3 / most


@settings(max_examples=60, deadline=None)
@given(
    height=heights,
    sine=slopes,
    bore=st.floats(0.025, 1.0),
    share=st.floats(0.05, 1.0),
    factor=st.floats(0.0, 0.06),
)
def test_one_limb__closed_form_over_the_range(height, sine, bore, share, factor) -> None:
    closed = uniform_emptying_s(
        height_m=height,
        slope_sine=sine,
        inside_diameter_m=bore,
        drain_bore_m=share * bore,
        cd=0.6,
        f_darcy=factor,
        gravity_m_s2=G,
    )
    nodes = np.linspace(0.0, 1.0, 6)
    run = emptied(limb(nodes * height / sine, nodes * height, bore, factor), drain=share * bore)
    assert run.time_s == pytest.approx(closed, rel=1e-5)
    # a wider drain, or a smoother pipe, never takes longer
    wide = emptied(limb(nodes * height / sine, nodes * height, bore, factor), drain=bore)
    assert wide.time_s <= run.time_s * (1 + 1e-9)
    smooth = emptied(limb(nodes * height / sine, nodes * height, bore, 0.0), drain=share * bore)
    assert smooth.time_s <= run.time_s * (1 + 1e-9)


def test_empty_limbs__refuses_what_cannot_be() -> None:
    pipe = limb([0, 100], [0, 10])
    with pytest.raises(InputError, match=r"400\.0 mm wide"):
        emptied(pipe, drain=0.4)
    with pytest.raises(InputError, match="3 limbs"):
        emptied(pipe, pipe, pipe)
    with pytest.raises(InputError, match="level with its drain"):
        limb([0, 100], [0, 0])
    with pytest.raises(InputError, match="rise from 0"):
        limb([0, 100, 50], [0, 5, 10])
    with pytest.raises(InputError, match="discharge coefficient"):
        emptied(pipe, cd=1.5)

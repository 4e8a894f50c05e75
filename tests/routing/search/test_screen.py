"""A made valley screened: figures by hand, the same on any workers, going on where it stopped."""

from __future__ import annotations

import json
import math

import geopandas
import numpy as np
import pytest
from made_valley import CELL_M, told, valley
from plane_hill import place

from routing.errors import InputError, SettingsError
from routing.search.valley import screen as screening
from routing.search.valley import screen_valley, write_screen
from routing.search.valley.batch import Batch, Task, run_batch
from routing.search.valley.chain import rate_chains
from routing.search.valley.cluster import check_versions
from routing.search.valley.places import Chains
from routing.search.valley.purse import purse_of
from routing.search.valley.rank import best_apart
from routing.settings import settings_from_mapping

pytestmark = pytest.mark.usefixtures("compiled")


def test_rate_chains__is_what_the_arithmetic_says():
    """One intake and one powerhouse on a plane, 200 m apart with 0.1 of fall."""
    settings = told(pipe=[{"from": "0 m", "catalogue": "PE100-SDR17-110"}])
    purse = purse_of(settings)
    heights = np.repeat((400.0 - 1.0 * np.arange(40.0))[None, :], 5, axis=0)
    cells = np.arange(21)
    chains = Chains(
        first=np.array([0, 21]),
        row=np.full(21, 2),
        col=cells + 5,
        along_m=10.0 * cells,
        stop=(cells == 20).astype(np.int64),
        area_m2=np.array([1e6]),
    )
    none = np.zeros((0, 0), dtype=np.uint8)
    rated = rate_chains(heights, none, (10.0, 10.0), purse, chains, np.array([0.004]))
    assert rated.intake.tolist() == [0]
    assert rated.stop.tolist() == [20]
    slope = 20.0 * math.hypot(10.0, 1.0)
    assert rated.head_m[0] == pytest.approx(20.0)
    assert rated.length_m[0] == pytest.approx(slope)
    # Every line has a vent below the intake, a vent and a drain at its end.
    # PE100 of 110 mm: 0.09 m3 of trench a kilogram, trench 0.51 m wide and 0.67 m deep.
    pipe = float(purse.by_head[0, 0])
    trench = 200.0 * float(purse.trench[0])
    assert rated.cost[0] == pytest.approx(slope * pipe + trench + 2.0 * purse.vent + purse.drain)
    # Friction after Colebrook and White, solved here by iteration.
    bore, rough, speed = float(purse.bore_m[0]), float(purse.rough_m[0]), 0.0
    speed = 0.004 / (math.pi / 4.0 * bore**2)
    factor = 0.02
    for _ in range(50):
        reynolds = speed * bore / purse.viscosity
        factor = (
            -2.0 * math.log10(rough / (3.7 * bore) + 2.51 / (reynolds * math.sqrt(factor)))
        ) ** -2
    loss = factor * slope / bore * speed**2 / 2.0 / 9.80665
    power = purse.weight_kn * 0.004 * (20.0 - loss) * purse.efficiency
    assert rated.power_kw[0] == pytest.approx(power, rel=0.005)
    assert rated.score[0] == pytest.approx(rated.power_kw[0] / rated.cost[0])
    shut = np.zeros(heights.shape, dtype=np.uint8)
    shut[2, 15] = 1
    assert not rate_chains(heights, shut, (10.0, 10.0), purse, chains, np.array([0.004])).score.size


def test_screen__finds_the_steep_reach(raster):
    found = screen_valley([raster], told())
    best = found.best[0]
    start = int(found.chains.first[found.rated.intake[best]])
    end = int(found.rated.stop[best])
    # The best power for its cost lies where the valley is steepest: 300 to 600 m.
    assert found.chains.row[start] == 30
    assert found.chains.row[end] == 30
    assert 250.0 <= CELL_M * found.chains.col[start] <= 560.0
    assert CELL_M * found.chains.col[end] <= 650.0
    heads = valley()[30, found.chains.col[start]] - valley()[30, found.chains.col[end]]
    assert found.rated.head_m[best] == pytest.approx(heads, abs=1e-3)
    assert found.checked.correlation > 0.8
    scores = found.rated.score[list(found.best)]
    assert (np.diff(scores) <= 0.0).all()


def test_screen__is_the_same_whatever_number_of_workers(raster, monkeypatch):
    monkeypatch.setattr(screening, "BATCH", 50)
    one, other = (screen_valley([raster], told(), workers=n) for n in (1, 3))
    for name in one.rated._fields:
        np.testing.assert_array_equal(getattr(one.rated, name), getattr(other.rated, name))
    assert one.best == other.best
    assert one.checked.correlation == other.checked.correlation
    monkeypatch.setattr(screening, "BATCH", 10**6)
    whole = screen_valley([raster], told())
    np.testing.assert_array_equal(whole.rated.score, one.rated.score)


def test_screen__goes_on_where_it_was_stopped(raster, tmp_path, monkeypatch):
    monkeypatch.setattr(screening, "BATCH", 50)
    whole = screen_valley([raster], told())
    done = []

    def stopped(task, batch):
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(batch.number)
        return run_batch(task, batch)

    monkeypatch.setattr(screening, "run_batch", stopped)
    with pytest.raises(KeyboardInterrupt):
        screen_valley([raster], told(), parts=tmp_path / "parts", workers=1)
    kept = {int(path.stem) for path in (tmp_path / "parts").glob("[0-9]*.npz")}
    assert kept
    again = []

    def counted(task, batch):
        again.append(batch.number)
        return run_batch(task, batch)

    monkeypatch.setattr(screening, "run_batch", counted)
    found = screen_valley([raster], told(), parts=tmp_path / "parts", workers=1)
    assert kept.isdisjoint(again)
    np.testing.assert_array_equal(found.rated.score, whole.rated.score)


def test_screen__a_refusal_leaves_no_batches_behind(raster, tmp_path):
    """Neither where nothing was done yet, nor where all was done in vain."""
    parts = tmp_path / "parts"
    with pytest.raises(InputError, match="candidates keeps to the limits"):
        screen_valley([raster], told(screen={"least_head": "500 m"}), parts=parts)
    with pytest.raises(InputError, match="No intake gives"):
        screen_valley([raster], told(screen={"least_flow": "50 m3/s"}), parts=parts)
    with pytest.raises(InputError, match="No Dask scheduler answers"):
        screen_valley([raster], told(), parts=parts, scheduler="nonsense")
    assert not parts.exists()


def test_screen__files(raster, tmp_path):
    found = screen_valley([raster], told(screen={"top": 1}))
    said = []
    document = write_screen(found, tmp_path, lambda share, doing: said.append(share))
    held = json.loads((tmp_path / "screen.json").read_text("utf-8"))
    assert held["rank_correlation"] == document["rank_correlation"]
    first = held["candidates"][0]
    assert {"rank", "score", "route", "power_kw", "gross_head_m", "pipe_length_m", "cost"} <= set(
        first
    )
    study = json.loads((tmp_path / first["study"]).read_text("utf-8"))
    assert study["summary"]["gross_head_m"] == pytest.approx(first["gross_head_m"], abs=1.5)
    assert study["summary"]["power_kw"] == pytest.approx(first["power_kw"], rel=0.25)
    asked = found.settings.given["screen"]
    assert study["settings"]["screen"] == asked  # a line that is taken goes on as it was found
    assert "search" not in study["settings"]
    layer = geopandas.read_file(tmp_path / "screen.gpkg", layer="candidates")
    assert layer["rank"].tolist() == [each["rank"] for each in held["candidates"]]
    assert len(geopandas.read_file(tmp_path / "screen.gpkg", layer="streams")) > 0
    page = (tmp_path / "map.html").read_text("utf-8")
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert said == sorted(said)


def test_screen__heeds_no_go_land_and_roads(raster):
    def layer(kind, geometry):
        feature = {"type": "Feature", "properties": {"name": kind}, "geometry": geometry}
        return {"kind": kind, "features": {"type": "FeatureCollection", "features": [feature]}}

    ring = [list(place(*corner)) for corner in ((390, -5), (410, -5), (410, 600), (390, 600))]
    wall = layer("no-go", {"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
    found = screen_valley([raster], told(layer=[wall]))
    first = found.chains.col[found.chains.first[found.rated.intake]]
    last = found.chains.col[found.rated.stop]
    assert not ((first < 39) & (last > 41)).any()
    road = layer(
        "road", {"type": "LineString", "coordinates": [list(place(500, y)) for y in (0, 590)]}
    )
    near = screen_valley([raster], told(layer=[road], screen={"most_road": "60 m"}))
    away = np.abs(CELL_M * (near.chains.col[near.rated.stop] + 0.5) - 500.0)
    assert away.max() <= 65.0
    with pytest.raises(SettingsError, match="no layer of roads"):
        screen_valley([raster], told(screen={"most_road": "60 m"}))


def test_best_apart__leaves_out_what_is_nearly_the_same(raster):
    found = screen_valley([raster], told())
    apart = best_apart(found.rated, found.chains, found.terrain, 150.0, 1000)
    cols = [
        CELL_M
        * np.array([found.chains.col[found.chains.first[found.rated.intake[n]]] for n in apart]),
        CELL_M * np.array([found.chains.col[found.rated.stop[n]] for n in apart]),
    ]
    rows = CELL_M * np.array([found.chains.row[found.rated.stop[n]] for n in apart])
    for i in range(len(apart)):
        for j in range(i):
            near = all(abs(c[i] - c[j]) < 100.0 for c in cols) and abs(rows[i] - rows[j]) < 10.0
            assert not near


def test_screen__what_cannot_be_ranked_or_found_is_told(raster):
    with pytest.raises(SettingsError, match="needs a flow, prices"):
        screen_valley([raster], told(screen={"rank_by": "worth"}))
    with pytest.raises(InputError, match="candidates keeps to the limits"):
        screen_valley([raster], told(screen={"least_head": "500 m"}))
    with pytest.raises(InputError, match="no stream"):
        screen_valley([raster], settings_from_mapping({"catchment": {"threshold": "900 km2"}}))
    with pytest.raises(InputError, match="No intake gives"):
        screen_valley([raster], told(screen={"least_flow": "50 m3/s"}))


def test_screen__worth_is_power_less_the_yearly_cost(raster):
    money = {
        "prices": {"currency": "crowns", "date": "2026-11-25", "per_kg": {"PE100": 2.6}},
        "energy": {"price_per_kwh": 0.12, "interest": "8 %", "years": 20.0, "hours": 6000.0},
    }
    found = screen_valley([raster], told(**money))
    assert found.ranked_by == "worth"
    # Capital recovery at 8 % over 20 years is 0.10185 (Perry's table, as in the room of energy).
    want = 0.12 * 6000.0 * found.rated.power_kw - 0.10185 * found.rated.cost
    assert (np.abs(found.rated.score - want) <= 6e-6 * found.rated.cost + 1e-6).all()


def test_workers__of_another_version_are_refused(raster):
    with pytest.raises(InputError, match=r"The worker at tcp://b has Leatline 0\.0\.1"):
        check_versions({"tcp://a": screening_version(), "tcp://b": "0.0.1"})
    with pytest.raises(InputError, match="no worker"):
        check_versions({})
    check_versions({"tcp://a": screening_version()})
    task = Task(paths=(str(raster),), tables="{}", version="0.0.1")
    empty = np.zeros(0)
    chains = Chains(
        first=np.array([0]), row=empty, col=empty, along_m=empty, stop=empty, area_m2=empty
    )
    with pytest.raises(InputError, match=r"planned by 0\.0\.1"):
        run_batch(task, Batch(number=0, chains=chains, flow_m3_s=empty))


def screening_version():
    from routing import __version__

    return __version__


def test_batch__a_window_of_a_large_raster_gives_the_same(raster, monkeypatch):
    found = screen_valley([raster], told())
    monkeypatch.setattr("routing.search.valley.batch.MOST_WHOLE", 10)
    again = screen_valley([raster], told())
    np.testing.assert_allclose(again.rated.score, found.rated.score, rtol=1e-6)


def test_task__digest_is_another_for_other_settings_or_raster(tmp_path):
    path = tmp_path / "a.tif"
    path.write_bytes(b"1")
    one = Task(paths=(str(path),), tables="{}").digest()
    assert one == Task(paths=(str(path),), tables="{}").digest()
    assert one != Task(paths=(str(path),), tables='{"screen": {}}').digest()
    path.write_bytes(b"12")
    assert one != Task(paths=(str(path),), tables="{}").digest()


def rock(x0: float, x1: float) -> dict:
    """An area of rock over all of the valley between two eastings [m]."""
    ring = [list(place(x, y)) for x, y in ((x0, -50.0), (x1, -50.0), (x1, 650.0), (x0, 650.0))]
    shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    told = {"type": "Feature", "properties": {"name": "rock"}, "geometry": shape}
    return {
        "kind": "ground",
        "features": {"type": "FeatureCollection", "features": [told]},
    }


PRICED = {"trench_per_m3": 40.0, "ground": {"rock": 160.0}, "currency": "EUR"}


def test_screen__digs_classes_of_ground_at_their_price(raster):
    """Each metre in rock costs its section times the difference; the order moves off it."""
    plain, rocky = (
        screen_valley([raster], told(prices=PRICED, **layer))
        for layer in ({}, {"layer": [rock(250.0, 650.0)]})
    )
    sections = purse_of(told(prices=PRICED)).section_m2
    key = lambda r: list(zip(r.intake, r.stop, r.straight, r.size, strict=True))  # noqa: E731
    before = dict(zip(key(plain.rated), plain.rated.cost, strict=True))
    after = dict(zip(key(rocky.rated), rocky.rated.cost, strict=True))
    both = before.keys() & after.keys()
    assert len(both) > 20
    chains, seen = rocky.chains, set()
    for one in key(rocky.rated):
        if one not in both or one[2]:
            continue
        # Along the stream a leg is dug in the ground of the cell at its lower end.
        way = slice(int(chains.first[one[0]]), int(one[1]) + 1)
        in_rock = (chains.col[way] >= 25) & (chains.col[way] < 65)
        more = 120.0 * sections[one[3]] * float(np.diff(chains.along_m[way])[in_rock[1:]].sum())
        assert after[one] - before[one] == pytest.approx(more, rel=1e-9, abs=1e-6)
        seen.add(more > 0.0)
    assert True in seen
    assert rocky.checked.correlation > 0.8
    assert plain.best != rocky.best


def test_screen__the_check_studies_know_the_ground(raster):
    """The study of a candidate digs rock at its price too: both orders are of one ground."""
    found = screen_valley([raster], told(prices=PRICED, layer=[rock(-50.0, 950.0)]))
    bare = screen_valley([raster], told(prices=PRICED))
    assert found.checked.studied.size >= 3
    assert found.checked.studied.max() < bare.checked.studied.max()


def land(kind: str, west: float, east: float) -> dict:
    """A strip of land across the valley, between two distances from its western edge [m]."""
    return {**rock(west, east), "kind": kind}


def test_screen__each_crossing_costs_its_price_once(raster):
    """A road of two cells' width across the valley: 900 for each line over it, by either way."""
    prices = {**PRICED, "crossing": {"road": 900.0}}
    plain, crossed, dear = (
        screen_valley([raster], told(prices=each, **layer))
        for each, layer in (
            (prices, {}),
            (prices, {"layer": [land("road", 440.0, 460.0)]}),
            (PRICED, {"layer": [land("road", 440.0, 460.0)]}),
        )
    )
    key = lambda r: list(zip(r.intake, r.stop, r.straight, r.size, strict=True))  # noqa: E731
    before = dict(zip(key(plain.rated), plain.rated.cost, strict=True))
    after = dict(zip(key(crossed.rated), crossed.rated.cost, strict=True))
    ratio = dict(zip(key(dear.rated), dear.rated.cost, strict=True))
    both, seen = before.keys() & after.keys() & ratio.keys(), set()
    assert len(both) > 20
    chains = crossed.chains
    for one in both:
        start, end = chains.col[[int(chains.first[one[0]]), int(one[1])]]
        over = bool(start < 46 and end >= 44)
        seen.add((over, bool(one[2])))
        assert after[one] - before[one] == pytest.approx(900.0 * over, abs=1e-6)
        # Without a price of one's own it is 12 m3 of trench at 40.
        assert ratio[one] - before[one] == pytest.approx(480.0 * over, abs=1e-6)
    assert {True, False} <= {over for over, _ in seen}
    assert crossed.checked.correlation > 0.8


def test_screen__a_line_along_a_stream_does_not_cross_it(raster):
    """The stream lies in the middle of the valley: only straight lines are charged for it."""
    layer = {"layer": [land("stream", -50.0, 950.0)]}
    plain, wet = (screen_valley([raster], told(prices=PRICED, **each)) for each in ({}, layer))
    key = lambda r: list(zip(r.intake, r.stop, r.straight, r.size, strict=True))  # noqa: E731
    before = dict(zip(key(plain.rated), plain.rated.cost, strict=True))
    after = dict(zip(key(wet.rated), wet.rated.cost, strict=True))
    along = [one for one in before.keys() & after.keys() if not one[2]]
    assert along
    assert all(after[one] == before[one] for one in along)
    straight = [one for one in before.keys() & after.keys() if one[2]]
    assert all(after[one] - before[one] == pytest.approx(15.0 * 40.0) for one in straight)

"""Vents and drains keep their distance from bends where their place leaves room."""

from __future__ import annotations

import pytest
from made_line import drains_of, vents_of

from routing.fittings import place_vents, placing_notes
from routing.fittings.place.straight import flat_reach
from routing.trench import Bend


def bend(station_m: float, index: int, deflection_deg: float = 20.0, *, id: str = "B1") -> Bend:
    return Bend(
        id=id, index=index, station_m=station_m, plan_deg=deflection_deg, vertical_deg=0.0,
        deflection_deg=deflection_deg,
    )  # fmt: skip


def summit_of(made):
    (vent,) = [vent for vent in vents_of(made) if vent.rule == "summit"]
    return vent


@pytest.mark.parametrize(("angle", "moved"), [(4.9, False), (5.0, True)])
def test_vent__on_a_level_top_moves_five_bores_from_the_bend(line, angle, moved) -> None:
    # Five bores: common practice, no source. The top is level for 10 m, its vent at the far end.
    made = line([0, 60, 100, 110, 200], [50, 44, 45, 45, 40], bends=(bend(110.0, 3, angle),))
    vent = summit_of(made)
    assert vent.serves_m == 110.0
    assert vent.station_m == pytest.approx(109.0 if moved else 110.0)
    assert ("5 bores of straight pipe" in vent.reason) == moved


def test_vent__on_a_sharp_top_stays_and_names_the_bend(line) -> None:
    made = line([0, 60, 110, 200], [50, 35, 45, 20], bends=(bend(110.0, 2),))
    vent = summit_of(made)
    assert vent.station_m == vent.serves_m == 110.0
    assert "Bend B1 is nearer than 5 bores." in vent.reason
    assert vent.near_bend == "B1"


def test_placing_notes__bends_near_fittings_are_told_once(line) -> None:
    ends = ([0, 60, 110, 150, 200], [50, 35, 45, 30, 41])
    made = line(*ends, bends=(bend(110.0, 2, id="B1"), bend(150.0, 3, id="B2")))
    placed, drains = place_vents(made.line, made.given), drains_of(made)
    (note,) = [
        each
        for each in placing_notes(made.given, placed, drains)
        if each.code == "bend_near_fitting"
    ]
    assert "2 fittings stand nearer than 5 bores" in note.message
    assert note.message.count("bores") == 1
    assert note.places_m == (110.0, 150.0)
    for each in (*placed.vents, *drains):
        assert (each.id in note.message) == (each.near_bend is not None)


def test_drain__keeps_clear_of_a_bend_in_a_flat_sag(line) -> None:
    made = line([0, 100, 110, 200], [50, 40, 40, 42], bends=(bend(110.0, 2),))
    (sag,) = [drain for drain in drains_of(made) if drain.rule == "sag"]
    assert (sag.serves_m, sag.station_m) == (110.0, pytest.approx(109.0))


def test_flat_reach__a_tenth_of_the_bore_and_never_past_the_end_of_a_span(line) -> None:
    # On flanks of 2 % a tenth of 0.2 m is 1 m away.
    made = line([0, 50, 100, 150, 200], [50, 44, 45, 44, 40], bore=0.2)
    assert flat_reach(made.line, 2) == pytest.approx((99.0, 101.0))
    crossed = line([0, 50, 100, 150, 200], [50, 44, 45, 45, 40], bore=0.2, spans=[(101, 160)])
    assert flat_reach(crossed.line, 2)[1] == 100.0

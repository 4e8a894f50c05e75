"""Which safety texts belong to which study."""

from __future__ import annotations

from routing.papers import cautions_for


def ids(**given) -> set[str]:
    facts = {"spans": False, "depth_over_m": 0.9, "flow": False, "plastic": False, **given}
    return {item["id"] for item in cautions_for(**facts)}


def test_cautions_for__always_there() -> None:
    always = ids()
    assert {
        "review", "survey", "water_test", "thrust", "trench", "services", "confined", "permits",
        "drain_down", "slow_valve", "steep_ground", "joining", "intake", "frost", "potable",
    } == always  # fmt: skip


def test_cautions_for__each_condition_adds_its_own() -> None:
    assert ids(spans=True) - ids() == {"spans"}
    assert ids(flow=True) - ids() == {"flow_estimate"}
    assert ids(plastic=True) - ids() == {"solvent_fusion"}
    assert ids(depth_over_m=1.2) - ids() == {"trench_hillside"}
    # 29 CFR 1926 subpart P: protection designed by a registered engineer over 20 ft (6.096 m).
    assert ids(depth_over_m=6.1) - ids(depth_over_m=6.09) == {"trench_very_deep"}


def test_cautions_for__callers_cannot_spoil_the_texts() -> None:
    cautions_for(spans=True, depth_over_m=2.0, flow=True, plastic=True)[0]["text"] = "x"
    assert cautions_for(spans=True, depth_over_m=2.0, flow=True, plastic=True)[0]["text"] != "x"


def test_cautions_for__signed_papers_are_not_called_preliminary():
    facts = {"spans": False, "depth_over_m": 1.0, "flow": True, "plastic": True}
    plain, signed = (cautions_for(**facts, signed=each)[0] for each in (False, True))
    assert plain["id"] == signed["id"] == "review"
    assert plain["text"] == "Preliminary calculation, not for construction. " + signed["text"]

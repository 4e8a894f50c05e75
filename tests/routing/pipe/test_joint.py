"""Joints, their allowance and the stick: by material where nothing was given."""

import pytest

from routing.errors import InputError
from routing.inputs import find_pipes
from routing.pipe import (
    find_joint,
    joint_assumptions,
    joint_names,
    load_catalogue,
    pipe_by_hand,
    schedule_pipes,
    with_jointing,
)
from routing.settings import settings_from_mapping


def made(material, bore_m=0.2):
    return pipe_by_hand(material=material, inside_diameter_m=bore_m, wall_m=0.006, roughness_m=5e-5)


@pytest.mark.parametrize(
    ("material", "joint", "allowance_deg", "stick_m", "holds"),
    # Common practice by material; ductile iron 5 degrees to 12 in: AWWA C600, from memory.
    [
        ("PVC", "gasket pvc", 0.0, 6.1, False),
        ("PE100", "fused", 0.0, 12.0, True),
        ("PE4710", "fused", 0.0, 12.0, True),
        ("PP", "fused", 0.0, 12.0, True),
        ("coated steel", "welded", 0.0, 6.0, True),
        ("galvanised steel", "welded", 0.0, 6.0, True),
        ("ductile iron", "gasket di", 5.0, 5.5, False),
        ("concrete", "socket", 0.0, 6.0, False),
        ("bamboo", "socket", 0.0, 6.0, False),
    ],
)
def test_jointing__usual_for_the_material(material, joint, allowance_deg, stick_m, holds):
    found = made(material).jointing
    assert (found.joint.name, found.allowance_deg, found.stick_m) == (joint, allowance_deg, stick_m)
    assert found.joint.carries_thrust is holds
    assert found.assumed == ("joint", "joint_allowance", "stick")


def test_jointing__steel_turns_by_mitred_bends():
    # Mitred bends of one cut up to 22.5 degrees, of two above: AWWA M11, from memory.
    assert made("carbon steel").jointing.joint.bends == "mitred"
    assert made("PVC").jointing.joint.bends == "fittings"


def test_jointing__what_was_given_stands():
    given = with_jointing(made("PVC"), joint="Gasket PVC", allowance_deg=1.5, stick_m=3.0).jointing
    assert (given.allowance_deg, given.stick_m, given.assumed) == (1.5, 3.0, ())


def test_jointing__a_joint_that_carries_thrust_does_not_turn():
    assert (
        with_jointing(made("steel"), joint="welded", allowance_deg=3.0).jointing.allowance_deg
        == 0.0
    )


def test_with_jointing__unknown_joint_names_the_known():
    with pytest.raises(InputError, match=r"'glued'.*welded"):
        with_jointing(made("PVC"), joint="glued")


@pytest.mark.parametrize("name", joint_names())
def test_find_joint__every_joint_covers_every_bore(name):
    for bore_m in (0.02, 0.3, 0.5, 1.0, 3.0):
        joint = find_joint(name, bore_m)
        assert 0.0 <= joint.allowance_deg <= joint.allowance_usual_deg + 1e-9
        assert not (joint.carries_thrust and joint.allowance_deg)


def test_joint_assumptions__each_kind_of_pipe_once_with_what_was_not_given():
    thin, thick = map(load_catalogue().find, ("PE100-SDR26-200", "PE100-SDR17-200"))
    line = schedule_pipes([(0.0, thin), (100.0, thick), (200.0, thin)], 300.0)
    said = joint_assumptions(line)
    assert len(said) == 2
    assert "lengths of 12 m" in said[0]
    told = with_jointing(thin, joint="fused", allowance_deg=0.0, stick_m=12.0)
    assert joint_assumptions(schedule_pipes([(0.0, told)], 300.0)) == ()


def test_find_pipes__joint_of_the_site_holds_for_every_pipe():
    settings = settings_from_mapping(
        {"pipe": [{"catalogue": "PVC-D2241IPS-SDR26-8in"}], "site": {"joint": "solvent"}}
    )
    assert find_pipes(settings)[0][1].jointing.joint.name == "solvent"


def test_find_pipes__each_pipe_keeps_its_own_joint():
    pipe = {"catalogue": "PVC-D2241IPS-SDR26-8in", "from": "0 m"}
    own = {"from": "90 m", "joint": "gasket pvc", "joint_allowance": "1 deg", "stick": "3 m"}
    tables = {"pipe": [pipe, pipe | own], "site": {"joint": "solvent", "joint_allowance": "0 deg"}}
    first, second = (pipe.jointing for _, pipe in find_pipes(settings_from_mapping(tables)))
    assert (first.joint.name, first.stick_m) == ("solvent", 6.1)
    assert (second.joint.name, second.allowance_deg, second.stick_m) == ("gasket pvc", 1.0, 3.0)

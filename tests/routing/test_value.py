"""Values made here against those that the standard library makes of the same class."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from dataclasses import field

import pytest

from routing.value import _made

KIND = {"frozen": True, "slots": True, "kw_only": True}


class Pipe:
    """A class to be made a value of, in both ways."""

    bore_m: float
    wall_m: float = 0.01
    label: str = field(default="pipe", repr=False)
    names: list[str] = field(default_factory=list)
    note: str = field(default="", compare=False)
    area_m2: float = field(init=False)
    kept: dict[str, float] = field(default_factory=dict, init=False, compare=False)

    def __post_init__(self) -> None:
        if self.bore_m <= 0.0:
            raise ValueError("bore")
        object.__setattr__(self, "area_m2", self.bore_m**2)


Library = dataclasses.dataclass(**KIND)(type("Library", (), dict(vars(Pipe))))
Made = _made(type("Made", (), dict(vars(Pipe))), True)
Bare = _made(type("Bare", (), {"__annotations__": {}, "__module__": __name__}), True)
BOTH = pytest.mark.parametrize("kind", [Library, Made])


def test_made__is_called_as_the_librarys() -> None:
    ours, theirs = inspect.signature(Made), inspect.signature(Library)
    assert list(ours.parameters) == list(theirs.parameters)
    assert [each.kind for each in ours.parameters.values()] == [
        each.kind for each in theirs.parameters.values()
    ]
    assert Made.__slots__ == Library.__slots__
    assert [each.name for each in dataclasses.fields(Made)] == list(Made.__slots__)


@BOTH
def test_value__defaults_compare_and_show(kind: type) -> None:
    one, same = kind(bore_m=0.2), kind(bore_m=0.2, note="other")
    assert one == same
    assert one.names == []
    assert one.names is not same.names
    assert one != kind(bore_m=0.3)
    assert one != "text"
    assert not one == Bare()
    assert repr(one).endswith(
        "(bore_m=0.2, wall_m=0.01, names=[], note='', area_m2=0.04000000000000001, kept={})"
    )
    assert dataclasses.replace(dataclasses.replace(one, wall_m=0.02), wall_m=0.01) == one
    assert dataclasses.asdict(one)["area_m2"] == pytest.approx(0.04)
    for wrong in ({}, {"bore_m": 1.0, "wall": 2.0}, {"bore_m": 1.0, "area_m2": 1.0}):
        with pytest.raises(TypeError):
            kind(**wrong)
    with pytest.raises(TypeError):
        kind(0.2)
    with pytest.raises(ValueError, match="bore"):
        kind(bore_m=0.0)


@BOTH
def test_value__cannot_be_changed_but_hashed_and_sent(kind: type) -> None:
    value = kind(bore_m=0.2, names=("a",))
    with pytest.raises(dataclasses.FrozenInstanceError):
        value.bore_m = 0.3
    with pytest.raises(dataclasses.FrozenInstanceError):
        del value.bore_m
    assert hash(value) == hash(kind(bore_m=0.2, names=("a",), note="x"))
    assert copy.deepcopy(value) == value
    assert copy.copy(value).kept == {}
    if kind is Made:
        assert pickle.loads(pickle.dumps(value)) == value


def test_value__own_methods_stay() -> None:
    class Told:
        """Says itself what it is."""

        size: int

        def __repr__(self) -> str:
            return f"{self.size} pieces"

    assert repr(_made(Told, False)(size=3)) == "3 pieces"
    assert Bare() == Bare()
    assert hash(Bare()) == hash(Bare())

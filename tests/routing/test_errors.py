import pickle

import pytest

from routing import errors
from routing.errors import LeatlineError


def tree(kind=LeatlineError):
    yield kind
    for child in kind.__subclasses__():
        yield from tree(child)


@pytest.mark.parametrize("kind", list(tree()), ids=lambda k: k.__name__)
def test_error__pickles_with_every_field(kind):
    error = kind("Problem.", "Remedy.", station_m=3.0, lon=1.0, lat=2.0)
    back = pickle.loads(pickle.dumps(error))
    assert (back.problem, back.remedy, back.station_m, back.lon, back.lat) == (
        "Problem.", "Remedy.", 3.0, 1.0, 2.0,
    )  # fmt: skip
    assert str(back) == "Problem. Remedy."


def test_error__codes_are_unique_and_exported():
    kinds = [k for k in tree() if k.__module__ == errors.__name__]
    assert len({k.code for k in kinds}) == len(kinds)
    assert sorted(k.__name__ for k in kinds) == errors.__all__

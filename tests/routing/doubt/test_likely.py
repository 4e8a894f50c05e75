"""Probabilities as they are said, and what is doubtful."""

from __future__ import annotations

import pytest

from routing.doubt import is_doubtful, likely_words
from routing.doubt.trade_data import limits


def test_likely_words__never_certain_and_never_impossible() -> None:
    assert {likely_words(p) for p in (0.0, 0.049)} == {"less than 5 %"}
    assert {likely_words(p) for p in (0.976, 1.0)} == {"more than 97 %"}
    assert {likely_words(p) for p in (0.05, 0.799, 0.974)} == {"5 %", "75 %", "95 %"}


@pytest.mark.parametrize("thousandth", range(1001))
def test_is_doubtful__as_the_words_say(thousandth: int) -> None:
    words = likely_words(thousandth / 1000.0)
    number = int(words.removesuffix(" %").removeprefix("more than ").removeprefix("less than "))
    said = number - 1 if words.startswith("less") else number
    assert is_doubtful(thousandth / 1000.0) == (said < 100.0 * limits().doubtful_below)

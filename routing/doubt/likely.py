"""How a probability is said, and whether what is said is doubtful."""

from __future__ import annotations

import math

from routing.doubt.trade_data import limits

__all__ = ["is_doubtful", "likely_words"]

STEPS = 20.0
"""Probabilities are said to a twentieth: the model knows no more."""

NEARLY_SURE = 0.975
NEARLY_OUT_OF_THE_QUESTION = 0.05


def likely_words(probability: float) -> str:
    """Return a probability as people should hear it, to 5 % and never above the truth.

    >>> likely_words(0.6367), likely_words(0.9961), likely_words(0.001)
    ('60 %', 'more than 97 %', 'less than 5 %')
    """
    if probability > NEARLY_SURE:
        return "more than 97 %"
    if probability < NEARLY_OUT_OF_THE_QUESTION:
        return "less than 5 %"
    return f"{round(100.0 * _said(probability))} %"


def is_doubtful(probability: float) -> bool:
    """Return whether a level comes before buying: by the probability as it is said.

    >>> is_doubtful(0.79), is_doubtful(0.8)
    (True, False)
    """
    return _said(probability) < limits().doubtful_below - 1e-9


def _said(probability: float) -> float:
    return math.floor(STEPS * probability + 1e-9) / STEPS

"""What becomes of the shares of the drawn grounds."""

from __future__ import annotations

import numpy as np
import pytest

from routing.doubt.hedged import hedged

SHARE = np.linspace(0.0, 1.0, 257)


def test_hedged__certainty_stays_and_order_too() -> None:
    chance = hedged(SHARE)
    assert chance[0] == 0.0
    assert chance[-1] == 1.0
    assert np.all(np.diff(chance) > 0.0)


@pytest.mark.parametrize(
    ("share", "chance"), [(0.1, 0.2048), (0.3, 0.4572), (0.5, 0.5832), (0.66, 0.66), (0.9, 0.8551)]
)
def test_hedged__worked_by_hand(share: float, chance: float) -> None:
    """0.1 + 4 x 0.52 x 0.1 x 0.9 x (0.66 - 0.1) = 0.2048, and so on."""
    assert hedged(np.array([share]))[0] == pytest.approx(chance, abs=5e-5)

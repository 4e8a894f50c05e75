"""Where ticks and labels go on a drawing, so that none overlaps another."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["nice_step", "spread", "ticks", "wrapped"]


def nice_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2 or 5 times a power of ten with at most ``most`` in a span.

    >>> nice_step(1420.0, 15)
    100.0
    """
    least = span / max(most, 1)
    if not least > 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= least * (1 - 1e-9))


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return the multiples of a nice step from ``low`` to ``high``.

    >>> ticks(291.0, 409.0, 5)
    [300.0, 350.0, 400.0]
    """
    step = nice_step(high - low, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(i * step, 9) for i in range(first, last + 1)]


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places in rising order, at least ``gap`` apart and as near as can be to those wanted.

    ``wanted`` must not fall. The sum of squared shifts is least (isotonic regression by pooling
    neighbours). Where the room from ``low`` to ``high`` is too small the gap shrinks.

    >>> spread([10.0, 11.0, 50.0], 20.0, 0.0, 100.0)
    [0.5, 20.5, 50.0]
    """
    count = len(wanted)
    if count > 1:
        gap = min(gap, (high - low) / (count - 1))
    pools: list[tuple[float, int]] = []
    for number, place in enumerate(wanted):
        mean, size = place - number * gap, 1
        while pools and pools[-1][0] >= mean:
            other, others = pools.pop()
            mean = (mean * size + other * others) / (size + others)
            size += others
        pools.append((mean, size))
    room = high - max(count - 1, 0) * gap
    bases = [min(max(mean, low), room) for mean, size in pools for _ in range(size)]
    return [base + number * gap for number, base in enumerate(bases)]


def wrapped(text: str, width: int) -> list[str]:
    """Return text broken into lines of at most ``width`` characters, long words cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        while len(word) > width:
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:width])
            word = word[width:]
        if line and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return [*lines, line] if line else lines

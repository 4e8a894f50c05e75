"""The one way in which a formula refuses numbers that cannot be."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from routing.errors import InputError, LeatlineError

__all__ = ["need"]


def need(
    what: str,
    value: ArrayLike,
    *,
    above: float | None = None,
    least: float | None = None,
    most: float = math.inf,
    below: float = math.inf,
    unit: str = "",
    kind: type[LeatlineError] = InputError,
) -> None:
    """Raise an error, naming the first bad value, unless all are finite and within the bounds.

    >>> need("The head", 0.2, above=0.0, unit="m")
    """
    low = -math.inf if least is None else least
    # One number is by far the usual case, and needs no array to be judged.
    if isinstance(value, float | int) and low <= value <= most and math.isfinite(value):
        if value < below and (above is None or value > above):
            return
    values = np.atleast_1d(np.asarray(value, dtype=np.float64))
    good = np.isfinite(values) & (values >= low) & (values <= most) & (values < below)
    if above is not None:
        good &= values > above
    if good.all():
        return
    bounds = [
        *([] if above is None else [f"above {above:g}"]),
        *([] if least is None else [f"of {least:g} or more"]),
        *([] if math.isinf(most) else [f"not above {most:g}"]),
        *([] if math.isinf(below) else [f"below {below:g}"]),
    ]
    raise kind(
        f"{what} is {float(values[~good][0]):g}{unit and ' '}{unit}.",
        f"Give a finite value{' ' if bounds else ''}{' and '.join(bounds)}.",
    )

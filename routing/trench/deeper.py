"""What a deeper trench saves, costs to dig, and costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from routing.doubt import DepthStep
from routing.trench.corridor import TrenchLimits
from routing.trench.laid import LaidPipe, lay_pipe
from routing.value import dataclass

__all__ = ["DepthOffer", "depth_offers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthOffer:
    """A greatest depth, the summits left, how many to expect, and what it digs beyond the plan.

    ``price`` is that of the digging, None where the settings have no price for it.
    """

    max_depth_m: float
    summits: int
    expected: float | None
    extra_volume_m3: float
    price: float | None


def depth_offers(
    pipe: LaidPipe, steps: Sequence[DepthStep], price_per_m3: float | None
) -> tuple[DepthOffer, ...]:
    """Return what each further depth digs: the pipe is laid anew where it saves a summit.

    Parameters
    ----------
    pipe : LaidPipe
        The pipe as laid [-]
    steps : sequence of DepthStep
        Further depths with the summits that they leave, the first as planned [-]
    price_per_m3 : float or None
        Price of digging, in the currency of the price book [1/m3]

    Returns
    -------
    offers : tuple of DepthOffer
        In the order given; a depth that saves no summit more digs no more than the one before

    Notes
    -----
    All are laid with fewer levels tried, the plan too, so that differences are of depth alone.
    """
    base = None
    offers: list[DepthOffer] = []
    for before, step in zip((None, *steps), steps, strict=False):
        if before is not None and step.summits < before.summits:
            base = _volume_m3(pipe, 0.0) if base is None else base
            extra = _volume_m3(pipe, step.extra_m) - base
        else:
            extra = offers[-1].extra_volume_m3 if offers else 0.0
        offers.append(
            DepthOffer(
                max_depth_m=pipe.limits.max_depth_m + step.extra_m,
                summits=step.summits,
                expected=step.expected,
                extra_volume_m3=extra,
                price=None if price_per_m3 is None else extra * price_per_m3,
            )
        )
    return tuple(offers)


def _volume_m3(pipe: LaidPipe, extra_m: float) -> float:
    """Return what is dug where the trench may be deeper everywhere, own limits or not [m3]."""
    deeper = lay_pipe(
        pipe.station_m, pipe.ground_m, _deeper(pipe.limits, extra_m), pipe.spans, dragging=True
    )
    return deeper.excavation.volume_m3


def _deeper(limits: TrenchLimits, extra_m: float) -> TrenchLimits:
    return replace(
        limits,
        max_depth_m=limits.max_depth_m + extra_m,
        stretches=tuple(
            each
            if each.max_depth_m is None
            else replace(each, max_depth_m=each.max_depth_m + extra_m)
            for each in limits.stretches
        ),
    )

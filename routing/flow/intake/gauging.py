"""A stream gauged with a weir: its flow, and whether the reading may be trusted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from routing.errors import InputError
from routing.finding import Finding
from routing.flow.intake.trade_data import limit
from routing.flow.intake.weir import (
    cipolletti_flow_m3_s,
    v_notch_flow_m3_s,
    v_notch_us_flow_m3_s,
    weir_contracted_flow_m3_s,
    weir_suppressed_flow_m3_s,
)
from routing.need import need
from routing.value import dataclass

__all__ = ["Gauging", "WeirKind", "gauge_stream"]

WeirKind = Literal["v notch", "rectangular suppressed", "rectangular contracted", "cipolletti"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauging:
    """One reading turned into a flow; ``other_m3_s`` is what a second formula gives, if any."""

    kind: WeirKind
    head_m: float
    flow_m3_s: float
    other_m3_s: float | None
    read_upstream_m: float
    findings: tuple[Finding, ...]


def gauge_stream(
    kind: WeirKind,
    head_m: float,
    *,
    angle_deg: float = 90.0,
    width_m: float | None = None,
    crest_m: float | None = None,
    tailwater_below_m: float | None = None,
) -> Gauging:
    """Return the flow that a weir shows, with a word where the reading leaves the formula's range.

    Parameters
    ----------
    kind : str
        "v notch", "rectangular suppressed", "rectangular contracted" or "cipolletti" [-]
    head_m : float
        Water level above crest or point, >= 0 [m]
    angle_deg : float
        Full angle of a V notch, 25 to 100 [deg]
    width_m : float, optional
        Length of the crest; needed by all but the V notch [m]
    crest_m : float, optional
        Crest above the channel's floor; needed by the suppressed weir [m]
    tailwater_below_m : float, optional
        How far the water behind stands below the crest; None leaves that check out [m]

    Returns
    -------
    gauging : Gauging
        Flow [m3/s], distance upstream to read the head at [m], findings

    Raises
    ------
    InputError
        If the kind is unknown, or a length that it needs is missing or cannot be.

    Notes
    -----
    Valid for: sharp crests with free fall. One spot gauging is no record: no energy follows.

    Examples
    --------
    >>> gauge_stream("v notch", 0.03).findings[0].code
    'gauging_outside_range'

    References
    ----------
    .. [1] As the formulas of :mod:`routing.flow.intake.weir`.
    """
    other = None
    if kind == "v notch":
        flow = v_notch_flow_m3_s(head_m, angle_deg)
        other = v_notch_us_flow_m3_s(head_m) if angle_deg == 90.0 else None
    elif kind == "rectangular suppressed":
        flow = weir_suppressed_flow_m3_s(head_m, _given(width_m, "width"), _given(crest_m, "crest"))
    elif kind == "rectangular contracted":
        flow = weir_contracted_flow_m3_s(head_m, _given(width_m, "width"))
    elif kind == "cipolletti":
        flow = cipolletti_flow_m3_s(head_m, _given(width_m, "width"))
    else:
        raise InputError(
            f"There is no weir of the kind {kind!r}.",
            'Give "v notch", "rectangular suppressed", "rectangular contracted" or "cipolletti".',
        )
    return Gauging(
        kind=kind,
        head_m=head_m,
        flow_m3_s=flow,
        other_m3_s=other,
        read_upstream_m=limit("head_gauge_distance") * head_m,
        findings=tuple(_doubts(kind, head_m, width_m, tailwater_below_m)),
    )


def _given(value: float | None, what: str) -> float:
    if value is None:
        raise InputError(f"The {what} of the weir is missing.", f"Give the weir's {what}.")
    return value


def _doubts(
    kind: WeirKind, head_m: float, width_m: float | None, tailwater_below_m: float | None
) -> Iterator[Finding]:
    notch = kind == "v notch"
    least = limit("v_notch_least_head" if notch else "weir_least_head")
    most = limit("v_notch_most_head")
    if not notch and width_m is not None:
        most = limit("weir_most_head_over_width") * width_m
    if not least <= head_m <= most:
        yield _doubt(
            f"A head of {head_m * 1000:.0f} mm is outside the {least * 1000:.0f} to "
            f"{most * 1000:.0f} mm for which the formula of this weir holds. "
            "Take a narrower or a wider weir."
        )
    if tailwater_below_m is not None:
        need("The fall to the water behind the weir", tailwater_below_m)
        # The V notch has a published least fall; any other weir is only asked to fall freely.
        wanted = limit("v_notch_tailwater_below") if notch else 0.0
        if tailwater_below_m < wanted:
            yield _doubt(
                f"The water behind stands {tailwater_below_m * 1000:.0f} mm below the crest; "
                f"{wanted * 1000:.0f} mm or more is needed for free fall. Raise the weir."
            )


def _doubt(message: str) -> Finding:
    return Finding(code="gauging_outside_range", severity="warning", message=message)

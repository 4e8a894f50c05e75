"""What of the stream may be taken: the residual flow comes first."""

from __future__ import annotations

from routing.check import Check
from routing.flow.intake.requirements import judge
from routing.flow.intake.trade_data import limit
from routing.flow.intake.weir import v_notch_head_m
from routing.need import need
from routing.value import dataclass

__all__ = ["StreamShare", "residual_check", "residual_notch_head_m", "share_stream"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamShare:
    """One flow of the stream, divided: what stays, what the machine gets, what spills [m3/s]."""

    residual_m3_s: float
    machine_m3_s: float
    spill_m3_s: float
    checks: tuple[Check, ...]


def share_stream(
    stream_m3_s: float,
    residual_m3_s: float,
    design_m3_s: float,
    *,
    mean_annual_m3_s: float | None = None,
) -> StreamShare:
    """Return how the stream is shared between bed and machine, the bed first.

    Parameters
    ----------
    stream_m3_s : float
        Flow of the stream, >= 0 [m3/s]
    residual_m3_s : float
        Flow that must stay in the bed, >= 0; from the permit, there is no default [m3/s]
    design_m3_s : float
        Design flow of the machine, >= 0 [m3/s]
    mean_annual_m3_s : float, optional
        Mean annual flow of the stream, to judge the residual flow by, > 0 [m3/s]

    Returns
    -------
    share : StreamShare
        The three parts, none negative, their sum being the stream [m3/s]

    Raises
    ------
    InputError
        If a flow is negative or not finite.

    Notes
    -----
    Valid for: one intake. The notch for the residual flow lies below the pipe's intake level, so
    that the bed gets its water without anybody's doing.

    Examples
    --------
    >>> share_stream(0.045, 0.010, 0.050).machine_m3_s
    0.035

    References
    ----------
    .. [1] Balance of volumes; shares of the mean annual flow: D. L. Tennant. *Instream flow
       regimens*, 1976, seen second-hand.
    """
    for what, flow in (
        ("The flow of the stream", stream_m3_s),
        ("The residual flow", residual_m3_s),
        ("The design flow", design_m3_s),
    ):
        need(what, flow, least=0.0)
    residual = min(stream_m3_s, residual_m3_s)
    machine = min(design_m3_s, stream_m3_s - residual)
    checks = [
        judge(
            "bed_at_design",
            (stream_m3_s - design_m3_s) * 1000.0,
            f"The stream's {stream_m3_s * 1000:.1f} L/s do not give the residual flow of "
            f"{residual_m3_s * 1000:.1f} L/s and the design flow of {design_m3_s * 1000:.1f} L/s. "
            f"The bed comes first: the machine gets {machine * 1000:.1f} L/s then, and must be "
            "made to follow the level.",
            residual_m3_s * 1000.0,
        )
    ]
    if mean_annual_m3_s is not None:
        checks.append(residual_check(residual_m3_s, mean_annual_m3_s))
    return StreamShare(
        residual_m3_s=residual,
        machine_m3_s=machine,
        spill_m3_s=max(0.0, stream_m3_s - residual - machine),
        checks=tuple(checks),
    )


def residual_check(residual_m3_s: float, mean_annual_m3_s: float) -> Check:
    """Return whether a residual flow keeps to the least share of the mean annual flow.

    >>> residual_check(0.09, 1.0).passed
    False
    """
    need("The mean annual flow", mean_annual_m3_s, above=0.0)
    share, least = residual_m3_s / mean_annual_m3_s, limit("residual_least_share")
    return judge(
        "residual_tennant",
        100.0 * share,
        f"The residual flow is {100 * share:.0f} % of the mean annual flow; {100 * least:.0f} % is "
        f"the least that Tennant's method names, {100 * limit('residual_fair_share'):.0f} % a fair "
        "base flow. Ask the authority.",
        100.0 * least,
    )


def residual_notch_head_m(residual_m3_s: float, angle_deg: float = 90.0) -> float:
    """Return how far the point of the residual notch must lie below the pipe's intake level.

    Parameters
    ----------
    residual_m3_s : float
        Flow that must stay in the bed, > 0 [m3/s]
    angle_deg : float
        Full angle of the notch, 25 to 100 [deg]

    Returns
    -------
    head_m : float
        Head at which the notch passes the residual flow [m]

    Raises
    ------
    InputError
        If the residual flow is not above zero: it never is none by default.

    Notes
    -----
    Valid for: as :func:`routing.flow.intake.weir.v_notch_flow_m3_s`. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> residual_notch_head_m(0.005)
    0.105199

    References
    ----------
    .. [1] Inverse of the V notch, ISO 1438, from memory.
    """
    need("The residual flow", residual_m3_s, above=0.0)
    return v_notch_head_m(residual_m3_s, angle_deg)

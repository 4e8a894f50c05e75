"""The screen before the pipe's mouth."""

from __future__ import annotations

from routing.check import Check
from routing.errors import InputError
from routing.flow.intake.requirements import judge
from routing.flow.intake.trade_data import limit
from routing.need import need
from routing.value import dataclass

__all__ = ["Screen", "bar_gap_m", "size_screen"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """Area of a screen: open between the bars, and over all with bars and dirt [m2]."""

    net_m2: float
    gross_m2: float
    velocity_m_s: float
    clogged_share: float
    checks: tuple[Check, ...]


def size_screen(
    flow_m3_s: float,
    *,
    open_share: float,
    velocity_m_s: float | None = None,
    clogged_share: float | None = None,
    built_m2: float | None = None,
) -> Screen:
    r"""Return the area that a screen needs.

    .. math::
        A_\mathrm{net} = \frac{Q}{v_s}, \qquad
        A_\mathrm{gross} = \frac{A_\mathrm{net}}{o\,(1 - c)}

    Parameters
    ----------
    flow_m3_s : float
        Design flow, >= 0 [m3/s]
    open_share : float
        Openings over the whole screen, gap/(gap + bar), 0 < o <= 1 [-]
    velocity_m_s : float, optional
        Velocity through the openings, > 0; None takes 0.3, for cleaning by hand [m/s]
    clogged_share : float, optional
        Share of the openings that dirt blocks, 0 <= c < 1; None takes a half [-]
    built_m2 : float, optional
        Area of the screen as built, under water; None leaves the check out [m2]

    Returns
    -------
    screen : Screen
        Areas [m2], and whether the built screen is as large

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: the part of the screen below the lowest working level. For fish 0.12 m/s before the
    screen is a common rule; the permit decides.

    Examples
    --------
    >>> size_screen(0.05, open_share=0.6).gross_m2
    0.55556

    References
    ----------
    .. [1] Velocities: common practice; fish: United States fish screen criteria, from memory.
    """
    speed = limit("screen_velocity_hand") if velocity_m_s is None else velocity_m_s
    clogged = limit("screen_clogged_share") if clogged_share is None else clogged_share
    need("The flow through the screen", flow_m3_s, least=0.0)
    need("The open share of the screen", open_share, above=0.0, most=1.0)
    need("The velocity through the screen", speed, above=0.0)
    need("The clogged share of the screen", clogged, least=0.0, most=0.99)
    net = flow_m3_s / speed
    gross = net / (open_share * (1.0 - clogged))
    checks: tuple[Check, ...] = ()
    if built_m2 is not None:
        need("The area of the screen", built_m2, above=0.0)
        checks = (
            judge(
                "screen_area",
                built_m2,
                f"The screen has {built_m2:.2f} m2; when dirty the design flow needs {gross:.2f} "
                "m2. Build a larger screen or clean it more often.",
                gross,
                f"{speed:g} m/s through the openings with {100.0 * clogged:g} % of them blocked",
            ),
        )
    return Screen(
        net_m2=net, gross_m2=gross, velocity_m_s=speed, clogged_share=clogged, checks=checks
    )


def bar_gap_m(turbine_kind: str, passage_m: float) -> float:
    """Return the widest gap between the bars that keeps harm from the machine.

    Parameters
    ----------
    turbine_kind : str
        "pelton", "turgo" (by the bore of the nozzle) or "francis" (by the runner's passage) [-]
    passage_m : float
        Bore of the nozzle, or width of the runner's passage, > 0 [m]

    Returns
    -------
    gap_m : float
        A fifth of the nozzle, half of the passage [m]

    Raises
    ------
    InputError
        If there is no rule for the kind, or the passage is not above zero.

    Notes
    -----
    Valid for: clean edges; the maker's own limit rules.

    Examples
    --------
    >>> bar_gap_m("pelton", 0.025)
    0.005

    References
    ----------
    .. [1] ESHA. *Layman's guide to small hydro*, from memory; turgo as pelton, common practice.
    """
    need("The passage of the machine", passage_m, above=0.0)
    shares = {"pelton": 0.2, "turgo": 0.2, "francis": 0.5}
    share = shares.get(turbine_kind.strip().casefold())
    if share is None:
        raise InputError(
            f"There is no rule for the bars before a machine of the kind {turbine_kind!r}.",
            "Ask the maker for the largest grain the machine passes.",
        )
    return share * passage_m

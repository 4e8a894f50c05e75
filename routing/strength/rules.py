"""What a pipe may carry at rest and in a surge, by its own standard's rule."""

from __future__ import annotations

from routing.need import need
from routing.pipe import Pipe, derated_rating_pa
from routing.strength.trade_data import SurgeRule, limit, surge_rules
from routing.value import dataclass

__all__ = ["Allowance", "allowance", "surge_rule"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """The most a pipe may carry at rest, and at rest and in surge together [Pa], and by what rule.

    Both are None where the pipe has no rating.
    """

    static_pa: float | None
    total_pa: float | None
    rule: str
    source: str
    status: str


def surge_rule(pipe: Pipe) -> SurgeRule:
    """Return the rule of the pipe's standard, else that of its material, else no allowance.

    >>> from routing.pipe import load_catalogue
    >>> surge_rule(load_catalogue().find("PE4710-IPS-DR11-8in")).occasional_factor
    2.0
    """
    rules = surge_rules()
    for rule in rules:
        if rule.standard and rule.standard == pipe.standard:
            return rule
    for rule in rules:
        if rule.material == pipe.material and not rule.standard:
            return rule
    return rules[-1]


def allowance(
    pipe: Pipe,
    temperature_c: float,
    *,
    recurring: bool = False,
    surge_known: bool = True,
    surge_factor: float | None = None,
) -> Allowance:
    r"""Return what a pipe may carry at rest, and at rest and in surge together.

    .. math::
        p_\mathrm{static} \le F_T\, p_r, \qquad
        p_\mathrm{static} + \Delta p \le F_T\, p_r\, k_s + \Delta p_a

    Parameters
    ----------
    pipe : Pipe
        The pipe [-]
    temperature_c : float
        Temperature of the water [degC]
    recurring : bool
        The surge comes every day, as from a ram; otherwise it is a rare emergency [-]
    surge_known : bool
        The surge was computed; otherwise 72 % of the rating is the limit at rest [-]
    surge_factor : float, optional
        The user's own factor k_s, 1 to 2; never more than the standard's own is counted [-]

    Returns
    -------
    allowance : Allowance
        Both limits [Pa] and the rule with its source

    Raises
    ------
    InputError
        If the water is too warm for the material, or the factor is outside the bound given above.

    Notes
    -----
    Valid for: the pipe alone; fittings, valves and gaskets may hold less, and the weakest rules.
    Pipe without a rule of its own gets no allowance for surge, the safe side. Checked by
    ``tests/reference/test_class.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> found = allowance(load_catalogue().find("PVC-C900-DR18-8in"), 10.0)
    >>> found.total_pa / found.static_pa
    1.6

    References
    ----------
    .. [1] Rules and their sources: ``data/surge_rules.csv``.
    """
    rating = derated_rating_pa(pipe, temperature_c)
    rule = surge_rule(pipe)
    if surge_factor is not None:
        need("The surge factor", surge_factor, least=1.0, most=2.0)
    if not surge_known:
        least = limit("unknown_surge_factor")
        reduced = None if rating is None else least * rating
        return Allowance(
            static_pa=reduced,
            total_pa=reduced,
            rule=f"surge not computed: {100 * least:.0f} % of the rating",
            source="NRCS Conservation Practice Standard 430",
            status="FROM MEMORY",
        )
    kind = "recurring" if recurring else "occasional"
    total = None
    if rating is not None:
        total = rule.factor(recurring=recurring) * rating + rule.addition_pa
    if rating is not None and total is not None and surge_factor is not None:
        lower = surge_factor * rating
        if lower < total:
            return Allowance(
                static_pa=rating,
                total_pa=lower,
                rule=f"{kind} surge, factor as given",
                source="settings",
                status="AS GIVEN",
            )
    return Allowance(
        static_pa=rating,
        total_pa=total,
        rule=f"{rule.name}, {kind} surge",
        source=rule.source,
        status=rule.status,
    )

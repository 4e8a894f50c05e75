"""Why a vent stands where it does, what is lost without it, and the least to fit, in words."""

from __future__ import annotations

from collections.abc import Sequence

from routing.doubt import is_doubtful, likely_words
from routing.fittings.place.straight import Stand, stand_text
from routing.fittings.place.vent import Lost, Vent
from routing.fittings.requirements import asked
from routing.fittings.sizes import size_text
from routing.fittings.trade_data import fitting_rules, limits
from routing.units import UnitSystem, show

__all__ = ["grade_text", "lost_text", "open_text", "rule_text", "table_text", "why_text"]


def grade_text(before: float, after: float) -> str:
    """Return a change of grade as text.

    >>> grade_text(-0.02, -0.15)
    '2.0 % down, then 15.0 % down'
    """
    return f"{_grade(before)}, then {_grade(after)}"


def _grade(grade: float) -> str:
    if abs(grade) < 5e-4:
        return "level"
    return f"{abs(grade):.1%} {'up' if grade > 0.0 else 'down'}".replace("%", " %")


def why_text(vent: Vent, detail: str, bore_m: float, stand: Stand, units: UnitSystem) -> str:
    """Return why ``vent`` is there and what is lost without it, in whole sentences."""
    sentences = rule_text(vent.rules, detail, units)
    sentences += _standing(vent, bore_m, units)
    sentences += lost_text(vent.lost, units)
    sentences += stand_text(stand, vent.serves_m, units)
    return " ".join(sentences)


def rule_text(rules: Sequence[str], detail: str, units: UnitSystem) -> list[str]:
    """Return what the rules say that ask for a vent; ``detail`` fills the first one's sentence."""
    spacing = show(limits().spacing_m, "length", units)
    sentences = [fitting_rules()[rules[0]].why.format(detail=detail, spacing=spacing)]
    if len(rules) > 1:
        sentences.append(f"Other rules ask for it too: {', '.join(rules[1:])}.")
    return sentences


def lost_text(lost: Lost, units: UnitSystem) -> list[str]:
    """Return what is lost without a vent, in whole sentences; none where it is not measurable."""
    sentences = []
    if lost.head_m >= limits().held_head_m:
        litres = 1e3 * lost.air_m3
        air = f"{litres:.0f} litres" if units == "metric" else f"{litres / 3.785411784:.0f} US gal"
        sentences.append(
            f"Without it up to {air} of air may stay and hold back up to "
            f"{show(lost.head_m, 'head', units)} of head."
        )
    if lost.over_vacuum_pa > 0.0:
        sentences.append(
            f"Without it a full break nearby would draw {show(lost.vacuum_pa, 'pressure', units)} "
            f"of vacuum here; the pipe is allowed {show(lost.allowed_pa, 'pressure', units)}."
        )
    return sentences


def _standing(vent: Vent, bore_m: float, units: UnitSystem) -> list[str]:
    """Return what is known of a summit: how high, and how sure."""
    if vent.prominence_m is None:
        return []
    height = show(vent.prominence_m, "depth", units)
    text = f"The summit stands {height} above the low pipe beside it"
    if vent.minor:
        bore = show(bore_m, "diameter", units)
        text += f", less than the bore ({bore}), but half a bore of air already throttles the flow"
    sentences = [f"{text}."]
    if vent.probability is not None:
        likely = likely_words(vent.probability)
        sure = f"By what the elevations can tell it is {likely} likely to be there"
        sentences.append(
            f"{sure}: take a level before buying." if is_doubtful(vent.probability) else f"{sure}."
        )
    return sentences


def open_text(vent: Vent, bore_m: float, units: UnitSystem) -> str:
    """Return how an open vent stands: its top, its height, its foot."""
    height_m = vent.open_height_m or 0.0
    guyed = ", guyed" if height_m > limits().open_height_m else ""
    on_pipe = (vent.open_top_m or 0.0) - height_m > vent.ground_m + 1e-6
    footing = "pipe" if on_pipe else "ground"
    foot = size_text(vent.foot_size_m or vent.size_m, units)
    return (
        f"Open vent{guyed}: top at {show(vent.open_top_m, 'elevation', units)}, "
        f"{show(height_m, 'depth', units)} above the {footing}, over the highest water that stands "
        f"in it. Tee and foot at least {foot} wide for {show(bore_m, 'depth', units)} above the "
        f"centreline, then {size_text(vent.size_m, units)}."
    )


def table_text(vent: Vent, height_m: float, bore_m: float, units: UnitSystem) -> str:
    """Return the least to fit, before the vent is sized: an open vent, or a valve."""
    if vent.kind == "open vent":
        return open_text(vent, bore_m, units)
    tall, most = show(height_m, "depth", units), show(asked("open_height").bound, "depth", units)
    return (
        f"An open vent would have to be {tall} tall, more than the {most} that can stand "
        f"even when guyed, so fit a {vent.kind} of {size_text(vent.size_m, units)} or more; "
        "the pressure it must bear follows from the full study."
    )

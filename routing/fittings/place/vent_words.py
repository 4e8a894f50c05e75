"""Why a vent stands where it does, and what to fit, in words for the person who digs."""

from __future__ import annotations

from routing.fittings.place.vent import Vent
from routing.fittings.sizes import size_text
from routing.fittings.trade_data import limits
from routing.units import UnitSystem, show

__all__ = ["grade_text", "vent_reason"]

_WHY = {
    "V1": "The pipe rises to here and then falls, so air gathers and cannot leave by itself.",
    "V2": (
        "Just below the intake, air must get in when the intake is shut and the line empties, or "
        "the pipe is sucked flat; while filling, air gets out here."
    ),
    "V3": "The pipe falls more steeply from here on ({detail}), and air stays at the bend.",
    "V4": "The pipe lies almost flat up to here and then falls ({detail}), and air stays behind.",
    "V5": "The pipe rises less steeply from here on ({detail}), and air slows down and gathers.",
    "V6": "A long stretch without a vent: one every {spacing} lets air out while filling.",
    "V7": (
        "At the end of the line, the air that the water pushes ahead leaves while filling, and air "
        "gets in when the end is drained."
    ),
    "V8": (
        "When the valve here is shut and the pipe {detail} of it drains, air must get in on that "
        "side."
    ),
    "V9": "The pipe is highest here, where it runs above ground, so air gathers as at any summit.",
}
_ALSO = {
    "V1": "a summit",
    "V2": "below the intake",
    "V3": "the fall steepens",
    "V4": "a flat reach ends",
    "V5": "the rise eases",
    "V6": "a long stretch without a vent",
    "V7": "the end of the line",
    "V8": "the draining side of a valve",
    "V9": "the top of a pipe above ground",
}


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


def vent_reason(
    vent: Vent,
    *,
    detail: str,
    bore_m: float,
    open_height_m: float,
    pressure_pa: float,
    units: UnitSystem,
) -> str:
    """Return why ``vent`` is there and what to fit, in whole sentences.

    ``detail`` fills the rule's own sentence, ``open_height_m`` is what an open vent's height would
    be, ``pressure_pa`` the static pressure.
    """
    spacing = show(limits().spacing_m, "length", units)
    sentences = [_WHY[vent.rule].format(detail=detail, spacing=spacing)]
    if len(vent.rules) > 1:
        sentences.append(_others(vent.rules[1:]))
    sentences += _standing(vent, bore_m, units)
    sentences += _fit(vent, bore_m, open_height_m, pressure_pa, units)
    return " ".join(sentences)


def _others(rules: tuple[str, ...]) -> str:
    """Return the sentence that names the other rules behind a vent.

    >>> _others(("V3", "V7"))
    'Rules V3 (the fall steepens) and V7 (the end of the line) ask for it too.'
    """
    named = " and ".join(f"{rule} ({_ALSO[rule]})" for rule in rules)
    return f"Rules {named} ask for it too." if len(rules) > 1 else f"Rule {named} asks for it too."


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
        sure = f"With the elevations' stated error it is real with {_percent(vent.probability)}"
        doubtful = vent.probability < limits().doubtful_below
        sentences.append(f"{sure}: check it in the field." if doubtful else f"{sure}.")
    return sentences


def _percent(probability: float) -> str:
    return "more than 99 %" if probability > 0.99 else f"{100.0 * probability:.0f} %"


def _fit(
    vent: Vent, bore_m: float, open_height_m: float, pressure_pa: float, units: UnitSystem
) -> list[str]:
    """Return what to fit: an open vent with its height, or a valve with its rating."""
    numbers = limits()
    height = show(open_height_m, "depth", units)
    if vent.kind == "open vent":
        top = show(vent.open_top_m, "elevation", units)
        guyed = ", guyed" if open_height_m > numbers.open_height_m else ""
        foot = size_text(vent.foot_size_m or vent.size_m, units)
        on_pipe = (vent.open_top_m or 0.0) - open_height_m > vent.ground_m + 1e-6
        footing = "pipe" if on_pipe else "ground"
        return [
            f"Open vent{guyed}: top at {top}, {height} above the {footing}, as the whole static "
            "head stands in it when the line is shut below.",
            f"Tee and foot at least {foot} wide for {show(bore_m, 'depth', units)} above the "
            f"centreline, then {size_text(vent.size_m, units)}.",
        ]
    sentences = [
        f"An open vent would have to be {height} tall, so fit a {vent.kind} rated for at least "
        f"{show(pressure_pa, 'pressure', units)} (static there; add surge, and the test pressure "
        "if that is more)."
    ]
    head = vent.flowing_head_m
    if head is not None and head < numbers.seal_head_m:
        sentences.append(
            f"The flowing head is only {show(head, 'head', units)}: choose one that seals at low "
            f"pressure, as a float valve needs about {show(numbers.seal_head_m, 'head', units)}."
        )
    return sentences

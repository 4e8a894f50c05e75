"""The signs and colours of all papers: shape before colour, safe for colour-blind readers."""

from __future__ import annotations

from html import escape
from typing import Literal

__all__ = [
    "ABOVE_RATING",
    "BELOW_ZERO",
    "DRAIN",
    "GROUND",
    "LOOKS",
    "PRESSURE_RAMP",
    "VENT",
    "Look",
    "SignKind",
    "sign_svg",
]

VENT = "#0072B2"
DRAIN = "#D55E00"
GROUND = "#8A6D3B"
INTAKE = "#56B4E9"
POWERHOUSE = "#E69F00"
LEVEL = "#F0E442"
CONCRETE = "#BBBBBB"
ABOVE_RATING = "#D55E00"
BELOW_ZERO = "#CC79A7"
"""Okabe and Ito, *Color Universal Design*, 2008 (GROUND is an earth tone beside them)."""

PRESSURE_RAMP = ("#FDE725", "#7AD151", "#22A884", "#2A788E", "#414487", "#440154")
"""Six steps of viridis: rising darkness, so that the order survives a grey print."""

SignKind = Literal[
    "vent", "drain", "valve", "tap", "relief", "block", "anchor", "support", "bend", "pipe",
    "intake", "powerhouse", "level", "high", "low", "crossing",
]  # fmt: skip
Look = Literal["solid", "half", "hollow"]

LOOKS: dict[str, Look] = {"must": "solid", "level": "half", "advise": "hollow"}
"""How a fitting is drawn by its need: the less is sure, the less is filled."""

_SHAPES: dict[str, str] = {
    # a triangle that points up, as air does
    "vent": '<path d="M16 2 L30.5 28 H1.5 Z" fill="{fill}"/>',
    # a drop that hangs down, as water does
    "drain": '<path d="M16 31 C8 25 3 20 3 13.5 A13 12.5 0 0 1 29 13.5 C29 20 24 25 16 31 Z" '
    'fill="{fill}"/>',
    "intake": '<path d="M3 5 H29 V27 H3 Z" fill="{fill}"/>'
    '<path d="M6 13 q3.3 -4 6.6 0 t6.6 0 t6.6 0 M6 20 q3.3 -4 6.6 0 t6.6 0 t6.6 0" fill="none"/>',
    "powerhouse": '<path d="M16 2 L30 13 V29 H2 V13 Z" fill="{fill}"/>'
    '<path d="M18 10 L11 19 H16 L13.5 26 L21 16.5 H16 Z" fill="#000" stroke="none"/>',
    # a level mark: a triangle that points down at a line
    "level": '<path d="M2 3 H30 L16 26 Z" fill="{fill}"/><path d="M3 29.5 H29" fill="none"/>',
    "high": '<path d="M8 23 L16 9 L24 23" fill="none" stroke-width="3.4"/>',
    "low": '<path d="M8 9 L16 23 L24 9" fill="none" stroke-width="3.4"/>',
    "valve": '<path d="M3 8 V24 L29 8 V24 Z" fill="{fill}"/>',
    "tap": '<circle cx="16" cy="13" r="10" fill="{fill}"/><path d="M16 13 L22 8 M16 23 V30"/>',
    # a valve with the spring on it
    "relief": '<path d="M3 30 V16 L29 30 V16 Z" fill="{fill}"/>'
    '<path d="M16 23 V14 L10 11.5 L22 8.5 L10 5.5 L16 2" fill="none" stroke-width="2.4"/>',
    "block": '<path d="M4 8 H28 V26 H4 Z" fill="{fill}"/><path d="M4 18 L14 8 M10 26 L28 8"/>',
    "anchor": '<path d="M12 3 H20 V29 H12 Z" fill="{fill}"/><path d="M2 16 H12 M20 16 H30"/>',
    "support": '<path d="M5 4 Q16 18 27 4 V10 L20 14 V28 H12 V14 L5 10 Z" fill="{fill}"/>',
    "pipe": '<path d="M3 10H16V22H3Z" fill="{fill}"/><path d="M16 7H29V25H16Z" fill="#56B4E9"/>',
    "crossing": '<path d="M7 7 H25 V25 H7 Z" fill="{fill}"/><path d="M4 4 L28 28 M28 4 L4 28"/>',
    "bend": '<path d="M16 8 L24 16 L16 24 L8 16 Z" fill="{fill}"/>',
}
_LEFT_HALF = {
    "vent": "M16 2 L1.5 28 H16 Z",
    "drain": "M16 31 C8 25 3 20 3 13.5 A13 12.5 0 0 1 16 1 Z",
}
_FILLS = {
    "vent": VENT,
    "drain": DRAIN,
    "intake": INTAKE,
    "powerhouse": POWERHOUSE,
    "level": LEVEL,
    "block": CONCRETE,
    "anchor": CONCRETE,
    "support": CONCRETE,
}
_LETTER_Y = {"vent": 25.5, "drain": 19.0, "level": 14.0}


def sign_svg(kind: SignKind, label: str = "", size: float = 30.0, look: Look = "solid") -> str:
    """Return a sign as an SVG element of ``size`` pixels, with a label such as ``V1`` in it.

    ``look`` tells what is needed from what is advised, and from what a level decides first.
    """
    shape = sign_shape(kind, label, look)
    return (
        f'<svg class="sign" width="{size:g}" height="{size:g}" viewBox="0 0 32 32" '
        f'role="img" aria-label="{escape(label or kind)}">{shape}</svg>'
    )


def sign_shape(kind: SignKind, label: str = "", look: Look = "solid") -> str:
    """Return a sign's shapes in a box of 32 by 32, for use inside a larger drawing."""
    outline = "#5b4520" if kind in ("high", "low") else "#000"
    colour = _FILLS.get(kind, "#fff")
    ink = "#000" if kind == "level" or look != "solid" else "#fff"
    width, half = 1.6, ""
    if look != "solid":
        outline, colour, width = colour, "#fff", 2.6
    if look == "half":
        half = f'<path d="{_LEFT_HALF[kind]}" fill="{outline}" stroke="none"/>'
    shape = _SHAPES[kind].format(fill=colour) + half
    parts = [f'<g stroke="{outline}" stroke-width="{width}" stroke-linejoin="round">{shape}</g>']
    if label:
        size = 11.5 if len(label) <= 2 else 9.0
        halo = ";paint-order:stroke;stroke:#fff;stroke-width:3px" if half else ""
        parts.append(
            f'<text x="16" y="{_LETTER_Y.get(kind, 20)}" text-anchor="middle" '
            f'style="font:700 {size}px sans-serif;fill:{ink}{halo}">{escape(label)}</text>'
        )
    return "".join(parts)

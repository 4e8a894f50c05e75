"""Lines and tones of the sheets: each tells by its shape in black and white, colour only helps."""

from __future__ import annotations

from routing.papers.signs import Look, SignKind, sign_shape

__all__ = ["STYLE", "mark"]

STYLE = (
    "text{fill:#111}"
    ".halo{paint-order:stroke;stroke:#fff;stroke-width:.7;stroke-linejoin:round}"
    ".frame{fill:none;stroke:#111;stroke-width:.35}"
    ".border{fill:none;stroke:#111;stroke-width:.6}"
    ".thin{fill:none;stroke:#444;stroke-width:.18}"
    ".hair{fill:none;stroke:#999;stroke-width:.09}"
    ".fine{fill:none;stroke:#333;stroke-width:.13}"
    ".tick{fill:none;stroke:#111;stroke-width:.25}"
    ".match{fill:none;stroke:#111;stroke-width:.35;stroke-dasharray:6 1.2 1.2 1.2}"
    ".contour{fill:none;stroke:#8a6a3a;stroke-width:.09}"
    ".contourindex{fill:none;stroke:#7a5a2a;stroke-width:.2}"
    ".pipe{fill:none;stroke:#000;stroke-width:.7}"
    ".beyond{fill:none;stroke:#555;stroke-width:.3;stroke-dasharray:2 1}"
    ".spancase{fill:none;stroke:#000;stroke-width:1.5}"
    ".spancore{fill:none;stroke:#fff;stroke-width:.8}"
    ".ground{fill:none;stroke:#5c4317;stroke-width:.25;stroke-dasharray:2.2 .9}"
    ".wall{fill:#c9c9c9;stroke:#000;stroke-width:.25}"
    ".trench{fill:none;stroke:#444;stroke-width:.13;stroke-dasharray:.5 .7}"
    ".static{fill:none;stroke:#0072B2;stroke-width:.3;stroke-dasharray:5 1 .8 1}"
    ".flowing{fill:none;stroke:#007a5a;stroke-width:.35;stroke-dasharray:.9 .8}"
    ".surge{fill:none;stroke:#B0478A;stroke-width:.25;stroke-dasharray:2.4 .8 .6 .8 .6 .8}"
    ".rating{fill:none;stroke:#111;stroke-width:.3;stroke-dasharray:3 1.6}"
    ".test{fill:none;stroke:#D55E00;stroke-width:.25;stroke-dasharray:1 1.2 3 1.2}"
    ".parcel{fill:none;stroke:#111;stroke-width:.2;stroke-dasharray:5 1.2 1 1.2}"
    ".protected{fill:#009E73;fill-opacity:.07;stroke:#009E73;stroke-width:.3}"
    ".rightofway{fill:none;stroke:#56B4E9;stroke-width:.3;stroke-dasharray:3 1}"
    ".groundclass{fill:#8A6D3B;fill-opacity:.08;stroke:#5a5a5a;stroke-width:.25;"
    "stroke-dasharray:.4 1.4}"
    ".crossing{fill:none;stroke:#111;stroke-width:.25}"
    ".break{fill:#fff;stroke:#111;stroke-width:.25}"
    ".stream{fill:none;stroke:#0072B2;stroke-width:.45}"
    ".boundary{fill:none;stroke:#111;stroke-width:.3;stroke-dasharray:7 1.4 1.4 1.4 1.4 1.4}"
    ".nogo{fill:#D55E00;fill-opacity:.08;stroke:#D55E00;stroke-width:.3;stroke-dasharray:1.4 .8}"
    ".road{fill:none;stroke:#777;stroke-width:.8}"
    ".service{fill:none;stroke:#E69F00;stroke-width:.4;stroke-dasharray:4 1 1 1}"
    ".reference{fill:#fff;stroke:#111;stroke-width:.3}"
    ".black{fill:#111;stroke:#111;stroke-width:.13}"
    ".blank{fill:#fff;stroke:#111;stroke-width:.13}"
    ".concrete{fill:#d9d9d9;stroke:#111;stroke-width:.35}"
    ".earth{fill:#efe6d6;stroke:none}"
    ".sand{fill:#f7f1dc;stroke:#8a6a3a;stroke-width:.13}"
    ".water{fill:#dcecf7;stroke:#0072B2;stroke-width:.2}"
    ".cut{fill:#fff;stroke:#000;stroke-width:.5}"
    ".edge{fill:none;stroke:#111;stroke-width:.35}"
    ".centre{fill:none;stroke:#333;stroke-width:.13;stroke-dasharray:4 1 .8 1}"
    ".hidden{fill:none;stroke:#333;stroke-width:.2;stroke-dasharray:1.2 .8}"
    ".shade{fill:#e6e6e6;stroke:none}"
    ".grey{fill:#595959}"
    ".white{fill:#fff;stroke:none}"
    ".sheetbox{fill:none;stroke:#D55E00;stroke-width:.35}"
    ".cloud{fill:none;stroke:#D55E00;stroke-width:.4}"
    ".revision{fill:#fff;stroke:#D55E00;stroke-width:.35}"
    ".class0{fill:#fff;stroke:#111;stroke-width:.2}"
    ".class1{fill:#d9d9d9;stroke:#111;stroke-width:.2}"
)


def mark(kind: SignKind, x: float, y: float, size: float, look: Look = "solid") -> str:
    """Return a sign with its middle at a place of the drawing [mm]."""
    half = size / 2.0
    return (
        f'<g transform="translate({x - half:.3f} {y - half:.3f}) scale({size / 32.0:.5f})">'
        f"{sign_shape(kind, look=look)}</g>"
    )

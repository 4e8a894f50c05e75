"""Formulas as the docstrings state them (LaTeX), set for the page and for printed papers.

A formula stands once, in the docstring of the function that works it out. Pages show it as MathML,
papers as Typst mathematics; both are made here.
"""

from __future__ import annotations

import re
from functools import lru_cache

__all__ = ["mathml", "typst_math"]

_UPRIGHT = re.compile(r"\\(?:mathrm|operatorname)\{([^{}]*)\}")
_ONE_UPRIGHT = re.compile(r"\\mathrm ?([A-Za-z])")


@lru_cache(maxsize=512)
def mathml(latex: str) -> str:
    r"""Return a formula as MathML, for a page.

    >>> mathml(r"h = \frac{p}{\rho g}").startswith("<math")
    True
    """
    from latex2mathml.converter import convert

    return str(convert(latex, display="block"))


@lru_cache(maxsize=512)
def typst_math(latex: str) -> str:
    r"""Return a formula as Typst mathematics, for a printed paper.

    >>> typst_math(r"h_f = f \frac{L}{D} \frac{V^2}{2 g}")
    'h_(f) = f L/D frac(V^(2), 2 g)'
    """
    from tylax import latex_to_typst

    # A word set upright is one word, not the product of its letters.
    worded = _UPRIGHT.sub(r"\\text{\1}", _ONE_UPRIGHT.sub(r"\\text{\1}", latex))
    return str(latex_to_typst(worded)).strip()

"""The tails of the normal distribution that evidence is weighed by, against scipy.special."""

from __future__ import annotations

import numpy as np
from scipy.special import log_ndtr

from routing.works.evidence import FAR_OUT, _log_normal


def test_log_normal__far_into_both_tails() -> None:
    x = np.concatenate([np.linspace(-2000.0, 40.0, 4081), np.linspace(-6.0, 9.0, 3001)])
    assert np.allclose(_log_normal(x), log_ndtr(x), rtol=1e-12, atol=1e-190)


def test_log_normal__has_no_step_where_its_forms_meet() -> None:
    beside = np.nextafter(-FAR_OUT, [-np.inf, np.inf])
    below, above = _log_normal(beside)
    assert above - below < 1e-11

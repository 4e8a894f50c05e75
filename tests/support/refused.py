"""Settings that must be refused in words that help."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from routing.errors import InputError
from routing.settings import settings_from_mapping


def check_refused(tables: Any, words: Iterable[str]) -> None:
    """Fail unless the tables are refused with every word, and with a remedy."""
    with pytest.raises(InputError) as caught:
        settings_from_mapping(tables)
    said = str(caught.value)
    missing = [word for word in words if word not in said]
    assert missing == [], said
    assert caught.value.remedy, said

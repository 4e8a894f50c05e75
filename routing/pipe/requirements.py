"""What this room asks of pipes: the rows of ``data/requirements.csv``."""

from __future__ import annotations

from pathlib import Path

from routing.check import requirements_of

__all__ = ["asked"]

asked = requirements_of(Path(__file__).parent)

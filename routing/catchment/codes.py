"""Where the water of a cell goes, as one small number; shared by all loops of the room.

0 to 7 are the neighbours, clockwise from the next column: east, south-east, south ... on a raster
with north up. The opposite of ``d`` is ``(d + 4) % 8``.
"""

from __future__ import annotations

from typing import Final

import numpy as np

__all__ = ["DCOL", "DROW", "FLAT", "OUT", "PIT", "VOID"]

DROW: Final = np.array([0, 1, 1, 1, 0, -1, -1, -1])
"""Rows to the neighbour of each direction [-]."""

DCOL: Final = np.array([1, 1, 0, -1, -1, -1, 0, 1])
"""Columns to the neighbour of each direction [-]."""

OUT: Final = 8
"""Water leaves the raster here: over its edge, or into cells without elevation."""

PIT: Final = 9
"""Nothing around is lower; only while directions are being found."""

FLAT: Final = 10
"""Not yet decided: no lower neighbour; only while directions are being found."""

VOID: Final = 255
"""No elevation."""

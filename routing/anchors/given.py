"""Checks of the numbers given to this room, and the pipe at one place of a line."""

from __future__ import annotations

from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import Pipe

__all__ = ["check_diameters", "pipe_at"]


def pipe_at(line: LaidLine, index: int) -> Pipe:
    """Return the pipe that begins or goes on at a station."""
    return line.pipes.runs[int(line.run_index[index])].pipe


def check_diameters(outside_diameter_m: float, inside_diameter_m: float) -> None:
    """Raise unless the two diameters can belong to one pipe."""
    need("The outside diameter", outside_diameter_m, above=0.0, unit="m")
    need("The inside diameter", inside_diameter_m, above=0.0, unit="m")
    if inside_diameter_m >= outside_diameter_m:
        raise InputError(
            f"The inside diameter {inside_diameter_m:g} m is not below the outside diameter "
            f"{outside_diameter_m:g} m.",
            "Check that the two were not exchanged, and their units.",
        )

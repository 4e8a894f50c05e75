"""Made lines for the tests of vents, drains and trapped air, and short ways to ask about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from routing.check import failed_findings
from routing.finding import Finding
from routing.fittings import (
    Advised,
    AirPocket,
    Drain,
    DrainSize,
    FittingInputs,
    Loads,
    SizedFittings,
    Vent,
    VentSize,
    place_drains,
    place_vents,
    size_fittings,
    trapped_air,
)
from routing.laid_line import LaidLine, simple_line
from routing.pipe import Pipe, load_catalogue, pipe_by_hand

LOADS = ("operating_pa", "emergency_pa", "test_pa")
SLOPE = 60.0, 10.0
"""Where a made line begins, latitude and longitude [deg]."""


@dataclass(frozen=True)
class Made:
    """A line and what is asked of its fittings; whatever the line has can be asked of it."""

    line: LaidLine
    given: FittingInputs

    def __getattr__(self, name: str) -> Any:
        """Return what the line has of that name, or its pipe as laid."""
        return (
            getattr(self.line, name) if hasattr(self.line, name) else getattr(self.line.pipe, name)
        )


def odd_pipe(bore_m: float) -> Pipe:
    """Return plastic pipe of any bore, a centimetre thick."""
    return pipe_by_hand(material="PVC", inside_diameter_m=bore_m, wall_m=0.01, roughness_m=1.5e-6)


def runs_of(
    station: np.ndarray, bores: np.ndarray, make: Any = odd_pipe
) -> list[tuple[float, Pipe]]:
    """Return a pipe with the station from which it lies, for each stretch of equal bore."""
    starts = [0, *(k for k in range(1, bores.size) if bores[k] != bores[k - 1])]
    return [(float(station[k]), make(float(bores[k]))) for k in starts]


def made_line(
    station: Sequence[float],
    pipe: Sequence[float],
    *,
    intake_level: float | None = None,
    outlet_level: float | None = None,
    bore: float | Sequence[float] = 0.2,
    cover: float | Sequence[float] = 0.9,
    spans: Sequence[tuple[float, float]] = (),
    flowing: Sequence[float] | None = None,
    **more: Any,
) -> Made:
    """Return a laid pipe from stations and centreline elevations.

    Fields of the inputs of fittings may be given too; so may ``water`` and ``bends`` of the line.
    """
    s, z = np.asarray(station, float), np.asarray(pipe, float)
    inside = np.broadcast_to(np.asarray(bore, float), s.shape).copy()
    inside[-1] = inside[-2] if inside[-1] != inside[-2] and s.size > 2 else inside[-1]
    level = float(z[0]) + 1.0 if intake_level is None else intake_level
    in_span = np.zeros(s.size, bool)
    ground = z + 0.5 * (inside + 0.02) + np.asarray(cover, float)
    for start, end in spans:
        inside_span = (s >= start) & (s <= end)
        in_span |= inside_span
        ground[inside_span] = z[inside_span] - 3.0
    own = {name: more.pop(name) for name in ("water", "bends", "bend_k") if name in more}
    if "bends" in own:
        own.setdefault("bend_k", np.zeros(len(own["bends"])))
    line = simple_line(
        s,
        z,
        runs_of(s, inside),
        intake_m=level,
        outlet_m=float(z[-1]) if outlet_level is None else outlet_level,
        lon=SLOPE[1] + s / 70_000.0,
        lat=SLOPE[0] - s / 110_000.0,
        **own,
    )
    laid = replace(line.pipe, ground_m=ground, in_span=in_span)
    heads = None if flowing is None else np.asarray(flowing, float)
    return Made(replace(line, pipe=laid), FittingInputs(flowing_head_m=heads, **more))


def vents_of(made: Made) -> tuple[Vent, ...]:
    """Return the vents of a line."""
    return place_vents(made.line, made.given).vents


def wished(made: Made) -> list[Vent | Advised]:
    """Return its vents and the places that are only told, by station."""
    both = place_vents(made.line, made.given)
    return sorted((*both.vents, *both.folded), key=lambda vent: vent.station_m)


def drains_of(made: Made) -> tuple[Drain, ...]:
    """Return the drains of a line."""
    return place_drains(made.line, made.given)


def air_of(made: Made, vents: Sequence[Vent] = ()) -> tuple[AirPocket, ...]:
    """Return the air that a line seals in."""
    return trapped_air(made.line, vents)


class Job(NamedTuple):
    """A line with its placed fittings, ready to be sized."""

    line: LaidLine
    vents: tuple[Vent, ...]
    drains: tuple[Drain, ...]
    given: FittingInputs


def made_job(made: Made, *, pipe: str | Pipe | None = "PVC-D2241IPS-SDR26-8in", **more: Any) -> Job:
    """Return what the sizing needs: the line in a pipe of the catalogue, with its own bores.

    ``schedule`` puts other pipes in; ``vents`` and ``drains`` replace those that the room places.
    """
    line = made.line
    schedule = more.pop("schedule", None)
    if schedule is not None:
        line = line.with_pipes(schedule)
    elif pipe is not None:
        found = load_catalogue().find(pipe) if isinstance(pipe, str) else pipe

        def of_bore(bore_m: float) -> Pipe:
            return replace(found, inside_diameter_m=bore_m)

        runs = runs_of(line.station_m, line.inside_diameter_m, of_bore)
        own = [replace(run, pipe=p) for run, (_, p) in zip(line.pipes.runs, runs, strict=True)]
        line = line.with_pipes(replace(line.pipes, runs=tuple(own)))
    loads = Loads(**{name: more.pop(name) for name in LOADS if name in more})
    own_fittings = {name: more.pop(name) for name in ("vents", "drains") if name in more}
    given = replace(made.given, loads=loads, **more)
    given.check_against(line)
    return Job(
        line,
        own_fittings.get("vents", vents_of(Made(line, given))),
        own_fittings.get("drains", drains_of(Made(line, given))),
        given,
    )


@dataclass(frozen=True)
class Sizes:
    """What the sizing found; ``findings`` are those of failed checks and the notes."""

    vents: tuple[VentSize, ...]
    drains: tuple[DrainSize, ...]
    found: SizedFittings
    findings: tuple[Finding, ...]

    def __getattr__(self, name: str) -> Any:
        """Return any other part of what was found."""
        return getattr(self.found, name)


def sizes_of(job: Job) -> Sizes:
    """Return the sizes of a line's fittings."""
    found = size_fittings(*job)
    findings = (*failed_findings(found.checks), *found.findings)
    return Sizes(found.vent_sizes, found.drain_sizes, found, findings)

"""[study], [terrain], [outlet] and [trench]: the line, and the ground it lies in."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from routing.errors import SettingsError
from routing.settings.readers import (
    choice,
    flag,
    name_or_number,
    number,
    quantity,
    text,
    whole,
)
from routing.settings.rows import row, tables
from routing.units import UnitSystem
from routing.value import dataclass
from routing.words import languages

__all__ = [
    "ABOVE_GROUND",
    "CRS_GIVEN",
    "ELEVATION",
    "HEIGHT_UNIT",
    "STATION",
    "GroundSettings",
    "LimitSettings",
    "OutletSettings",
    "SpanSettings",
    "StudySettings",
    "TerrainSettings",
    "TrenchSettings",
    "one_level",
]

ELEVATION = quantity("length", "-500 m", "9000 m")
ABOVE_GROUND = quantity("length", "-50 m", "200 m")
STATION = quantity("length", "0 m", "200 km")
_COVER = quantity("length", "0 m", "20 m")
_DEPTH = quantity("length", "0.1 m", "30 m")
_GRADE = number(0.0, 1.0)
HEIGHT_UNIT = choice("m", "ft", "US survey foot")
CRS_GIVEN = text(4000)


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySettings:
    """[study]: its name, the units that people are shown, and which line to take how."""

    name: str | None = row(
        text(), "title on every paper", "Skarn Beck", without="the name of the route"
    )
    units: UnitSystem = row(
        choice("metric", "us"), "what people are shown; files stay in SI", "us", "metric"
    )
    language: str = row(
        choice(*languages()),
        "language of map, field sheet, sheets and works plan: "
        + ", ".join(f"{one.code} {one.name}" for one in languages().values()),
        "es",
        "en",
    )
    line: str | None = row(
        name_or_number,
        "which of several lines in the file to take: its name, or its number from 1",
        "east branch",
        without="the only one; several are an error that names them",
    )
    reverse: bool = row(
        flag,
        "take the line from its other end",
        True,
        False,
        page=("From its other end", ""),
    )
    clean: bool | None = row(
        flag,
        "take jumps and knots of standing still out of the line",
        True,
        without="recorded tracks (GPX tracks, KML tracks) only, never drawn lines",
        page=("Track cleaned", ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainSettings:
    """[terrain]: what the raster does not say, or says wrongly."""

    unit: str | None = row(
        HEIGHT_UNIT,
        "unit of the heights; overrides the file",
        "ft",
        without="the file's own, else metres, with a note",
        page=("Heights in", ""),
    )
    crs: str | None = row(
        CRS_GIVEN,
        "coordinate system; overrides the file",
        "EPSG:32628",
        without="the file's own, else an error",
        page=("Coordinate system", ""),
    )
    band: int | None = row(
        whole(1, 65535),
        "which band holds elevations",
        2,
        without="the first, with a warning where the file has more",
    )
    rmse: float | None = row(
        quantity("length", "1 mm", "100 m"),
        "stated vertical error of the raster, root mean square",
        "0.8 m",
        without="usual for the kind of data, else not known: summits are not judged",
        page=("Error of heights", "root mean square"),
    )
    error_range: float | None = row(
        quantity("length", "1 m", "100 km"),
        "distance over which the raster's errors are alike",
        "150 m",
        without="usual for the kind of data",
    )
    vertical_datum: str | None = row(
        text(),
        "what heights are measured from, in words",
        "local levelling",
        without="the file's own, else not known",
        page=("Heights measured from", ""),
    )
    source: str | None = row(
        text(),
        "kind of data, which has a usual error: `lidar`, `3dep-13`, `3dep`, `srtm`, `aster`, "
        "`alos`, `merit`, `nasadem`, `copernicus`, `gnss`, `rtk`, `level`",
        "lidar",
        without="told by the file where it says so",
    )
    bridge: float | None = row(
        quantity("length", "0.1 m", "20 km"),
        "longest gap of missing elevation to bridge straight",
        "60 m",
        without="none: a gap is an error",
        page=("Gaps bridged up to", ""),
    )


def one_level(name: str, given: Collection[str]) -> None:
    """Refuse a level given both as elevation and over the ground."""
    if {"level", "level_above_ground"} <= set(given):
        raise SettingsError(
            f"{name}.level and {name}.level_above_ground are both given.",
            "Keep the one that was measured.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletSettings:
    """[outlet]: level of the outlet's centreline."""

    level: float | None = row(
        ELEVATION,
        "elevation of the outlet's centreline",
        "331.2 m",
        without="as the pipe is laid",
        page=("Outlet centreline", ""),
    )
    level_above_ground: float | None = row(
        ABOVE_GROUND,
        "the same over the ground at the end of the line",
        "0.5 m",
        without="as the pipe is laid",
        page=("Outlet above the ground there", ""),
    )

    def consistent(self, name: str, given: Collection[str]) -> OutletSettings:
        """Return the settings if only one level was given."""
        one_level(name, given)
        return self


def _forward(stretches: tuple[Any, ...], name: str) -> tuple[Any, ...]:
    """Refuse a stretch that has no length."""
    for at, each in enumerate(stretches):
        if not each.from_ < each.to:
            raise SettingsError(
                f"{name}[{at}]: from {each.from_:g} m is not before to {each.to:g} m.",
                "Exchange the two.",
            )
    return stretches


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanSettings:
    """[[trench.span]]: a stretch where the pipe runs above ground, as on a bridge."""

    from_: float = row(STATION, "station where the pipe leaves the ground", "310 m", needed=True)
    to: float = row(STATION, "station where it goes back into the ground", "342 m", needed=True)
    support_spacing: float | None = row(
        quantity("length", "0.2 m", "200 m"),
        "distance between the supports of the span",
        "4 m",
        without="the span is clear from end to end",
    )
    rope_sag: float | None = row(
        quantity("length", "0.1 m", "100 m"),
        "sag under load of the ropes that the span hangs from; `support_spacing` is then the "
        "distance between its hangers",
        "2.5 m",
        without="the span stands on supports",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSettings:
    """[[trench.limit]]: what a stretch of the trench must keep to instead of the whole line."""

    from_: float = row(STATION, "station where the stretch begins", "120 m", needed=True)
    to: float = row(STATION, "station where it ends", "180 m", needed=True)
    max_depth: float | None = row(
        _DEPTH,
        "greatest depth there",
        "2.2 m",
        without="as on the whole line",
        page=("Greatest depth", ""),
    )
    cover: float | None = row(
        _COVER,
        "least cover there",
        "1.2 m",
        without="as on the whole line",
        page=("Least cover", ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundSettings:
    """[[trench.ground]]: a stretch of ground that is dug at a price of its own."""

    from_: float = row(STATION, "station where the stretch begins", "200 m", needed=True)
    to: float = row(STATION, "station where it ends", "260 m", needed=True)
    kind: str = row(
        text(80), "class of the ground, as `[prices]` `ground` names it", "rock", needed=True
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TrenchSettings:
    """[trench]: lengths in m, grades as rise over plan length; None: the trade's default."""

    cover: float | None = row(
        _COVER,
        "least depth, ground to crown",
        "0.9 m",
        without="0.46, 0.61 or 0.76 m by pipe size",
        page=("Least cover", "ground to crown"),
    )
    max_depth: float | None = row(
        _DEPTH,
        "greatest depth, ground to trench bottom",
        "1.8 m",
        without="1.2 m",
        page=("Greatest depth", "to trench bottom"),
    )
    bedding: float = row(
        quantity("length", "0 m", "2 m"),
        "bedding under the pipe",
        "0.15 m",
        "0.1 m",
        page=("Bedding", "under the pipe"),
    )
    min_grade: float = row(
        _GRADE,
        "least rising grade, rise over plan length",
        0.003,
        0.002,
        page=("Least rising grade", "rise over length"),
    )
    min_grade_falling: float | None = row(
        _GRADE,
        "least falling grade, away from an air valve",
        0.0033,
        without="5/3 of `min_grade`, so 1:300",
        page=("Least falling grade", ""),
    )
    break_price: float | None = row(
        quantity("volume", "0 m3", "1000 m3"),
        "digging that one break of grade may save: a higher price gives longer straights",
        "1 m3",
        without="0.5 m3 for fused or coiled pipe, 2 m3 for jointed",
        page=("A break is worth", ""),
    )
    least_piece: float | None = row(
        quantity("length", "0.5 m", "100 m"),
        "shortest straight of the pipe as laid",
        "6 m",
        without="one stick of jointed pipe, 3 m of polyethylene",
        page=("Shortest straight", ""),
    )
    bench_width: float = row(
        quantity("length", "0 m", "20 m"),
        "width of the bench that a machine digs for itself on ground that slopes across the line",
        "2.5 m",
        "1.5 m",
    )
    bench_from: float = row(
        number(0.02, 2.0),
        "slope across the line above which a bench is dug, rise over run",
        0.25,
        0.2,
        page=("Bench where steeper than", ""),
    )
    bench_face: float = row(
        number(0.2, 20.0), "slope of the face that is cut for it, rise over run", 1.0, 2.0
    )
    steepest_ground: float | None = row(
        number(0.02, 20.0),
        "slope of the ground, in its steepest direction, that the line must stay off",
        0.9,
        without="no ground is too steep",
    )
    limit: tuple[LimitSettings, ...] = row(
        tables(LimitSettings, _forward),
        "depth and cover of a stretch, as where it may be dug deeper",
        [{"from": "120 m", "to": "180 m", "max_depth": "2.2 m"}],
        without="the whole line keeps to the same limits",
    )
    ground: tuple[GroundSettings, ...] = row(
        tables(GroundSettings, _forward),
        "stretches of ground of another class, such as rock, for the bill of quantities",
        [{"from": "200 m", "to": "260 m", "kind": "rock"}],
        without="all ground is of one class",
    )
    span: tuple[SpanSettings, ...] = row(
        tables(SpanSettings, _forward),
        "stretches above ground, as on a bridge",
        [{"from": "310 m", "to": "342 m"}],
        without="none: the pipe is buried all along",
    )

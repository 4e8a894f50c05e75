"""What crosses the HTTP face of streams and catchments."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from api.schemas import Answer, Body, Finite
from api.search_schemas import Place

__all__ = ["CatchmentIn", "CatchmentOut", "StreamsOut"]

Area = Annotated[Finite, Field(ge=100.0, le=1e11)]
"""An area on the ground [m2]."""


class CatchmentIn(Body):
    """Of which place the catchment is asked."""

    at: Place = Field(description="Longitude, latitude, WGS 84.")
    snap_m: Annotated[Finite, Field(ge=0.0, le=2000.0)] | None = Field(
        default=None, description="Farthest way to a stream; else two cells, 25 m at least [m]."
    )
    threshold_m2: Area = Field(
        default=1e5, description="Least catchment of what counts as a stream [m2]."
    )
    crs: Annotated[str, Field(max_length=4000)] | None = Field(
        default=None, description="Coordinate system, over what the raster states."
    )


class OutlineOut(Answer):
    """A GeoJSON geometry along the edges of cells."""

    type: Literal["MultiPolygon"]
    coordinates: list[list[list[Annotated[list[Finite], Field(min_length=2, max_length=2)]]]]


class CatchmentOut(Answer):
    """What drains to a place."""

    area_m2: Finite = Field(description="Area on the ellipsoid [m2].")
    at_least: bool = Field(description="Whether the raster may not hold all of it.")
    snapped_m: Finite = Field(description="Way to the stream's cell, 0 in it [m].")
    on_stream: bool = Field(description="Whether a stream lies within reach.")
    rival_m2: Finite | None = Field(
        description="Catchment of a stream twice as large that also lies within reach [m2]."
    )
    method: Literal["d8"]
    lon: Finite = Field(description="Longitude of the cell that was taken [deg].")
    lat: Finite = Field(description="Its latitude [deg].")
    outline: OutlineOut


class StreamProperties(Answer):
    """What is known of a stretch of a stream."""

    area_m2: Finite = Field(description="Catchment at its lower end [m2].")
    at_least: bool = Field(description="Whether the raster may not hold all of it.")
    order: int = Field(ge=1, description="Strahler's order.")


class StreamGeometry(Answer):
    """A line downstream."""

    type: Literal["LineString"]
    coordinates: Annotated[
        list[Annotated[list[Finite], Field(min_length=2, max_length=2)]], Field(min_length=2)
    ]


class StreamFeature(Answer):
    """A stretch from a head or a confluence to the next confluence or the raster's edge."""

    type: Literal["Feature"]
    geometry: StreamGeometry
    properties: StreamProperties


class StreamsOut(Answer):
    """The streams of a terrain as GeoJSON (RFC 7946)."""

    type: Literal["FeatureCollection"]
    threshold_m2: Finite = Field(description="Least catchment of the streams told [m2].")
    truncated: bool = Field(description="Whether only the greatest are told, as there are more.")
    features: list[StreamFeature]

"""What crosses the HTTP face of the search: two places, a terrain, settings."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import ConfigDict, Field, WithJsonSchema

from api.schemas import POSITION, Body, Finite, Identity, SettingsJson

__all__ = ["ScreenIn", "SearchIn"]

PLACE: dict[str, Any] = {**POSITION, "maxItems": 2, "examples": [[-16.0697, 47.298]]}
Degrees = Annotated[Finite, Field(ge=-540.0, le=540.0)]
Place = Annotated[
    tuple[Degrees, Annotated[Finite, Field(ge=-90.0, le=90.0)]], WithJsonSchema(PLACE)
]
Stretch = Annotated[
    tuple[Place, Place],
    WithJsonSchema({"type": "array", "items": PLACE, "minItems": 2, "maxItems": 2}),
]
End = Place | Stretch
Terrains = Identity | Annotated[list[Identity], Field(min_length=1, max_length=64)]


class ScreenIn(Body):
    """Which terrain is screened, and by what."""

    terrain: Terrains = Field(
        description="A terrain's id, or several ids whose rasters are tiles of one terrain."
    )
    settings: SettingsJson

    @property
    def terrains(self) -> tuple[str, ...]:
        """The ids of all tiles, in order."""
        return (self.terrain,) if isinstance(self.terrain, str) else tuple(self.terrain)


class SearchIn(ScreenIn):
    """Between which places a line is sought."""

    model_config = ConfigDict(validate_by_alias=True)

    start: End = Field(
        alias="from",
        description="The intake: longitude, latitude, WGS 84; or two such places, for anywhere "
        "along the stream between them.",
    )
    end: End = Field(
        alias="to", description="The powerhouse: a place, or two for a stretch of stream."
    )

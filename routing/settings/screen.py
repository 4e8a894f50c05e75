"""[screen]: which plants of a valley are looked at, and by what they are ranked."""

from __future__ import annotations

from collections.abc import Collection

from routing.errors import SettingsError
from routing.settings.readers import choice, number, quantity, whole
from routing.settings.rows import row
from routing.value import dataclass

__all__ = ["ScreenSettings"]

_WAY = quantity("length", "1 m", "50 km")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenSettings:
    """[screen]: limits of the candidates, how they are ranked, how many are studied."""

    spacing: float | None = row(
        _WAY,
        "distance between neighbouring places along a stream",
        "40 m",
        without="four cells of the raster, and 40 m at least",
    )
    least_head: float = row(
        quantity("length", "1 m", "2000 m"), "least fall of a candidate", "20 m", "10 m"
    )
    most_head: float | None = row(
        quantity("length", "1 m", "2000 m"),
        "greatest fall of a candidate",
        "120 m",
        without="what pipe of the catalogue holds",
        page=("Greatest head", ""),
    )
    most_length: float = row(
        _WAY, "longest line of a candidate", "1.5 km", "1 km", page=("Greatest length", "")
    )
    flow_share: float = row(
        number(0.01, 10.0),
        "design flow as share of the mean flow, where that follows from the catchment",
        0.7,
        1.0,
    )
    least_flow: float | None = row(
        quantity("flow", "0 L/s", "100 m3/s"),
        "least design flow of a candidate",
        "5 L/s",
        without="any flow above zero",
    )
    most_road: float | None = row(
        _WAY,
        "greatest distance of the powerhouse from a road of the layers",
        "300 m",
        without="any distance",
        page=("Farthest from a road", ""),
    )
    rank_by: str | None = row(
        choice("worth", "power per cost", "head per length"),
        "what makes one candidate better: yearly worth less yearly cost, power for its cost, head "
        "for its length",
        "power per cost",
        without="worth where energy and pipe are priced, else power per cost where a flow is "
        "known, else head per length",
    )
    top: int = row(
        whole(0, 50),
        "best candidates that get a line and a full study",
        5,
        3,
        page=("Candidates studied", ""),
    )
    sample: int = row(
        whole(0, 500),
        "candidates that are studied to check the ranking by",
        40,
        20,
        page=("Candidates checked", ""),
    )
    shown: int = row(
        whole(1, 10000), "most candidates in the result", 500, 100, page=("Candidates shown", "")
    )
    apart: float = row(
        quantity("length", "0 m", "10 km"),
        "candidates with both ends nearer than this to those of a better one are left out",
        "100 m",
        "150 m",
        page=("Apart by", ""),
    )

    def consistent(self, name: str, given: Collection[str]) -> ScreenSettings:
        """Return the limits, if some head lies within them."""
        if self.most_head is not None and self.most_head < self.least_head:
            raise SettingsError(
                f"{name}.most_head = {self.most_head:g} m is less than {name}.least_head = "
                f"{self.least_head:g} m.",
                "Raise the first or lower the second.",
            )
        return self

"""What a survey says about the raster: points that disagree, and slips that they all share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.finding import Finding
from routing.survey.place import SAME_STATION_M, PlacedSurvey
from routing.units import FOOT

__all__ = ["ASSUMED_RMSE_M", "disagreeing", "survey_findings"]

ASSUMED_RMSE_M: Final = 1.0
"""Error of a raster that states none, for telling disagreement [m]; common practice, no source."""

CONFIDENCE: Final = 1.96
"""Standard errors that 95 % of differences keep within [-]; the normal distribution."""

NAMED_AT_MOST: Final = 50
LEAST_FOR_OFFSET: Final = 3
LEAST_FOR_UNIT: Final = 2


def disagreeing(survey: PlacedSurvey, rmse_m: float | None) -> tuple[BoolArray, FloatArray]:
    """Return which points miss the raster by more than both errors allow, and what is allowed [m].

    Allowed are 1.96 times the root of the sum of squares of the raster's error and the point's.
    """
    error = np.array([point.error_m for point in survey.points])
    allowed = CONFIDENCE * np.hypot(ASSUMED_RMSE_M if rmse_m is None else rmse_m, error)
    difference = survey.difference_m
    with np.errstate(invalid="ignore"):
        wrong = np.abs(difference) > allowed
    return wrong, allowed


def survey_findings(survey: PlacedSurvey, rmse_m: float | None) -> tuple[Finding, ...]:
    """Return the warnings on a survey: slips, points that disagree, points not used."""
    wrong, allowed = disagreeing(survey, rmse_m)
    judged = ~np.isnan(survey.raster_m)
    slip = _slip(survey, judged, wrong, allowed)
    findings = [slip] if slip is not None else _one_by_one(survey, wrong, allowed, rmse_m)
    return (*findings, *_unused(survey), *_repeated(survey))


def _slip(
    survey: PlacedSurvey, judged: BoolArray, wrong: BoolArray, allowed: FloatArray
) -> Finding | None:
    """Return the finding on points that all miss the raster in the same way, if they do."""
    count = int(judged.sum())
    if count < LEAST_FOR_UNIT or not wrong[judged].all():
        return None
    difference, raster = survey.difference_m[judged], survey.raster_m[judged]
    limit = allowed[judged]
    level = raster + difference
    for ratio, words, remedy in (
        (
            1.0 / FOOT,
            "The survey looks like feet where the raster is in metres",
            'Set unit = "ft" under [survey], or correct unit under [terrain].',
        ),
        (
            FOOT,
            "The raster looks like feet read as metres",
            'Set unit = "ft" under [terrain], or correct unit under [survey].',
        ),
    ):
        if np.all(np.abs(level - ratio * raster) <= limit * max(ratio, 1.0)):
            return Finding(
                code="survey_offset_alike",
                severity="fault",
                message=f"All {count} surveyed points are {ratio:.4f} times the raster. {words}. "
                f"{remedy}",
            )
    middle = float(np.median(difference))
    if count < LEAST_FOR_OFFSET or np.any(np.abs(difference - middle) > limit):
        return None
    side = "above" if middle > 0.0 else "below"
    return Finding(
        code="survey_offset_alike",
        severity="fault",
        message=f"All {count} surveyed points lie about {abs(middle):.2f} m {side} the raster, "
        f"give or take {float(np.ptp(difference)) / 2.0:.2f} m: they are probably measured from "
        "another vertical datum or bench mark (heights over the ellipsoid and over the sea differ "
        "by up to about 100 m). Bring both to one datum before the heads are believed.",
    )


def _one_by_one(
    survey: PlacedSurvey, wrong: BoolArray, allowed: FloatArray, rmse_m: float | None
) -> list[Finding]:
    """Return a warning for each point that disagrees with the raster."""
    places = np.flatnonzero(wrong)
    stated = "as stated" if rmse_m is not None else f"{ASSUMED_RMSE_M:g} m assumed"
    findings = []
    for at in places[:NAMED_AT_MOST]:
        difference = float(survey.difference_m[at])
        findings.append(
            Finding(
                code="survey_disagrees",
                severity="warning",
                message=f"{_called(survey, int(at))} is {abs(difference):.2f} m "
                f"{'above' if difference > 0 else 'below'} the raster; {allowed[at]:.2f} m would "
                f"be within both errors (raster: {stated}). Check the reading and the place; the "
                "survey was used.",
                station_m=float(survey.station_m[at]),
            )
        )
    if places.size > NAMED_AT_MOST:
        more = places.size - NAMED_AT_MOST
        findings.append(
            Finding(
                code="survey_disagrees",
                severity="warning",
                message=f"{more} further surveyed points disagree with the raster; see the "
                "survey's list.",
            )
        )
    return findings


def _unused(survey: PlacedSurvey) -> list[Finding]:
    """Return a warning for each reason why points were not used."""
    reasons = {
        "too far off": f"lie {survey.fade_m:g} m or more from the line",
        "off the end": "lie beyond the ends of the line",
        "no ground there": "lie beside the line where the raster has no elevation",
    }
    findings = []
    for use, words in reasons.items():
        places = [at for at, entry in enumerate(survey.use) if entry == use]
        if places:
            findings.append(
                Finding(
                    code="survey_point_unused",
                    severity="warning",
                    message=f"{len(places)} surveyed point(s) {words} and were not used: "
                    f"{_listed(survey, places)}. Check their places.",
                    station_m=float(survey.station_m[places[0]]),
                )
            )
    return findings


def _repeated(survey: PlacedSurvey) -> list[Finding]:
    """Return a note where several points on the line fell together."""
    on_line = [at for at, entry in enumerate(survey.use) if entry == "on the line"]
    together = int(np.sum(np.diff(np.sort(survey.station_m[on_line])) <= SAME_STATION_M))
    if together <= 0:
        return []
    return [
        Finding(
            code="survey_repeated",
            severity="note",
            message=f"{together} surveyed point(s) stand where another one does; the mean, "
            "weighted by accuracy, was taken.",
        )
    ]


def _called(survey: PlacedSurvey, at: int) -> str:
    """Return how messages call a point."""
    point = survey.points[at]
    name = f" ({point.name[:40]})" if point.name else ""
    return f"The surveyed point at station {survey.station_m[at]:.1f} m{name}"


def _listed(survey: PlacedSurvey, places: Sequence[int]) -> str:
    """Return points by name or label, the first few."""
    names = [survey.points[at].name or survey.points[at].label for at in places[:5]]
    more = f" and {len(places) - 5} more" if len(places) > 5 else ""
    return ", ".join(name[:60] for name in names) + more

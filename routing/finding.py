"""Warnings as values: what a study says about itself without stopping."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Literal

from routing.value import dataclass

__all__ = ["FINDING_CODES", "SEVERITIES", "Finding", "Severity", "by_cause"]

Severity = Literal["fault", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("fault", "warning", "note")
"""From worst to least: must not be built so; hangs on something to settle; worth knowing."""

FINDING_CODES: Mapping[str, str] = MappingProxyType(
    {
        # terrain and line
        "unit_assumed": "Nothing states the vertical unit of the raster; metres were assumed.",
        "unit_doubtful": "Nothing states the vertical unit, and the map's own unit is feet.",
        "unit_overridden": "The settings' vertical unit was used instead of the file's own.",
        "crs_overridden": "The settings' coordinate system was used instead of the file's own.",
        "datum_unknown": "Nothing states the vertical datum of the raster.",
        "datum_shift_coarse": "The raster's horizontal datum is tied to WGS 84 only roughly.",
        "bands_several": "The raster has several bands, one of which was read as elevations.",
        "elevation_bytes": "The band holds whole numbers from 0 to 255, as pictures do.",
        "coarse_terrain": "The raster's cell is coarse for a trench; the profile is interpolated.",
        "stair_steps": "The raster holds whole units, so gentle ground shows as stairs.",
        "accuracy_typical": "The kind of elevation data is known, and so its usual error.",
        "surface_model": "The raster holds treetops and roofs, not the ground alone.",
        "terrain_changes": "The line passes from one raster's cells to another's.",
        "zero_block": "The ground falls to exactly zero beside high ground: a damaged part.",
        "cliff": "The ground steps like a cliff within one cell of the raster.",
        "gap_bridged": "Missing elevation on the line was bridged straight, as allowed.",
        "no_go_crossed": "The line crosses an area that the settings say it must not.",
        "consent_missing": "The line crosses what has an owner, and no consent is named.",
        "bed_cover": "The pipe lies too near the bed of a stream.",
        "road_cover": "The pipe lies too near the surface of a road.",
        "crossing_acute": "A road or stream is crossed at a sharp angle.",
        "runs_along": "The line runs along the edge of a road, stream or service.",
        "service_near": "The pipe lies too near a buried service.",
        "line_crosses_itself": "The line crosses itself.",
        "points_dropped": "Repeated points of the drawn line were dropped.",
        "track_cleaned": "Spikes and places of standing still were taken out of a walked track.",
        "line_looks_walked": "The line has the knots or spikes of a walked track; they were kept.",
        "line_drawn_uphill": "The ground rises along the line: it may be drawn the other way.",
        "line_reversed": "The line was taken from its other end, as the settings say.",
        "survey_disagrees": "A surveyed point lies further from the raster than both errors allow.",
        "survey_offset_alike": "All surveyed points miss the raster alike: a datum or unit slip.",
        "survey_point_unused": "A surveyed point was not used: too far off, or no ground there.",
        "survey_repeated": "Several surveyed points stand at one place of the line.",
        "survey_level_unused": "A surveyed level gave way to one in the settings.",
        "survey_datum_mixed": "Survey and raster state different vertical datums.",
        "steep_profile": "The mean grade is beyond 100 %: check the raster's vertical unit.",
        # trench and pipe as laid
        "pipe_assumed": "No pipe was given; an outside diameter was assumed for the trench.",
        "cover_governs": "Cover, pipe and bedding need more depth than the limit allows.",
        "built_new_turn": "The pipe as built has a summit or sag that the plan has not.",
        "built_off_line": "The pipe as built does not lie where the line was drawn.",
        "built_off_level": "The pipe as built does not lie at the levels of the plan.",
        "grade_below_least": "The least grade cannot be kept within the trench limits.",
        "depth_for_people": "The trench is deeper than people may enter unshored in some places.",
        "bench_needed": "The ground slopes so much across the line that a bench is dug first.",
        "bench_fails": "The ground slopes across the line as steeply as a cut stands.",
        "ground_too_steep": "The line crosses ground that is steeper than the settings allow.",
        "span_below_ground": "An above-ground span would cut into the ground.",
        "span_outside_line": "A span reaches beyond the line.",
        "limit_outside_line": "Limits of a stretch of the trench reach beyond the line.",
        # levels
        "uphill": "The outlet lies above the intake.",
        "no_fall": "Intake and outlet lie level.",
        "above_intake": "The pipe rises above the intake's water level.",
        "siphon": "The flowing pressure at a point of the pipe is below that of the air.",
        "low_pressure": "The flowing pressure at a summit is too low to seal a valve.",
        # pipe
        "over_rating": "The static pressure is above the pipe's rating.",
        "no_rating": "A pipe without a pressure rating cannot be checked.",
        "nominal_bore": "The inside diameter looks like a nominal size.",
        "diameters_mixed": "Pipes of different outside diameter families meet.",
        "rating_derated": "The rating was reduced for temperature.",
        "temperature_high": "The water is warm enough for plastic pipe to need a lower rating.",
        "catalogue_memory": "A catalogue value was not seen in its source; confirm it.",
        # flow
        "flow_exceeds": "The design flow is more than the pipe can carry.",
        "velocity_high": "The velocity is above the makers' caution.",
        "velocity_low": "The velocity is too low to carry sediment and air.",
        "hazen_williams_apart": "The cross-check after Hazen and Williams differs.",
        "transition_flow": "The flow lies between laminar and turbulent.",
        "loss_high": "More of the head is lost than is wise.",
        "flow_without_pipe": "A design flow was given but no pipe; nothing flows.",
        "efficiency_assumed": "No efficiency was given; one was assumed.",
        # anchors
        "soil_unknown": "No soil was named; blocks were sized for the weakest usual ground.",
        "soil_no_bearing": "The ground beside a bend bears nothing; a block there holds nothing.",
        "bend_sharp": "The line turns more sharply than one fitting makes.",
        "block_wide": "A block would be wider than is well dug and cast.",
        "block_shallow": "A block lies shallower than the tables of soils hold for.",
        "anchors_apart": "Slope anchors stand further apart than the standard asks.",
        "slope_anchors": "The pipe lies so steep that it must be anchored.",
        "slope_steep": "The pipe lies steeper than can well be laid and anchored.",
        "arc_leaves_trench": "A curve of the pipe at a break leaves least cover or greatest depth.",
        "turn_cannot_be_made": "No fitting and joint together make a turn of the line.",
        "pipe_floats": "An empty pipe would float up through its cover.",
        "span_structure": "A pipe bridge is a structure for a licensed engineer.",
        "span_ropes": "A span hangs from ropes, whose pull towers and anchors must hold.",
        "span_fails": "A span is too long for its stress, sag, swing or supports.",
        "span_long": "Supports stand further apart than published practice.",
        "span_unchecked": "Nothing is known of the stress that a span's material bears.",
        "span_plastic": "Plastic pipe lies open to sun, frost and stones.",
        "span_expansion": "A span needs expansion joints.",
        # surge
        "column_separation": "In a surge the water would part and its cavities slam shut.",
        "surge_peaks_unreliable": "Surge peaks after the water has parted are not reliable.",
        "surge_not_followed": "Unlike pipes meet, and the waves between them were not followed.",
        "closing_too_fast": "The outlet closes too fast for the line.",
        "closure_instant": "A closing time of zero or less was taken as instant.",
        "wave_speed_adjusted": "A wave speed was changed so that all pipes share a time step.",
        "plastic_stiff_when_cold": "Plastic pipe in cold water is stiffer than tables have it.",
        # fittings
        "vent_too_tall": "An open vent is taller than one can stand, even guyed.",
        "vents_folded": "Published practice advises vents that would save nothing measurable.",
        "bend_near_fitting": "A bend stands nearer to a vent or drain than a tee wants.",
        "air_trapped": "Trapped air would stop the line from filling.",
        "air_slows_filling": "Trapped air would slow the filling.",
        "levels_settled": "Levels on the ground settled which doubtful summits and sags are there.",
        "summit_doubtful": "A summit is smaller than the raster's error.",
        "drain_needs_pump": "A sag may have no place to drain to by gravity.",
        "drain_jet": "Water leaves a drain with much energy.",
        "vent_overtopped": "With the outlet blocked at once an open vent would spill.",
        "vent_may_leak": "The pressure is too low to shut an air valve.",
        "vent_too_narrow": "A vent would have to be wider than the pipe it stands on.",
        "vacuum_unknown": "The pipe's stiffness is not known; a small vacuum was taken.",
        "drain_faster_than_vents": "A drain wide open is faster than the vents let air in.",
        "drain_slow": "No drain up to the pipe's own bore empties a stretch in the wanted time.",
        "drain_cannot_flush": "The line does not bring a drain the flow that flushes.",
        "relief_cannot_be_set": "No setting of a relief valve serves both rest and protection.",
        "relief_lifts": "A relief valve is set so low that it opens at rest or at every stop.",
        "relief_too_high": "A relief valve is set above what the weakest pipe bears.",
        "relief_too_small": "The relief valves are too small for the machine's flow or the pipe.",
        "frost_unknown": "Nothing is known of the frost; its depth must be asked for.",
        "cover_in_frost": "Frost reaches the buried pipe.",
        "span_freezes": "Water in a pipe above ground would freeze.",
        # intake and water
        "gauging_outside_range": "A weir or notch was read outside the range of its formula.",
        "vortex": "The pipe's mouth lies so shallow that a vortex may draw air.",
        "mouth_too_shallow": "The pipe's mouth lies above the least depth below the water.",
        "storage_small": "The intake holds too little water to open the machine.",
        "residual_missing": "No residual flow was given, and none is assumed.",
        "screen_loss_missing": "No head lost in a dirty screen was given.",
        "bars_wide": "The bars of the screen stand further apart than the machine can bear.",
        "bars_unjudged": "There is no rule for the bars before this kind of machine.",
        "crest_narrow": "The overflow crest does not pass the flow when the machine trips.",
        "residual_first": "The stream does not give the residual flow and the design flow.",
        "residual_low": "The residual flow is a small share of the mean annual flow.",
        "screen_small": "The screen is smaller than the flow needs when dirty.",
        "grains_stay": "Grains of the size to be caught would not settle, or not be flushed.",
        "record_short": "The record of flows is shorter than two years.",
        "catchment_at_least": "The raster does not hold the whole catchment of the intake.",
        "catchment_no_stream": "The raster shows no stream near the intake.",
        "catchment_rival": "A greater stream also lies near the intake.",
        "catchment_later": "The catchment was left out while the line is dragged.",
        "flow_guessed": "The flow at the intake was not measured there.",
        "area_ratio_far": "The gauged place has a much larger or smaller catchment.",
        "energy_not_estimated": "Without a record of flows the yearly energy is not estimated.",
        # strength and choice
        "class_exceeded": "Static pressure and surge are more than the pipe's class allows.",
        "surge_factor_high": "The user's own surge factor is above that of the pipe's standard.",
        "rating_too_high": "A pressure rating by hand is more than wall and material can bear.",
        "test_over_class": "The test pressure is above what a stretch of the line may bear.",
        "no_class_holds": "No pipe on offer holds the pressure here.",
        "adapter_needed": "Pipes of different outside diameter families were chosen to meet.",
        "vacuum_collapse": "A vacuum could flatten the pipe.",
        "vents_must_work": "The pipe withstands a vacuum only as long as its vents work.",
        "subatmospheric": "When the water is stopped the pressure falls below that of the air.",
        "gentle_then_steep": "The line starts gently and then steepens: the column may part.",
        "choice_not_proved": "The choice of pipes is good, but was not proved to be the best.",
    }
)
"""Every code a study may carry, with what it means in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One cause: its code, how bad it is, a sentence with remedy, and where.

    ``station_m`` is the worst place, None for the line as a whole; ``places_m`` are all of them
    where there are several. ``margin`` is that of the failed check it was made from, None where it
    stands alone.
    """

    code: str
    severity: Severity
    message: str
    station_m: float | None = None
    margin: float | None = None
    places_m: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.code not in FINDING_CODES:
            raise KeyError(f"finding code {self.code!r} is not in FINDING_CODES")
        if self.severity not in SEVERITIES:
            raise KeyError(f"severity {self.severity!r} is none of {SEVERITIES}")


def by_cause(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return one finding for each cause, faults first, then warnings, then notes.

    Findings of one code and severity that have a place are one cause: the worst one (least margin,
    else the first) speaks, and ``places_m`` names all places. Findings without a place stay apart.

    >>> low = [Finding(code="low_pressure", severity="warning", message=f"{m} m", station_m=s,
    ...                margin=m) for s, m in ((10.0, -0.2), (50.0, -0.6))]
    >>> [(each.message, each.places_m) for each in by_cause(low)]
    [('-0.6 m', (10.0, 50.0))]
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for number, finding in enumerate(findings):
        alone = number if finding.station_m is None else None
        groups.setdefault((finding.code, finding.severity, alone), []).append(finding)
    causes = [_one(group) for group in groups.values()]
    return tuple(sorted(causes, key=lambda cause: SEVERITIES.index(cause.severity)))


def _one(group: list[Finding]) -> Finding:
    if len(group) == 1:
        return group[0]
    worst = min(group, key=lambda each: 0.0 if each.margin is None else each.margin)
    places = {place for each in group for place in (each.station_m, *each.places_m)}
    return replace(worst, places_m=tuple(sorted(place for place in places if place is not None)))

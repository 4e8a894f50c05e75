"""Settings turned into the values that the rooms take: pipes, trench limits, levels."""

from __future__ import annotations

import dataclasses

from routing.errors import PipeError, SettingsError
from routing.finding import Finding
from routing.laid_line import Levels
from routing.line import GroundProfile, Route, clean_track, crossing_findings, looks_walked
from routing.pipe import (
    Pipe,
    PipeSchedule,
    load_catalogue,
    pipe_by_hand,
    with_jointing,
    with_roughness,
)
from routing.settings import PipeSettings, Settings, StudySettings, TrenchSettings
from routing.survey import PlacedSurvey
from routing.trench import (
    DEFAULT_MAX_DEPTH_M,
    LaidPipe,
    LimitStretch,
    Span,
    TrenchLimits,
    least_cover_m,
    usual_break,
)

__all__ = [
    "ASSUMED_DIAMETER_M",
    "assumed_pipe_finding",
    "find_levels",
    "find_limits",
    "find_line",
    "find_pipes",
    "find_spans",
    "line_findings",
    "stations_named",
]

PIPE_AS_LAID = "centreline of the pipe as laid"
"""Source of an outlet's level that nothing else gives."""
ASSUMED_DIAMETER_M = 0.2
"""Outside diameter that the trench is made for where no pipe is given [m]."""
FALLING_OVER_RISING = 5.0 / 3.0
"""Least falling over least rising grade: 1:300 away from an air valve against 1:500 towards it, an
engineer's practice seen second-hand."""


def find_line(route: Route, study: StudySettings) -> Route:
    """Return the line to study: a walked one cleaned, and taken from the other end if so told."""
    clean = route.recorded if study.clean is None else study.clean
    line = clean_track(route) if clean else route
    findings = list(line.findings)
    if study.clean is None and looks_walked(line):
        findings.append(
            Finding(
                code="line_looks_walked",
                severity="note",
                message="The line has knots or jumps as a walked track has; a drawn line is never "
                "cleaned unasked. Set clean = true under [study] to take them out.",
            )
        )
    if study.reverse:
        line = line.reversed()
        findings.append(
            Finding(
                code="line_reversed",
                severity="note",
                message="The line was taken from its other end, as reverse under [study] says.",
            )
        )
    return dataclasses.replace(line, findings=tuple(findings))


def line_findings(line: Route, profile: GroundProfile) -> tuple[Finding, ...]:
    """Return what was done to the line, where it crosses itself, and whether it runs uphill."""
    findings = [*line.findings, *crossing_findings(profile)]
    rise = float(profile.ground_m[-1] - profile.ground_m[0])
    if rise > 0.0:
        findings.append(
            Finding(
                code="line_drawn_uphill",
                severity="warning",
                message=f"The ground at the end of the line is {rise:.1f} m higher than at its "
                "start, where the intake is taken to be. If it was drawn from the outlet up, set "
                "reverse = true under [study], or leave that out if it is set.",
            )
        )
    return tuple(findings)


def find_pipes(settings: Settings) -> list[tuple[float, Pipe]]:
    """Return the start [m] and the pipe of each [[pipe]] table, in order of start."""
    site = settings.site
    entries = []
    for i, entry in enumerate(settings.pipe):
        allowance = entry.joint_allowance
        joined = with_jointing(
            _pipe(entry, f"pipe[{i}]"),
            joint=entry.joint or site.joint,
            allowance_deg=site.joint_allowance if allowance is None else allowance,
            stick_m=entry.stick,
        )
        entries.append((entry.from_, joined))
    return sorted(entries, key=lambda entry: entry[0])


def _pipe(entry: PipeSettings, name: str) -> Pipe:
    by_hand = entry.inside_diameter is not None or entry.wall is not None
    chosen = entry.nominal is not None or entry.series is not None or entry.standard is not None
    if sum((entry.catalogue is not None, by_hand, chosen)) > 1:
        raise PipeError(
            f"{name} mixes a catalogue pipe with dimensions by hand.",
            "Give catalogue alone, or material with nominal and series, or material with "
            "inside_diameter and wall.",
        )
    if entry.catalogue is not None:
        pipe = load_catalogue().find(entry.catalogue)
    elif chosen:
        pipe = _choose(entry, name)
    elif by_hand:
        return _by_hand(entry, name)
    else:
        raise PipeError(
            f"{name} names no pipe.",
            'Give catalogue = "PE100-SDR17-200", or material, inside_diameter and wall.',
        )
    return pipe if entry.roughness is None else with_roughness(pipe, entry.roughness)


def _choose(entry: PipeSettings, name: str) -> Pipe:
    found = load_catalogue().select(
        material=entry.material,
        standard=entry.standard,
        nominal=entry.nominal,
        series=entry.series,
    )
    if len(found) == 1:
        return found[0]
    words = [entry.material, entry.standard, entry.nominal, entry.series]
    asked = ", ".join(word for word in words if word is not None)
    if not found:
        raise PipeError(
            f"{name}: the catalogue has no pipe for {asked}.",
            "Loosen one of the words, or give the pipe by hand.",
        )
    ids = ", ".join(str(pipe.id) for pipe in found[:5])
    raise PipeError(
        f"{name}: {asked} fits {len(found)} pipes of the catalogue ({ids}"
        f"{', ...' if len(found) > 5 else ''}).",
        "Add nominal, series or standard until one is left, or give its catalogue id.",
    )


def _by_hand(entry: PipeSettings, name: str) -> Pipe:
    for key in ("material", "inside_diameter", "wall"):
        if getattr(entry, key) is None:
            raise PipeError(
                f"{name} has no {key}.",
                "A pipe given by hand needs material, inside_diameter and wall.",
            )
    assert entry.material is not None
    assert entry.inside_diameter is not None
    assert entry.wall is not None
    return pipe_by_hand(
        material=entry.material,
        inside_diameter_m=entry.inside_diameter,
        wall_m=entry.wall,
        rating_pa=entry.pressure_rating,
        rating_reference_c=entry.rating_temperature,
        roughness_m=entry.roughness,
    )


def find_spans(trench: TrenchSettings) -> tuple[Span, ...]:
    """Return the above-ground stretches; one that hangs must say how far apart its hangers are."""
    for i, span in enumerate(trench.span):
        if span.rope_sag is not None and span.support_spacing is None:
            raise SettingsError(
                f"trench.span[{i}] hangs from ropes, but says nothing of its hangers.",
                'Give the distance between them as support_spacing, such as "3 m".',
            )
    return tuple(
        Span(
            from_m=span.from_,
            to_m=span.to,
            support_spacing_m=span.support_spacing,
            rope_sag_m=span.rope_sag,
        )
        for span in trench.span
    )


def find_limits(
    trench: TrenchSettings, outside_diameter_m: float, schedule: PipeSchedule | None = None
) -> tuple[TrenchLimits, tuple[str, ...]]:
    """Return the trench's limits, and in words what was assumed.

    Breaks of grade and straights are those usual for the pipes; the dearest where they differ.
    """
    assumed = []
    cover, depth = trench.cover, trench.max_depth
    if cover is None:
        cover = least_cover_m(outside_diameter_m)
        assumed.append(
            f"Cover {cover:g} m, usual over a pipe of {outside_diameter_m * 1000:.0f} mm "
            "(NRCS practice standard 430, from memory); frost or roads may need more."
        )
    if depth is None:
        depth = DEFAULT_MAX_DEPTH_M
        assumed.append(
            f"Greatest trench depth {depth:g} m, the strictest of three national limits for an "
            "unshored trench that people enter (British Columbia)."
        )
    falling = trench.min_grade_falling
    if falling is None:
        falling = trench.min_grade * FALLING_OVER_RISING
    usual = [usual_break(fused=True, stick_m=0.0)]
    if schedule is not None:
        found = [run.pipe.jointing for run in schedule.runs]
        usual = [
            usual_break(fused=each.joint.name == "fused", stick_m=each.stick_m) for each in found
        ]
    price, least = trench.break_price, trench.least_piece
    usual_price = max(usual)[0]
    if price is None:
        price = usual_price
        assumed.append(
            f"One break of grade is worth {price:g} m3 of digging (our own estimate); "
            "trench.break_price changes it."
        )
    if least is None:
        least = max(piece for _, piece in usual)
        assumed.append(
            f"Straights of {least:g} m at least, where no high or low point needs shorter ones "
            "(our own estimate)."
        )
    limits = TrenchLimits(
        outside_diameter_m=outside_diameter_m,
        cover_m=cover,
        max_depth_m=depth,
        bedding_m=trench.bedding,
        min_grade=trench.min_grade,
        min_grade_falling=falling,
        stretches=tuple(
            LimitStretch(
                from_m=each.from_, to_m=each.to, max_depth_m=each.max_depth, cover_m=each.cover
            )
            for each in trench.limit
        ),
        break_price_m3=price,
        usual_break_m3=usual_price,
        least_piece_m=least,
    )
    return limits, tuple(assumed)


def stations_named(settings: Settings) -> list[float]:
    """Return the stations where the settings name an end or a place, so that the line has them."""
    trench = settings.trench
    return [
        *(entry.from_ for entry in settings.pipe if entry.from_ > 0.0),
        *(end for each in trench.span for end in (each.from_, each.to)),
        *(end for each in trench.limit for end in (each.from_, each.to)),
        *(end for each in trench.ground for end in (each.from_, each.to)),
        *(valve.at for valve in settings.valve),
        *(branch.at for branch in settings.branch),
        *(tap.at for tap in settings.tap),
        *(one.at for one in settings.relief if one.at is not None),
    ]


def find_levels(
    settings: Settings, pipe: LaidPipe, survey: PlacedSurvey | None
) -> tuple[Levels, tuple[Finding, ...]]:
    """Return the levels at both ends from the settings, the survey and the ground there.

    A surveyed level that the settings' own outweighs is told.
    """
    intake, outlet = settings.intake, settings.outlet
    shot = {end: None if survey is None else survey.level_m(end) for end in ("intake", "outlet")}
    if intake.level is not None:
        intake_m, intake_source = intake.level, "as given"
    elif shot["intake"] is not None:
        intake_m = shot["intake"] + intake.level_above_ground
        intake_source = f"surveyed point intake {intake.level_above_ground:+.2f} m"
    else:
        intake_m = float(pipe.ground_m[0]) + intake.level_above_ground
        intake_source = f"ground at the start of the line {intake.level_above_ground:+.2f} m"
    if outlet.level is not None:
        outlet_m, outlet_source = outlet.level, "as given"
    elif shot["outlet"] is not None:
        outlet_m = shot["outlet"] + (outlet.level_above_ground or 0.0)
        outlet_source = f"surveyed point outlet {outlet.level_above_ground or 0.0:+.2f} m"
    elif outlet.level_above_ground is not None:
        outlet_m = float(pipe.ground_m[-1]) + outlet.level_above_ground
        outlet_source = f"ground at the end of the line {outlet.level_above_ground:+.2f} m"
    else:
        outlet_m, outlet_source = float(pipe.pipe_m[-1]), PIPE_AS_LAID
    levels = Levels(
        intake_m=intake_m,
        outlet_m=outlet_m,
        intake_source=intake_source,
        outlet_source=outlet_source,
    )
    given = {"intake": intake.level, "outlet": outlet.level}
    return levels, tuple(
        Finding(
            code="survey_level_unused",
            severity="note",
            message=f"The surveyed point {end} has {shot[end]:.2f} m, but level under [{end}] says "
            f"{level:.2f} m; the latter was used. Leave it out to use the survey.",
        )
        for end, level in given.items()
        if level is not None and shot[end] is not None
    )


def assumed_pipe_finding() -> Finding:
    """Return the warning that no pipe was given."""
    return Finding(
        code="pipe_assumed",
        severity="warning",
        message=(
            f"No pipe was given, so the trench assumes an outside diameter of "
            f"{ASSUMED_DIAMETER_M * 1000:.0f} mm and no pressure rating is checked. Give a "
            "[[pipe]] table."
        ),
    )

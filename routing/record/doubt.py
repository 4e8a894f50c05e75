"""How sure the line is, as parts of ``study.json``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from routing.doubt import Question, Shot, exceeded_head_m, limits
from routing.doubt_study import DoubtSide
from routing.fittings import Drain, Vent
from routing.rounding import fields_of
from routing.study import Study

__all__ = ["doubt_sections", "doubt_summary"]


def doubt_summary(side: DoubtSide) -> dict[str, Any]:
    """Return the figures of the summary: the head's error, the summits to expect."""
    expected = None if side.doubt is None else side.doubt.expected
    sd_m, chance = side.gross_head_sd_m, limits().exceeded_chance
    return {
        "gross_head_sd_m": sd_m,
        "gross_head_off_m": None if sd_m is None else exceeded_head_m(sd_m, chance),
        "expected_vents": None if expected is None else {"mean": expected.mean, "sd": expected.sd},
    }


def doubt_sections(study: Study) -> dict[str, Any]:
    """Return the error, what a deeper trench saves, and the levels to take."""
    side = study.doubt
    error, found = side.error, side.doubt
    return {
        "doubt": {
            **fields_of(error, "local_sigma_m long_sigma_m range_m step_m source lowered_from_m"),
            "rough": side.rough,
            "length_excess_m": side.length_excess_m,
            "settled": [_settled(study, each) for each in side.questions],
            "depths": [asdict(offer) for offer in side.depths],
        },
        "levels_to_shoot": [_shot(study, shot) for shot in (() if found is None else found.shots)],
    }


def _settled(study: Study, question: Question) -> dict[str, Any]:
    """Return a question with the fitting that now serves its place, if there still is one."""
    fittings = study.fittings.vents if question.summit else study.fittings.drains
    reach = max(limits().near_cells * study.terrain.cell_m, limits().near_m)
    near = sorted(
        (abs(each.serves_m - question.station_m), each.id)
        for each in fittings
        if each.probability is not None
    )
    return {
        "station_m": question.station_m,
        "turn": "summit" if question.summit else "sag",
        "id": near[0][1] if near and near[0][0] <= reach else None,
        "before": question.before,
        "after": question.after,
        "there": question.answer,
    }


def _shot(study: Study, shot: Shot) -> dict[str, Any]:
    line = study.line
    turns = np.sort(np.concatenate([line.pipe.summits, line.pipe.sags]))
    served = [float(line.station_m[turns[at]]) for at in shot.turns]
    fittings: list[Vent | Drain] = [*study.fittings.vents, *study.fittings.drains]
    ids = [
        each.id
        for station in served
        for each in fittings
        if abs(each.serves_m - station) < 1e-3 and each.probability is not None
    ]
    own = [each.id for each in fittings if abs(each.serves_m - shot.station_m) < 1e-3]
    place = f"at {own[0]}" if own else "at the end of the line"
    at = int(np.argmin(np.abs(line.station_m - shot.station_m)))
    return {
        "station_m": shot.station_m,
        "lon": round(float(line.lon[at]), 9),
        "lat": round(float(line.lat[at]), 9),
        "reason": f"The ground {place} helps to tell whether {' and '.join(ids) or 'it'} "
        "must be built.",
        "settles": ids,
        "gain": shot.gain,
    }

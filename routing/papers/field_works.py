"""The plan of works on the phone: its parts with boxes to tick, and what gauge readings mean."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from routing.papers.document import Document, units_of
from routing.papers.shopping import shopping
from routing.papers.works import ANSWERED, FAULTS, STEPS, works_parts
from routing.papers.works.part import drum
from routing.units import show, unit_of
from routing.works.gauge import full_scale_pa, gauge_error_pa
from routing.works.trade_data import number

__all__ = ["diagnosis_model", "front_model", "test_models", "works_html"]

LONG = " class=long"
"""Cells of sentences, which wrap; figures stay in one line."""
FRONT = (
    "<label class=flow>The gauge at the powerhouse shows now"
    '<input inputmode=decimal autocomplete=off maxlength=12 id="front-gauge"></label>'
    '<p id="front-told" role="status"></p>'
)
"""Box for a reading while the line fills, and what it tells of the water front."""
_ACT = re.compile(r"[WFQ][0-9]+")
_NUMBERS = (
    "gauge_class", "gauge_sigmas", "odds_predicted", "odds_one", "odds_two", "odds_decided",
    "rival_misfit",
)  # fmt: skip


def diagnosis_model(doc: Document) -> dict[str, Any] | None:
    """Return what the page needs to tell what readings mean; None without a plan of works."""
    works, water = doc.get("works"), doc["water"]
    if not works or not works.get("losses"):
        return None
    weight_kpa = float(water["density_kg_m3"]) * float(water["gravity_m_s2"]) / 1e3
    flow = doc.get("flow")
    return {
        "taps": [
            {
                "id": tap["id"],
                "station": tap["station_m"],
                "level": tap["level_m"],
                "scale_m": tap["full_scale_kpa"] / weight_kpa,
                "level_sd": tap["level_sd_m"],
            }
            for tap in doc["taps"]
        ],
        "intake": doc["summary"]["intake_level_m"],
        "range": max(float(doc["summary"]["gross_head_m"]), 1.0),
        "gravity": water["gravity_m_s2"],
        "weight": weight_kpa,
        "design": flow["flow_m3_s"] if flow else None,
        "losses": works["losses"],
        "vents": [[vent["id"], vent["serves_m"]] for vent in doc["vents"]],
        "number": {name: number(name) for name in _NUMBERS},
    }


def front_model(doc: Document) -> dict[str, Any] | None:
    """Return what the page tells the water front by, as columns; None without a plan of works."""
    filling = (doc.get("works") or {}).get("filling") or {}
    rows = filling.get("front")
    if not rows:
        return None
    columns = ("gauge_kpa", "station_m", "level_m", "volume_m3")
    told = {key: [round(float(row[key]), 3) for row in rows] for key in columns}
    return told | {"stages": [[s["id"], s["cumulative_m3"]] for s in filling["stages"]]}


def test_models(doc: Document) -> list[dict[str, Any]]:
    """Return what the page judges each section's test by: its steps, and the error of its gauge."""
    works = doc.get("works") or {}
    return [
        {
            "id": test["id"],
            "error_kpa": _gauge_error_kpa(max(steps[-1]["start_kpa"], 0.0)),
            "steps": [
                {key: value for key, value in step.items() if key != "test"}
                | {"label": STEPS[step["name"]]}
                for step in steps
            ],
        }
        for test, steps in _tested(works)
    ]


def _gauge_error_kpa(shown_kpa: float) -> float:
    return gauge_error_pa(full_scale_pa(1e3 * shown_kpa)) / 1e3


def _tested(works: Mapping[str, Any]) -> Iterator[tuple[Mapping[str, Any], list[Any]]]:
    """Yield each section with the steps of its test."""
    for test in works.get("tests") or ():
        steps = [each for each in works.get("test_phases") or () if each["test"] == test["id"]]
        if steps:
            yield test, steps


def works_html(doc: Document) -> str:
    """Return the parts of the plan as HTML that reads without any script."""
    return (
        "".join(
            f"<details class=part{' open' if part.title in (ANSWERED, FAULTS) else ''}>"
            f"<summary>{escape(part.title)}</summary>"
            + "".join(f"<p class=caution>{escape(text)}</p>" for text in part.cautions)
            + _facts(part.facts)
            + (FRONT if part.title == "Filling" and front_model(doc) else "")
            + _table(part.heads, part.rows)
            + (_tests(doc) if part.title == "Pressure test, step by step" else "")
            + "</details>"
            for part in works_parts(doc)
            if part.rows or part.facts
        )
        + _readings(doc)
        + _shopping(doc)
    )


def _shopping(doc: Document) -> str:
    """Return what to buy, as on the sheets."""
    made = shopping(doc)
    rows = tuple(tuple(row) for row in made.rows)
    return (
        f"<details class=part><summary>{escape(made.title)}</summary>"
        f"{_table(tuple(made.heads), rows)}<p>{escape(made.note)}</p></details>"
    )


def _facts(facts: tuple[tuple[str, str], ...]) -> str:
    if not facts:
        return ""
    rows = "".join(f"<div><dt>{escape(a)}</dt><dd>{escape(b)}</dd></div>" for a, b in facts)
    return f"<dl>{rows}</dl>"


def _table(heads: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> str:
    """Return a table; where a row is an act with a name its first cell is a box to tick."""
    if not rows:
        return ""
    kept = [i for i, head in enumerate(heads) if head not in ("name, time", "read", "pass or fail")]
    head = "".join(f"<th scope=col>{escape(heads[i]) or 'done'}</th>" for i in kept)
    body = "".join(
        "<tr>"
        + "".join(f"<td{LONG if len(row[i]) > 40 else ''}>{_cell(row[i])}</td>" for i in kept)
        + "</tr>"
        for row in rows
    )
    return (
        f"<div class=wide tabindex=0><table><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>"
    )


def _cell(text: str) -> str:
    if not _ACT.fullmatch(text):
        return escape(text)
    return f'<label class="act"><input type="checkbox" data-act="{text}"> {text}</label>'


def _named(test: Mapping[str, Any], step: int) -> str:
    return f"{test['id']}/{step}"


def _tests(doc: Document) -> str:
    """Return boxes for what is read while each section is tested."""
    units = units_of(doc)
    pressure, (_, water) = unit_of("pressure", units), drum(units)
    told = next(part for part in works_parts(doc) if part.title.endswith("step by step"))
    asks = {row[0]: _facts(tuple(zip(told.heads, row, strict=True))[2:-1]) for row in told.rows}
    return "".join(
        f'<fieldset class=built data-test="{escape(test["id"])}">'
        f"<legend>{escape(test['id'])}: what was read</legend>"
        "<label>Step<select name=step>"
        + "".join(f'<option value="{s["name"]}">{STEPS[s["name"]]}</option>' for s in steps)
        + "</select></label>"
        + "".join(
            f'<div class=asks data-step="{s["name"]}" hidden>{asks[_named(test, n)]}</div>'
            for n, s in enumerate(steps, start=1)
        )
        + "".join(
            f"<label>{words}<input name={name} inputmode=decimal autocomplete=off maxlength=12>"
            "</label>"
            for name, words in (
                ("gauge_kpa", f"Gauge at the pump, {pressure}"),
                ("water_m3", f"Water since the step began, {water}"),
                ("lasted_s", "How long the step has lasted, min"),
            )
        )
        + "<button type=button>Record it</button><p role=status></p></fieldset>"
        for test, steps in _tested(doc["works"])
    )


def _readings(doc: Document) -> str:
    """Return boxes for the readings of every gauge, at rest and running."""
    if not doc.get("taps"):
        return ""
    units = units_of(doc)
    rows = "".join(
        f"<tr><th scope=row>{escape(tap['id'])}"
        f"<small>{escape(show(tap['station_m'], 'station', units))}</small></th>"
        + "".join(
            f'<td><input inputmode=decimal autocomplete=off maxlength=12 data-tap="{tap["id"]}" '
            f'data-state="{state}" aria-label="{tap["id"]}, {words}"></td>'
            for state, words in (("shut", "outlet shut"), ("running", "water running"))
        )
        + "</tr>"
        for tap in doc["taps"]
    )
    return (
        "<details class=part open><summary>Gauges: what do they say?</summary>"
        "<p>Read once air and water have come to rest, outlet shut first.</p>"
        "<table class=gauges><thead><tr><th scope=col>gauge</th><th scope=col>outlet shut</th>"
        f"<th scope=col>running</th></tr></thead><tbody>{rows}</tbody></table>"
        "<label class=flow>Flow while it runs"
        '<input inputmode=decimal autocomplete=off id="ran"></label>'
        '<p id="verdict" role="status"></p><ol id="causes"></ol>'
        '<button type="button" id="log-readings">Record these readings</button></details>'
    )

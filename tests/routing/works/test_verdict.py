"""A section's test judged by what was read: pass, fail, let off; the field sheet says the same."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from chromium import node_path

import routing
from routing.papers.works.part import litres, shown
from routing.papers.works.tested import verdict_words
from routing.works import Phase, SectionVerdict, StepReading, judge_section
from routing.works.gauge import full_scale_pa, gauge_error_pa
from routing.works.phases import StretchedPipe, phases_of
from routing.works.trade_data import section_rules

HOUR = 3600.0
PIPE = StretchedPipe(24.0, 15.8, 758e6, 200e6, 4e5)
PUMP, RISE, MAKEUP = 9.802e5, 3.4e5, 0.002
MODULE = Path(routing.__file__).parent / "papers" / "data" / "field" / "verdict.js"
RUN = """
import {{ judgeSection, sectionSaid }} from {module};
const cases = JSON.parse(await new Response(process.stdin).text());
const shown = (value, kind) =>
  kind === "drum" ? `${{(1000 * value).toFixed(1)}} L` : `${{value.toFixed(0)}} kPa`;
console.log(JSON.stringify(cases.map(({{ steps, readings, error }}) => {{
  const told = judgeSection(steps, readings, error);
  return {{ ...told, words: sectionSaid(told, shown) }};
}})));
"""


def steps(rule: str) -> tuple[Phase, ...]:
    allowed = 0.0 if rule == "polyethylene" else MAKEUP
    return phases_of(section_rules()[rule], [PIPE], pump_pa=PUMP, rise_pa=RISE, rest_pa=6.5e5,
                     makeup_m3=allowed, bulk_modulus_pa=2.1e9)  # fmt: skip


def read(step: Any, kpa: float, litres: float | None = None, minutes: float | None = None):
    water = None if litres is None else litres / 1e3
    return StepReading(step, 1e3 * kpa, water, None if minutes is None else 60.0 * minutes)


UP = read("raise", 980, 170.0, 4)  # V dp (1/K + D/eE) of this pipe is 174 L
HELD = read("hold", 975, 1.5, 120)  # AWWA C600: 2 h within 5 psi (34.5 kPa), from memory
OFF = read("let off", 640, 170.0, 4)
EXPANDED = read("stretch", 980, 60.0, 240)  # ASTM F2164: 4 h, 10 psi off, 1 h within 5 %
SOME = read("let some off", 911, 30.0, 1)

CASES: list[tuple[str, str, list[StepReading], str]] = [
    ("nothing read", "municipal", [], "not begun"),
    ("raised", "municipal", [UP], "under way"),
    ("held too short", "municipal", [UP, read("hold", 975, 1.5, 119)], "under way"),
    ("no litres", "municipal", [UP, read("hold", 975, None, 120)], "under way"),
    ("no minutes", "municipal", [UP, read("hold", 975, 1.5)], "under way"),
    ("holds", "municipal", [UP, HELD], "let it off"),
    ("still on", "municipal", [UP, HELD, read("let off", 700)], "let it off"),
    ("all of it", "municipal", [UP, HELD, OFF], "passed"),
    ("air", "municipal", [read("raise", 980, 220.0, 9), HELD, OFF], "air"),
    ("leaks", "municipal", [UP, read("hold", 975, 2.1, 120), OFF], "failed by water"),
    # A drum is read to a tenth of a litre: half of that more than allowed is no more.
    ("a drop more", "municipal", [UP, read("hold", 975, 2.049, 120), OFF], "passed"),
    ("more than a drop", "municipal", [UP, read("hold", 975, 2.051, 120), OFF], "failed by water"),
    ("fell", "municipal", [UP, read("hold", 944, 1.5, 60), HELD], "failed by pressure"),
    ("rose", "municipal", [UP, read("hold", 1015, 1.5, 120)], "failed by pressure"),
    ("fails before its time", "municipal", [UP, read("hold", 940, 0.0, 10)], "failed by pressure"),
    ("again", "municipal", [UP, read("hold", 900, 9.0, 120), UP, HELD, OFF], "passed"),
    ("again, not yet", "municipal", [UP, HELD, OFF, UP], "under way"),
    ("EN 805 may rise", "EN 805", [UP, read("stretch", 980, 9.0, 60), read("hold", 1015, 1.0, 60)],
     "let it off"),
    ("EN 805, 20 kPa", "EN 805", [UP, read("stretch", 980, 9.0, 60), read("hold", 959, 1.0, 60)],
     "failed by pressure"),
    ("Indian, by water alone", "Indian", [UP, read("hold", 700, 1.9, 240), OFF], "passed"),
    ("Indian, leaks", "Indian", [UP, read("hold", 975, 2.2, 240)], "failed by water"),
    ("plastic", "polyethylene", [UP, EXPANDED, SOME, read("hold", 905, None, 60), OFF], "passed"),
    ("plastic, not expanded", "polyethylene", [UP, SOME, read("hold", 905, None, 60)], "under way"),
    ("plastic, nothing off", "polyethylene", [UP, EXPANDED, read("hold", 975, None, 60)],
     "failed by pressure"),
    ("plastic, 5 %", "polyethylene", [UP, EXPANDED, SOME, read("hold", 864, None, 60)],
     "failed by pressure"),
    ("plastic, water added", "polyethylene", [UP, EXPANDED, SOME, read("hold", 905, 0.2, 60)],
     "failed by water"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "readings", "verdict"), [each[1:] for each in CASES],
                         ids=[each[0] for each in CASES])  # fmt: skip
def test_judge_section__by_the_steps_of_its_rule(
    rule: str, readings: list[StepReading], verdict: str
) -> None:
    assert judge_section(steps(rule), readings).verdict == verdict


def test_steps__gauges_rise_and_fall_by_a_bar_a_minute() -> None:
    """Common practice, as contractors write it: no more than 1 bar in a minute."""
    up, *_, off = (each for each in steps("municipal") if each.name in ("raise", "let off"))
    assert up.time_s == pytest.approx(RISE / 1e5 * 60.0)
    assert off.time_s == pytest.approx((off.start_pa - off.end_pa) / 1e5 * 60.0)


def test_judge_section__no_steps_of_modulus_unknown_call_air() -> None:
    unknown = phases_of(section_rules()["municipal"], [PIPE._replace(short_pa=None, long_pa=None)],
                        pump_pa=PUMP, rise_pa=RISE, rest_pa=6.5e5, makeup_m3=MAKEUP,
                        bulk_modulus_pa=2.1e9)  # fmt: skip
    told = judge_section(unknown, [read("raise", 980, 999.0, 9), HELD, OFF])
    assert told.verdict == "passed"


def test_judge_section__more_water_or_less_pressure_never_turns_a_failure_into_a_pass() -> None:
    good = {"let it off", "passed", "under way"}
    for rule in section_rules():
        phases = steps(rule)
        hold = next(each for each in phases if each.name == "hold")
        time = [each.time_s for each in phases if each.name == "stretch"] or [0.0]
        before = True
        for water in np.linspace(0.0, 2.0 * MAKEUP, 41):
            said = [UP, StepReading("stretch", PUMP, 0.0, time[0]),
                    StepReading("hold", hold.start_pa, float(water), hold.time_s)]  # fmt: skip
            now = judge_section(phases, said).verdict in good
            assert before or not now
            before = now
        assert not before


def sweep(count: int) -> list[tuple[str, list[StepReading]]]:
    random = np.random.default_rng(5)
    names = ("soak", "raise", "stretch", "let some off", "hold", "let off")
    found = []
    for _ in range(count):
        rule = str(random.choice(list(section_rules())))
        said = [
            StepReading(
                str(random.choice(names)),  # type: ignore[arg-type]
                float(random.uniform(6e5, 1.1e6)),
                None if random.random() < 0.3 else float(random.choice([0.0, 1e-3, 0.18, 0.3])),
                None if random.random() < 0.3 else float(random.choice([60.0, HOUR, 5 * HOUR])),
            )
            for _ in range(random.integers(0, 7))
        ]
        found.append((rule, said))
    return found


def test_field_sheet__judges_and_says_the_same() -> None:
    cases = [(rule, said) for _, rule, said, _ in CASES] + sweep(400)
    given = [{"steps": list(map(row, steps(rule))), "error": error_kpa(steps(rule)),
              "readings": list(map(said_kpa, said))} for rule, said in cases]  # fmt: skip
    run = subprocess.run(
        [node_path(), "--input-type=module", "-e", RUN.format(module=json.dumps(MODULE.as_uri()))],
        input=json.dumps(given), capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    seen = set()
    for (rule, said), theirs in zip(cases, json.loads(run.stdout), strict=True):
        ours = judge_section(steps(rule), said)
        seen.add(ours.verdict)
        assert (theirs["verdict"], theirs["step"]) == (ours.verdict, ours.step), said
        assert theirs["words"] == verdict_words(ours, "metric"), said
    assert len(seen) == 7


def row(phase: Phase) -> dict[str, Any]:
    """Return a step as study.json has it."""
    found = asdict(phase)
    for key in ("start", "end", "least", "most"):
        value = found.pop(f"{key}_pa")
        found[f"{key}_kpa"] = None if value is None else value / 1e3
    return found


def error_kpa(phases: Sequence[Phase]) -> float:
    return gauge_error_pa(full_scale_pa(phases[-1].start_pa)) / 1e3


def said_kpa(reading: StepReading) -> dict[str, Any]:
    step, gauge, water, lasted = reading
    return {"step": step, "gauge_kpa": gauge / 1e3, "water_m3": water, "lasted_s": lasted}


def test_words__say_what_was_found_against_what_in_the_units_of_the_reader() -> None:
    failed = SectionVerdict("failed by water", "hold", 0.003, 0.002)
    assert verdict_words(failed, "metric") == "fail: 3.0 L were added, at most 2.0 L"
    assert litres(0.003, "us") in verdict_words(failed, "us")
    fell = SectionVerdict("failed by pressure", "hold", 9.0e5, 9.3e5)
    assert verdict_words(fell, "metric") == "fail: the gauge stood at 900 kPa, below 930 kPa"
    assert shown(900.0, "pressure", "us") in verdict_words(fell, "us")
    left = SectionVerdict("under way", "stretch", HOUR, 4 * HOUR)
    assert verdict_words(left, "metric") == "under way: topped up for 1 h 00 min of 4 h 00 min"

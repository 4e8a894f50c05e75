"""The works plan in parts: a title, its cautions, and a table in the reader's units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from routing.fittings import size_text
from routing.papers.document import Document, plain, units_of
from routing.papers.set_facts import force_text
from routing.trade_table import trade_table
from routing.units import Kind, UnitSystem, in_system, show
from routing.value import dataclass
from routing.works.trade_data import section_rules

__all__ = ["Part", "works_parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the plan: what to heed stands before what to do."""

    title: str
    cautions: tuple[str, ...]
    facts: tuple[tuple[str, str], ...] = ()
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def works_parts(doc: Document) -> list[Part]:
    """Return the parts of a study's works plan in the order of the work."""
    works = doc.get("works")
    if works is None:
        why = ("Why", "the study has no pipe: choose one and run it again")
        return [Part(title="No plan of works", cautions=(), facts=(why,))]
    units = units_of(doc)
    return [
        _holds(works, units),
        _ends(doc, works, units),
        _filling(works, units),
        _bridges(doc, units),
        _spouts(works, units),
        _flushing(works, units),
        _tests(works, units),
        _gauges(doc, works, units),
        _relief(doc, units),
        _drain_down(works, units),
    ]


def minutes(seconds: float) -> str:
    """Return a time as people on site say it.

    >>> minutes(95.0), minutes(4152.0)
    ('2 min', '1 h 09 min')
    """
    whole = max(round(seconds / 60.0), 1)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def _cautions(title: str) -> tuple[str, ...]:
    return tuple(
        row["text"] for row in trade_table(__file__, "cautions.csv") if row["part"] == title
    )


def _part(
    title: str,
    heads: Sequence[str],
    rows: Iterator[tuple[str, ...]],
    facts: Sequence[tuple[str, str]] = (),
) -> Part:
    return Part(
        title=title,
        cautions=_cautions(title),
        facts=tuple(facts),
        heads=tuple(heads),
        rows=tuple(rows),
    )


def _show(value: float | None, kind: Kind, units: UnitSystem) -> str:
    """Return a value of the document, pressures in kPa and bores in mm there, as text."""
    factor = {"pressure": 1e3, "diameter": 1e-3}.get(kind, 1.0)
    return show(None if value is None else factor * float(value), kind, units)


def _sold(bore_mm: float | None, units: UnitSystem) -> str:
    """Return a bore as fittings are sold."""
    return _show(None, "diameter", units) if bore_mm is None else size_text(bore_mm / 1e3, units)


def _holds(works: Mapping[str, Any], units: UnitSystem) -> Part:
    cure = float(works["drain_down"]["cure_days"])
    return _part(
        "Before water",
        ("", "hold point", "when", "what must be so", "name, time"),
        (
            (plain(h["id"]), plain(h["name"]), plain(h["when"]), plain(h["text"]), "")
            for h in works["hold_points"]
        ),
        [("Concrete cures at least", f"{cure:g} days, longer in the cold")],
    )


def _ends(doc: Document, works: Mapping[str, Any], units: UnitSystem) -> Part:
    return _part(
        "Thrust on the ends",
        ("station", "what", "outside diameter", "full, at rest", "in the test"),
        (
            (
                show(end["station_m"], "station", units),
                plain(end["what"]),
                _show(end["outside_diameter_mm"], "diameter", units),
                force_text(doc, float(end["filling_kn"])),
                force_text(doc, float(end["test_kn"])),
            )
            for end in works["ends"]
        ),
    )


def _filling(works: Mapping[str, Any], units: UnitSystem) -> Part:
    filling = works["filling"]
    limits = {"velocity": "slow water", "stream": "what the stream spares half of the year"}
    limited = plain(filling["limited_by"])
    facts = [
        (
            "Rate",
            f"{show(filling['rate_m3_s'], 'flow', units)}, set by {limits.get(limited, limited)}",
        ),
        ("Water", show(filling["volume_m3"], "volume", units)),
        ("Time", minutes(filling["time_s"])),
        ("Gauges within", _tolerances(filling["stages"], units)),
    ]
    if not filling["full"]:
        facts.append(("Not full", "a summit stands above the intake: water does not pass it"))
    return _part(
        "Filling",
        (
            "",
            "water rises",
            "to level",
            "let in",
            "after",
            "at the powerhouse",
            "read",
            "other gauges",
            "vents let air out",
            "then shut",
        ),
        (
            (
                plain(s["id"]),
                f"{show(s['from_m'], 'station', units)} to {show(s['to_m'], 'station', units)}",
                show(s["level_m"], "elevation", units),
                show(s["cumulative_m3"], "volume", units),
                minutes(s["time_s"]),
                _show(s["gauge_kpa"], "pressure", units),
                "",
                ", ".join(
                    f"{plain(r['tap'])} {_show(r['gauge_kpa'], 'pressure', units)}"
                    for r in s["readings"][:-1]
                    if r["gauge_kpa"] > 0.0
                )
                or "–",
                ", ".join(map(plain, s["vents_hissing"])) or "–",
                ", ".join(map(plain, s["vents_shut"])) or "–",
            )
            for s in filling["stages"]
        ),
        facts,
    )


def _bridges(doc: Document, units: UnitSystem) -> Part:
    """Return what the water does to bridges, so that what it should not do is seen."""
    told = [each for each in doc.get("bridges") or () if each.get("empty_n_m") is not None]
    unit, factor = in_system("N/m", units)
    mm, factor_mm = in_system("mm", units)
    return _part(
        "Bridges, empty and full",
        ("from", "to", "bay", f"empty, {unit}", f"full, {unit}", "sags empty", "sags full",
         "after years"),
        (
            (
                show(b["from_m"], "station", units),
                show(b["to_m"], "station", units),
                show(b["bay_m"], "depth", units),
                *(f"{factor * b[key]:.0f}" for key in ("empty_n_m", "weight_n_m")),
                *(f"{1e3 * factor_mm * b[key]:.{1 if mm == 'mm' else 2}f} {mm}"
                  for key in ("sag_empty_m", "sag_full_m", "sag_years_m")),
            )
            for b in told
        ),
    )  # fmt: skip


def _tolerances(stages: Sequence[Mapping[str, Any]], units: UnitSystem) -> str:
    """Return how near to the table each gauge reads once the line stands still."""
    read = stages[-1]["readings"] if stages else ()
    return ", ".join(
        f"{plain(r['tap'])} ± {_show(r['tolerance_kpa'], 'pressure', units)}" for r in read
    )


def _spouts(works: Mapping[str, Any], units: UnitSystem) -> Part:
    return _part(
        "What vents throw",
        ("vent", "station", "air leaves at", "water in it up to", "and as far as",
         "opened under full head up to", "then as far as"),
        (
            (
                plain(s["vent_id"]),
                show(s["station_m"], "station", units),
                show(s["air_m_s"], "velocity", units),
                *(show(s[key], "length", units)
                  for key in ("height_m", "reach_m", "full_height_m", "full_reach_m")),
            )
            for s in works["spouts"]
        ),
    )  # fmt: skip


def _flushing(works: Mapping[str, Any], units: UnitSystem) -> Part:
    return _part(
        "Flushing",
        ("drain", "bore", "open", "flow", "speed", "for", "jet", "vent above", ""),
        (
            (
                plain(f["drain_id"]),
                _sold(f["bore_mm"], units),
                f"{100.0 * f['opening']:.0f} %",
                show(f["flow_m3_s"], "flow", units),
                show(f["velocity_m_s"], "velocity", units),
                minutes(f["time_s"]),
                show(f["jet_m_s"], "velocity", units),
                plain(f["vent_id"] or "–"),
                "" if f["flushes"] else "too slow for silt: flush in bursts from stored water",
            )
            for f in works["flushing"]
        ),
    )


def _tests(works: Mapping[str, Any], units: UnitSystem) -> Part:
    return _part(
        "Pressure test",
        (
            "",
            "from",
            "to",
            "rule",
            "pump at",
            "gauge at the pump",
            "at the lowest point",
            "at the highest point",
            "of what it bears",
            "held",
            "may be added",
            "takes",
            "pass or fail",
        ),
        (
            (
                plain(t["id"]),
                show(t["from_m"], "station", units),
                show(t["to_m"], "station", units),
                plain(t["rule"]) + ("" if t["meets"] else ": class too light for it"),
                show(t["pump_station_m"], "station", units),
                _show(t["pump_kpa"], "pressure", units),
                _show(t["bottom_kpa"], "pressure", units),
                _show(t["top_kpa"], "pressure", units),
                "–" if t["share"] is None else f"{100.0 * t['share']:.0f} %",
                minutes(t["hold_s"]),
                _litres(t["makeup_m3"], units) if t["makeup_m3"] else "nothing",
                "–"
                if t["elastic_m3"] is None
                else _litres(t["elastic_m3"], units)
                + f", and {_litres(t['air_m3'], units)} for each 1 % of air",
                "pass / fail",
            )
            for t in works["tests"]
        ),
        [
            ("How" if len(rules) == 1 else f"How, {rule}", _how(rule, units))
            for rules in [sorted({plain(t["rule"]) for t in works["tests"]})]
            for rule in rules
        ],
    )


def _how(rule: str, units: UnitSystem) -> str:
    """Return the steps of a test as its rule has them."""
    known = section_rules().get(rule)
    return (
        "as the rule says"
        if known is None
        else known.how.format(drop=show(known.drop_pa, "pressure", units))
    )


def _litres(volume_m3: float, units: UnitSystem) -> str:
    if units == "us":
        return f"{volume_m3 / 3.785411784e-3:.1f} gal"
    return f"{1e3 * volume_m3:.1f} L"


def _gauges(doc: Document, works: Mapping[str, Any], units: UnitSystem) -> Part:
    flows = sorted({each["flow_m3_s"] for each in works["diagnosis"]})
    told = {(e["tap"], e["flow_m3_s"]): e for e in works["diagnosis"]}
    return _part(
        "What the gauges should show",
        (
            "tap",
            "station",
            "where",
            "scale to",
            "within",
            *("at rest" if flow == 0.0 else show(flow, "flow", units) for flow in flows),
        ),
        (
            (
                plain(tap["id"]),
                show(tap["station_m"], "station", units),
                plain(tap["place"]),
                _show(tap["full_scale_kpa"], "pressure", units),
                "± " + _show(told[tap["id"], flows[0]]["tolerance_kpa"], "pressure", units),
                *(_show(told[tap["id"], q]["gauge_kpa"], "pressure", units) for q in flows),
            )
            for tap in doc["taps"]
        ),
    )


def _relief(doc: Document, units: UnitSystem) -> Part:
    window, valves = doc.get("relief"), doc.get("relief_valves") or ()
    facts: list[tuple[str, str]] = []
    if valves:
        facts = [
            ("Their jet", "through a stilling piece back to the stream, where nobody stands"),
            ("Each year", "lift each by hand or by pump, note the pressure at which it opened"),
        ]
    elif window is not None and not window["can_be_set"]:
        facts = [("Setting", "none both stays shut at rest and protects the pipe")]
    return _part(
        "Relief valves",
        ("valve", "station", "set to", "at least", "at most", "bore", "passes", "jet", "towards",
         "free, it flies"),
        (
            (
                plain(each["id"]),
                show(each["station_m"], "station", units),
                *(_show(each[key], "pressure", units)
                  for key in ("setting_kpa", "least_setting_kpa", "most_setting_kpa")),
                _sold(each["size_mm"], units),
                show(each["flow_m3_s"], "flow", units),
                show(each["jet_m_s"], "velocity", units),
                f"{float(each['jet_bearing_deg']):.0f}°, {plain(each['jet_side'])}",
                show(each["jet_reach_m"], "length", units),
            )
            for each in valves
        ),
        facts,
    )  # fmt: skip


def _drain_down(works: Mapping[str, Any], units: UnitSystem) -> Part:
    refill = works["drain_down"]["refill"]
    return _part(
        "Draining for the winter",
        ("step", "drain", "open", "runs out", "still in the line", "for", "lowest", "frost"),
        (
            (
                str(s["step"]),
                plain(s["drain_id"]),
                f"{100.0 * s['opening']:.0f} %",
                show(s["drained_m3"], "volume", units),
                show(s["left_m3"], "volume", units),
                minutes(s["time_s"]),
                _show(s["lowest_kpa"], "pressure", units),
                {"not known": "depth of frost not given"}.get(s["frost"], plain(s["frost"])),
            )
            for s in works["drain_down"]["steps"]
        ),
        [
            (
                "Filling again",
                f"{show(refill['volume_m3'], 'volume', units)} at "
                f"{show(refill['rate_m3_s'], 'flow', units)}: {minutes(refill['time_s'])}",
            )
        ],
    )

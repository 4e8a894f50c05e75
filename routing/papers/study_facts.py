"""What a study says of itself as a whole, in words: key figures, verdict, its terrain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.doubt import exceeded_head_m, limits
from routing.papers.document import Document, plain, units_of
from routing.papers.facts import Facts, count_words, pressure_text
from routing.papers.given import answered
from routing.units import Kind, show
from routing.us_units import in_units

__all__ = [
    "currency",
    "depth_words",
    "money",
    "priced",
    "summary_facts",
    "terrain_facts",
    "verdict_facts",
]

LEAST_EXCESS_M = 0.05
"""Errors of the length that are worth a word [m]."""


def summary_facts(doc: Document) -> Facts:
    """Return the study's key figures."""
    units, summary = units_of(doc), doc["summary"]
    facts = [
        ("Length in plan", show(summary["plan_length_m"], "length", units)),
        ("Length of pipe", _length(doc)),
        ("Intake water level", show(summary["intake_level_m"], "elevation", units)),
        ("Outlet level", show(summary["outlet_level_m"], "elevation", units)),
        ("Gross head", _sure(doc, float(summary["gross_head_m"]), "head", 1.0)),
        ("Static pressure at outlet", _static(doc)),
        (
            "Highest static pressure",
            f"{pressure_text(summary.get('max_static_pressure_kpa'), doc)} at station "
            f"{show(summary.get('max_static_station_m'), 'station', units)}",
        ),
    ]
    if summary.get("flow_m3_s") is not None:
        facts += [
            ("Design flow", show(summary["flow_m3_s"], "flow", units)),
            ("Head lost", show(summary.get("head_loss_m"), "head", units)),
            ("Net head", reached(doc, show(summary.get("net_head_m"), "head", units))),
            ("Velocity, greatest", show(summary.get("velocity_m_s"), "velocity", units)),
        ]
        if summary.get("power_kw") is not None:
            facts.append(("Power", reached(doc, show(summary["power_kw"] * 1e3, "power", units))))
    facts += _water(doc) + _energy(doc)
    facts.append(("Trench volume", show(summary.get("trench_volume_m3"), "volume", units)))
    bench = (doc.get("trench") or {}).get("bench") or {}
    if bench.get("volume_m3"):
        length = sum(float(each["to_m"]) - float(each["from_m"]) for each in bench["stretches"])
        said = f"{show(bench['volume_m3'], 'volume', units)} on {show(length, 'length', units)}"
        facts.append(("Bench on side slopes", f"{said}, beside the trench"))
    facts.append(("Vents", count_words(doc["vents"])))
    facts.append(("Drains", count_words(doc["drains"])))
    expected = summary.get("expected_vents")
    if expected is not None:
        said = f"{expected['mean']:.0f} ± {expected['sd']:.0f} once the ground is known"
        facts.append(("Summits to expect", said))
    deeper = depth_words(doc)
    if deeper is not None:
        facts.append(("Deeper trench", deeper))
    for pipe in doc.get("pipes") or ():
        reach = f"{show(pipe['from_m'], 'station', units, unit=False)} to "
        facts.append(("Pipe " + reach + show(pipe["to_m"], "station", units), plain(pipe["label"])))
    return facts


def reached(doc: Document, figure: str) -> str:
    """Return a figure of the running water, or with it why it cannot be had."""
    why = doc["verdict"].get("out_of_reach")
    return f"{figure}, out of reach: {why}" if why else figure


def _sure(doc: Document, value: float, kind: Kind, per_metre: float) -> str:
    """Return a head or pressure with how far it may be off, nine times in ten."""
    units, sd = units_of(doc), doc["summary"].get("gross_head_sd_m")
    if not sd:
        return show(value, kind, units)
    off = exceeded_head_m(float(sd), limits().exceeded_chance) * per_metre
    share = 1.0 - 2.0 * limits().exceeded_chance
    return f"{show(value, kind, units)} ± {show(off, kind, units)} with {100.0 * share:.0f} %"


def _static(doc: Document) -> str:
    pressure, water = doc["summary"].get("static_pressure_kpa"), doc["water"]
    if pressure is None:
        return pressure_text(None, doc)
    weight = float(water["density_kg_m3"]) * float(water["gravity_m_s2"])
    return _sure(doc, float(pressure) * 1e3, "pressure", weight)


def _length(doc: Document) -> str:
    units = units_of(doc)
    said = show(doc["summary"]["pipe_length_m"], "length", units)
    excess = (doc.get("doubt") or {}).get("length_excess_m")
    if excess is None or excess < LEAST_EXCESS_M:
        return said
    more = show(excess, "length", units)
    return f"{said} (the raster's error adds {more}, ground it hides is missing)"


def _water(doc: Document) -> Facts:
    """Return the catchment with its doubt, and the mean flow with what it is known from."""
    catchment, flow, units = doc.get("catchment"), doc.get("stream_flow"), units_of(doc)
    facts = []
    if catchment is not None:
        rounded = float(f"{catchment['area_m2'] / 1e6:.3g}")
        size = in_units(f"{rounded:.10g} km2", units)
        said = f"{'at least ' if catchment['at_least'] else ''}{size}, by {catchment['method']}"
        if catchment["method"] == "as given":
            said = f"{size}, as given"
        elif catchment["snapped_m"] > 0.0:
            said += f", taken {show(catchment['snapped_m'], 'length', units)} from the intake"
        facts.append(("Catchment of the intake", said))
    if flow is not None:
        sure = "a guess from " if flow["guess"] else ""
        days = (doc.get("energy") or {}).get("days")
        record = "from its record" if days else "from its flow-duration curve"
        source = {"record": record}.get(flow["basis"], flow["basis"])
        facts.append(
            ("Mean annual flow", f"{show(flow['mean_m3_s'], 'flow', units)}, {sure}{source}")
        )
        if flow["residual_m3_s"] is not None:
            facts.append(("Residual flow", show(flow["residual_m3_s"], "flow", units)))
    return facts


def _energy(doc: Document) -> Facts:
    """Return the energy of a year and its worth, where they were estimated."""
    energy = doc.get("energy") or {}
    if energy.get("energy_kwh") is None:
        return []
    share = 100.0 * energy["capacity_factor"]
    made = f"{energy['energy_kwh']:,.0f} kWh".replace(",", "\u202f")
    guess = ", a guess as is the flow" if (doc.get("stream_flow") or {}).get("guess") else ""
    facts = [("Energy of a year", f"{made}, {share:.0f} % of rated power all year{guess}")]
    if energy.get("worth_per_year") is not None:
        worth = f"{energy['worth_per_year']:,.0f}".replace(",", "\u202f")
        facts.append(("Its worth", priced(worth, currency(doc)) + " a year at the price given"))
    return facts


def depth_words(doc: Document) -> str | None:
    """Return the further depth that saves most vents for its digging, in a sentence."""
    planned, *deeper = (doc.get("doubt") or {}).get("depths") or [None]
    offers = [
        (planned["summits"] - each["summits"], max(each["extra_volume_m3"], 0.0), each)
        for each in deeper
        if each["summits"] < planned["summits"]
    ]
    if not offers:
        return None
    units = units_of(doc)
    saved, dug, best = max(offers, key=lambda offer: offer[0] / (offer[1] + 1.0))
    extra = show(best["max_depth_m"] - planned["max_depth_m"], "depth", units)
    said = f"{extra} deeper saves {saved} vent{'s' if saved > 1 else ''} for "
    price = money(doc, best)
    return said + show(dug, "volume", units) + (f" ({price})" if price else "")


def money(doc: Document, offer: Mapping[str, Any]) -> str:
    """Return what an offer's digging costs in the user's currency; nothing without a price."""
    if offer.get("price") is None:
        return ""
    return priced(f"{offer['price']:,.0f}".replace(",", "\u202f"), currency(doc))


def priced(figure: str, currency: str) -> str:
    """Return an amount of money: the currency, whatever its name, is then a part of the number.

    >>> priced("4200", "new soles").replace("\u00a0", "~")
    '4200~new~soles'
    """
    return f"{figure} {currency}".strip().replace(" ", "\u00a0")


def currency(doc: Document) -> str:
    """Return the user's currency; nothing where it was not named."""
    prices = (doc.get("settings") or {}).get("prices")
    return plain(prices.get("currency") or "") if isinstance(prices, Mapping) else ""


def verdict_facts(doc: Document) -> Facts:
    """Return how many faults and failed checks there are, and who answers for which."""
    verdict = doc["verdict"]
    counts = (verdict["faults"], verdict["warnings"], verdict["notes"])
    facts = [
        ("Faults, warnings, notes", ", ".join(map(str, counts))),
        ("Checks failed, to settle", f"{verdict['failed_checks']}, {verdict['unsettled_checks']}"),
    ]
    return facts + [("Answered for", f"{what}, {who}") for what, who in answered(doc)]


def terrain_facts(doc: Document) -> Facts:
    """Return where the elevations come from and how far to trust them."""
    terrain, units = doc["terrain"], units_of(doc)
    error = terrain.get("rmse_m")
    stated = show(error, "depth", units) + " (RMSE)" if error is not None else "not stated"
    return [
        ("Coordinate system", plain(terrain.get("crs") or "unknown")),
        ("Vertical datum", plain(terrain.get("vertical_datum") or "not stated: as in the raster")),
        ("Cell of the raster", show(terrain.get("cell_m"), "length", units)),
        ("Error of the raster", stated),
        ("Elevations read as", f"{plain(terrain['unit'])} ({plain(terrain['unit_source'])})"),
        ("Station", "plan distance from the intake"),
    ]

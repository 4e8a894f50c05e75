"""What a person at the trench needs to know of each place, in words and the user's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from routing.doubt import exceeded_head_m, limits
from routing.fittings import size_text
from routing.papers.document import Document, at_station, plain, units_of
from routing.units import Kind, in_units, show

__all__ = [
    "Facts",
    "bend_facts",
    "count_words",
    "depth_words",
    "drain_facts",
    "high_facts",
    "intake_facts",
    "level_facts",
    "level_words",
    "likely_words",
    "money",
    "need_words",
    "outlet_facts",
    "place_text",
    "summary_facts",
    "terrain_facts",
    "vent_facts",
    "verdict_facts",
]

Facts = list[tuple[str, str]]
"""Label and value, in reading order."""

NEED_WORDS = {"must": "needed", "level": "take a level first", "advise": "advised"}
"""How much a fitting is needed, in the words of all papers."""

LEAST_EXCESS_M = 0.05
"""Errors of the length that are worth a word [m]."""


def place_text(lon: float, lat: float) -> str:
    """Return a position as people read it, to a decimetre.

    >>> place_text(-3.1234567, 54.5)
    '54.500000° N, 3.123457° W'
    """
    lon = (lon + 180.0) % 360.0 - 180.0
    north, east = ("N" if lat >= 0 else "S"), ("E" if lon >= 0 else "W")
    return f"{abs(lat):.6f}° {north}, {abs(lon):.6f}° {east}"


def count_words(fittings: Sequence[Mapping[str, Any]]) -> str:
    """Return how many fittings are needed, wait for a level, and are advised.

    >>> count_words([{"need": "must"}, {"need": "must"}, {"need": "advise"}])
    '2 needed, 1 advised'
    """
    needs = [fitting["need"] for fitting in fittings]
    counts = ((needs.count(need), need, words) for need, words in NEED_WORDS.items())
    return ", ".join(f"{count} {words}" for count, need, words in counts if count or need == "must")


def likely_words(probability: float) -> str:
    """Return a probability as people should hear it, to 5 %.

    >>> likely_words(0.6367), likely_words(0.9961)
    ('65 %', 'more than 97 %')
    """
    if probability > 0.975:
        return "more than 97 %"
    return "less than 3 %" if probability < 0.025 else f"{5 * round(20.0 * probability)} %"


def need_words(fitting: Mapping[str, Any], *, short: bool = False) -> str:
    """Return how much a vent or drain is needed, and how likely its summit or sag is.

    >>> need_words({"need": "level", "probability": 0.6367, "prominence_m": 0.4})
    'take a level first, summit there with 65 %'
    """
    need = str(fitting["need"])
    words, chance = NEED_WORDS.get(need, plain(need)), fitting.get("probability")
    if chance is None:
        return words
    turn = "summit" if "prominence_m" in fitting else "sag"
    if short:
        return f"{words}, {likely_words(float(chance)).replace('more than', '>')}"
    return f"{words}, {turn} there with {likely_words(float(chance))}"


def level_words(doc: Document, level: Mapping[str, Any]) -> str:
    """Return where to take a level and what it settles, in one line."""
    at = show(level["station_m"], "station", units_of(doc))
    settles = ", ".join(plain(each) for each in level["settles"])
    return f"Take a level at {at} before buying: " + (
        f"settles {settles}" if settles else "needed beside the next one"
    )


def level_facts(doc: Document, level: Mapping[str, Any]) -> Facts:
    """Return the place of a level to take, and why."""
    units, at = units_of(doc), float(level["station_m"])
    return [
        ("Station", show(at, "station", units)),
        ("Where", place_text(level["lon"], level["lat"])),
        ("Ground by the raster", show(at_station(doc, "ground_m", at), "elevation", units)),
        ("Settles", ", ".join(plain(each) for each in level["settles"]) or "with its neighbour"),
        ("Why", plain(level["reason"])),
    ]


def vent_facts(doc: Document, vent: Mapping[str, Any]) -> Facts:
    """Return what an installer needs to place a vent."""
    units = units_of(doc)
    facts = [*_what(doc, vent), *_where(doc, vent), *_pressures(doc, vent)]
    if vent.get("rating_kpa") is not None:
        facts.append(("Must bear", _kpa(vent["rating_kpa"], doc)))
    if vent.get("open_top_m") is not None:
        base = "pipe" if at_station(doc, "span", float(vent["station_m"])) else "ground"
        above = f"{show(vent.get('open_height_m'), 'depth', units)} above the {base}"
        facts.append(
            (
                "Open top at",
                f"{show(vent['open_top_m'], 'elevation', units)} ({above})",
            )
        )
    if vent.get("rating_kpa") is not None:
        basis = plain(vent.get("rating_basis") or "")
        facts.append(("Must bear", f"{_kpa(vent['rating_kpa'], doc)} ({basis})"))
    if vent.get("foot_size_mm") is not None:
        facts.append(("Bore at its foot", size_text(vent["foot_size_mm"] / 1e3, units)))
    if vent.get("prominence_m") is not None:
        minor = ", minor: lower than one bore" if vent.get("minor") else ""
        facts.append(
            ("Rises", f"{show(vent['prominence_m'], 'depth', units)} above its sag{minor}")
        )
    return [*facts, *_why(vent)]


def drain_facts(doc: Document, drain: Mapping[str, Any]) -> Facts:
    """Return what an installer needs to place a drain."""
    units = units_of(doc)
    facts = [*_what(doc, drain), *_where(doc, drain), *_pressures(doc, drain)]
    if drain.get("drained_m3") is not None:
        facts.append(("Drains", show(drain["drained_m3"], "volume", units)))
    if drain.get("left_m3") is not None:
        facts.append(("Stays without it", show(drain["left_m3"], "volume", units)))
    return [*facts, *_why(drain)]


def bend_facts(doc: Document, bend: Mapping[str, Any]) -> Facts:
    """Return a bend's place and its angles."""
    units = units_of(doc)
    return [
        ("Station", show(bend["station_m"], "station", units)),
        ("Where", place_text(bend["lon"], bend["lat"])),
        ("Turns", f"{bend['deflection_deg']:.1f}° in space"),
        ("of that", f"{bend['plan_deg']:.1f}° in plan, {bend['vertical_deg']:.1f}° in profile"),
        ("Pipe centre", show(bend.get("pipe_m"), "elevation", units)),
    ]


def high_facts(doc: Document, point: Mapping[str, Any]) -> Facts:
    """Return the place of a high or low of the ground, and how much it stands out."""
    units = units_of(doc)
    return [
        ("Station", show(point["station_m"], "station", units)),
        ("Where", place_text(point["lon"], point["lat"])),
        ("Ground", show(point["ground_m"], "elevation", units)),
        ("Prominence", show(point["prominence_m"], "depth", units)),
    ]


def intake_facts(doc: Document) -> Facts:
    """Return what is to be known of the intake."""
    units, stations = units_of(doc), doc["stations"]
    return [
        ("Where", place_text(stations["lon"][0], stations["lat"][0])),
        ("Water level", show(doc["summary"]["intake_level_m"], "elevation", units)),
        ("Ground", show(stations["ground_m"][0], "elevation", units)),
        ("Pipe centre", show(stations["pipe_m"][0], "elevation", units)),
        ("Depth to invert", show(stations["depth_m"][0], "depth", units)),
    ]


def outlet_facts(doc: Document) -> Facts:
    """Return what is to be known of the powerhouse end."""
    units, stations, summary = units_of(doc), doc["stations"], doc["summary"]
    facts = [
        ("Station", show(stations["station_m"][-1], "station", units)),
        ("Where", place_text(stations["lon"][-1], stations["lat"][-1])),
        ("Outlet level", show(summary["outlet_level_m"], "elevation", units)),
        ("Ground", show(stations["ground_m"][-1], "elevation", units)),
        ("Depth to invert", show(stations["depth_m"][-1], "depth", units)),
        ("Static pressure", _kpa(summary.get("static_pressure_kpa"), doc)),
    ]
    if summary.get("flowing_pressure_kpa") is not None:
        facts.append(("Flowing pressure", _kpa(summary["flowing_pressure_kpa"], doc)))
    return facts


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
            f"{_kpa(summary.get('max_static_pressure_kpa'), doc)} at station "
            f"{show(summary.get('max_static_station_m'), 'station', units)}",
        ),
    ]
    if summary.get("flow_m3_s") is not None:
        facts += [
            ("Design flow", show(summary["flow_m3_s"], "flow", units)),
            ("Head lost", show(summary.get("head_loss_m"), "head", units)),
            ("Net head", show(summary.get("net_head_m"), "head", units)),
            ("Velocity, greatest", show(summary.get("velocity_m_s"), "velocity", units)),
        ]
        if summary.get("power_kw") is not None:
            facts.append(("Power", show(summary["power_kw"] * 1e3, "power", units)))
    facts += _water(doc) + _energy(doc)
    facts.append(("Trench volume", show(summary.get("trench_volume_m3"), "volume", units)))
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
        return _kpa(None, doc)
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
    prices = (doc.get("settings") or {}).get("prices")
    currency = plain(prices.get("currency") or "") if isinstance(prices, Mapping) else ""
    return f"{offer['price']:,.0f} {currency}".replace(",", "\u202f").strip()


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
        source = {"record": "from its record"}.get(flow["basis"], flow["basis"])
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
        prices = (doc.get("settings") or {}).get("prices")
        currency = plain(prices.get("currency") or "") if isinstance(prices, Mapping) else ""
        worth = f"{energy['worth_per_year']:,.0f}".replace(",", "\u202f")
        facts.append(("Its worth", f"{worth} {currency}".strip() + " a year at the price given"))
    return facts


def verdict_facts(doc: Document) -> Facts:
    """Return how many faults and failed checks there are, and who answers for which."""
    verdict = doc["verdict"]
    counts = (verdict["faults"], verdict["warnings"], verdict["notes"])
    facts = [
        ("Faults, warnings, notes", ", ".join(map(str, counts))),
        ("Checks failed, to settle", f"{verdict['failed_checks']}, {verdict['unsettled_checks']}"),
    ]
    return facts + [
        (
            "Answered for",
            f"{plain(each['code']).replace('_', ' ')}, by {plain(each['name'])}: "
            f"{plain(each['reason'])}",
        )
        for each in doc["waivers"]
    ]


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


def _what(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    size = fitting.get("size_mm")
    facts = [("Kind", plain(fitting.get("kind") or "to be chosen"))]
    if size is not None:
        facts.append(("Size", f"at least {size_text(size / 1e3, units_of(doc))}"))
        if fitting.get("size_source"):
            facts.append(("Size after", plain(fitting["size_source"])))
    return facts


def _where(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    units, station = units_of(doc), float(fitting["station_m"])
    depth = fitting.get("depth_m")
    depth = at_station(doc, "depth_m", station) if depth is None else depth
    above = depth is not None and depth < 0
    return [
        ("Station", show(station, "station", units)),
        ("Where", place_text(fitting["lon"], fitting["lat"])),
        ("Ground", show(fitting["ground_m"], "elevation", units)),
        (
            "Invert above ground" if above else "Dig to invert",
            show(abs(depth) if depth is not None else None, "depth", units),
        ),
        ("Pipe centre", show(fitting["pipe_m"], "elevation", units)),
    ]


def _pressures(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    units, station = units_of(doc), float(fitting["station_m"])
    static = _kpa(at_station(doc, "static_pressure_kpa", station), doc)
    facts = [("Static pressure", f"{static} ({show(fitting['static_head_m'], 'head', units)})")]
    flowing = at_station(doc, "flowing_pressure_kpa", station)
    if flowing is not None:
        head = at_station(doc, "flowing_head_m", station)
        facts.append(("Flowing pressure", f"{_kpa(flowing, doc)} ({show(head, 'head', units)})"))
    rating = at_station(doc, "rating_kpa", station)
    if rating is not None:
        facts.append(("Pipe is rated", _kpa(rating, doc)))
    return facts


def _why(fitting: Mapping[str, Any]) -> Facts:
    rules = ", ".join(plain(rule) for rule in fitting.get("rules") or [fitting["rule"]])
    return [("Need", need_words(fitting)), ("Why", plain(fitting["reason"])), ("Rule", rules)]


def _kpa(pressure: float | None, doc: Document) -> str:
    return show(None if pressure is None else pressure * 1e3, "pressure", units_of(doc))

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import QuantityError
from routing.units import _FACTOR, _FORMS, convert, parse_quantity, show, unit_of
from routing.us_units import in_units, raised

PINT = pint.UnitRegistry()
SI = {
    "angle": "degree",
    "length": "m",
    "area": "m^2",
    "volume": "m^3",
    "flow": "m^3/s",
    "pressure": "Pa",
    "time": "s",
    "power": "W",
}
PINT_NAME = {
    "deg": "degree",
    "°": "degree",
    "degrees": "degree",
    "US survey foot": "survey_foot",
    "US survey feet": "survey_foot",
    "m2": "m^2",
    "m²": "m^2",
    "ft2": "ft^2",
    "km2": "km^2",
    "km²": "km^2",
    "ha": "hectare",
    "mi2": "mile^2",
    "m3": "m^3",
    "m³": "m^3",
    "ft3": "ft^3",
    "gal": "gallon",
    "m³/s": "m^3/s",
    "m3/s": "m^3/s",
    "m3/h": "m^3/hour",
    "ft3/s": "ft^3/s",
    "cfs": "ft^3/s",
    "gpm": "gallon/minute",
    "L/min": "L/minute",
    "l/min": "L/minute",
    "sec": "s",
    "min": "minute",
    "h": "hour",
}


@pytest.mark.parametrize(
    ("dimension", "unit"), [(d, u) for d in SI for u in _FACTOR[d]], ids=lambda v: str(v)
)
def test_parse_quantity__factors_are_those_of_pint(dimension, unit):
    expected = PINT.Quantity(1.0, PINT_NAME.get(unit, unit)).to(SI[dimension]).magnitude
    assert parse_quantity(f"1 {unit}", dimension, name="x") == pytest.approx(expected, rel=1e-12)


def test_parse_quantity__unit_outside_the_table_goes_to_pint():
    assert parse_quantity("1 yard", "length", name="x") == pytest.approx(0.9144)
    assert parse_quantity("2 mile", "length", name="x") == pytest.approx(3218.688)


@pytest.mark.parametrize(
    ("text", "celsius"), [("8 degC", 8), ("50 degF", 10), ("283.15 K", 10), ("32 °F", 0)]
)
def test_parse_quantity__temperature(text, celsius):
    assert parse_quantity(text, "temperature", name="x") == pytest.approx(celsius)


@pytest.mark.parametrize(("value", "ratio"), [(0.64, 0.64), ("64 %", 0.64), ("0.64", 0.64), (1, 1)])
def test_parse_quantity__ratio(value, ratio):
    assert parse_quantity(value, "ratio", name="x") == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("value", "dimension"),
    [
        (0.9, "length"),
        ("0.9", "length"),
        ("0.9 kg", "length"),
        ("0.9 bananas", "length"),
        ("m", "length"),
        ("", "length"),
        (None, "length"),
        (True, "length"),
        (["0.9 m"], "length"),
        ("nan m", "length"),
        ("inf m", "length"),
        ("1e999 m", "length"),
        (math.nan, "ratio"),
        ("8 m", "temperature"),
        ("18 L", "flow"),
        ("1 m/s", "flow"),
        ("2 (m", "length"),
        ("1 __import__('os')", "length"),
        ("1 " + "kilo" * 50_000 + "m", "length"),  # each would take minutes and more to be read
        ("1 a" + " " * 1_000_000 + "b", "length"),
    ],
)
def test_parse_quantity__bad_input_is_named(value, dimension):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(value, dimension, name="trench.cover")
    assert "trench.cover" in caught.value.problem
    assert caught.value.remedy


@given(st.floats(-1e6, 1e6), st.sampled_from(["ft", "in", "mm", "km", "US survey foot"]))
def test_parse_quantity__round_trip(value, unit):
    si = parse_quantity(f"{value!r} {unit}", "length", name="x")
    assert si / _FACTOR["length"][unit] == pytest.approx(value, rel=1e-14, abs=1e-300)


# Published roundings: 0.433 psi per ft and 2.31 ft per psi of water (BC livestock watering
# factsheet 590304-5); 448.831 gpm per cfs, 745.700 W per hp (NIST SP 811, from memory).
@pytest.mark.parametrize(
    ("text", "metres"),
    [("0,9 m", 0.9), ("0,900 m", 0.9), (",5 m", 0.5), ("1234,5 m", 1234.5), ("12,3456 m", 12.3456)],
)
def test_parse_quantity__a_comma_may_be_the_decimal_mark(text, metres):
    # Both marks are allowed by ISO 80000-1:2009, 7.3.2.
    assert parse_quantity(text, "length", name="trench.cover") == metres


@pytest.mark.parametrize(
    "text", ["1,234 m", "-1,234 m", "12,345 m", "1,234,567 m", "1,234.5 m", "1.234,5 m", "1.2.3 m"]
)
def test_parse_quantity__a_number_of_two_readings_asks(text):
    with pytest.raises(QuantityError, match=r"trench\.cover = .*two ways.*Write no mark"):
        parse_quantity(text, "length", name="trench.cover")


def test_convert__published_values():
    assert parse_quantity("1 cfs", "flow", name="x") * 1000 == pytest.approx(28.316847, abs=5e-7)
    cfs = parse_quantity("1 cfs", "flow", name="x")
    assert convert(cfs, "flow", "us") == pytest.approx(448.831, abs=5e-4)
    assert parse_quantity("1 hp", "power", name="x") == pytest.approx(745.700, abs=5e-4)
    assert parse_quantity("1 psi", "pressure", name="x") == pytest.approx(6894.757, abs=5e-4)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_show__every_kind_has_its_unit(units):
    for kind in _FORMS[units]:
        assert show(1.0, kind, units).endswith(unit_of(kind, units))
        assert unit_of(kind, units) not in show(1.0, kind, units, unit=False)


def test_show__missing_and_minus_zero():
    assert show(None, "head", "metric") == "–"
    assert show(math.nan, "head", "metric") == "–"
    assert show(-0.001, "head", "metric") == "0.0 m"
    assert show(10.0, "temperature", "us") == "50 °F"


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("at station 805.3 m.", "at station 2642.1 ft."),
        ("a bore of 48 mm is below", "a bore of 1.89 in is below"),
        ("654 kPa, above the 600 kPa", "94.9 psi, above the 87.0 psi"),
        ("design flow of 22.0 L/s", "design flow of 349 gpm"),
        ("0.76 m/s", "2.49 ft/s"),
        ("1 in 500; PE100 SDR17 DN/OD 200, ISO 4427-2; C = 150", None),
        ("21.5 W/m2K and 5 m-1", None),
        ("150 ft and 6 in", None),
        ("opens 8.4 litres of air", "opens 2.22 gallons of air"),
        ("holds 12.3 kN on 1.25 m2", "holds 2765 lbf on 13.5 ft²"),
        ("in water of 8 degC", "in water of 46 °F"),
        ("999.7 kg/m3 and 9.80665 m/s2", "62.41 lb/ft³ and 32.17405 ft/s²"),
    ],
)
def test_in_units__every_metric_quantity_is_turned(metric, us):
    assert in_units(metric, "us") == (us or metric)
    assert in_units(metric, "metric") == raised(metric)


@pytest.mark.parametrize(
    ("told", "read"),
    [
        ("Dig a bench of 1.5 m first, 328 m3 on that stretch", "328 m³ on"),
        ("a screen of 0.83 m2.", "0.83 m²."),
        ("gravity 9.80665 m/s2.", "9.80665 m/s²."),
        ("Water at 10 degC", "10 °C"),
        ("PE100 SDR17 DN/OD 200, trench.bench_m3, m3 alone", None),
    ],
)
def test_raised__powers_and_degrees_are_set_as_people_read_them(told, read):
    assert (read or told) in raised(told)


@pytest.mark.parametrize("level_m", [100.0, 310.37, 999.99, 4000.004])
def test_in_units__a_level_says_no_more_than_the_metric_text_knows(level_m):
    """Half a centimetre is 0.016 ft (0.3048 m, the foot of 1959): hundredths would be made up."""
    said = in_units(f"Intake water level {level_m:.2f} m: given.", "us")
    assert said == f"Intake water level {round(level_m, 2) / 0.3048:.1f} ft: given."


@given(st.floats(0.0, 3000.0))
def test_in_units__a_known_figure_is_turned_before_it_is_rounded(station_m):
    """What a sentence says of a place is what every table says of it."""
    said = in_units(f"At station {station_m:.1f} m it fails.", "us", [(station_m, "m")])
    assert said == f"At station {PINT.Quantity(station_m, 'm').to('ft').magnitude:.1f} ft it fails."


@pytest.mark.parametrize(
    ("text", "exact", "us"),
    [
        ("1.52 m, not the 0.91 m", [(1.524, "m"), (0.9144, "m")], "5.00 ft, not the 3.00 ft"),
        ("It bears 689 kPa.", [(689475.729, "Pa")], "100.0 psi"),
        ("It rises -3.05 m.", [(-3.048, "m")], "-10.00 ft"),
        # Two figures that are told alike: what is told stands.
        ("It lies at 12.3 m.", [(12.26, "m"), (12.34, "m")], "40.4 ft"),
        # A figure that the sentence does not tell changes nothing.
        ("It lies at 12.3 m.", [(12.24, "m"), (None, "m"), (12.3, "kPa")], "40.4 ft"),
    ],
)  # fmt: skip
def test_in_units__figures_that_were_given_in_feet_come_back_whole(text, exact, us):
    assert us in in_units(text, "us", exact)

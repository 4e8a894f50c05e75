import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from refused import check_refused

from routing.errors import InputError, LeatlineError, SettingsError
from routing.settings import Settings, read_settings, settings_from_mapping
from routing.settings.stream_record import read_record

CURVE = [{"share": "0 %", "flow": "120 L/s"}, {"share": 1, "flow": "9 L/s"}]


def test_settings__residual_has_no_default():
    assert Settings().intake.residual is None
    assert settings_from_mapping({"intake": {"residual": "0 L/s"}}).intake.residual == 0.0


def test_settings__curve_is_put_in_order():
    energy = settings_from_mapping({"energy": {"curve": CURVE[::-1]}}).energy
    assert [point.share for point in energy.curve] == [0.0, 1.0]
    assert [point.flow for point in energy.curve] == pytest.approx([0.12, 0.009])


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"energy": {"curve": CURVE[:1]}}, ["energy.curve", "two points"]),
        ({"energy": {"curve": [*CURVE, CURVE[1]]}}, ["energy.curve", "100 %"]),
        (
            {"energy": {"curve": [CURVE[0], {"share": "50 %", "flow": "130 L/s"}]}},
            ["energy.curve", "130 L/s"],
        ),
        ({"energy": {"curve": [{"share": "50 %"}]}}, ["energy.curve[0]", "flow"]),
        ({"energy": {"curve": CURVE, "record": ["9 L/s"]}}, ["energy.curve", "energy.record"]),
        ({"energy": {"record": "beck.csv"}}, ["energy.record", "beck.csv", "file"]),
        ({"energy": {"record": {"unit": "L/s"}}}, ["energy.record"]),
        ({"energy": {"record": {"unit": "bar", "flows": [1]}}}, ["energy.record.unit", "bar"]),
        ({"energy": {"record": {"unit": "L/s", "flows": [-1.0]}}}, ["energy.record", "-0.001"]),
        ({"energy": {"record": {"unit": "L/s", "flows": ["1"]}}}, ["energy.record.flows"]),
        ({"energy": {"record": {"unit": "L/s", "flows": [None]}}}, ["energy.record", "no flow"]),
        ({"energy": {"availability": 0}}, ["energy.availability"]),
        ({"energy": {"residual": "5 L/s"}}, ["[energy] residual"]),
        ({"intake": {"bar": "6 mm"}}, ["intake.bar", "intake.bar_gap"]),
        ({"intake": {"gauging": [{"weir": "v notch"}]}}, ["intake.gauging[0]", "head"]),
        (
            {"intake": {"gauging": [{"weir": "cipolletti", "head": "0.1 m"}]}},
            ["intake.gauging[0]", "width"],
        ),
        ({"intake": {"gauging": [{"weir": "dam", "head": "1 m"}]}}, ["gauging[0].weir", "dam"]),
        ({"intake": {"storage": "3 m"}}, ["intake.storage", "3 m", "6 m3"]),
        ({"intake": {"grain": "0.1 m"}}, ["intake.grain"]),
        ({"prices": {"per_kg": {"PE100": 3.0}}}, ["[prices]", "date"]),
        ({"prices": {"per_kg": 3.0}}, ["prices.per_kg", "3.0"]),
        (
            {"prices": {"date": "2026-11-25", "per_metre": {"x": "3"}}},
            ["prices.per_metre.x", "'3'"],
        ),
    ],
)
def test_settings__bad_input_is_named(tables, words):
    check_refused(tables, words)


@pytest.mark.parametrize(
    ("text", "unit", "flows"),
    [
        ("date,flow [L/s]\n1 May,41\n2 May,\n3 May,39.5\n", None, [0.041, None, 0.0395]),
        ("datum;discharge (m3/s)\n1;0,041\n2;0,04\n", None, [0.041, 0.04]),
        ("flow_l_s\n41\n", None, [0.041]),
        ("# gauge at the ford\nflow\n2\n", "cfs", [2 * 0.3048**3]),
        ("flow [L/s]\n41\n", "m3/s", [41.0]),
    ],
)  # fmt: skip
def test_read_record__tables_as_people_write_them(tmp_path, text, unit, flows):
    path = tmp_path / "beck.csv"
    path.write_text(text, encoding="utf-8")
    found = read_record(path, unit=unit)
    assert [None if math.isnan(flow) else flow for flow in found] == pytest.approx(flows)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("day,rain\n1,2\n", ["no column of flows"]),
        ("flow\n41\n", ["unit"]),
        ("flow [bar]\n41\n", ["bar"]),
        ("flow [L/s]\n41\nhigh\n", ["line 3", "high"]),
        ("flow [L/s]\n-4\n", ["-0.004"]),
        ("", ["empty"]),
    ],
)
def test_read_record__bad_tables_are_named(tmp_path, text, words):
    path = tmp_path / "beck.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_record(path)
    for word in words:
        assert word in str(caught.value)


def test_read_settings__a_record_beside_the_file_stands_in_the_settings(tmp_path):
    (tmp_path / "beck.csv").write_text("flow\n41\n\n39\n", encoding="utf-8")
    path = tmp_path / "s.toml"
    path.write_text('[energy]\nrecord = "beck.csv"\nunit = "L/s"\n', encoding="utf-8")
    settings = read_settings(path)
    assert settings.energy.record == pytest.approx((0.041, 0.039))
    # What is kept needs no file any more.
    assert settings_from_mapping(dict(settings.given)).energy == settings.energy


def test_read_settings__a_record_that_is_not_there(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('[energy]\nrecord = "none.csv"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"energy\.record"):
        read_settings(path)


LEAF = st.none() | st.booleans() | st.floats() | st.text(max_size=6) | st.integers()
JSON = LEAF | st.lists(LEAF, max_size=3) | st.dictionaries(st.text(max_size=6), LEAF, max_size=2)
KEYS = ["curve", "record", "unit", "gauging", "residual", "per_kg", "date", "hours", "bar", "grain"]


@given(
    st.dictionaries(
        st.sampled_from(["intake", "energy", "prices"]),
        st.dictionaries(st.sampled_from(KEYS), JSON, max_size=3),
    )
)
def test_settings__anything_is_settings_or_one_clear_error(tables):
    try:
        answer = settings_from_mapping(tables)
    except LeatlineError as error:
        answer = error
    assert isinstance(answer, Settings) or (answer.problem and answer.remedy)

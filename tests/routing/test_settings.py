import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st
from refused import check_refused

from routing.errors import LeatlineError, SettingsError
from routing.settings import Settings, read_settings, settings_from_mapping

FULL = {
    "study": {"name": "Upper line", "units": "us"},
    "terrain": {
        "unit": "ft",
        "crs": "EPSG:32628",
        "band": 2,
        "rmse": "0.8 m",
        "vertical_datum": "local",
        "bridge": "60 m",
    },
    "intake": {"level": "412.6 m", "loss": 0.5},
    "outlet": {"level_above_ground": "0.5 m"},
    "trench": {
        "cover": "0.9 m",
        "max_depth": "6 ft",
        "bedding": "0.1 m",
        "min_grade": 0.002,
        "span": [{"from": "310 m", "to": "342 m"}],
    },
    "flow": {"design": "18 L/s", "temperature": "8 degC", "local_loss": 1.2},
    "pipe": [{"from": "0 m", "catalogue": "PE100-SDR17-200", "roughness": "0.01 mm"}],
    "turbine": {"kind": "pelton", "efficiency": "64 %", "closure_time": "8 s"},
}


def test_settings_from_mapping__every_key():
    settings = settings_from_mapping(FULL)
    assert settings.study.units == "us"
    assert settings.terrain.bridge == 60.0
    assert settings.intake.level == 412.6
    assert settings.trench.max_depth == pytest.approx(1.8288)
    assert settings.trench.span[0].to == 342.0
    assert settings.flow.design == pytest.approx(0.018)
    assert settings.pipe[0].roughness == pytest.approx(1e-5)
    assert settings.turbine.efficiency == pytest.approx(0.64)
    assert dict(settings.given) == FULL


def test_settings_from_mapping__nothing_is_all_defaults():
    assert settings_from_mapping({}) == Settings()


def test_settings__pickle():
    settings = settings_from_mapping(FULL)
    assert pickle.loads(pickle.dumps(settings)) == settings


def test_read_settings__toml_equals_json(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text(
        '[flow]\ndesign = "18 L/s"\n[[pipe]]\ncatalogue = "X"\n'
        '[[trench.span]]\nfrom = "3 m"\nto = "5 m"\n',
        encoding="utf-8",
    )
    twin = {
        "flow": {"design": "18 L/s"},
        "pipe": [{"catalogue": "X"}],
        "trench": {"span": [{"from": "3 m", "to": "5 m"}]},
    }
    assert read_settings(path) == settings_from_mapping(twin)


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"trnech": {}}, ["trnech", "trench"]),
        ({"trench": {"covr": "1 m"}}, ["covr", "cover"]),
        ({"trench": {"cover": 0.9}}, ["trench.cover", "0.9", "unit"]),
        ({"trench": {"cover": "-1 m"}}, ["trench.cover", "-1 m"]),
        ({"trench": {"span": [{"from": "1 m"}]}}, ["trench.span[0]", "to"]),
        ({"trench": {"span": {"from": "1 m", "to": "2 m"}}}, ["trench.span", "list"]),
        ({"trench": "deep"}, ["trench", "deep"]),
        ({"pipe": {"catalogue": "x"}}, ["pipe", "[[pipe]]"]),
        ({"pipe": [{"catalog": "x"}]}, ["pipe[0]", "catalogue"]),
        ({"study": {"units": "imperial"}}, ["study.units", "metric, us"]),
        ({"study": {"name": ""}}, ["study.name"]),
        ({"study": {"name": "x" * 501}}, ["study.name"]),
        ({"terrain": {"band": 0}}, ["terrain.band"]),
        ({"terrain": {"band": True}}, ["terrain.band"]),
        ({"intake": {"level": "1 m", "level_above_ground": "0 m"}}, ["intake.level"]),
        ({"intake": {"loss": -1}}, ["intake.loss"]),
        ({"flow": {"design": "0 L/s"}}, ["flow.design"]),
        ({"flow": {"temperature": "60 degC"}}, ["flow.temperature", "60 degC"]),
        ({"flow": {"local_loss": float("nan")}}, ["flow.local_loss"]),
        ({"turbine": {"efficiency": 1.2}}, ["turbine.efficiency"]),
        ({"survey": {"points": "x.csv"}}, ["survey"]),
        ([], ["tables"]),
    ],
)
def test_settings_from_mapping__bad_input_is_named(tables, words):
    check_refused(tables, words)


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 100_000) + " = 1",  # takes 40 GB where it is read
        "a = {" + " . ".join(['"b"'] * 100_000) + " = 1}",
        "[flow]\ndesign = " + "9" * 5000,
        "[" * 100_000,
    ],
    ids=["endless key", "within a table", "digits", "lists"],
)
def test_read_settings__what_would_take_ever_longer_is_refused(tmp_path, text):
    (tmp_path / "s.toml").write_text(text)
    with pytest.raises(SettingsError, match=r"s\.toml"):
        read_settings(tmp_path / "s.toml")


@pytest.mark.parametrize("text", ["[trench", "= 3", "a = 1\na = 2", "\x00"])
def test_read_settings__not_toml(tmp_path, text):
    path = tmp_path / "s.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"s\.toml"):
        read_settings(path)


def test_read_settings__missing_or_binary(tmp_path):
    with pytest.raises(SettingsError, match="does not exist"):
        read_settings(tmp_path / "none.toml")
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="cannot be read"):
        read_settings(tmp_path / "b.toml")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8) | st.integers(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(st.sampled_from([*FULL, "x"]), JSON, max_size=4))
def test_settings_from_mapping__anything_is_settings_or_one_clear_error(tables):
    try:
        answer = settings_from_mapping(tables)
    except LeatlineError as error:
        answer = error
    assert isinstance(answer, Settings) or (answer.problem and answer.remedy)


def test_screen__heads_that_exclude_each_other_are_named() -> None:
    with pytest.raises(
        SettingsError, match=r"screen\.most_head = 20 m .* screen\.least_head = 40 m"
    ):
        settings_from_mapping({"screen": {"least_head": "40 m", "most_head": "20 m"}})

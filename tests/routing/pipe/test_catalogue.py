"""Finding pipes."""

from __future__ import annotations

import pytest

from routing.errors import PipeError
from routing.pipe import catalogue as catalogue_module
from routing.pipe import load_catalogue
from routing.pipe.catalogue import Catalogue, diameter_family
from routing.trade_table import trade_table


def test_find__in_any_letters_and_with_spaces() -> None:
    catalogue = load_catalogue()
    pipe = catalogue.find(" pe100-sdr17-200 ")
    assert pipe.id == "PE100-SDR17-200"
    assert pipe is catalogue.find("PE100-SDR17-200")
    assert pipe.label == "PE100 SDR17 DN/OD 200, ISO 4427-2 / EN 12201-2"


def test_find__every_id() -> None:
    catalogue = load_catalogue()
    assert len(catalogue.ids) == len(set(catalogue.ids)) == len(catalogue)
    assert all(catalogue.find(id).id == id for id in catalogue.ids)


def test_find__temperature_of_the_rating_is_a_column_and_no_word_of_its_basis() -> None:
    row = dict(trade_table(catalogue_module.__file__, "pipes.csv")[0])
    assert (row["rating_ref_temp_c"], row["rating_ref_temp_f"]) == ("23", "73")
    said = row | {"rating_basis": "another wording of the same class"}
    metric = said | {"rating_ref_temp_f": ""}
    found = Catalogue((said, metric | {"id": "in degC"}))
    assert found.find(row["id"]).rating_reference_c == pytest.approx(22.778, abs=5e-4)
    assert found.find("in degC").rating_reference_c == 23.0


def test_find__temperatures_of_the_rating_agree_in_both_columns() -> None:
    for row in trade_table(catalogue_module.__file__, "pipes.csv"):
        if row["rating_ref_temp_f"]:
            celsius = (float(row["rating_ref_temp_f"]) - 32.0) / 1.8
            assert celsius == pytest.approx(float(row["rating_ref_temp_c"]), abs=0.5)
            assert f"({row['rating_ref_temp_f']} degF)" in row["rating_basis"]


def test_find__unknown_names_the_nearest() -> None:
    with pytest.raises(PipeError, match="PE100-SDR17-200") as caught:
        load_catalogue().find("PE100-SDR17-201")
    assert "'PE100-SDR17-201'" in caught.value.problem


@pytest.mark.parametrize("id", ["", "bamboo", "zzzzzz"])
def test_find__nothing_near(id: str) -> None:
    with pytest.raises(PipeError, match="Take an id of the catalogue"):
        load_catalogue().find(id)


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        ({"material": "HDPE", "nominal": "200", "series": "PN 10"}, {"PE100-SDR17-200"}),
        ({"material": "PVC-U", "nominal": "DN 200", "series": "pn10"}, {"PVCU-S12.5-200"}),
        ({"standard": "C900", "nominal": '8"', "series": "DR 18"}, {"PVC-C900-DR18-8in"}),
        ({"material": "pvc", "nominal": "6 in", "series": "SDR 26"}, {"PVC-D2241IPS-SDR26-6in"}),
        ({"material": "ductile iron", "nominal": "8 inch"}, {"DI-PC350-8in"}),
        ({"material": "steel", "nominal": "8in", "series": "Sch 40"}, {"STEEL-B3610-40-8in"}),
        ({"material": "bamboo"}, set()),
        ({"nominal": "7 in"}, set()),
        ({"standard": "none such"}, set()),
    ],
)
def test_select__words_of_the_trade(words: dict[str, str], ids: set[str]) -> None:
    assert {pipe.id for pipe in load_catalogue().select(**words)} == ids


def test_select__everything() -> None:
    assert len(load_catalogue().select()) == 683


def test_select__hdpe_means_two_materials() -> None:
    found = {pipe.material for pipe in load_catalogue().select(material="HDPE")}
    assert found == {"PE100", "PE4710"}


def test_select__size_that_cannot_be_read() -> None:
    with pytest.raises(PipeError, match="DN 200"):
        load_catalogue().select(nominal="eight")


def test_diameter_family__of_every_pipe() -> None:
    families = {diameter_family(pipe) for pipe in load_catalogue()}
    assert families == {"IPS", "PIP", "CI/DI", "DN/OD"}


def test_diameter_family__one_size_has_one_outside_diameter_within_it() -> None:
    outside: dict[tuple[str | None, str | None], float] = {}
    for pipe in load_catalogue():
        first = outside.setdefault((diameter_family(pipe), pipe.nominal), pipe.outside_diameter_m)
        assert pipe.outside_diameter_m == pytest.approx(first, rel=0.005)

"""Requirements, checks and the findings made of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from routing.check import Requirement, failed_findings, requirements_of
from routing.finding import Finding, by_cause

HEAD = "key,code,severity,subject,limit,unit,sense,rule,source,status\n"
ROW = "slow,velocity_low,warning,slowest flow,0.6,m/s,at least,carries grit,handbook,from memory\n"


def room(folder: Path, text: str) -> Path:
    (folder / "data").mkdir()
    (folder / "data" / "requirements.csv").write_text(text, encoding="utf-8")
    return folder


def test_judge__a_failed_check_says_itself_with_its_row(tmp_path: Path) -> None:
    slow = requirements_of(room(tmp_path, HEAD + ROW))("slow")
    kept, failed = (slow.judge(v, f"{v} m/s", station_m=5.0) for v in (0.7, 0.3))
    assert kept.passed
    assert not failed.passed
    assert failed.margin == pytest.approx(-0.5)
    (found,) = failed_findings([kept, failed])
    assert (found.code, found.severity) == ("velocity_low", "warning")
    assert (found.message, found.station_m, found.margin) == ("0.3 m/s", 5.0, failed.margin)


def test_judge__exactly_at_the_limit_passes(tmp_path: Path) -> None:
    slow = requirements_of(room(tmp_path, HEAD + ROW))("slow")
    assert slow.judge(0.6, "").passed
    assert not slow.judge(0.599999, "").passed


def test_judge__a_limit_in_feet_is_kept_by_the_same_length_in_metres(tmp_path: Path) -> None:
    slow = requirements_of(room(tmp_path, HEAD + ROW))("slow")
    assert slow.judge(0.9144, "", limit=3.0 * 0.3048).margin == 0.0  # 0.3048: the foot of 1959
    assert 3.0 * 0.3048 > 0.9144
    assert not slow.judge(0.9144, "", limit=0.914401).passed
    assert slow.judge(0.0, "", limit=0.0).margin == 0.0


def test_judge__a_row_without_limit_asks_for_one(tmp_path: Path) -> None:
    row = requirements_of(room(tmp_path, HEAD + ROW.replace("0.6", "")))("slow")
    with pytest.raises(TypeError, match="slow"):
        row.judge(0.3, "")
    with pytest.raises(TypeError, match="slow"):
        _ = row.bound
    assert not row.judge(0.3, "", limit=0.4).passed


@pytest.mark.parametrize(
    "text",
    [HEAD + ROW + ROW, HEAD + ROW.replace("warning", "grave"), HEAD + ROW.replace("at least", "")],
)
def test_requirements_of__a_bad_row_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(ValueError, match=r"slow|two requirements"):
        requirements_of(room(tmp_path, text))("slow")


def test_by_cause__one_for_each_code_and_severity_faults_first() -> None:
    def found(severity: str, place: float | None, margin: float) -> Finding:
        return Finding(
            code="low_pressure",
            severity=severity,  # type: ignore[arg-type]
            message=f"{margin}",
            station_m=place,
            margin=margin,
        )

    many = [found("note", 1.0, -0.1), found("warning", 9.0, -0.2), found("warning", 3.0, -0.7)]
    causes = by_cause([*many, found("fault", None, -1.0), found("fault", None, -2.0)])
    assert [each.severity for each in causes] == ["fault", "fault", "warning", "note"]
    assert causes[2].message == "-0.7"
    assert causes[2].station_m == 3.0
    assert causes[2].places_m == (3.0, 9.0)
    assert causes[3].places_m == ()


def test_finding__an_unknown_severity_is_refused() -> None:
    with pytest.raises(KeyError):
        Finding(code="uphill", severity="grave", message="")  # type: ignore[arg-type]


def test_requirement__every_row_of_the_rooms_names_rule_source_and_status() -> None:
    import csv

    import routing

    files = list(Path(routing.__file__).parent.rglob("data/requirements.csv"))
    assert files
    keys: list[str] = []
    for path in files:
        for row in csv.DictReader(path.read_text("utf-8").splitlines()):
            lookup = requirements_of(path.parent.parent)
            assert isinstance(lookup(row["key"]), Requirement)
            assert row["subject"], row
            assert row["rule"], row
            assert row["source"], row
            assert row["status"] in {
                "source seen",
                "from memory",
                "common practice",
                "calculated",
            }, row
            assert "www" not in row["source"], row
            assert ".com" not in row["source"], row
            keys.append(row["key"])
    assert len(keys) == len(set(keys))

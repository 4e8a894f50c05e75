"""Findings and checks counted once, and who answers for them."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from routing.check import Check
from routing.errors import SettingsError
from routing.finding import Finding, Severity
from routing.verdict import OUT_OF_REACH, verdict_of


@dataclass(frozen=True)
class Waive:
    code: str
    reason: str = "the maker agreed"
    name: str = "O. E."


def found(code: str, severity: Severity) -> Finding:
    return Finding(code=code, severity=severity, message="")


def failed(code: str, severity: Severity) -> Check:
    return Check(
        subject="x", place="line", demand=2.0, limit=1.0, unit="m", station_m=None, rule="r",
        source="s", code=code, severity=severity,
    )  # fmt: skip


FINDINGS = [found("over_rating", "fault"), found("loss_high", "warning"), found("vortex", "note")]
CHECKS = [failed("over_rating", "fault"), failed("loss_high", "warning"), failed("vortex", "note")]


def test_verdict_of__counts_causes_and_failed_checks() -> None:
    verdict = verdict_of(FINDINGS, CHECKS)
    assert (verdict.faults, verdict.warnings, verdict.notes) == (1, 1, 1)
    assert (verdict.failed_checks, verdict.unsettled_checks) == (1, 1)
    assert verdict.open == ("over_rating", "loss_high")
    assert verdict.preliminary


def test_verdict_of__a_waiver_closes_its_code_and_mends_nothing() -> None:
    verdict = verdict_of(FINDINGS, CHECKS, [Waive("over_rating")])
    assert verdict.faults == 1
    assert verdict.open == ("loss_high",)
    assert [(each.code, each.covers) for each in verdict.waivers] == [("over_rating", 2)]
    assert not verdict_of(FINDINGS, CHECKS, [Waive("over_rating"), Waive("loss_high")]).preliminary


def test_verdict_of__nothing_open_without_fault_or_failure() -> None:
    notes = [found("vortex", "note"), found("loss_high", "warning")]
    assert not verdict_of(notes, [failed("vortex", "note")]).preliminary


def test_verdict_of__a_waiver_for_nothing_covers_nothing() -> None:
    (waiver,) = verdict_of(FINDINGS, CHECKS, [Waive("siphon")]).waivers
    assert waiver.covers == 0


def test_verdict_of__a_waiver_of_an_unknown_code_names_the_nearest() -> None:
    with pytest.raises(SettingsError, match="over_rating"):
        verdict_of(FINDINGS, CHECKS, [Waive("over_ratign")])


@pytest.mark.parametrize("code", OUT_OF_REACH)
def test_verdict_of__what_leaves_no_power_is_told(code: str) -> None:
    found_out = verdict_of([found("loss_high", "fault"), found(code, "fault")], [])
    assert (found_out.out_of_reach_code, found_out.out_of_reach) == (code, OUT_OF_REACH[code])
    assert verdict_of([found(code, "warning")], []).out_of_reach is None


def test_verdict_of__a_rating_somebody_answers_for_is_in_reach_and_a_siphon_never() -> None:
    for code, reach in (("over_rating", None), ("siphon", "siphon")):
        answered = verdict_of([found(code, "fault")], [], [Waive(code)])
        assert answered.out_of_reach == reach
        assert answered.faults == 1


def test_verdict_of__water_that_does_not_run_comes_before_a_pipe_that_bursts() -> None:
    both = [found("over_rating", "fault"), found("siphon", "fault")]
    assert verdict_of(both, []).out_of_reach_code == "siphon"

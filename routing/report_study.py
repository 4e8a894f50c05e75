"""The calculation report of a saved study, with what only its settings and a second run can tell.

The papers are made from the document alone. This brings them two things more: the settings in the
words of their own rows, and the study's functions run again with one input changed at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from routing.errors import LeatlineError
from routing.flow.design import DesignFlow, design_flow
from routing.flow.surge import ClosingLaw, blocked_line, instant_closure
from routing.flow.surge.run import quick_bound, wave_line
from routing.inputs import find_pipes
from routing.laid_line import LaidLine
from routing.papers.document import Document, plain, units_of
from routing.papers.report import Case, Extras, report_pdf
from routing.papers.study_facts import currency
from routing.settings import Settings, settings_from_mapping
from routing.settings.rows import Row, rows_of
from routing.surge_study import closing_law
from routing.units import show
from routing.value import dataclass
from routing.works_study import line_of_document

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["full_report_pdf", "given_words", "sensitivity"]

ROUGHER, FLOW_SHARE, WAVE_SHARE, PRICE_SHARE = 2.0, 0.1, 0.2, 0.2
"""How far each input is moved: roughness twofold, the others up and down by a share [-]."""
SKIPPED = ("sheet", "waive", "layer", "survey")
"""Tables of the settings that other pages of the papers show."""


def full_report_pdf(
    doc: Document, relief: Relief | None = None, contours: Sequence[DrawnContour] = ()
) -> bytes:
    """Return the calculation report with settings in words and the study run again."""
    extras = Extras(given=tuple(given_words(doc)), cases=tuple(sensitivity(doc)))
    return report_pdf(doc, relief, contours, extras)


_UNITS = {"us": "US customary units", "metric": "metric units"}


def given_words(doc: Document) -> Iterator[tuple[str, str]]:
    """Return each setting as (meaning, value as given), in the words of its own row."""
    tables = rows_of(Settings)
    for name, value in (doc.get("settings") or {}).items():
        if name in SKIPPED or name not in tables:
            continue
        rows = _rows(tables[name])
        entries = value if isinstance(value, list) else [value]
        for number, entry in enumerate(entries, start=1):
            where = name if len(entries) == 1 else f"{name} {number}"
            for key, given in entry.items() if isinstance(entry, Mapping) else ():
                told = rows.get(key)
                said = plain(key).replace("_", " ") if told is None else told.meaning
                money = currency(doc) if name == "prices" or key == "price_per_kwh" else ""
                yield f"{where}: {_plain_words(said)}", _value(given, money)


def _plain_words(meaning: str) -> str:
    """Return the meaning of a setting for readers of paper, without the marks of a settings file.

    >>> _plain_words("class of the ground, as `[prices]` `ground` names it; or:")
    'class of the ground, as prices ground names it'
    """
    told = meaning.partition("; ")[0].translate(str.maketrans("_", " ", "`[]"))
    return told.removesuffix(", in words")


def _rows(told: Row) -> Mapping[str, Row]:
    return rows_of(told.reader.rows) if told.reader.rows is not None else {}


def _value(given: object, money: str = "") -> str:
    if isinstance(given, list | tuple):
        return "; ".join(_value(each, money) for each in given)
    if isinstance(given, Mapping):
        return ", ".join(
            f"{key} {_value(each, money)}".replace("_", " ") for key, each in given.items()
        )
    if isinstance(given, bool):
        return "yes" if given else "no"
    if isinstance(given, int | float):
        return f"{given:g} {money}".strip()
    return _UNITS.get(str(given), plain(given))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """One input moved: in words, and what it does to flow, levels, waves and roughness."""

    name: str
    flow: float = 1.0
    wave: float = 1.0
    rough: float = 1.0
    new: bool = False
    intake_m: float = 0.0
    price: float = 1.0


def sensitivity(doc: Document) -> Iterator[Case]:
    """Return the study's own calculation again, one input changed at a time.

    Losses, power and the bound of the surge come from the functions that the study itself used;
    nothing is returned where the study has no flow, or its pipes cannot be found again.
    """
    flow = (doc.get("flow") or {}).get("flow_m3_s")
    if flow is None:
        return
    try:
        settings = settings_from_mapping(doc["settings"])
        for change in _changes(doc):
            yield _case(doc, settings, float(flow), change)
    except (LeatlineError, KeyError):
        return


def _changes(doc: Document) -> Iterator[_Change]:
    up, down = f"{100 * FLOW_SHARE:.0f} % more", f"{100 * FLOW_SHARE:.0f} % less"
    yield _Change(name="as calculated")
    yield _Change(name="roughness of new pipe", new=True)
    yield _Change(name=f"roughness {ROUGHER:g} times that of the aged pipe", rough=ROUGHER)
    yield _Change(name=f"flow {up}", flow=1.0 + FLOW_SHARE)
    yield _Change(name=f"flow {down}", flow=1.0 - FLOW_SHARE)
    error = doc["summary"].get("gross_head_sd_m")
    if error:
        said = show(error, "depth", units_of(doc))
        yield _Change(name=f"levels off by {said} against", intake_m=-float(error))
        yield _Change(name=f"levels off by {said} in favour", intake_m=float(error))
    wave = f"{100 * WAVE_SHARE:.0f} %"
    yield _Change(name=f"wave speed {wave} higher", wave=1.0 + WAVE_SHARE)
    yield _Change(name=f"wave speed {wave} lower", wave=1.0 - WAVE_SHARE)
    if (doc.get("cost") or {}).get("total") is not None:
        price = f"{100 * PRICE_SHARE:.0f} %"
        yield _Change(name=f"all prices {price} higher", price=1.0 + PRICE_SHARE)
        yield _Change(name=f"all prices {price} lower", price=1.0 - PRICE_SHARE)


def _case(doc: Document, settings: Settings, flow_m3_s: float, change: _Change) -> Case:
    line = _line(doc, settings, change)
    design = design_flow(
        line,
        flow_m3_s * change.flow,
        efficiency=doc["flow"].get("efficiency"),
        turbine_kind=settings.turbine.kind,
    )
    lost = design.new.head_loss_m if change.new else design.aged.head_loss_m
    net = line.gross_head_m - lost
    cost = (doc.get("cost") or {}).get("total")
    return Case(
        name=change.name,
        head_loss_m=lost,
        net_head_m=net,
        power_kw=design.power_kw * net / design.net_head_m if design.net_head_m > 0.0 else None,
        surge_rise_m=_rise_m(line, design, change, closing_law(settings)),
        blocked_rise_m=_rise_m(line, design, change, instant_closure()),
        cost=None if cost is None else float(cost) * change.price,
    )


def _line(doc: Document, settings: Settings, change: _Change) -> LaidLine:
    """Return the laid line with roughness and intake level moved."""
    if change.rough != 1.0:
        tables = sorted(settings.pipe, key=lambda entry: entry.from_)
        rougher = tuple(
            replace(table, roughness=pipe.roughness_m * change.rough)
            for table, (_, pipe) in zip(tables, find_pipes(settings), strict=True)
        )
        settings = replace(settings, pipe=rougher)
    summary = dict(doc["summary"])
    summary["intake_level_m"] = float(summary["intake_level_m"]) + change.intake_m
    return line_of_document({**doc, "summary": summary}, settings)


def _rise_m(
    line: LaidLine, design: DesignFlow, change: _Change, law: ClosingLaw | None
) -> float | None:
    """Return the bound of the rise at the outlet for a closure; None without one."""
    blocked = blocked_line(line, design)
    if blocked is None or law is None:
        return None
    inputs = replace(blocked, law=law)
    if change.wave != 1.0:
        usual = [reach.wave_speed_m_s for reach in wave_line(inputs).grid.reaches]
        inputs = replace(inputs, wave_speed_m_s=tuple(speed * change.wave for speed in usual))
    return float(quick_bound(inputs)[0].rise_m)

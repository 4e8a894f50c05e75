"""The shopping list: what the kits of a study add up to, with its pipe; nothing is typed in."""

from __future__ import annotations

import math
import re
from collections import Counter

from routing.papers.cast import unsized_words
from routing.papers.document import Document, plain, units_of
from routing.papers.schedule_form import Schedule
from routing.papers.spare import SPARE_SHARE, bought_m
from routing.papers.subject import Column, Subject
from routing.pipe import is_plastic
from routing.trench import embedment_m2, embedment_over_m, trench_width_m
from routing.units import convert, show, unit_of

__all__ = ["CONCRETE_OVER", "shopping", "shopping_subject"]

CONCRETE_OVER = 0.10
"""Concrete bought beyond the volume of blocks and anchors [-]: common practice, no source."""

_BEARS = re.compile(
    r"(?P<before>.*?)(?P<most>-?\d+(?:\.\d+)?) (?P<unit>kPa|psi|m|ft)"
    r"(?P<after>| high| at rest and the test)$"
)
"""A size that ends with what the piece must bear, or with its height."""


def shopping(doc: Document) -> Schedule:
    """Return what to buy: pipe with spare, the pieces of all kits by size, concrete in all."""
    units = units_of(doc)
    rows: list[list[str]] = []
    lengths: dict[str, float] = {}
    for pipe in doc.get("pipes") or ():
        label = plain(pipe["label"])
        lengths[label] = lengths.get(label, 0.0) + float(pipe["length_m"])
    rows += [["pipe", label, show(bought_m(m), "length", units)] for label, m in lengths.items()]
    rows += _joints(doc)
    rows += _along(doc)
    pieces: Counter[tuple[str, str]] = Counter()
    for kit in doc.get("kits") or ():
        for piece in kit["pieces"]:
            what = plain(piece["what"])
            if not what.startswith("concrete"):
                # A marker post bears the name of what it marks; it is bought without.
                size = "" if what == "marker post" else plain(piece["size"])
                pieces[what, size] += int(piece["count"])
    rows += [[what, size, str(count)] for (what, size), count in sorted(_together(pieces).items())]
    cast = [item for key in ("blocks", "anchors") for item in doc.get(key) or ()]
    open_ = [plain(item["id"]) for item in cast if unsized_words(doc, item)]
    volume = sum(float(item["volume_m3"] or 0.0) for item in cast if plain(item["id"]) not in open_)
    if volume > 0.0:
        bought = convert(volume * (1.0 + CONCRETE_OVER), "volume", units)
        tenths = f"{math.ceil(10.0 * bought) / 10.0:.1f}"
        rows.append(["concrete", "", f"{tenths} {unit_of('volume', units)}"])
    note = (
        f"Pipe with {100 * SPARE_SHARE:g} % spare, concrete with {100 * CONCRETE_OVER:g} % over "
        "(common practice). Embedment is told as it lies compacted in the trench; none at bridges."
    )
    if open_:
        note += f" Left open, and so without concrete: {', '.join(open_)}."
    return Schedule("Shopping list", ["what", "size", "count"], rows, [False, False, True], note)


def _together(pieces: Counter[tuple[str, str]]) -> Counter[tuple[str, str]]:
    """Return pieces that differ only in what they must bear, or in height, as one row.

    >>> _together(Counter({("valve", "50 mm, 66 kPa"): 1, ("valve", "50 mm, 743 kPa"): 2}))
    Counter({('valve', '50 mm, up to 743 kPa'): 3})

    Above the water of the intake the pipe sucks: the row tells its deepest suction too.

    >>> _together(Counter({("valve", "for -12 kPa at rest and the test"): 1,
    ...                    ("valve", "for 743 kPa at rest and the test"): 2}))
    Counter({('valve', 'for -12 to 743 kPa at rest and the test'): 3})
    """
    alike: dict[tuple[str, str, str, str], list[tuple[float, str, str, int]]] = {}
    bought: Counter[tuple[str, str]] = Counter()
    for (what, size), count in pieces.items():
        told = _BEARS.match(size)
        if told is None:
            bought[what, size] += count
            continue
        key = what, told["before"], told["unit"], told["after"]
        alike.setdefault(key, []).append((float(told["most"]), told["most"], size, count))
    for (what, before, unit, after), rows in alike.items():
        (least, low, *_), (_, most, size, _) = min(rows), max(rows)
        reach = "up to" if least >= 0.0 else f"{low} to"
        words = size if len(rows) == 1 else f"{before}{reach} {most} {unit}{after}"
        bought[what, words] += sum(row[-1] for row in rows)
    return bought


def _joints(doc: Document) -> list[list[str]]:
    """Return the sticks of each pipe, and what joins them: a gasket, a coupler or a weld each."""
    rows: Counter[tuple[str, str]] = Counter()
    for pipe in doc.get("pipes") or ():
        stick, label = float(pipe.get("stick_m") or 0.0), plain(pipe["label"])
        if stick <= 0.0:
            continue
        length = show(stick, "length", units_of(doc))
        bought = math.ceil(float(pipe["length_m"]) * (1.0 + SPARE_SHARE) / stick)
        rows["sticks or coils", f"{label}, {length} each"] += bought
        joints = max(math.ceil(float(pipe["length_m"]) / stick) - 1, 0)
        joint = plain(pipe["joint"])
        what = "gasket" if joint.startswith("gasket") else f"joint, {joint}"
        rows[what, label] += math.ceil(joints * (1.0 + SPARE_SHARE)) if what == "gasket" else joints
    return [[what, size, str(count)] for (what, size), count in rows.items() if count]


def _along(doc: Document) -> list[list[str]]:
    """Return what lies in the trench beside the pipe: tape, and a wire that plastic is found by."""
    if not doc.get("pipes"):
        return []
    units = units_of(doc)
    length = bought_m(float(doc["summary"]["plan_length_m"]))
    rows = [["marker tape", "", show(length, "length", units)]]
    plastic = [pipe for pipe in doc["pipes"] if is_plastic(str(pipe["material"]))]
    if plastic:
        wire = bought_m(sum(float(pipe["length_m"]) for pipe in plastic))
        rows.append(["tracer wire", "along plastic pipe", show(wire, "length", units)])
    over = show(embedment_over_m(), "depth", units)
    size = f"without stones: bed, sides and {over} over the pipe"
    return [*rows, ["embedment", size, show(_embedment_m3(doc), "volume", units)]]


def _embedment_m3(doc: Document) -> float:
    """Return the fill round the pipe wherever it lies in a trench [m3]."""
    trench = doc["trench"]
    spans = [(float(span["from_m"]), float(span["to_m"])) for span in trench["spans"]]
    volume = 0.0
    for pipe in doc["pipes"]:
        first, last = float(pipe["from_m"]), float(pipe["to_m"])
        above = sum(max(min(last, end) - max(first, start), 0.0) for start, end in spans)
        buried = float(pipe["length_m"]) * (1.0 - above / max(last - first, 1e-9))
        outside = float(pipe["outside_diameter_m"])
        volume += buried * embedment_m2(
            max(float(trench.get("width_m") or trench_width_m(outside)), outside),
            outside_diameter_m=outside,
            bedding_m=float(trench["bedding_m"]),
        )
    return volume


def shopping_subject(doc: Document) -> Subject:
    """Return the shopping list as a sheet of the workbook."""
    made = shopping(doc)
    columns = tuple(Column(key=head, title=head, unit="", digits=None) for head in made.heads)
    rows = tuple((*row[:-1], int(row[-1]) if row[-1].isdigit() else row[-1]) for row in made.rows)
    return Subject(name="shopping list", columns=columns, rows=rows)

"""The closing chapters: checks, cautions, sources, documents of a permit, signature."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_text, signed, status
from routing.papers.report.basis import Formula
from routing.papers.report.confirm import confirm_rows, with_edition
from routing.papers.report.found import checks_table, compact_table
from routing.papers.report.parts import Section, facts, items, listed, table, text
from routing.papers.report.turns import needing
from routing.papers.subject import subjects
from routing.papers.wording import worded
from routing.trade_table import trade_table

__all__ = [
    "cautions_chapter",
    "checks_chapter",
    "other_results",
    "permit_chapter",
    "signature_chapter",
    "sources_chapter",
]

OWN = ("definition", "calculated", "common practice")
"""Statuses of what no publication is needed for."""
TOLD = frozenset(
    {"figures", "stations", "vents", "drains", "bends", "pipes", "warnings", "cautions"}
    | {"assumptions", "ground highs", "ground lows", "trench spans", "trench offers", "blocks"}
    | {"anchors", "supports", "kits", "grades", "curves", "floating", "bridges", "taps", "valves"}
    | {"flow reaches", "air", "trench below grade", "terrain files", "terrain grids", "checks"}
    | {"levels to shoot", "doubt depths", "doubt settled", "vent sizes", "drain sizes", "surge"}
    | {"air carry", "advised folded", "summary expected vents", "verdict open", "waivers"}
    | {"scope checked", "scope not checked", "trench grade choices", "trench limits", "crossings"}
    | {"lines", "alternatives", "ticks", "cost not priced", "cost lines", "intake gaugings"}
    | {"survey points", "changes moved", "changes new", "changes gone", "terrain gaps"}
    | {"intake share", "intake mouth", "intake screen", "intake settling"}
    | {"terrain changes", "energy curve", "streams", "catchment", "quantities", "relief stages"}
    | {"relief valves"}
)
"""Tables that a chapter words itself; any other is printed as it stands in the document."""


def checks_chapter(doc: Document) -> Iterator[Section]:
    """Return the checks that fail one by one, those that hold by requirement."""
    yield checks_table(doc, "What does not hold, or is answered for", failed=True)
    yield checks_table(
        doc,
        "What holds, the closest of each requirement",
        failed=False,
        closest=True,
    )


def other_results(doc: Document) -> Iterator[Section]:
    """Return tables that no chapter words, such as those of a later version of the tool."""
    for each in subjects(needing(doc)):
        if each.name not in TOLD and not each.name.startswith(
            ("works", "kits", "plan", "changes", "trench", "lines")
        ):
            yield compact_table(each, units_of(doc))


def cautions_chapter(doc: Document) -> Iterator[Section]:
    """Return the safety texts of the study."""
    yield items("", [worded(each["text"]) for each in doc.get("cautions") or ()])


def sources_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return every source with what was taken from it, then those to confirm before signing."""
    published: dict[str, dict[str, None]] = {}
    reasoned: dict[str, None] = {}
    told = [(each.source, each.title, each.status) for each in formulas]
    told += [
        (plain(each["source"]), plain(each["subject"]), plain(each.get("status") or ""))
        for each in doc.get("checks") or ()
    ]
    for source, what, status_ in told:
        if status_ in OWN and not any(letter.isdigit() for letter in source):
            reasoned[what] = None
        else:
            published.setdefault(with_edition(source, status_), {})[what] = None
    rows = [[source, "; ".join(words)] for source, words in sorted(published.items())]
    units = units_of(doc)
    heads = ["source, edition", "used for"]
    yield table("Sources", heads, rows, [False, False], units=units, most=len(rows))
    yield text(
        f"By mechanics, geometry and common practice: {'; '.join(reasoned)}." if reasoned else ""
    )
    yield text(
        "The following were seen second-hand or are from memory. Whoever signs confirms them "
        "against the current edition in force at the place.",
        "To confirm before signing",
    )
    confirm = [list(row) for row in confirm_rows(doc)]
    heads = ["source", "what was taken from it"]
    yield table("", heads, confirm, [False, False], units=units, most=len(confirm))


def permit_chapter(doc: Document) -> Iterator[Section]:
    """Return which document a permit asks for, and which paper of this package serves it."""
    rows = trade_table(__file__, "permits.csv")
    kinds = dict.fromkeys(row["kind"] for row in rows)
    for kind in kinds:
        of_kind = [row for row in rows if row["kind"] == kind]
        body = [[row["item"], row["asks"], row["here"]] for row in of_kind]
        note = f"{of_kind[0]['source']} ({of_kind[0]['status']})."
        heads = ["document", "holds", "in this package"]
        yield table(kind, heads, body, [False] * 3, note, units=units_of(doc))
    photos = [each for each in doc.get("records") or () if each.get("photo")]
    if not photos:
        words = "No photograph lies with this study; those of the crews' records would stand here."
        yield text(words, "Photo log")
    yield listed(
        doc,
        "Photo log",
        photos,
        [
            ("photo", "photo", None),
            ("of", "of", None),
            ("station_m", "station", 1),
            ("note", "shows", None),
            ("time", "taken", None),
        ],
    )


def signature_chapter(doc: Document) -> Iterator[Section]:
    """Return the page to be signed."""
    yield text(
        f"{status(doc)}. This report was calculated by a tool from what was given. It becomes an "
        "engineer's report when a licensed engineer has reviewed it and signs here; what stands "
        "under To confirm before signing has then been confirmed."
    )
    yield facts(
        "",
        [
            ("Calculated by", sheet_text(doc, "drawn") or "–"),
            ("Checked by", sheet_text(doc, "checked") or "–"),
            ("Signed", sheet_text(doc, "signed") if signed(doc) else "not signed"),
        ],
    )
    yield {"title": "", "sign": ["name, registration", "place, date", "signature, seal"]}

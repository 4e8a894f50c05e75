"""A text in another language, by the catalogue; what it does not hold stays English."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from routing.words.catalogue import Language, catalogue, language
from routing.words.form import UNITS, filled, normal_form

__all__ = ["IN_ENGLISH", "Translator", "translate"]

SENTENCES = re.compile(r"(?<=[.!?])\s+(?=[A-Z“{])")
JOINTS = (" · ", "; ", ": ", " – ", ", ", " (", " / ")
"""Where a text is parted when it is not known as a whole, the strongest first."""
ENDS = re.compile(r"^(\s*[(!]?\s*)(.*?)(\s*[)…:,;.]*\s*)$", re.DOTALL)
CURRENCY = re.compile(r"(?<![^\W\d_])[A-Z]{3}(?![^\W\d_])")
"""The code of a currency is the same in each language (ISO 4217)."""
UNIT = re.compile(UNITS)
"""A unit on its own, as behind the head of a column."""
LETTER = re.compile(r"[^\W\d_]{2}")
HOLE = re.compile(r"\{\d+\}")
OWN = 6
"""Letters of its own in one piece by which an entry is known whatever stands in its braces [-]."""
IN_ENGLISH = "In English"
STOPS = ".!?।؟…"
"""What a sentence may end with in the languages here."""
STOP = {"ne": "।"}
"""The full stop of a language where it is another than a point."""


@dataclass(frozen=True, slots=True)
class Translator:
    """Translates into one language and remembers what it could not."""

    to: Language
    sentences: Mapping[str, str]
    missing: dict[str, None] = field(default_factory=dict)

    def __call__(self, text: str) -> str:
        """Return a text in the language."""
        if self.to.code == "en" or not text.strip():
            return text
        return self._parted(text)

    def _whole(self, text: str) -> str | None:
        """Return a text that is known as one sentence, or that holds no word."""
        form = normal_form(text)
        if UNIT.fullmatch(text) or not LETTER.search(
            CURRENCY.sub("", re.sub(r"\{\d+\}", "", form.key))
        ):
            return self._filled(form.key, form.parts)
        found = self._known(form.key)
        return None if found is None else self._filled(found, form.parts)

    def _filled(self, sentence: str, parts: tuple[str, ...]) -> str:
        rightward = self.to.direction == "ltr"
        marks = self.to.decimal_mark, self.to.date_form
        return filled(sentence, self._parts(parts), *marks, rightward=rightward)

    def _parts(self, parts: tuple[str, ...]) -> tuple[str, ...]:
        """Return the parts; what is quoted may be a name of the page itself."""
        quoted = (part[1:-1] if part.startswith("“") else None for part in parts)
        return tuple(
            part if name is None else f"“{self._known(name) or name}”"
            for part, name in zip(parts, quoted, strict=True)
        )

    def _known(self, key: str) -> str | None:
        found = self.sentences.get(key)
        if found is not None:
            return found
        parted = ENDS.match(key)
        if parted is None or not parted[2]:
            return None
        head, middle, tail = parted.groups()
        small = middle[:1].lower() + middle[1:]
        for known in (middle, middle + tail.strip()[:1]):
            if found := self.sentences.get(known):
                return f"{head}{found}{tail}" if known == middle else f"{head}{found}"
        if found := self.sentences.get(small):
            return f"{head}{found[:1].upper()}{found[1:]}{tail}"
        return None

    def _parted(self, text: str) -> str:
        """Return a text by its pieces if all are known, else sentence by sentence."""
        if (found := self._piece(text)) is not None:
            return found
        sentences = SENTENCES.split(text)
        if len(sentences) > 1:
            return " ".join(self(sentence) for sentence in sentences)
        self.missing[normal_form(text).key] = None
        return text

    def _piece(self, text: str) -> str | None:
        """Return a text known as a whole, or each of whose pieces between joints is known."""
        if (found := self._whole(text)) is not None:
            return found
        for joint in JOINTS:
            if joint in text:
                pieces = [self._piece(piece) for piece in text.split(joint)]
                if None not in pieces:
                    return joint.join(map(str, pieces))
        return None

    def caution(self, text: str) -> str:
        """Return a caution: with its English beside it until a speaker has confirmed the language.

        A caution read wrongly can hurt, so a first draft never stands alone.
        """
        said = self(text)
        if said == text or self.to.status == "confirmed":
            return said
        return f"{said} [{self._english(text)}]"

    def _english(self, text: str) -> str:
        """Return English whose marks stay with it where the text around runs the other way."""
        return text if self.to.direction == "ltr" else f"\u2066{text}\u2069"

    def message(self, kind: str, problem: str, remedy: str = "") -> tuple[str, str]:
        """Return an error or a warning in the language, problem and remedy.

        Where one of the two is not known, the problem is what ``kind`` it is, which every code of
        a message has in every language, and both stand behind it in English, said to be so.
        """
        told = [self._message(text) for text in (problem, remedy)]
        if self.to.code == "en" or None not in told:
            return told[0] or problem, told[1] or remedy
        what = self(kind).strip()
        stop = STOP.get(self.to.code, ".") if what and what[-1] not in STOPS else ""
        head = f"{what}{stop} {self(IN_ENGLISH)}: "
        return head + self._english(problem), self._english(remedy) if remedy else ""

    def _message(self, text: str) -> str | None:
        """Return a text if all of it is known: as sentences, else with values of any kind."""
        heard = Translator(self.to, self.sentences)
        said = heard(text)
        return said if not heard.missing else self._by_form(text)

    def _by_form(self, text: str) -> str | None:
        """Return a text by the longest entry that it is, any words standing in its braces."""
        for key in sorted(self.sentences, key=len, reverse=True):
            pieces = HOLE.split(key)
            own = max(pieces, key=len)
            bounded = pieces[0] or pieces[-1].endswith((".", "!", "?"))  # else it may be a tail
            if len(pieces) == 1 or not bounded or len(own) < OWN or own not in text:
                continue
            if found := _between(pieces, text):
                values = dict(zip(HOLE.findall(key), found, strict=True))
                parts: list[str] = re.split(f"({HOLE.pattern})", self.sentences[key])
                return "".join(values.get(part, part) for part in parts)
        return None


def _between(pieces: Sequence[str], text: str) -> list[str]:
    """Return what stands between the pieces of a text, each as short as it can be; else nothing.

    >>> _between(["", " = ", " is not a length."], "cover = 9 is not a length.")
    ['cover', '9']
    """
    found: list[str] = []
    if not text.startswith(pieces[0]):
        return found
    at = len(pieces[0])
    for number, piece in enumerate(pieces[1:], start=2):
        last = number == len(pieces)
        then = len(text) - len(piece) if last else text.find(piece, at)
        if then < at or not text.startswith(piece, then):
            return []
        found.append(text[at:then])
        at = then + len(piece)
    return found


def translate(text: str, code: str) -> str:
    """Return a text in the language of a code; raises InputError for a code not known.

    >>> translate("Height of V3: 1.5 m", "en")
    'Height of V3: 1.5 m'
    """
    to = language(code)
    return Translator(to, catalogue(to.code))(text)

"""A text in another language, by the catalogue; what it does not hold stays English."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from routing.words.catalogue import Language, catalogue, language
from routing.words.form import UNITS, filled, normal_form

__all__ = ["Translator", "translate"]

SENTENCES = re.compile(r"(?<=[.!?])\s+(?=[A-Z“{])")
JOINTS = (" · ", "; ", ": ", " – ", ", ", " (", " / ")
"""Where a text is parted when it is not known as a whole, the strongest first."""
ENDS = re.compile(r"^(\s*[(!]?\s*)(.*?)(\s*[)…:,;.]*\s*)$", re.DOTALL)
CURRENCY = re.compile(r"(?<![^\W\d_])[A-Z]{3}(?![^\W\d_])")
"""The code of a currency is the same in each language (ISO 4217)."""
UNIT = re.compile(UNITS)
"""A unit on its own, as behind the head of a column."""
LETTER = re.compile(r"[^\W\d_]{2}")


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
        return filled(sentence, self._parts(parts), self.to.decimal_mark, self.to.date_form)

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
        # Its marks stay with the English where the text around it runs from right to left.
        mark = "\u200e" if self.to.direction == "rtl" else ""
        return f"{said} [{mark}{text}{mark}]"


def translate(text: str, code: str) -> str:
    """Return a text in the language of a code; raises InputError for a code not known.

    >>> translate("Height of V3: 1.5 m", "en")
    'Height of V3: 1.5 m'
    """
    to = language(code)
    return Translator(to, catalogue(to.code))(text)

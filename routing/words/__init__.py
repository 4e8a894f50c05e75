"""What people read, in their language: one catalogue for terminal, papers, map, field sheet, page.

The rooms speak English. What a face shows is translated once, at its edge: a sentence is looked up
with its numbers, names of fittings and quoted words taken out, so that one entry serves every line.
What no catalogue holds stays English and can be listed.
"""

from routing.words.aloud import (
    Said,
    caution_lines,
    said,
    said_caution,
    said_message,
    speaking,
    spoken,
)
from routing.words.catalogue import (
    Language,
    catalogue,
    language,
    languages,
    spoken_words,
    terms,
)
from routing.words.form import normal_form
from routing.words.translate import IN_ENGLISH, Translator, translate

__all__ = [
    "IN_ENGLISH",
    "Language",
    "Said",
    "Translator",
    "catalogue",
    "caution_lines",
    "language",
    "languages",
    "normal_form",
    "said",
    "said_caution",
    "said_message",
    "speaking",
    "spoken",
    "spoken_words",
    "terms",
    "translate",
]

"""Screening a valley: places along its streams, all pairs of them priced, ranked and checked.

``places`` makes the chains of places down each stream, ``chain`` prices the candidates of a chain,
``batch`` is a piece of that work on its own, ``screen`` runs all of it, ``rank`` orders candidates
and checks the order by full studies, ``studies`` seeks lines for the best, ``result`` is
``screen.json`` and its map, ``cluster`` does the same on other machines.
"""

from routing.search.valley.result import screen_document, write_screen
from routing.search.valley.screen import Screened, screen_valley
from routing.search.valley.studies import best_studies

__all__ = ["Screened", "best_studies", "screen_document", "screen_valley", "write_screen"]

"""Room of the search: lines between two places, proposed; each is laid, judged and priced.

``grid`` is the ground in moderate size, ``prices`` and ``ladder`` are what a metre costs, ``bans``
where no line may go, ``site`` all of that together; ``graph`` finds the least-cost way over cells
and headings, ``weave`` and ``smooth`` make it a line of few legs, ``lines`` has the study lay and
improve it; ``settle`` puts in the pipes that hold, ``propose`` finds alternatives, ``told`` what is
said of them, ``why`` why there is none; ``result`` is ``search.json``.
"""

from routing.search.propose import Proposals, propose
from routing.search.result import search_document, write_search

__all__ = ["Proposals", "propose", "search_document", "write_search"]

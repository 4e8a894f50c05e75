"""Room of the choice: which pipe to buy, from all that are made.

``line`` is what the choice is made for; ``worth`` what head and money are worth in a year;
``sweep`` tries every pipe alone; ``diameters`` finds the best sequence of several, which
``within_loss`` bounds and ``search`` solves.
"""

from routing.choice.diameters import DiameterChoice, choose_diameters
from routing.choice.line import ChoiceLine, quick_surge
from routing.choice.sweep import PipeSweep, sweep_pipes
from routing.choice.worth import Worth, lost_energy_kwh

__all__ = [
    "ChoiceLine",
    "DiameterChoice",
    "PipeSweep",
    "Worth",
    "choose_diameters",
    "lost_energy_kwh",
    "quick_surge",
    "sweep_pipes",
]

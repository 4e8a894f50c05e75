"""Room of the land: what lies about the line, where the line crosses it, and what that asks.

``shape`` holds areas and lines of a layer, ``track`` the line as the geometry takes it, ``inside``
the stretches within areas, ``contact`` the places where two lines meet, ``near`` the stretches
along another line, ``crossing`` puts them together, ``judge`` holds them against
``data/requirements.csv``, ``asks`` says in words what each kind asks (``data/asks.csv``),
``ground`` has the stretches of each class of ground, ``files`` reads layers of every form.
"""

from routing.land.asks import asks_of
from routing.land.crossing import GROUND, Crossing, Layer, find_crossings
from routing.land.files import read_layer
from routing.land.ground import ground_stretches
from routing.land.judge import judge_crossings
from routing.land.kinds import KINDS, LandKind
from routing.land.shape import Shape, shapes_of

__all__ = [
    "GROUND",
    "KINDS",
    "Crossing",
    "LandKind",
    "Layer",
    "Shape",
    "asks_of",
    "find_crossings",
    "ground_stretches",
    "judge_crossings",
    "read_layer",
    "shapes_of",
]

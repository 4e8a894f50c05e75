"""Room of the pipe: what can be bought, what it holds, and which pipe lies where along the line.

``material`` knows roughness by material and ``elasticity`` stiffness; ``pipe`` is one pipe;
``catalogue`` finds pipes that are made; ``wall`` and ``rating`` are the formulas behind the
catalogue; ``derating`` lowers a rating for warm water; ``joint`` knows how pipes are joined;
``schedule`` puts pipes along the line;
``findings`` says what is doubtful, and judges by the rows of ``data/requirements.csv``.
"""

from routing.pipe.catalogue import Catalogue, load_catalogue
from routing.pipe.derating import Derating, derated_rating_pa, derating
from routing.pipe.elasticity import Elasticity, find_elasticity
from routing.pipe.findings import joint_assumptions, pipe_checks, pipe_findings
from routing.pipe.joint import Joint, Jointing, find_joint, joint_names
from routing.pipe.material import Material, find_material, is_plastic, material_family
from routing.pipe.pipe import Pipe, pipe_by_hand, with_jointing, with_roughness
from routing.pipe.rating import (
    rating_by_wall_pa,
)
from routing.pipe.schedule import PipeRun, PipeSchedule, schedule_pipes

__all__ = [
    "Catalogue",
    "Derating",
    "Elasticity",
    "Joint",
    "Jointing",
    "Material",
    "Pipe",
    "PipeRun",
    "PipeSchedule",
    "derated_rating_pa",
    "derating",
    "find_elasticity",
    "find_joint",
    "find_material",
    "is_plastic",
    "joint_assumptions",
    "joint_names",
    "load_catalogue",
    "material_family",
    "pipe_by_hand",
    "pipe_checks",
    "pipe_findings",
    "rating_by_wall_pa",
    "schedule_pipes",
    "with_jointing",
    "with_roughness",
]

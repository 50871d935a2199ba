"""Nouns of the floors below that the places hand to the faces, by one door.

The faces know the workbench and the nouns of `obverse.process`; what a place returns beyond those has its name here.
"""

from obverse.inference import NextStrips
from obverse.mixing import Conversion, MixLine, MixSheet
from obverse.run import DARK, Action, PlanCaution, RunPlan
from obverse.safety import HazardSheet
from obverse.sensitometry import ReadingList, Shot
from obverse.store import Stored
from obverse.store.exchange import NotebookDocument

__all__ = [
    "DARK",
    "Action",
    "Conversion",
    "HazardSheet",
    "MixLine",
    "MixSheet",
    "NextStrips",
    "NotebookDocument",
    "PlanCaution",
    "ReadingList",
    "RunPlan",
    "Shot",
    "Stored",
]

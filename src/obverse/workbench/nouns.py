"""Nouns of the floors below that the places hand to the faces, by one door.

The faces know the workbench and the nouns of `obverse.process`; what a place returns beyond those has its name here.
"""

from obverse.mixing import MixLine, MixSheet
from obverse.run import DARK, Action, RunPlan
from obverse.safety.hazards import HazardSheet
from obverse.sensitometry import ReadingList, Shot
from obverse.store.exchange import NotebookDocument

__all__ = ["DARK", "Action", "HazardSheet", "MixLine", "MixSheet", "NotebookDocument", "ReadingList", "RunPlan", "Shot"]

"""The process model of the first development, its parameters, and invented films made by it."""

from obverse.model.curve import Layers, density, layers
from obverse.model.making import with_activity
from obverse.model.observables import OBSERVABLES, bounds_of, in_aim, margins, observables, observables_of
from obverse.model.parameters import NAMES, PARAMETERS, PRIOR_MEAN, PRIOR_SD, Parameter, natural
from obverse.model.simulate import SimulatedFilm, demo_film, simulate_film, simulate_series, simulate_trial

__all__ = [
    "NAMES",
    "OBSERVABLES",
    "PARAMETERS",
    "PRIOR_MEAN",
    "PRIOR_SD",
    "Layers",
    "Parameter",
    "SimulatedFilm",
    "bounds_of",
    "demo_film",
    "density",
    "in_aim",
    "layers",
    "margins",
    "natural",
    "observables",
    "observables_of",
    "simulate_film",
    "simulate_series",
    "simulate_trial",
    "with_activity",
]

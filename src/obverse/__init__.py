"""obverse: a bench book that computes, for slides made from negative film."""

__version__ = "0.1.0"

"""airproof: a formal checker for compressed-air safety circuits."""

__version__ = "0.1.0"

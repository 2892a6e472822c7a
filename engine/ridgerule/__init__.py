"""ridgerule: an inspection engine for steep-slope roofs with rulebooks in YAML."""

__version__ = "0.1.0"

"""Record-driven composer of personalised pieces that checks its own finished files."""

__version__ = "0.1.0"

"""dfmcheck: checks the machined parts of a git repository at every revision."""

__version__ = "0.1.0"

"""Which files a run is interested in."""

from dfmcheck.app.governing import is_config

STEP_ENDINGS = (".step", ".stp", ".p21")


def is_step(path: str) -> bool:
    """True for the name of a STEP file, in any letter case."""
    return path.lower().endswith(STEP_ENDINGS)


def of_interest(path: str) -> bool:
    """True for STEP files and configurations."""
    return is_step(path) or is_config(path)

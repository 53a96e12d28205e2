"""Directions without rounding noise."""

from dfmcheck.model.base import Vec


def tidy(a: Vec) -> Vec:
    """Components within 1e-12 of -1, 0 or 1 set to that, without negative zero."""
    return (_tidy(a[0]), _tidy(a[1]), _tidy(a[2]))


def _tidy(x: float) -> float:
    for value in (0.0, 1.0, -1.0):
        if abs(x - value) < 1e-12:
            return value
    return x
